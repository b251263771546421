//! A tenant's own product with the figures of its data sheet.

use chrono::{DateTime, Utc};
use domain::id::ProductId;
use sea_orm::entity::prelude::*;

use super::{ProductStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A tenant's own product. It is withdrawn and never deleted: plans and completions name it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProductRow {
    /// Its id, by which products are in the order of their registration.
    pub id: ProductId,
    /// The word that names it everywhere; unique within the tenant.
    pub key: String,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// What it is used as.
    pub class: String,
    /// Its name for people.
    pub name: String,
    /// Whether it is still used.
    pub status: ProductStatus,
    /// The product as the caller sees it; opaque here.
    pub document: String,
    /// When it was registered.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "products")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) key: String,
    pub(crate) version: i64,
    pub(crate) class: String,
    pub(crate) name: String,
    pub(crate) status: String,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for ProductRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "products";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            key: self.key.clone(),
            version: self.version,
            class: self.class.clone(),
            name: self.name.clone(),
            status: self.status.to_string(),
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: ProductId::from_uuid(model.id),
            key: model.key,
            version: model.version,
            class: model.class,
            name: model.name,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            document: model.document,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
