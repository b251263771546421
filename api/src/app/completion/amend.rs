//! What is said of a completion after it was recorded: that it is void, or that a deviation is accepted.

use domain::{
    event::EventKind,
    id::{CompletionId, ContractorId},
};
use infra::{
    row::{CompletionRow, CompletionStatus, DeviationState},
    store::{By, StoreError, Tx},
};

use super::{known_to, tell};
use crate::{
    app::{no_longer_counts, remark},
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        completion::{AcknowledgeRequest, Amendment, amendments, deviations_of},
    },
};

/// Voids a completion: it stays readable and counts in no report, no plan and no film any more.
///
/// # Errors
/// `not_found`; `state_conflict` if it does not count any more; `contended`; those of the store.
pub(crate) async fn void(
    ctx: &Context,
    tx: &Tx,
    completion: (CompletionId, Option<ContractorId>),
    (by, reason): (&By, &str),
) -> Result<CompletionRow, Problem> {
    let old = counting(tx, completion).await?;
    let said = Amendment {
        deviation: None,
        remark: remark(ctx, by, reason),
    };
    let new = amend(ctx, tx, old, CompletionStatus::Voided, said).await?;
    tell(
        ctx,
        tx,
        EventKind::CompletionVoided,
        &new,
        (ctx.clock.now(), "A completion was voided."),
    )
    .await?;
    Ok(new)
}

/// Acknowledges a deviation of a completion, with a reason; it stays a deviation.
///
/// # Errors
/// `not_found`; `state_conflict` if it does not count any more, or the deviation was acknowledged before;
/// `invalid_body` if it has no such deviation; `contended`; those of the store.
pub(crate) async fn acknowledge(
    ctx: &Context,
    tx: &Tx,
    completion: (CompletionId, Option<ContractorId>),
    (by, request): (&By, &AcknowledgeRequest),
) -> Result<CompletionRow, Problem> {
    let old = counting(tx, completion).await?;
    if !deviations_of(&old)?.contains(&request.deviation) {
        let mut faults = Faults::new();
        let detail = "The completion has no such deviation.";
        faults.push("#/deviation", "reference_not_found", detail);
        faults.finish()?;
    }
    let code = Some(&request.deviation);
    if amendments(&old)?
        .iter()
        .any(|said| said.deviation.as_ref() == code)
    {
        let detail = "The deviation was acknowledged before.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let said = Amendment {
        deviation: code.cloned(),
        remark: remark(ctx, by, &request.reason),
    };
    let new = amend(ctx, tx, old, CompletionStatus::Recorded, said).await?;
    let statement = format!("A deviation was acknowledged: {}.", request.deviation);
    let kind = EventKind::DeviationAcknowledged;
    tell(ctx, tx, kind, &new, (ctx.clock.now(), &statement)).await?;
    Ok(new)
}

/// The completion, which counts and is one that a caller who is bound to a contractor may know of.
///
/// # Errors
/// `not_found`; `state_conflict` if it does not count any more; those of the store.
pub(super) async fn counting(
    tx: &Tx,
    (id, bound_to): (CompletionId, Option<ContractorId>),
) -> Result<CompletionRow, Problem> {
    let row = known_to(bound_to, tx.completions().get(id).await?)?;
    match row.status {
        CompletionStatus::Recorded => Ok(row),
        CompletionStatus::Superseded => Err(no_longer_counts(row.superseded_by)),
        CompletionStatus::Voided => {
            let detail = "The completion is void: if the work was done after all, record it anew.";
            Err(Problem::new(Code::StateConflict, detail))
        }
    }
}

async fn amend(
    ctx: &Context,
    tx: &Tx,
    old: CompletionRow,
    status: CompletionStatus,
    said: Amendment,
) -> Result<CompletionRow, Problem> {
    let mut all = amendments(&old)?;
    all.push(said);
    let is_looked_at = |code: &String| all.iter().any(|said| said.deviation.as_ref() == Some(code));
    let new = CompletionRow {
        status,
        deviation_state: match old.deviation_state {
            DeviationState::Open if old.deviations.iter().all(is_looked_at) => {
                DeviationState::Acknowledged
            }
            state => state,
        },
        amendments: wire::document(&all)?,
        changed_at: ctx.clock.now(),
        ..old.clone()
    };
    match tx.completions().amend(&old, &new).await {
        // Whoever was faster may have acknowledged something else: decided anew.
        Err(StoreError::StaleVersion) => return Err(StoreError::Contended.into()),
        done => done?,
    }
    Ok(new)
}
