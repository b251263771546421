//! What an event does to the records, in the transaction that has claimed it.

use domain::id::CompletionId;
use infra::{
    row::{CompletionRow, CompletionStatus, External, Inbound, InboundReportRow},
    store::Tx,
};

use super::{Data, Event, prove::Proven};
use crate::{
    app::{
        completion::{self, Origin},
        reading,
    },
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        completion::{CompletionRequest, deviations_of},
        inbound::{InboundOutcome, InboundType, InboundView, InboundVoidRequest},
    },
};

/// Corrections of corrections that are followed to what counts now.
const MAX_CORRECTIONS: usize = 1_000;
/// Why a completion is void whose contractor says no more.
const NO_REASON: &str = "Voided by the contractor.";

/// Does what a new event says.
///
/// # Errors
/// `invalid_body` with pointers below the event's `data`; `already_exists`; those of the store.
pub(super) async fn apply(
    ctx: &Context,
    tx: &Tx,
    source: &Proven,
    (id, event): (&str, &Event),
) -> Result<InboundView, Problem> {
    let told = Inbound {
        at: infra::clock::truncate_to_millis(event.at),
        kind: event.kind.word().to_owned(),
        webhook_id: id.to_owned(),
    };
    match &event.data {
        Data::Completion(request) => report(ctx, tx, source, (told, event.kind, request)).await,
        Data::Void(request) => void(ctx, tx, source, (told, request)).await,
        Data::Reading(request) => {
            let row =
                reading::record(ctx, tx, (request, Origin::Source(source.contractor))).await?;
            Ok(InboundView {
                reading_id: Some(row.id.to_string()),
                ..view(told.webhook_id, InboundOutcome::Recorded)
            })
        }
    }
}

fn view(id: String, outcome: InboundOutcome) -> InboundView {
    InboundView {
        id,
        outcome,
        completion_id: None,
        reading_id: None,
        deviations: Vec::new(),
        dry_run: false,
    }
}

/// Whether an event counts beside the latest about its report: it happened later or, of one moment, weighs more.
fn is_latest(told: &Inbound, last: Option<&Inbound>) -> bool {
    let weight = |event: &Inbound| {
        (
            event.at,
            InboundType::rank(&event.kind),
            event.webhook_id.clone(),
        )
    };
    last.is_none_or(|last| weight(told) > weight(last))
}

/// Records a report or its correction, unless a later event about it was there before.
async fn report(
    ctx: &Context,
    tx: &Tx,
    source: &Proven,
    (told, kind, request): (Inbound, InboundType, &CompletionRequest),
) -> Result<InboundView, Problem> {
    let (external, request) = own(source, request)?;
    let mut known = tx.inbound().report(source.contractor, &external).await?;
    if kind == InboundType::Reported {
        if known.reported_as.is_some() {
            return Err(Problem::taken(
                "This report came before, under another id: correct it with `completion.corrected`.".to_owned(),
            ));
        }
        known.reported_as = Some(told.webhook_id.clone());
    }
    let id = told.webhook_id.clone();
    if !is_latest(&told, known.last.as_ref()) {
        tx.inbound().save(&known).await?;
        return Ok(InboundView {
            completion_id: known.completion_id.map(|id| id.to_string()),
            ..view(id, InboundOutcome::Outdated)
        });
    }
    let report = (&request, Origin::Source(source.contractor));
    let row = match counting(tx, source, &known).await? {
        Some(old) => completion::supersede(ctx, tx, old.id, report).await?,
        None => completion::record(ctx, tx, report).await?,
    };
    known.last = Some(told);
    known.completion_id = Some(row.id);
    tx.inbound().save(&known).await?;
    Ok(InboundView {
        completion_id: Some(row.id.to_string()),
        deviations: deviations_of(&row)?,
        ..view(id, InboundOutcome::Recorded)
    })
}

/// Voids a report, also one that is still to come.
async fn void(
    ctx: &Context,
    tx: &Tx,
    source: &Proven,
    (told, request): (Inbound, &InboundVoidRequest),
) -> Result<InboundView, Problem> {
    let external = External::from(&request.external);
    let mut known = tx.inbound().report(source.contractor, &external).await?;
    let completion = known.completion_id.map(|id| id.to_string());
    let id = told.webhook_id.clone();
    if !is_latest(&told, known.last.as_ref()) {
        return Ok(InboundView {
            completion_id: completion,
            ..view(id, InboundOutcome::Outdated)
        });
    }
    let mut voided = None;
    if let Some(old) = counting(tx, source, &known).await? {
        let reason = request.reason.as_deref().unwrap_or(NO_REASON);
        let row = completion::void(ctx, tx, (old.id, None), (&source.by(), reason)).await?;
        voided = Some(row.id);
    }
    known.last = Some(told);
    known.completion_id = voided.or(known.completion_id);
    tx.inbound().save(&known).await?;
    Ok(InboundView {
        completion_id: known.completion_id.map(|id| id.to_string()),
        ..view(id, InboundOutcome::Voided)
    })
}

/// The report's name and the report as the source's own contractor makes it.
fn own(
    source: &Proven,
    request: &CompletionRequest,
) -> Result<(External, CompletionRequest), Problem> {
    let mut faults = Faults::new();
    let own = source.contractor.to_string();
    if request.contractor_id.as_ref().is_some_and(|id| *id != own) {
        let detail = "A source reports for its own contractor only; leave this out.";
        faults.push("#/contractor_id", "other_contractor", detail);
    }
    let external = request.external.as_ref().map(External::from);
    if external.is_none() {
        let detail = "Name the report, so that it can be corrected and is taken once.";
        faults.push("#/external", "required", detail);
    }
    faults.finish()?;
    let mut request = request.clone();
    request.contractor_id = Some(own);
    external
        .map(|external| (external, request))
        .ok_or_else(Problem::not_found)
}

/// The completion that counts for a report: the one that came of it, what corrected that, or one that somebody recorded with
/// the report's name for the same contractor.
async fn counting(
    tx: &Tx,
    source: &Proven,
    known: &InboundReportRow,
) -> Result<Option<CompletionRow>, Problem> {
    let named = tx.completions().find_external(&known.external).await?;
    // Another contractor's is no business of this source; recording under its name is refused further on.
    let named = named.filter(|row| row.contractor_id == Some(source.contractor));
    if named.is_some() {
        return Ok(named);
    }
    let mut next: Option<CompletionId> = known.completion_id;
    for _ in 0..MAX_CORRECTIONS {
        let Some(id) = next else { return Ok(None) };
        let Some(row) = tx.completions().get(id).await? else {
            return Ok(None);
        };
        match row.status {
            CompletionStatus::Recorded => return Ok(Some(row)),
            CompletionStatus::Voided => return Ok(None),
            CompletionStatus::Superseded => next = row.superseded_by,
        }
    }
    Ok(None)
}
