//! What the health routes answer.

use serde::Serialize;
use utoipa::ToSchema;

/// The service is well.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HealthView {
    /// Always `ok`; what is not well answers 503.
    #[schema(pattern = "^ok$", max_length = 2, example = "ok")]
    status: &'static str,
}
