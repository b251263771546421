//! What is said of a record after it was made: by whom, when and why.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Why a record is void.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"reason": "Reported for the wrong night."}))]
pub(crate) struct VoidRequest {
    /// Why it is void.
    #[schema(min_length = 1, max_length = 500, pattern = r"\S")]
    pub(crate) reason: String,
}

/// Who said something of a record, when and why.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(as = RemarkView)]
pub(crate) struct Remark {
    /// Why.
    #[schema(max_length = 500)]
    pub(crate) reason: String,
    /// When.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) at: String,
    /// The program through which it was said.
    #[schema(max_length = 255)]
    pub(crate) by_client: String,
    /// On whose behalf, in the words of who issued the token.
    #[schema(max_length = 255)]
    pub(crate) by_subject: String,
}
