//! What lies on floors, by all that was told and done.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::{
    film::{Entry, EntryId, Event, Floor, Job, State, Word, state_at, touches_film},
    id::{SurfaceId, TenantId},
};
use infra::{
    row::{CompletionRow, CompletionStatus, FactStatus, ObservationRow, SurfaceRow},
    store::Tx,
};

use super::surface;
use crate::{
    context::Context,
    problem::Problem,
    wire::{completion::laid, film::SurfaceStateView},
};

/// The state of one surface's film at a moment; now where none is named.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: SurfaceId,
    at: Option<DateTime<Utc>>,
) -> Result<SurfaceStateView, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let floor = surface::find(&tx, id).await?;
    let at = at.unwrap_or_else(|| ctx.clock.now());
    let state = state(ctx, &tx, &floor, at).await?;
    let version = &ctx.knowledge.version;
    Ok(SurfaceStateView::new(&floor, version, &state))
}

/// The state of one floor's film.
///
/// # Errors
/// `internal` for a document that is not what was written; those of the store.
pub(crate) async fn state(
    ctx: &Context,
    tx: &Tx,
    floor: &SurfaceRow,
    at: DateTime<Utc>,
) -> Result<State, Problem> {
    let floors = std::slice::from_ref(floor);
    let found = states(ctx, tx, floors, at).await?.remove(&floor.id);
    found.ok_or_else(Problem::not_found)
}

/// The state of each floor's film. Two lookups for each few hundred floors, however many there are.
///
/// # Errors
/// As [`state`].
pub(crate) async fn states(
    ctx: &Context,
    tx: &Tx,
    floors: &[SurfaceRow],
    at: DateTime<Utc>,
) -> Result<BTreeMap<SurfaceId, State>, Problem> {
    let mut entries = entries(ctx, tx, floors).await?;
    let mut states = BTreeMap::new();
    for floor in floors {
        let known = entries.remove(&floor.id).unwrap_or_default();
        let of = Floor {
            base: ctx.knowledge,
            area: floor.area,
            traffic: surface::request_of(floor)?.traffic.map(Into::into),
        };
        states.insert(floor.id, state_at(of, &known, at));
    }
    Ok(states)
}

/// All that was told of each floor's film and done to it, in the same lookups.
///
/// # Errors
/// As [`state`].
pub(crate) async fn entries(
    ctx: &Context,
    tx: &Tx,
    floors: &[SurfaceRow],
) -> Result<BTreeMap<SurfaceId, Vec<Entry>>, Problem> {
    let ids: Vec<SurfaceId> = floors.iter().map(|floor| floor.id).collect();
    let touching = ctx.knowledge.processes.iter();
    let processes: Vec<&str> = touching
        .filter(|process| touches_film(process))
        .map(|process| process.key.as_str())
        .collect();
    let mut entries: BTreeMap<SurfaceId, Vec<Entry>> = BTreeMap::new();
    for row in tx.observations().of_surfaces(&ids).await? {
        entries.entry(row.surface_id).or_default().push(seen(&row));
    }
    for row in tx.completions().of_surfaces(&ids, &processes).await? {
        entries.entry(row.surface_id).or_default().push(done(row)?);
    }
    for floor in floors {
        let known = entries.entry(floor.id).or_default();
        let from_survey = |entry: &Entry| matches!(entry.event, Event::Told(Word::Survey, _));
        // A surface that was registered before its film was kept as an observation.
        if known.iter().any(from_survey) {
            continue;
        }
        let request = surface::request_of(floor)?;
        if let Some(told) = surface::told(&request) {
            known.push(Entry {
                id: EntryId::Surface(floor.id),
                at: surface::seen_at(&request).unwrap_or(floor.updated_at),
                counts: true,
                event: Event::Told(Word::Survey, told),
            });
        }
    }
    Ok(entries)
}

fn seen(row: &ObservationRow) -> Entry {
    Entry {
        id: EntryId::Observation(row.id),
        at: row.observed_at,
        counts: row.status == FactStatus::Recorded,
        event: Event::Told(row.word, row.told),
    }
}

fn done(row: CompletionRow) -> Result<Entry, Problem> {
    let laid = laid(&row.document)?;
    Ok(Entry {
        id: EntryId::Completion(row.id),
        at: row.finished_at,
        counts: row.status == CompletionStatus::Recorded,
        event: Event::Done(Job {
            started_at: row.started_at,
            process: row.process,
            plan: row.plan_id,
            area: row.area,
            polish: laid.polish,
            seal: laid.seal,
            planned_polish: laid.planned_polish,
            planned_seal: laid.planned_seal,
        }),
    })
}
