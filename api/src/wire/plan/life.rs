//! A plan's document as it stands now: what was answered when it was made, with its version and status of today.

use infra::row::{PlanRow, PlanStatus};

use crate::problem::Problem;

/// The version of a plan that was just made.
pub(super) const FIRST_VERSION: i64 = 1;
/// Where a plan stands that was just made.
pub(super) const FIRST_STATUS: PlanStatus = PlanStatus::Proposed;

/// The document of a plan as it stands now. It is kept as it was first answered; of its bytes only those of `version`
/// and `status`, which stand behind its id, are others later.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn as_it_stands(row: &PlanRow) -> Result<String, Problem> {
    let first = head(row, FIRST_VERSION, FIRST_STATUS);
    let rest = row.document.strip_prefix(&first);
    let rest = rest.ok_or_else(|| Problem::internal(&OtherHead))?;
    Ok(format!("{}{rest}", head(row, row.version, row.status)))
}

/// How the document begins.
fn head(row: &PlanRow, version: i64, status: PlanStatus) -> String {
    let id = row.id;
    format!("{{\"id\":\"{id}\",\"version\":{version},\"status\":\"{status}\",")
}

/// A plan's document begins in another way: a mistake of ours.
#[derive(Debug, thiserror::Error)]
#[error("a plan's document does not begin with its id, version and status")]
struct OtherHead;
