//! Links to reports on the wire: what each asks for, and the address that opens it.

use infra::row::ReportLinkRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::time;
use crate::call;

/// A link to make.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Board: cost by site and month", "query": "last_months=12&group_by=site,month&format=csv", "days": 90}))]
pub(crate) struct ReportLinkRequest {
    /// What people call it.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) name: String,
    /// The query string of `GET /v1/reports/costs` that it answers, without `?`. With `last_months` it goes with time.
    #[schema(min_length = 1, max_length = 2000, pattern = "^[!-~]+$")]
    pub(crate) query: String,
    /// For how many days from now it opens the report.
    #[serde(default = "quarter")]
    #[schema(minimum = 1, maximum = 366, default = 90)]
    pub(crate) days: u32,
}

const fn quarter() -> u32 {
    90
}

/// A link to a report.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ReportLinkView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^rpl_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// `active`: it opens the report until `expires_at`; `revoked`: it opens nothing.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// What people call it.
    #[schema(min_length = 1, max_length = 200)]
    name: String,
    /// The query string of the report.
    #[schema(max_length = 2000)]
    query: String,
    /// Where the report is, for whoever has the address. Told once, when the link is made: what is kept is a hash.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    address: Option<String>,
    /// Until when it opens the report.
    #[schema(format = DateTime, max_length = 24)]
    expires_at: String,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

impl ReportLinkView {
    /// The link of a row; its address is not told.
    pub(crate) fn new(row: &ReportLinkRow) -> Self {
        Self {
            id: row.id.to_string(),
            version: row.version,
            status: row.status.as_str(),
            name: row.name.clone(),
            query: row.query.clone(),
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

/// A page of links to reports.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportLinkPage {
    /// The links, oldest first.
    #[schema(max_items = 200)]
    items: Vec<ReportLinkView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
