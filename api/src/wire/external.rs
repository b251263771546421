//! The name that a thing has in another system.

use infra::row;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The name of a thing in another system, kept byte for byte. Within the kind of thing only one has it; of completions, only one
/// that counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"system": "building-register", "id": "2.104/A"}))]
pub(crate) struct External {
    /// Which system.
    #[schema(min_length = 1, max_length = 100)]
    pub(crate) system: String,
    /// The name there.
    #[schema(min_length = 1, max_length = 200)]
    pub(crate) id: String,
}

impl From<&External> for row::External {
    fn from(external: &External) -> Self {
        Self {
            system: external.system.clone(),
            id: external.id.clone(),
        }
    }
}

impl From<&row::External> for External {
    fn from(external: &row::External) -> Self {
        Self {
            system: external.system.clone(),
            id: external.id.clone(),
        }
    }
}
