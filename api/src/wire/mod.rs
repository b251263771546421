//! What callers send and receive: one file for each resource, plus what they share.
//!
//! A request and a view are separate structs even where they look alike: requests are closed and bounded, views
//! grow. Names end in `Request` (checked against their schema before they are read), `View` and `Page`.

pub(crate) mod acceptance;
pub(crate) mod audit;
pub(crate) mod basis;
pub(crate) mod bay;
pub(crate) mod budget;
pub(crate) mod chemistry;
pub(crate) mod climate;
pub(crate) mod completion;
pub(crate) mod completion_link;
pub(crate) mod contractor;
pub(crate) mod contractor_source;
pub(crate) mod cost;
pub(crate) mod csv;
pub(crate) mod delivery;
pub(crate) mod due;
pub(crate) mod estimate;
pub(crate) mod estimate_job;
pub(crate) mod event;
pub(crate) mod external;
pub(crate) mod extract;
pub(crate) mod film;
pub(crate) mod finish_synonym;
pub(crate) mod forecast;
pub(crate) mod health;
pub(crate) mod history;
pub(crate) mod import;
pub(crate) mod inbound;
mod kept;
pub(crate) mod knowledge;
pub(crate) mod learnt_rate;
pub(crate) mod money;
pub(crate) mod number;
pub(crate) mod observation;
pub(crate) mod outline;
mod outlook;
pub(crate) mod parquet;
pub(crate) mod patch;
pub(crate) mod plan;
pub(crate) mod plan_work;
pub(crate) mod problem;
pub(crate) mod product;
pub(crate) mod programme;
pub(crate) mod promise;
pub(crate) mod quantity;
pub(crate) mod rate_card;
pub(crate) mod reading;
pub(crate) mod reckoned;
pub(crate) mod register;
pub(crate) mod remark;
pub(crate) mod report;
pub(crate) mod report_link;
pub(crate) mod revocation;
pub(crate) mod schedule;
pub(crate) mod site;
pub(crate) mod step;
pub(crate) mod stock_item;
pub(crate) mod subscription;
pub(crate) mod surface;
pub(crate) mod time;
pub(crate) mod time_line;
pub(crate) mod unrinsed;
pub(crate) mod wait;
pub(crate) mod window;
pub(crate) mod wish;
pub(crate) mod words;

pub(crate) use kept::{lenient, stored};

use serde::Serialize;

use crate::problem::Problem;

/// Writes a view as the JSON that is kept and sent.
///
/// # Errors
/// `internal` for a value that JSON cannot hold.
pub(crate) fn document(view: &impl Serialize) -> Result<String, Problem> {
    serde_json::to_string(view).map_err(|error| Problem::internal(&error))
}
