//! Quantities and cost for many surfaces of one site.

use chrono::{DateTime, Utc};
use domain::id::{EstimateId, SiteId};
use domain::money::Currency;
use sea_orm::entity::prelude::*;

use super::{Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// Quantities and cost for many surfaces of one site.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EstimateRow {
    /// Its id.
    pub id: EstimateId,
    /// The site of its surfaces.
    pub site_id: SiteId,
    /// How many surfaces it is over.
    pub n_surfaces: i64,
    /// Its cost without tax in 1/10,000 of the currency's unit.
    pub net_amount: i64,
    /// The currency of its money.
    pub currency: Currency,
    /// The edition of the knowledge base it was made with.
    pub knowledge_version: String,
    /// What was answered; opaque here.
    pub document: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "estimates")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) n_surfaces: i64,
    pub(crate) net_amount: i64,
    pub(crate) currency: String,
    pub(crate) knowledge_version: String,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for EstimateRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "estimates";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            n_surfaces: self.n_surfaces,
            net_amount: self.net_amount,
            currency: self.currency.code().to_owned(),
            knowledge_version: self.knowledge_version.clone(),
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: EstimateId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            n_surfaces: model.n_surfaces,
            net_amount: model.net_amount,
            currency: parse(&model.currency, Self::TABLE, "currency", model.id)?,
            knowledge_version: model.knowledge_version,
            document: model.document,
            created_at: model.created_at,
        })
    }
}
