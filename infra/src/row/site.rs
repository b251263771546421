//! A place with a time zone and a currency.

use chrono::{DateTime, Utc};
use domain::id::SiteId;
use domain::money::Currency;
use sea_orm::entity::prelude::*;

use super::{External, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A place with a time zone and a currency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SiteRow {
    /// Its id.
    pub id: SiteId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// What people call it.
    pub name: String,
    /// The name of its zone in the tz database.
    pub time_zone: String,
    /// The one currency of its money.
    pub currency: Currency,
    /// Its ISO 3166-1 code.
    pub country: String,
    /// Its name in another system.
    pub external: Option<External>,
    /// The site as the caller sees it; opaque here.
    pub document: String,
    /// When it was registered.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "sites")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) version: i64,
    pub(crate) name: String,
    pub(crate) time_zone: String,
    pub(crate) currency: String,
    pub(crate) country: String,
    pub(crate) external_system: Option<String>,
    pub(crate) external_id: Option<String>,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for SiteRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "sites";

    const CHANGED: &'static str = "updated_at";

    fn to_model(&self, tenant: Uuid) -> Model {
        let (external_system, external_id) = External::into_columns(self.external.as_ref());
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            version: self.version,
            name: self.name.clone(),
            time_zone: self.time_zone.clone(),
            currency: self.currency.code().to_owned(),
            country: self.country.clone(),
            external_system,
            external_id,
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: SiteId::from_uuid(model.id),
            version: model.version,
            name: model.name,
            time_zone: model.time_zone,
            currency: parse(&model.currency, Self::TABLE, "currency", model.id)?,
            country: model.country,
            external: External::from_columns(model.external_system, model.external_id),
            document: model.document,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
