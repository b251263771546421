//! Rows as the rest of the service sees them: plain structs of domain types.
//!
//! Beside each stands its entity, which never leaves this crate. Reading a row checks what the table cannot
//! (currencies, dates, words); a row that fails is [`StoreError::Corrupt`], never a guess.

mod audit;
mod budget;
mod commitment;
pub(crate) mod completion;
mod completion_line;
mod completion_link;
pub(crate) mod completion_pace;
mod contractor;
mod contractor_source;
pub(crate) mod delivery;
mod due;
pub(crate) mod estimate;
pub(crate) mod estimate_job;
mod finish_synonym;
mod history;
pub(crate) mod idempotency_key;
pub(crate) mod import;
pub(crate) mod inbound_event;
pub(crate) mod inbound_report;
mod observation;
pub(crate) mod outbox;
pub(crate) mod plan;
mod plan_line;
mod product;
mod rate_card;
mod reading;
mod report_link;
mod revocation;
pub(crate) mod schedule;
pub(crate) mod schedule_revision;
mod site;
mod status;
mod stock_item;
pub(crate) mod subscription;
mod surface;
pub(crate) mod tenant;

use sea_orm::{EntityTrait, IntoActiveModel, ModelTrait};
use uuid::Uuid;

pub use self::audit::AuditRow;
pub use self::budget::BudgetRow;
pub use self::commitment::CommitmentRow;
pub use self::completion::CompletionRow;
pub use self::completion_line::CompletionLineRow;
pub use self::completion_link::CompletionLinkRow;
pub use self::completion_pace::CompletionPaceRow;
pub use self::contractor::ContractorRow;
pub use self::contractor_source::ContractorSourceRow;
pub use self::delivery::{AttemptRow, DeliveryRow};
pub use self::due::DueRow;
pub use self::estimate::{EstimateBrief, EstimateRow};
pub use self::estimate_job::EstimateJobRow;
pub(crate) use self::estimate_job::part;
pub use self::finish_synonym::FinishSynonymRow;
pub use self::history::HistoryRow;
pub use self::import::{HandedOver, ImportRow, OutcomeRow};
pub(crate) use self::import::{file, handed_over, outcome};
pub use self::inbound_report::{Inbound, InboundReportRow};
pub use self::observation::ObservationRow;
pub use self::outbox::EventRow;
pub use self::plan::{PlanBrief, PlanRow};
pub use self::plan_line::PlanLineRow;
pub use self::product::ProductRow;
pub use self::rate_card::RateCardRow;
pub use self::reading::ReadingRow;
pub use self::report_link::ReportLinkRow;
pub use self::revocation::RevocationRow;
pub use self::schedule::ScheduleRow;
pub(crate) use self::schedule::choice;
pub use self::schedule_revision::RevisionRow;
pub use self::site::SiteRow;
pub use self::status::{
    CompletionStatus, DeliveryStatus, DeviationState, DisabledBecause, FactStatus, ImportStage,
    JobStatus, LinkStatus, PlanStatus, ProductStatus, SourceStatus, SubscriptionStatus,
    UnknownStatus,
};
pub use self::stock_item::StockItemRow;
pub use self::subscription::SubscriptionRow;
pub use self::surface::SurfaceRow;
pub use self::tenant::TenantRow;
use crate::store::StoreError;

/// What a thing is called in another system; compared byte by byte.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct External {
    /// Which system.
    pub system: String,
    /// Its name for the thing.
    pub id: String,
}

impl External {
    pub(crate) fn from_columns(system: Option<String>, id: Option<String>) -> Option<Self> {
        Some(Self {
            system: system?,
            id: id?,
        })
    }

    fn into_columns(external: Option<&Self>) -> (Option<String>, Option<String>) {
        external
            .map(|external| (external.system.clone(), external.id.clone()))
            .unzip()
    }
}

/// A row of one tenant and its place in a table.
pub(crate) trait Stored: Sized + Send + Sync {
    /// Its table.
    type Entity: EntityTrait<Model = Self::Model>;
    /// The row as the driver reads it.
    type Model: ModelTrait<Entity = Self::Entity>
        + IntoActiveModel<<Self::Entity as EntityTrait>::ActiveModel>
        + sea_orm::FromQueryResult
        + Send
        + Sync;

    /// The name of the table, for errors and spans.
    const TABLE: &'static str;

    /// The column that says when a row was last changed; when it was made where rows do not change.
    const CHANGED: &'static str = "created_at";

    /// Writes the row down for `tenant`.
    fn to_model(&self, tenant: Uuid) -> Self::Model;

    /// Reads the row back.
    fn from_model(model: Self::Model) -> Result<Self, StoreError>;
}

/// Parses a column that the table cannot check.
fn parse<T: std::str::FromStr>(
    text: &str,
    table: &'static str,
    column: &'static str,
    row: Uuid,
) -> Result<T, StoreError>
where
    T::Err: std::error::Error + Send + Sync + 'static,
{
    text.parse().map_err(|source| StoreError::Corrupt {
        table,
        column,
        row: row.to_string(),
        source: Box::new(source),
    })
}
