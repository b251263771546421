//! The clinic walk-through: a real building from its handover data to a cost report, over HTTP and nothing else.
//!
//! [`walk`] is what the program `clinic` and the test `clinic` run. Every write has an external id or an idempotency
//! key that follows from the data, so a walk that is run again changes nothing.

mod account;
mod assume;
mod rooms;
mod tell;
mod walk;

use std::io::Write;

use serde_json::Value;

pub use assume::Assumptions;
pub use rooms::{Room, read_rooms};

use crate::client::Caller;

/// Why a walk ends early: the answer that was not awaited, or data that cannot be read.
pub type Trouble = Box<dyn std::error::Error + Send + Sync>;

/// A hard floor with the plan that was answered for it.
#[derive(Debug, Clone)]
pub struct Planned {
    /// The row that it comes from.
    pub room: Room,
    /// The id of the surface.
    pub surface_id: String,
    /// The plan.
    pub plan: Value,
}

/// What a walk leaves behind.
#[derive(Debug)]
pub struct Walk {
    /// The site.
    pub site_id: String,
    /// The answer to the batch.
    pub batch: Value,
    /// The hard floors.
    pub floors: Vec<Planned>,
    /// What was assumed leads to more.
    pub work: Option<Accounted>,
    /// How many answers were those of an earlier walk.
    pub n_replayed: usize,
}

/// What is there only if the floors could be planned.
#[derive(Debug)]
pub struct Accounted {
    /// The estimate of the building.
    pub estimate: Value,
    /// The completions of one storey.
    pub completions: Vec<Value>,
    /// The cost report as it was answered.
    pub report: Vec<u8>,
}

/// Walks through the building as the service's `caller` and writes what happens to `out`.
///
/// # Errors
/// [`Trouble`] at the first answer that is not the awaited one, or if the report is not the sum of its parts.
pub async fn walk(
    caller: &Caller,
    rooms: &[Room],
    assumptions: Option<&Assumptions>,
    out: &mut dyn Write,
) -> Result<Walk, Trouble> {
    walk::Walker::new(caller, assumptions)
        .walk(rooms, out)
        .await
}
