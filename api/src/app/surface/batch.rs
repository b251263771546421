//! Batches of surfaces: each item creates the surface of its external name or replaces what was said of it.
//!
//! What becomes of each item is decided by a pure function over what was read in one go; then everything is written
//! in a few statements.

mod asked;
mod decide;

use domain::{knowledge::Products, quantity::Area};
use infra::{
    row::{EventRow, External, HistoryRow, ObservationRow, SurfaceRow},
    store::Tx,
};

use self::{
    asked::{Asked, ask, externals},
    decide::{Decision, decide},
};
use super::{
    facts::own_if,
    place::Places,
    succession::{Succession, resolve},
    write::{Written, create, update},
};
use crate::{
    body::Fault,
    context::Context,
    problem::{Code, Problem},
    wire::surface::{
        AreasView, CountsView, ItemView, Mode, Outcome, SurfaceBatch, SurfaceBatchView,
        SurfaceRequest,
    },
};

/// Stores a batch and says what became of each item.
///
/// # Errors
/// `invalid_body` in atomic mode if an item cannot be stored, with the reasons of all; `contended` if others wrote
/// the same surfaces meanwhile; those of the store.
pub(crate) async fn store(
    ctx: &Context,
    tx: &Tx,
    batch: SurfaceBatch,
) -> Result<SurfaceBatchView, Problem> {
    let (mode, now) = (batch.mode(), ctx.clock.now());
    let externals = externals(&batch)?;
    let names: Vec<External> = externals.iter().map(Into::into).collect();
    let found = tx.surfaces().find_external_many(&names).await?;
    let mut asked = ask(batch, externals, &found, now)?;
    let requests = asked.iter_mut().filter_map(|one| one.request.as_mut().ok());
    resolve(tx, requests).await?;
    let sites = requests_of(&asked).map(|said| said.site_id.as_str());
    let places = Places::load(tx, sites, now).await?;
    let own = own_if(tx, requests_of(&asked).map(|said| &said.maker_instruction)).await?;
    let known = Products {
        base: ctx.knowledge,
        own: &own,
    };
    let replacing = requests_of(&asked).map(|said| said.replaced_by.as_ref());
    let mut successors = Succession::load(tx, replacing).await?;
    let decisions = decide(known, &asked, (&places, &mut successors), now);
    if mode == Mode::Atomic {
        let faults: Vec<Fault> = decisions
            .iter()
            .flat_map(Decision::faults)
            .cloned()
            .collect();
        if !faults.is_empty() {
            return Err(Problem::with_faults(Code::InvalidBody, faults));
        }
    }
    let mut writes = Writes::default();
    let items = asked.iter().zip(decisions).enumerate();
    let items = items
        .map(|(index, (item, decision))| writes.take(ctx, (index, item), decision))
        .collect::<Result<Vec<_>, _>>()?;
    writes.flush(tx).await.map_err(raced)?;
    Ok(view(&asked, items))
}

/// What is to be said of the surfaces of which anything can be.
fn requests_of<'a>(asked: &'a [Asked<'_>]) -> impl Iterator<Item = &'a SurfaceRequest> {
    asked.iter().filter_map(|one| one.request.as_ref().ok())
}

/// Somebody else created or changed one of the surfaces since it was read: all of it is tried again.
fn raced(problem: Problem) -> Problem {
    match problem.code() {
        Code::AlreadyExists | Code::StaleVersion => {
            Problem::new(Code::Contended, "Others are writing the same surfaces.")
        }
        _ => problem,
    }
}

/// What is to be written for a whole batch.
#[derive(Default)]
struct Writes {
    inserts: Vec<SurfaceRow>,
    updates: Vec<(SurfaceRow, i64)>,
    events: Vec<EventRow>,
    history: Vec<HistoryRow>,
    observations: Vec<ObservationRow>,
}

impl Writes {
    /// Notes what an item needs written and says what becomes of it.
    fn take(
        &mut self,
        ctx: &Context,
        (index, item): (usize, &Asked<'_>),
        decision: Decision<'_>,
    ) -> Result<ItemView, Problem> {
        let now = ctx.clock.now();
        let outcome = decision.outcome();
        let view = |row: Option<&SurfaceRow>, findings, errors| ItemView {
            index,
            outcome,
            external: item.external.clone(),
            surface_id: row.map(|row| row.id.to_string()),
            version: row.map(|row| row.version),
            findings,
            errors,
        };
        match decision {
            Decision::Create(draft) => {
                let findings = draft.findings.clone();
                let written = create(ctx, draft, now)?;
                let item = view(Some(&written.row), findings, Vec::new());
                let row = self.note(written);
                self.inserts.push(row);
                Ok(item)
            }
            Decision::Update(draft, old) => {
                let findings = draft.findings.clone();
                let written = update(ctx, draft, old, now)?;
                let item = view(Some(&written.row), findings, Vec::new());
                let row = self.note(written);
                self.updates.push((row, old.version));
                Ok(item)
            }
            Decision::Keep(draft, row) => Ok(view(Some(row), draft.findings, Vec::new())),
            Decision::Refuse(refusal, row) => Ok(view(row, Vec::new(), refusal.faults)),
        }
    }

    /// Notes what is written beside the surface.
    fn note(&mut self, written: Written) -> SurfaceRow {
        self.events.push(written.event);
        self.history.push(written.history);
        self.observations.extend(written.observation);
        written.row
    }

    async fn flush(self, tx: &Tx) -> Result<(), Problem> {
        tx.surfaces().insert_many(&self.inserts).await?;
        tx.surfaces().update_many(&self.updates).await?;
        tx.outbox().append_many(&self.events).await?;
        tx.histories().append_many(&self.history).await?;
        tx.observations().insert_many(&self.observations).await?;
        Ok(())
    }
}

/// The answer, with the items and their areas counted by outcome.
fn view(asked: &[Asked<'_>], items: Vec<ItemView>) -> SurfaceBatchView {
    let of = |outcome: Outcome| {
        let pairs = asked.iter().zip(&items);
        pairs.filter(move |(_, item)| item.outcome == outcome)
    };
    let count = |outcome| u32::try_from(of(outcome).count()).unwrap_or(u32::MAX);
    let area = |outcome| {
        let areas =
            of(outcome).filter_map(|(asked, _)| asked.request.as_ref().ok()?.area_of_floor());
        areas.sum::<Area>().m2()
    };
    SurfaceBatchView {
        counts: CountsView {
            created: count(Outcome::Created),
            updated: count(Outcome::Updated),
            unchanged: count(Outcome::Unchanged),
            out_of_scope: count(Outcome::OutOfScope),
            to_split: count(Outcome::ToSplit),
            needs_attention: count(Outcome::NeedsAttention),
        },
        areas_m2: AreasView {
            created: area(Outcome::Created),
            updated: area(Outcome::Updated),
            unchanged: area(Outcome::Unchanged),
            out_of_scope: area(Outcome::OutOfScope),
            to_split: area(Outcome::ToSplit),
            needs_attention: area(Outcome::NeedsAttention),
        },
        items,
    }
}
