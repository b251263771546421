//! Quantities and cost for many surfaces of one site.

use chrono::{DateTime, Utc};
use domain::id::{EstimateId, SiteId};
use domain::money::{Currency, Money};
use domain::quantity::Area;
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
    /// Their area.
    pub area: Area,
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

/// What a list says of an estimate: its columns without its document, which can be megabytes long.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EstimateBrief {
    /// As [`EstimateRow::id`].
    pub id: EstimateId,
    /// As [`EstimateRow::site_id`].
    pub site_id: SiteId,
    /// As [`EstimateRow::n_surfaces`].
    pub n_surfaces: i64,
    /// As [`EstimateRow::area`].
    pub area: Area,
    /// As [`EstimateRow::net_amount`], with its currency.
    pub net: Money,
    /// As [`EstimateRow::knowledge_version`].
    pub knowledge_version: String,
    /// As [`EstimateRow::created_at`].
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
    pub(crate) area_mm2: i64,
    pub(crate) net_amount: i64,
    pub(crate) currency: String,
    pub(crate) knowledge_version: String,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

/// The columns of an [`EstimateBrief`].
#[derive(Debug, DerivePartialModel)]
#[sea_orm(entity = "Entity")]
pub(crate) struct BriefModel {
    id: Uuid,
    site_id: Uuid,
    n_surfaces: i64,
    area_mm2: i64,
    net_amount: i64,
    currency: String,
    knowledge_version: String,
    created_at: DateTime<Utc>,
}

impl TryFrom<BriefModel> for EstimateBrief {
    type Error = StoreError;

    fn try_from(model: BriefModel) -> Result<Self, StoreError> {
        Ok(Self {
            id: EstimateId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            n_surfaces: model.n_surfaces,
            area: Area::from_mm2(model.area_mm2),
            net: Money {
                amount: model.net_amount,
                currency: parse(&model.currency, EstimateRow::TABLE, "currency", model.id)?,
            },
            knowledge_version: model.knowledge_version,
            created_at: model.created_at,
        })
    }
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
            area_mm2: self.area.mm2(),
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
            area: Area::from_mm2(model.area_mm2),
            net_amount: model.net_amount,
            currency: parse(&model.currency, Self::TABLE, "currency", model.id)?,
            knowledge_version: model.knowledge_version,
            document: model.document,
            created_at: model.created_at,
        })
    }
}
