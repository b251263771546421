//! Recording work that was done, correcting what was recorded, and reading it.

mod account;
mod amend;
mod check;
mod reported;

pub(crate) use amend::{acknowledge, void};
pub(crate) use infra::row::{CompletionRow, CompletionStatus};

use chrono::{DateTime, Utc};
use domain::{
    event::EventKind,
    id::{CompletionId, ContractorId, EventId, PlanId, TenantId},
    knowledge::Products,
    record::{Reported, WHOLE_PPM},
};
pub(crate) use infra::store::{CompletionFilter, DeviationFilter};
use infra::store::{Page, Place, StoreError, Turn, Tx};

use self::{
    account::{Names, Terms},
    check::Found,
};
use crate::{
    app::{history, learning, no_longer_counts, product, site},
    context::Context,
    problem::Problem,
    wire::{
        self,
        completion::{CompletionRequest, amendments, as_it_stands, deviations_of},
        event::data::CompletionEventData,
    },
};

/// Who reports. Callers with a token also enter what was done before anything was planned here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Origin {
    /// Somebody with a token, which may be bound to a contractor: then only that contractor's work exists.
    Caller(Option<ContractorId>),
    /// A contractor's own system, which was told of the plan before the work: work that is older contradicts it.
    Source(ContractorId),
    /// A crew through the form of a plan's sheet, which it had before the work: work that is older contradicts it. The link says
    /// whose work it is.
    Link,
}

impl Origin {
    /// The contractor whose work alone may be reported.
    pub(crate) const fn bound_to(self) -> Option<ContractorId> {
        match self {
            Self::Caller(contractor) => contractor,
            // What it may report was judged before.
            Self::Source(_) | Self::Link => None,
        }
    }
}

/// A completion, if it is one that a caller may know of who is bound to a contractor.
///
/// # Errors
/// `not_found`, as for one that never was.
pub(crate) fn known_to(
    contractor: Option<ContractorId>,
    found: Option<CompletionRow>,
) -> Result<CompletionRow, Problem> {
    let is_theirs = |row: &CompletionRow| contractor.is_none() || row.contractor_id == contractor;
    found.filter(is_theirs).ok_or_else(Problem::not_found)
}

/// Records work, sets it against its plan and tells of it.
///
/// # Errors
/// `invalid_body` with everything that is wrong with the report; those of the store.
pub(crate) async fn record(
    ctx: &Context,
    tx: &Tx,
    report: (&CompletionRequest, Origin),
) -> Result<CompletionRow, Problem> {
    append(ctx, tx, report, None).await
}

/// Records a correction: it counts in the place of `id`, which stays readable, and tells of both.
///
/// # Errors
/// `not_found`; `state_conflict` if `id` does not count any more; otherwise as [`record`].
pub(crate) async fn supersede(
    ctx: &Context,
    tx: &Tx,
    id: CompletionId,
    report: (&CompletionRequest, Origin),
) -> Result<CompletionRow, Problem> {
    let old = amend::counting(tx, (id, report.1.bound_to())).await?;
    let new = append(ctx, tx, report, Some(&old)).await?;
    let old = CompletionRow {
        status: CompletionStatus::Superseded,
        superseded_by: Some(new.id),
        ..old
    };
    let statement = format!("A completion was corrected by {}.", new.id);
    tell(
        ctx,
        tx,
        EventKind::CompletionSuperseded,
        &old,
        (new.created_at, &statement),
    )
    .await?;
    Ok(new)
}

/// Records work; a correction gets back the share of the plan that the corrected completion had.
async fn append(
    ctx: &Context,
    tx: &Tx,
    (request, origin): (&CompletionRequest, Origin),
    corrects: Option<&CompletionRow>,
) -> Result<CompletionRow, Problem> {
    let own = product::own(tx).await?;
    let products = Products {
        base: ctx.knowledge,
        own: &own,
    };
    let now = ctx.clock.now();
    let found = find(tx, request, origin.bound_to()).await?;
    let work = check::check(products, request, &found, corrects, now)?;
    let day = site::day_of(work.site, work.started_at);
    let (card_row, card) = site::card_on(tx, work.site, day).await?;
    let left_ppm = match work.plan {
        Some(plan) => left(tx, plan.row.id, corrects).await?,
        None => 0,
    };
    let promised = work
        .plan
        .map(|plan| wire::promise::promised(&plan.row.document));
    let terms = Terms {
        day,
        month: site::month_of(work.site, work.started_at),
        promised: promised.transpose()?.unwrap_or_default(),
        left_ppm,
        origin,
        card_row: &card_row,
        card: &card,
    };
    let names = Names {
        id: CompletionId::from_uuid(ctx.ids.uuid()),
        supersedes: corrects.map(|old| old.id),
        now,
    };
    let (row, lines) = account::account(products, (request, &work), &terms, &names)?;
    if let Some(old) = corrects {
        // Before the correction is looked for and kept: of two that count only one may have their external name.
        match tx.completions().supersede(old.id, row.id).await {
            Err(StoreError::StaleVersion) => return Err(no_longer_counts(None::<CompletionId>)),
            done => done?,
        }
    }
    if let Some(external) = &row.external
        && let Some(known) = tx.completions().find_external(external).await?
    {
        return Err(Problem::taken(
            if known_to(origin.bound_to(), Some(known.clone())).is_ok() {
                format!(
                    "`{0}` records this work: read it at `/v1/completions/{0}`, and supersede it if it is wrong.",
                    known.id
                )
            } else {
                "Another contractor's work has this external name: choose another.".to_owned()
            },
        ));
    }
    tx.completions().insert(&row, &lines).await?;
    if let Some(plan) = work.plan.filter(|_plan| !work.is_elsewhere) {
        let cited = (&plan.row, &plan.lines[..]);
        let told = (&terms.promised, &work.reported);
        tx.paces()
            .insert(&learning::told(products, &row, cited, told)?)
            .await?;
    }
    let statement = statement(ctx, &row, &work.reported);
    let kind = EventKind::CompletionRecorded;
    tell(ctx, tx, kind, &row, (row.finished_at, &statement)).await?;
    flag(ctx, tx, &row).await?;
    Ok(row)
}

/// Looks up what a request names; a plan is locked, so that its share is given away once.
async fn find(
    tx: &Tx,
    request: &CompletionRequest,
    bound_to: Option<ContractorId>,
) -> Result<Found, Problem> {
    let named = request.contractor_id.as_ref().map(|id| id.parse());
    let contractor = match (named, bound_to) {
        (Some(Ok(named)), Some(own)) if named != own => None,
        (Some(named), _) => named.ok(),
        (None, own) => own,
    };
    let mut found = Found {
        names_contractor: request.contractor_id.is_some() || bound_to.is_some(),
        ..Found::default()
    };
    if let Ok(id) = request.surface_id.parse() {
        found.surface = tx.surfaces().get(id).await?;
    }
    if let Some(surface) = &found.surface {
        found.site = tx.sites().get(surface.site_id).await?;
    }
    if let Some(Ok(id)) = request.plan_id.as_ref().map(|id| id.parse())
        && tx.plans().lock_plan(id).await?
        && let Some(row) = tx.plans().get(id).await?
    {
        let lines = tx.plans().lines(id).await?;
        found.plan = Some(check::CitedPlan { row, lines });
    }
    if let Some(id) = contractor {
        found.contractor = tx.contractors().get(id).await?.map(|row| row.id);
    }
    Ok(found)
}

/// How much of a plan is not done yet, in parts per million.
async fn left(tx: &Tx, plan: PlanId, corrects: Option<&CompletionRow>) -> Result<i64, Problem> {
    let done = tx.completions().live_plan_share_ppm(plan).await?;
    let own = corrects.filter(|old| old.plan_id == Some(plan));
    let own = own.map_or(0, |old| old.planned_share_ppm);
    Ok(WHOLE_PPM.saturating_sub(done).saturating_add(own))
}

/// Puts the event of a completion into the outbox and the history.
async fn tell(
    ctx: &Context,
    tx: &Tx,
    kind: EventKind,
    row: &CompletionRow,
    (at, statement): (DateTime<Utc>, &str),
) -> Result<(), Problem> {
    let (event, now) = (EventId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let event = wire::event::encode(event, kind, now, &event_data(row)?)?;
    history::tell(tx, &event, (row.surface_id, at), statement).await
}

/// Tells, besides of the completion itself, of the deviations that were found in it, if any were: who looks after them
/// need not read every report.
async fn flag(ctx: &Context, tx: &Tx, row: &CompletionRow) -> Result<(), Problem> {
    let data = event_data(row)?;
    if data.has_deviations() {
        let (event, now) = (EventId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
        let event = wire::event::encode(event, EventKind::CompletionDeviated, now, &data)?;
        tx.outbox().append(&event).await?;
    }
    Ok(())
}

fn event_data(row: &CompletionRow) -> Result<CompletionEventData, Problem> {
    let deviations = deviations_of(row)?;
    Ok(CompletionEventData::new(row, version(row)?, deviations))
}

/// What was done, in one sentence.
fn statement(ctx: &Context, row: &CompletionRow, reported: &Reported) -> String {
    let process = ctx.knowledge.process(&row.process);
    let mut parts = vec![
        process
            .map_or(row.process.as_str(), |known| &known.name)
            .to_owned(),
    ];
    for (name, coats) in [
        ("seal", reported.seal_coats),
        ("polish", reported.polish_coats),
    ] {
        parts.extend(coats.map(|coats| format!("{coats} coats of {name}")));
    }
    format!("{} on {} m².", parts.join(", "), row.area.m2())
}

/// A completion changes when something is said of it later, and when something counts in its place.
///
/// # Errors
/// `internal` for a row that is not what was written.
pub(crate) fn version(row: &CompletionRow) -> Result<i64, Problem> {
    let n_said = i64::try_from(amendments(row)?.len()).unwrap_or(i64::MAX);
    let replaced = i64::from(row.status == CompletionStatus::Superseded);
    Ok(n_said.saturating_add(replaced).saturating_add(1))
}

/// One completion with its document as it stands now.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    (id, bound_to): (CompletionId, Option<ContractorId>),
) -> Result<(i64, String), Problem> {
    let glance = ctx.store.glance(tenant);
    let row = known_to(bound_to, glance.completions().get(id).await?)?;
    Ok((version(&row)?, as_it_stands(row)?))
}

/// Up to `limit` completions in the order of a turn, each as it stands now.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &CompletionFilter,
    turn: Turn,
    limit: u64,
) -> Result<Page<String, Place>, Problem> {
    let glance = ctx.store.glance(tenant);
    let page = glance.completions().list(filter, turn, limit).await?;
    page.try_map(as_it_stands)
}

#[cfg(test)]
mod tests;
