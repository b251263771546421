//! The process chosen for one surface.

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{PlanId, RateCardId, SiteId, SurfaceId};
use domain::money::{Currency, Money};
use domain::quantity::Area;
use sea_orm::entity::prelude::*;

use super::{PlanStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// The process chosen for one surface, with the columns that are asked for beside the document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanRow {
    /// Its id.
    pub id: PlanId,
    /// The site of its surface.
    pub site_id: SiteId,
    /// The surface it is for.
    pub surface_id: SurfaceId,
    /// The version of the surface that was planned for.
    pub surface_version: i64,
    /// Grows by one with each change of status, from 1.
    pub version: i64,
    /// Where it stands.
    pub status: PlanStatus,
    /// What was wished, as the wire says it.
    pub goal: String,
    /// `allowed`, `allowed_with_warnings`, `needs_information` or `refused`.
    pub verdict: String,
    /// The key of its process; none when it is refused.
    pub process: Option<String>,
    /// The edition of the knowledge base it was made with.
    pub knowledge_version: String,
    /// The edition of the rate card it was costed with.
    pub rate_card_id: Option<RateCardId>,
    /// The day on which its work is to begin, by the site's calendar.
    pub planned_on: NaiveDate,
    /// The area it is for.
    pub area: Area,
    /// Its cost without tax in 1/10,000 of the currency's unit, where it was costed.
    pub net_amount: Option<i64>,
    /// The currency of its money.
    pub currency: Currency,
    /// What was asked; opaque here.
    pub request_document: String,
    /// What was answered; opaque here.
    pub document: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When something was last said of it, or another took its place.
    pub changed_at: DateTime<Utc>,
}

/// What a list says of a plan: its columns without its documents, which are tens of kilobytes long.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanBrief {
    /// As [`PlanRow::id`].
    pub id: PlanId,
    /// As [`PlanRow::site_id`].
    pub site_id: SiteId,
    /// As [`PlanRow::surface_id`].
    pub surface_id: SurfaceId,
    /// As [`PlanRow::surface_version`].
    pub surface_version: i64,
    /// As [`PlanRow::version`].
    pub version: i64,
    /// As [`PlanRow::status`].
    pub status: PlanStatus,
    /// As [`PlanRow::goal`].
    pub goal: String,
    /// As [`PlanRow::verdict`].
    pub verdict: String,
    /// As [`PlanRow::process`].
    pub process: Option<String>,
    /// As [`PlanRow::knowledge_version`].
    pub knowledge_version: String,
    /// As [`PlanRow::rate_card_id`].
    pub rate_card_id: Option<RateCardId>,
    /// As [`PlanRow::planned_on`].
    pub planned_on: NaiveDate,
    /// The part of it that completions have done, in parts per million.
    pub done_ppm: i64,
    /// As [`PlanRow::area`].
    pub area: Area,
    /// As [`PlanRow::net_amount`], with its currency.
    pub net: Option<Money>,
    /// As [`PlanRow::created_at`].
    pub created_at: DateTime<Utc>,
    /// As [`PlanRow::changed_at`].
    pub changed_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "plans")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) surface_id: Uuid,
    pub(crate) surface_version: i64,
    pub(crate) version: i64,
    pub(crate) status: String,
    pub(crate) goal: String,
    pub(crate) verdict: String,
    pub(crate) process: Option<String>,
    pub(crate) knowledge_version: String,
    pub(crate) rate_card_id: Option<Uuid>,
    pub(crate) planned_on: String,
    pub(crate) area_mm2: i64,
    pub(crate) net_amount: Option<i64>,
    pub(crate) currency: String,
    pub(crate) request_document: String,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) changed_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

/// The columns of a [`PlanBrief`].
#[derive(Debug, DerivePartialModel)]
#[sea_orm(entity = "Entity")]
pub(crate) struct BriefModel {
    id: Uuid,
    site_id: Uuid,
    surface_id: Uuid,
    surface_version: i64,
    version: i64,
    status: String,
    goal: String,
    verdict: String,
    process: Option<String>,
    knowledge_version: String,
    rate_card_id: Option<Uuid>,
    planned_on: String,
    area_mm2: i64,
    net_amount: Option<i64>,
    currency: String,
    created_at: DateTime<Utc>,
    changed_at: DateTime<Utc>,
}

impl TryFrom<BriefModel> for PlanBrief {
    type Error = StoreError;

    fn try_from(model: BriefModel) -> Result<Self, StoreError> {
        let currency = parse(&model.currency, PlanRow::TABLE, "currency", model.id)?;
        Ok(Self {
            id: PlanId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            surface_version: model.surface_version,
            version: model.version,
            status: parse(&model.status, PlanRow::TABLE, "status", model.id)?,
            goal: model.goal,
            verdict: model.verdict,
            process: model.process,
            knowledge_version: model.knowledge_version,
            rate_card_id: model.rate_card_id.map(RateCardId::from_uuid),
            planned_on: parse(&model.planned_on, PlanRow::TABLE, "planned_on", model.id)?,
            done_ppm: 0,
            area: Area::from_mm2(model.area_mm2),
            net: model.net_amount.map(|amount| Money { amount, currency }),
            created_at: model.created_at,
            changed_at: model.changed_at,
        })
    }
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for PlanRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "plans";

    const CHANGED: &'static str = "changed_at";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            surface_id: self.surface_id.uuid(),
            surface_version: self.surface_version,
            version: self.version,
            status: self.status.as_str().to_owned(),
            goal: self.goal.clone(),
            verdict: self.verdict.clone(),
            process: self.process.clone(),
            knowledge_version: self.knowledge_version.clone(),
            rate_card_id: self.rate_card_id.map(RateCardId::uuid),
            planned_on: self.planned_on.to_string(),
            area_mm2: self.area.mm2(),
            net_amount: self.net_amount,
            currency: self.currency.code().to_owned(),
            request_document: self.request_document.clone(),
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
            changed_at: truncate_to_millis(self.changed_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: PlanId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            surface_version: model.surface_version,
            version: model.version,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            goal: model.goal,
            verdict: model.verdict,
            process: model.process,
            knowledge_version: model.knowledge_version,
            rate_card_id: model.rate_card_id.map(RateCardId::from_uuid),
            planned_on: parse(&model.planned_on, Self::TABLE, "planned_on", model.id)?,
            area: Area::from_mm2(model.area_mm2),
            net_amount: model.net_amount,
            currency: parse(&model.currency, Self::TABLE, "currency", model.id)?,
            request_document: model.request_document,
            document: model.document,
            created_at: model.created_at,
            changed_at: model.changed_at,
        })
    }
}
