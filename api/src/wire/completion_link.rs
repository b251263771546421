//! Links to completion forms on the wire: what each opens, and the address that opens it.

use domain::id::ContractorId;
use infra::row::CompletionLinkRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::time;
use crate::call;

/// A link to make.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"contractor_id": "con_01890a5d-ac96-774b-bcce-b302099a8057", "language": "en", "days": 14, "reports": 3}))]
pub(crate) struct CompletionLinkRequest {
    /// Whose work is reported through it; nobody's if left out. A token that is bound to a contractor makes links of that one only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    pub(crate) contractor_id: Option<String>,
    /// The language of the form: `en` or `de`.
    #[serde(default = "english")]
    #[schema(max_length = 2, pattern = "^(en|de)$", default = "en")]
    pub(crate) language: String,
    /// For how many days from now it opens the form.
    #[serde(default = "fortnight")]
    #[schema(minimum = 1, maximum = 92, default = 14)]
    pub(crate) days: u32,
    /// How many reports may be made through it: work that is done in parts is reported part by part.
    #[serde(default = "three")]
    #[schema(minimum = 1, maximum = 50, default = 3)]
    pub(crate) reports: u32,
}

fn english() -> String {
    "en".to_owned()
}

const fn fortnight() -> u32 {
    14
}

const fn three() -> u32 {
    3
}

/// A link to the completion form of a plan.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CompletionLinkView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^cpl_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// `active`: it opens the form until `expires_at`; `revoked`: it opens nothing.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// The plan whose work is reported through it.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    plan_id: String,
    /// Whose work it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    contractor_id: Option<String>,
    /// The language of the form.
    #[schema(max_length = 2, pattern = "^(en|de)$")]
    language: String,
    /// How many reports were made through it.
    #[schema(minimum = 0)]
    reported: i64,
    /// How many may be.
    #[schema(minimum = 1)]
    reports: i64,
    /// Where the form is, for whoever has the address. Told once, when the link is made: what is kept is a hash.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    address: Option<String>,
    /// Until when it opens the form.
    #[schema(format = DateTime, max_length = 24)]
    expires_at: String,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed, or reported through.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

impl CompletionLinkView {
    /// The link of a row; its address is not told.
    pub(crate) fn new(row: &CompletionLinkRow) -> Self {
        Self {
            id: row.id.to_string(),
            version: row.version,
            status: row.status.as_str(),
            plan_id: row.plan_id.to_string(),
            contractor_id: row.contractor_id.as_ref().map(ContractorId::to_string),
            language: row.language.clone(),
            reported: row.n_reports,
            reports: row.max_reports,
            address: None,
            expires_at: time::write(row.expires_at),
            created_at: time::write(row.created_at),
            updated_at: time::write(row.updated_at),
        }
    }

    /// The same with the path of its address, for the one answer that tells it.
    #[must_use]
    pub(crate) fn at(self, path: &str) -> Self {
        Self {
            address: Some(call::absolute(path)),
            ..self
        }
    }
}

/// A page of links to completion forms.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CompletionLinkPage {
    /// The links, oldest first.
    #[schema(max_items = 200)]
    items: Vec<CompletionLinkView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
