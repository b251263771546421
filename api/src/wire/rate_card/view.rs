//! Editions of rate cards on the wire.

use infra::row::RateCardRow;
use serde::Serialize;
use utoipa::ToSchema;

use super::RateCardRequest;
use crate::{problem::Problem, wire::time};

/// One edition of a site's rate card. It is never changed: another edition takes its place from a day on.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct RateCardView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^rtc_[0-9a-f-]{36}$")]
    id: String,
    /// The site whose rates they are.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// Counts the site's editions, from 1. Of two that are valid from the same day, the higher number counts.
    #[schema(minimum = 1)]
    number: i64,
    /// The rates, and from which day on they count.
    rate_card: RateCardRequest,
    /// Whether nobody has told these rates: they are the examples of the knowledge base, and plans that are priced by them
    /// warn of it.
    assumed: bool,
    /// When it was issued.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
}

impl RateCardView {
    /// The edition that a row holds.
    ///
    /// # Errors
    /// `internal` for a document that is not what was written.
    pub(crate) fn new(row: &RateCardRow) -> Result<Self, Problem> {
        Ok(Self {
            id: row.id.to_string(),
            site_id: row.site_id.to_string(),
            number: row.number,
            rate_card: crate::wire::stored(&row.document)?,
            assumed: super::is_assumed(&row.document)?,
            created_at: time::write(row.created_at),
        })
    }
}

/// A page of editions.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RateCardPage {
    /// The editions, newest first.
    #[schema(max_items = 200)]
    items: Vec<RateCardView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
