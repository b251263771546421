//! Where a contractor's report stands: the latest event about it, and the completion that came of it.

use chrono::{DateTime, Utc};
use domain::id::{CompletionId, ContractorId};
use sea_orm::entity::prelude::*;

use super::External;

/// Which event it is, and when it happened where it was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inbound {
    /// When it happened, as the sender says.
    pub at: DateTime<Utc>,
    /// Its type, such as `completion.reported`.
    pub kind: String,
    /// Its id, which is the sender's.
    pub webhook_id: String,
}

/// Where a contractor's report stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InboundReportRow {
    /// Whose report it is.
    pub contractor_id: ContractorId,
    /// The contractor's name for it.
    pub external: External,
    /// The latest event about it; none before the first.
    pub last: Option<Inbound>,
    /// The id of the event that reported it first.
    pub reported_as: Option<String>,
    /// The completion that came of it; none while it is only known to be void.
    pub completion_id: Option<CompletionId>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "inbound_reports")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) contractor_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) external_system: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) external_id: String,
    pub(crate) last_kind: String,
    pub(crate) last_webhook_id: String,
    pub(crate) last_at: DateTime<Utc>,
    pub(crate) reported_as: Option<String>,
    pub(crate) completion_id: Option<Uuid>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl From<Model> for InboundReportRow {
    fn from(model: Model) -> Self {
        let last = Inbound {
            at: model.last_at,
            kind: model.last_kind,
            webhook_id: model.last_webhook_id,
        };
        Self {
            contractor_id: ContractorId::from_uuid(model.contractor_id),
            external: External {
                system: model.external_system,
                id: model.external_id,
            },
            last: Some(last).filter(|last| !last.kind.is_empty()),
            reported_as: model.reported_as,
            completion_id: model.completion_id.map(CompletionId::from_uuid),
        }
    }
}
