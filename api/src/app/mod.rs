//! What the service does: load, decide, save, tell, in the transaction that the caller opened.
//!
//! Knows no framework and no header; `http` does. Each file has the name of its resource.

pub(crate) mod audit;
pub(crate) mod budget;
pub(crate) mod capability;
pub(crate) mod completion;
pub(crate) mod completion_link;
pub(crate) mod contractor;
pub(crate) mod contractor_source;
pub(crate) mod delivery;
pub(crate) mod due;
pub(crate) mod estimate;
pub(crate) mod estimate_job;
pub(crate) mod extract;
pub(crate) mod film;
pub(crate) mod finish_synonym;
pub(crate) mod forecast;
pub(crate) mod history;
pub(crate) mod import;
pub(crate) mod inbound;
pub(crate) mod knowledge;
pub(crate) mod learning;
pub(crate) mod observation;
pub(crate) mod plan;
pub(crate) mod product;
pub(crate) mod programme;
pub(crate) mod rate_card;
pub(crate) mod reading;
pub(crate) mod register;
pub(crate) mod report;
pub(crate) mod report_link;
pub(crate) mod revocation;
pub(crate) mod schedule;
pub(crate) mod site;
pub(crate) mod stock_item;
pub(crate) mod subscription;
pub(crate) mod surface;
pub(crate) mod unrinsed;

use std::fmt::Display;

use infra::{row::FactStatus, store::By};

use crate::{
    context::Context,
    problem::{Code, Problem},
    wire::{remark::Remark, time},
};

/// A record that was to be superseded counts no more; `by` is what counts in its place, where that was seen.
fn no_longer_counts(by: Option<impl Display>) -> Problem {
    let detail = match by {
        Some(by) => format!("`{by}` counts in its place: supersede that one."),
        None => {
            "It was superseded meanwhile: read it again, and supersede what counts now.".to_owned()
        }
    };
    Problem::new(Code::StateConflict, detail)
}

/// A reading or an observation that is to be superseded or voided must count; `by` is what counts in its place.
fn must_count(status: FactStatus, by: Option<impl Display>) -> Result<(), Problem> {
    match status {
        FactStatus::Recorded => Ok(()),
        FactStatus::Superseded => Err(no_longer_counts(by)),
        FactStatus::Voided => {
            let detail = "It is void: if it was right after all, record it anew.";
            Err(Problem::new(Code::StateConflict, detail))
        }
    }
}

/// What is said of a record now, by whom and why.
fn remark(ctx: &Context, by: &By, reason: &str) -> Remark {
    Remark {
        reason: reason.to_owned(),
        at: time::write(ctx.clock.now()),
        by_client: by.client.clone(),
        by_subject: by.subject.clone(),
    }
}
