//! Something that a site has left over of a product.

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{SiteId, StockItemId};
use sea_orm::entity::prelude::*;

use super::{Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// Something that a site has left over of a product. It is deleted when it is used up: nothing names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockItemRow {
    /// Its id.
    pub id: StockItemId,
    /// The site that has it.
    pub site_id: SiteId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// The product's key.
    pub product: String,
    /// The last day on which it may be used, if anybody said.
    pub expires_on: Option<NaiveDate>,
    /// What was said of it; opaque here.
    pub document: String,
    /// When it was registered.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "stock_items")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) version: i64,
    pub(crate) product: String,
    pub(crate) expires_on: Option<String>,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for StockItemRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "stock_items";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            version: self.version,
            product: self.product.clone(),
            expires_on: self.expires_on.map(|day| day.to_string()),
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        let day = |text: String| parse(&text, Self::TABLE, "expires_on", model.id);
        Ok(Self {
            id: StockItemId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            version: model.version,
            product: model.product,
            expires_on: model.expires_on.map(day).transpose()?,
            document: model.document,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
