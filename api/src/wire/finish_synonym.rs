//! Finish words of a tenant's own, on the wire.

use infra::row::FinishSynonymRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::time;

/// A finish word of your own building files, and what it means there.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"finish": "VCT-2", "means": "vinyl_composition_tile"}))]
pub(crate) struct FinishSynonymRequest {
    /// The words, as they stand in the file; capitals and blanks do not count.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) finish: String,
    /// The key of a material, as `GET /v1/materials` lists them; `soft` for a soft floor, `mixed` for several coverings in one.
    #[schema(min_length = 1, max_length = 60)]
    pub(crate) means: String,
}

/// A finish word of a tenant's own. It comes before the dictionary of the knowledge base.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct FinishSynonymView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^fin_[0-9a-f-]{36}$")]
    id: String,
    /// 1: a word is deleted and told anew, never changed.
    #[schema(minimum = 1)]
    version: i64,
    /// The words, in capitals, blanks folded.
    #[schema(max_length = 400)]
    finish: String,
    /// The key of a material, `soft` or `mixed`.
    #[schema(max_length = 60)]
    means: String,
    /// When it was told.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
}

impl From<&FinishSynonymRow> for FinishSynonymView {
    fn from(row: &FinishSynonymRow) -> Self {
        Self {
            id: row.id.to_string(),
            version: row.version,
            finish: row.word.clone(),
            means: row.means.clone(),
            created_at: time::write(row.created_at),
        }
    }
}

/// A page of finish words.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FinishSynonymPage {
    /// The words, in the order in which they were told.
    #[schema(max_items = 200)]
    items: Vec<FinishSynonymView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
