//! Contractors on the wire.

use chrono::{DateTime, Utc};
use domain::id::ContractorId;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{external::External, time};

/// A contractor to register.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Evening crew north", "external": {"system": "ledger", "id": "C-204"}}))]
pub(crate) struct ContractorRequest {
    /// What people call the organisation; not the name of a person.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) name: String,
    /// Its name in another system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) external: Option<External>,
}

/// A contractor.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ContractorView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// What people call the organisation.
    #[schema(min_length = 1, max_length = 200)]
    name: String,
    /// Its name in another system.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    external: Option<External>,
    /// When it was registered.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

impl ContractorView {
    /// The contractor that a request registers.
    pub(crate) fn new(id: ContractorId, request: &ContractorRequest, now: DateTime<Utc>) -> Self {
        Self {
            id: id.to_string(),
            version: 1,
            name: request.name.clone(),
            external: request.external.clone(),
            created_at: time::write(now),
            updated_at: time::write(now),
        }
    }
}

/// A page of contractors.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ContractorPage {
    /// The contractors, oldest first.
    #[schema(max_items = 200)]
    items: Vec<ContractorView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
