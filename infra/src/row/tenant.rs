//! One customer organisation.

use chrono::{DateTime, Utc};
use domain::id::TenantId;
use sea_orm::entity::prelude::*;

/// One customer organisation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TenantRow {
    /// Its id.
    pub id: TenantId,
    /// The value of the token's tenant claim.
    pub key: String,
    /// What people call it.
    pub name: String,
    /// When it was added.
    pub created_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "tenants")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) key: String,
    pub(crate) name: String,
    pub(crate) created_at: DateTime<Utc>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl From<Model> for TenantRow {
    fn from(model: Model) -> Self {
        Self {
            id: TenantId::from_uuid(model.id),
            key: model.key,
            name: model.name,
            created_at: model.created_at,
        }
    }
}
