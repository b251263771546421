//! Where and how the work of a plan is reported, on the wire.

use infra::row::ContractorSourceRow;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;

use crate::call;

/// Where a contractor's own system reports.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportingAddress {
    /// Whose it is.
    #[schema(max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    contractor_id: String,
    /// The source that signs.
    #[schema(max_length = 40, pattern = "^src_[0-9a-f-]{36}$")]
    source_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    name: String,
    /// Where it sends its events.
    #[schema(max_length = 2000)]
    address: String,
}

impl ReportingAddress {
    /// The address of a source; `path` is its path.
    pub(crate) fn new(row: &ContractorSourceRow, path: &str) -> Self {
        Self {
            contractor_id: row.contractor_id.to_string(),
            source_id: row.id.to_string(),
            name: row.name.clone(),
            address: call::absolute(path),
        }
    }
}

/// Where and how the work of a plan is reported by a contractor's own system.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportingView {
    /// The plan.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    pub(crate) plan_id: String,
    /// The addresses, each for its own contractor; none if no contractor has a source.
    #[schema(max_items = 100)]
    pub(crate) addresses: Vec<ReportingAddress>,
    /// An event as the contractor's system would send it had all gone by the plan; its signature goes into the headers. The
    /// name of the report (`external`) is the contractor's to choose.
    #[schema(value_type = Object)]
    pub(crate) example: Value,
}
