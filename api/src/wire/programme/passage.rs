//! When floors come down to their limits, told on the wire.

use chrono::TimeDelta;
use domain::programme::{Forecast, PERCENTILES, Silent, passage::Passing};
use serde::Serialize;
use utoipa::ToSchema;

use crate::wire::basis::BasisView;

/// When a floor first comes down to a limit if nothing is done beyond cleaning.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FirstPassageView {
    /// `gloss` (falls below what is asked for), `last_coat` (the lane is worn to its last coat) or `grip` (the wet pendulum value falls below
    /// what is kept).
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    what: &'static str,
    /// The limit.
    limit: f64,
    /// In what: GU, coats or PTV.
    #[schema(max_length = 10)]
    unit: &'static str,
    /// Why there are no dates: `no_reading` (nobody read it since the last coat; for gloss, nobody reported that coat either) or
    /// `coats_not_counted`. Absent where there are.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20, pattern = "^[a-z_]+$")]
    why_none: Option<&'static str>,
    /// By which day it is reached with chances of 10, 50 and 90 %.
    #[schema(max_items = 3)]
    dates: Vec<PassageDateView>,
    /// The chance that it is reached within the months of the request, with its reason; absent where there are no dates.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    basis: Option<BasisView>,
}

/// By which day a limit is reached with a chance.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PassageDateView {
    /// The chance in %.
    percentile: u8,
    /// The day, where the floor is; absent where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = Date, max_length = 10)]
    on: Option<String>,
    /// Why there is none: `already` (reached today with at least this chance), `beyond_horizon` (not within the months of the request) or
    /// `not_by_wear` (kept with a greater chance even where the lane is worn through).
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20, pattern = "^[a-z_]+$")]
    why_none: Option<&'static str>,
}

impl From<&Forecast> for FirstPassageView {
    fn from(forecast: &Forecast) -> Self {
        let date = |(percentile, passing): (u8, Passing)| {
            let day = |days| forecast.today.checked_add_signed(TimeDelta::days(days));
            let (on, why_none) = match passing {
                Passing::In(days) => (day(days), None),
                Passing::Already => (None, Some("already")),
                Passing::Beyond => (None, Some("beyond_horizon")),
                Passing::Never => (None, Some("not_by_wear")),
            };
            PassageDateView {
                percentile,
                on: on.map(|day| day.to_string()),
                why_none,
            }
        };
        let dates = forecast.passing.into_iter().flatten();
        Self {
            what: forecast.what.word(),
            limit: forecast.value,
            unit: forecast.unit,
            why_none: forecast.passing.err().map(Silent::word),
            dates: PERCENTILES.into_iter().zip(dates).map(date).collect(),
            basis: forecast.basis.as_ref().map(Into::into),
        }
    }
}
