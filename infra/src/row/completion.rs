//! A contractor's report of work done. It is never edited: a correction is a new row that supersedes it.

use chrono::{DateTime, Utc};
use domain::id::{CompletionId, ContractorId, PlanId, RateCardId, SiteId, SurfaceId};
use domain::money::Currency;
use domain::quantity::Area;
use sea_orm::entity::prelude::*;

use super::{CompletionStatus, DeviationState, External, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A contractor's report of work done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CompletionRow {
    /// Its id.
    pub id: CompletionId,
    /// The site of its surface.
    pub site_id: SiteId,
    /// The surface that was worked on.
    pub surface_id: SurfaceId,
    /// The plan that it cites; work without a plan is listed as unplanned.
    pub plan_id: Option<PlanId>,
    /// Who did it.
    pub contractor_id: Option<ContractorId>,
    /// Whether it counts.
    pub status: CompletionStatus,
    /// The report that it corrects.
    pub supersedes: Option<CompletionId>,
    /// The report that corrects it; there exactly while the status is superseded.
    pub superseded_by: Option<CompletionId>,
    /// The key of the process that was done.
    pub process: String,
    /// The edition of the rate card that it was costed with.
    pub rate_card_id: RateCardId,
    /// The number of that edition.
    pub rate_card_number: i64,
    /// When the work began.
    pub started_at: DateTime<Utc>,
    /// When it ended; not before it began.
    pub finished_at: DateTime<Utc>,
    /// The month that it counts in, `YYYY-MM` in the site's time zone.
    pub month: String,
    /// The area that was worked on.
    pub area: Area,
    /// The part of the plan that it fulfils in parts per million; 0 without a plan.
    pub planned_share_ppm: i64,
    /// The currency of its money.
    pub currency: Currency,
    /// Its name in another system.
    pub external: Option<External>,
    /// The completion as the caller sees it; opaque here.
    pub document: String,
    /// Whether it has deviations, and whether somebody has yet to look at one.
    pub deviation_state: DeviationState,
    /// The codes of its deviations, each once.
    pub deviations: Vec<String>,
    /// What was said of it later, as JSON; empty if nothing was. Opaque here.
    pub amendments: String,
    /// When it was recorded.
    pub created_at: DateTime<Utc>,
    /// When something was last said of it, or another took its place.
    pub changed_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "completions")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) surface_id: Uuid,
    pub(crate) plan_id: Option<Uuid>,
    pub(crate) contractor_id: Option<Uuid>,
    pub(crate) status: String,
    pub(crate) supersedes: Option<Uuid>,
    pub(crate) superseded_by: Option<Uuid>,
    pub(crate) process: String,
    pub(crate) rate_card_id: Uuid,
    pub(crate) rate_card_number: i64,
    pub(crate) started_at: DateTime<Utc>,
    pub(crate) finished_at: DateTime<Utc>,
    pub(crate) month: String,
    pub(crate) area_mm2: i64,
    pub(crate) planned_share_ppm: i64,
    pub(crate) currency: String,
    pub(crate) external_system: Option<String>,
    pub(crate) external_id: Option<String>,
    pub(crate) document: String,
    pub(crate) deviation_state: String,
    pub(crate) deviations: String,
    pub(crate) amendments: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) changed_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for CompletionRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "completions";

    const CHANGED: &'static str = "changed_at";

    fn to_model(&self, tenant: Uuid) -> Model {
        let (external_system, external_id) = External::into_columns(self.external.as_ref());
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            surface_id: self.surface_id.uuid(),
            plan_id: self.plan_id.map(PlanId::uuid),
            contractor_id: self.contractor_id.map(ContractorId::uuid),
            status: self.status.as_str().to_owned(),
            supersedes: self.supersedes.map(CompletionId::uuid),
            superseded_by: self.superseded_by.map(CompletionId::uuid),
            process: self.process.clone(),
            rate_card_id: self.rate_card_id.uuid(),
            rate_card_number: self.rate_card_number,
            started_at: truncate_to_millis(self.started_at),
            finished_at: truncate_to_millis(self.finished_at),
            month: self.month.clone(),
            area_mm2: self.area.mm2(),
            planned_share_ppm: self.planned_share_ppm,
            currency: self.currency.code().to_owned(),
            external_system,
            external_id,
            document: self.document.clone(),
            deviation_state: self.deviation_state.as_str().to_owned(),
            deviations: self
                .deviations
                .iter()
                .flat_map(|code| ["|", code.as_str(), "|"])
                .collect(),
            amendments: self.amendments.clone(),
            created_at: truncate_to_millis(self.created_at),
            changed_at: truncate_to_millis(self.changed_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: CompletionId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            plan_id: model.plan_id.map(PlanId::from_uuid),
            contractor_id: model.contractor_id.map(ContractorId::from_uuid),
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            supersedes: model.supersedes.map(CompletionId::from_uuid),
            superseded_by: model.superseded_by.map(CompletionId::from_uuid),
            process: model.process,
            rate_card_id: RateCardId::from_uuid(model.rate_card_id),
            rate_card_number: model.rate_card_number,
            started_at: model.started_at,
            finished_at: model.finished_at,
            month: model.month,
            area: Area::from_mm2(model.area_mm2),
            planned_share_ppm: model.planned_share_ppm,
            currency: parse(&model.currency, Self::TABLE, "currency", model.id)?,
            external: External::from_columns(model.external_system, model.external_id),
            document: model.document,
            deviation_state: parse(
                &model.deviation_state,
                Self::TABLE,
                "deviation_state",
                model.id,
            )?,
            deviations: model
                .deviations
                .split('|')
                .filter(|code| !code.is_empty())
                .map(str::to_owned)
                .collect(),
            amendments: model.amendments,
            created_at: model.created_at,
            changed_at: model.changed_at,
        })
    }
}
