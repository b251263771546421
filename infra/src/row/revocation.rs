//! A revocation: whose tokens are refused before they end.

use chrono::{DateTime, Utc};
use domain::id::RevocationId;
use sea_orm::entity::prelude::*;

use super::Stored;
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// Tokens of a person or a program that are refused. It is never changed: it ends with the last of these tokens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RevocationRow {
    /// Its id.
    pub id: RevocationId,
    /// 1.
    pub version: i64,
    /// Of which claim `name` is: `subject` or `client`.
    pub holder: String,
    /// Whose tokens, as they stand in the claim.
    pub name: String,
    /// Those issued up to this moment.
    pub issued_until: DateTime<Utc>,
    /// Why, in words.
    pub reason: String,
    /// When it was told.
    pub created_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "revocations")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) version: i64,
    pub(crate) holder: String,
    pub(crate) name: String,
    pub(crate) reason: String,
    pub(crate) issued_until: DateTime<Utc>,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for RevocationRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "revocations";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            version: self.version,
            holder: self.holder.clone(),
            name: self.name.clone(),
            reason: self.reason.clone(),
            issued_until: truncate_to_millis(self.issued_until),
            created_at: truncate_to_millis(self.created_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: RevocationId::from_uuid(model.id),
            version: model.version,
            holder: model.holder,
            name: model.name,
            issued_until: model.issued_until,
            reason: model.reason,
            created_at: model.created_at,
        })
    }
}
