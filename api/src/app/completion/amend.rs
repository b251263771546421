//! What is said of a completion after it was recorded: that it is void, or that a deviation is accepted.

use domain::{event::EventKind, id::CompletionId};
use infra::{
    row::{CompletionRow, CompletionStatus},
    store::{By, StoreError, Tx},
};

use super::tell;
use crate::{
    app::no_longer_counts,
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        completion::{AcknowledgeRequest, Amendment, Remark, amendments, deviations_of},
        time,
    },
};

/// Voids a completion: it stays readable and counts in no report, no plan and no film any more.
///
/// # Errors
/// `not_found`; `state_conflict` if it does not count any more; `contended`; those of the store.
pub(crate) async fn void(
    ctx: &Context,
    tx: &Tx,
    id: CompletionId,
    (by, reason): (&By, &str),
) -> Result<CompletionRow, Problem> {
    let old = counting(tx, id).await?;
    let said = Amendment {
        deviation: None,
        remark: remark(ctx, by, reason),
    };
    let new = amend(tx, old, CompletionStatus::Voided, said).await?;
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
    id: CompletionId,
    (by, request): (&By, &AcknowledgeRequest),
) -> Result<CompletionRow, Problem> {
    let old = counting(tx, id).await?;
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
    let new = amend(tx, old, CompletionStatus::Recorded, said).await?;
    let statement = format!("A deviation was acknowledged: {}.", request.deviation);
    let kind = EventKind::DeviationAcknowledged;
    tell(ctx, tx, kind, &new, (ctx.clock.now(), &statement)).await?;
    Ok(new)
}

async fn counting(tx: &Tx, id: CompletionId) -> Result<CompletionRow, Problem> {
    let row = tx.completions().get(id).await?;
    let row = row.ok_or_else(Problem::not_found)?;
    match row.status {
        CompletionStatus::Recorded => Ok(row),
        CompletionStatus::Superseded => Err(no_longer_counts(row.superseded_by)),
        CompletionStatus::Voided => {
            Err(Problem::new(Code::StateConflict, "The completion is void."))
        }
    }
}

fn remark(ctx: &Context, by: &By, reason: &str) -> Remark {
    Remark {
        reason: reason.to_owned(),
        at: time::write(ctx.clock.now()),
        by_client: by.client.clone(),
        by_subject: by.subject.clone(),
    }
}

async fn amend(
    tx: &Tx,
    old: CompletionRow,
    status: CompletionStatus,
    said: Amendment,
) -> Result<CompletionRow, Problem> {
    let mut all = amendments(&old)?;
    all.push(said);
    let text = wire::document(&all)?;
    match tx.completions().amend(&old, (status, &text)).await {
        // Whoever was faster may have acknowledged something else: decided anew.
        Err(StoreError::StaleVersion) => return Err(StoreError::Contended.into()),
        done => done?,
    }
    Ok(CompletionRow {
        status,
        amendments: text,
        ..old
    })
}
