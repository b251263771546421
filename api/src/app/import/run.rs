//! Reads the files that were sent: one at a time, judged by what is registered, and written in one transaction with their end.
//!
//! A dry run does all that an application does, and takes it back: what it says is what would have happened.

use std::{collections::BTreeMap, sync::Arc};

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    handover::{Counts, Fate, Format, Handover, Reason, Synonym, reconcile},
    id::{SurfaceId, TenantId},
};
use infra::{
    row::{External, HandedOver, ImportRow, ImportStage, OutcomeRow},
    store::{DueJob, ImportEnd, Lease, Tx},
};

use super::{
    changes::{self, Register, Step},
    headway::Teller,
    named,
};
use crate::{
    app::surface::batch,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        estimate_job::JobProblem,
        import::{ImportRemark, ImportSummary, Said},
        surface::{ItemView, Mode, Outcome, SurfaceBatch, SurfaceMergeBatchRequest},
    },
};

/// For how long a file may take before the worker is taken for dead.
const LEASE: TimeDelta = TimeDelta::minutes(5);
/// How often a file is begun before it is given up.
const MAX_ATTEMPTS: i64 = 3;
/// For how long an import is kept after its end.
const KEPT: TimeDelta = TimeDelta::days(7);
/// How many surfaces are written by one batch.
const BATCH: usize = 1_000;

/// Reads the oldest file that nobody works on; false if there is none.
///
/// # Errors
/// Those of the store before a file was taken. What goes wrong with a file is kept with its import.
pub(crate) async fn next(ctx: &Arc<Context>, owner: &str) -> Result<bool, Problem> {
    let now = ctx.clock.now();
    for DueJob { tenant, row } in ctx.store.due_imports(now).await? {
        let tx = ctx.store.begin(tenant).await?;
        let until = now + LEASE;
        if !tx
            .imports()
            .claim(&row, Lease { owner, until }, now)
            .await?
        {
            continue;
        }
        tx.commit().await?;
        let done = if row.n_attempts < MAX_ATTEMPTS {
            work(ctx, tenant, &row, owner).await
        } else {
            let detail = "It was begun three times and never came to its end: send the file again, or a part of it.";
            Err(Problem::new(Code::Internal, detail))
        };
        if let Err(problem) = done {
            give_up(ctx, tenant, &row, owner, &problem).await?;
        }
        return Ok(true);
    }
    Ok(false)
}

/// Forgets imports that came to their end a week ago.
///
/// # Errors
/// Those of the store.
pub(crate) async fn sweep(ctx: &Context) -> Result<(), Problem> {
    let n_swept = ctx.store.sweep_imports(ctx.clock.now() - KEPT).await?;
    if n_swept > 0 {
        tracing::info!(n_swept, "old imports are forgotten");
    }
    Ok(())
}

/// Says in the import why it came to nothing, unless it is worth another try: then its lease runs out.
async fn give_up(
    ctx: &Context,
    tenant: TenantId,
    row: &ImportRow,
    owner: &str,
    problem: &Problem,
) -> Result<(), Problem> {
    tracing::warn!(import = %row.id, %problem, "an import came to nothing");
    if problem.may_pass() {
        return Ok(());
    }
    let told = wire::document(&JobProblem::from(problem))?;
    let tx = ctx.store.begin(tenant).await?;
    let end = ImportEnd::Failed(told);
    tx.imports()
        .finish(row.id, owner, &end, ctx.clock.now())
        .await?;
    Ok(tx.commit().await?)
}

async fn work(
    ctx: &Arc<Context>,
    tenant: TenantId,
    row: &ImportRow,
    owner: &str,
) -> Result<(), Problem> {
    let tx = ctx.store.read(tenant).await?;
    let content = tx.imports().content(row.id).await?;
    drop(tx);
    let content = content.ok_or_else(Problem::not_found)?;
    let mut formats = Format::ALL.iter().copied();
    let format = formats.find(|format| format.word() == row.format);
    let format = format.ok_or_else(Problem::not_found)?;
    let mut found = super::read(format, content.into()).await?;
    let n_spaces = found.spaces.len();
    let teller = Teller::new(ctx, (tenant, row.id), (owner, LEASE), n_spaces);
    if !teller.stage(ImportStage::Matching).await? {
        gone(row);
        return Ok(());
    }
    named::compose(&mut found);
    let tx = begin(ctx, tenant, row).await?;
    let (found, steps) = steps(ctx, &tx, row, found).await?;
    let Some(made) = write(ctx, &tx, steps, &teller).await? else {
        gone(row);
        return Ok(());
    };
    let summary = ImportSummary::new(&found, made.counts);
    let end = ImportEnd::Succeeded(wire::document(&summary)?);
    let tx = if row.applies {
        keep(&tx, &made).await?;
        tx
    } else {
        // What was tried is taken back.
        drop(tx);
        begin(ctx, tenant, row).await?
    };
    tx.imports().put_rows(row.id, &made.rows).await?;
    let now: DateTime<Utc> = ctx.clock.now();
    if !tx.imports().finish(row.id, owner, &end, now).await? {
        gone(row);
        return Ok(());
    }
    tx.commit().await?;
    ctx.outbound.notify_one();
    Ok(())
}

fn gone(row: &ImportRow) {
    tracing::info!(import = %row.id, "an import was cancelled or is another's by now");
}

/// A transaction in which everything is written down as done by whoever sent the file or had it applied.
async fn begin(ctx: &Context, tenant: TenantId, row: &ImportRow) -> Result<Tx, Problem> {
    let tx = ctx.store.begin(tenant).await?;
    Ok(match &row.by {
        Some(by) => tx.signed_by(by.clone()),
        None => tx,
    })
}

/// What becomes of each space of a file by what is registered now.
async fn steps(
    ctx: &Arc<Context>,
    tx: &Tx,
    row: &ImportRow,
    mut found: Handover,
) -> Result<(Handover, Vec<Step>), Problem> {
    let mut rows = named::resolve(tx, row.site_id, &mut found).await?;
    let in_files = found.spaces.iter().filter(|space| space.surface.is_none());
    let externals = in_files.filter_map(|space| {
        let name = space.external.as_ref()?;
        Some(External {
            system: name.system.clone(),
            id: name.id.clone(),
        })
    });
    let externals: Vec<External> = externals.collect();
    // A name that a surface elsewhere has is not this site's: it is created, which the register refuses and says why.
    let named = tx.surfaces().find_external_many(&externals).await?;
    rows.extend(
        named
            .into_iter()
            .filter(|known| known.site_id == row.site_id),
    );
    let ids: Vec<SurfaceId> = rows.iter().map(|row| row.id).collect();
    let said = tx.imports().handed_over(&ids).await?;
    let said: BTreeMap<SurfaceId, String> = said
        .into_iter()
        .map(|said| (said.surface_id, said.document))
        .collect();
    let register: Register = changes::register(&rows, &said)?;
    let own = tx.finish_synonyms().all().await?;
    let own: Vec<Synonym> = own
        .into_iter()
        .map(|row| Synonym {
            word: row.word,
            means: row.means,
        })
        .collect();
    // It reads every finish of the file by the whole dictionary: not for a thread that serves requests.
    let (base, site) = (ctx.knowledge, row.site_id.to_string());
    let steps = tokio::task::spawn_blocking(move || {
        let judged = reconcile(base, &own, &found, &changes::registered(&register));
        let steps = changes::steps(&site, &found, judged, &register);
        (found, steps)
    });
    steps.await.map_err(|error| Problem::internal(&error))
}

/// What was made of a file.
#[derive(Default)]
struct Made {
    rows: Vec<OutcomeRow>,
    counts: Counts,
    said: Vec<HandedOver>,
}

/// Writes what the spaces come to, and says what became of each; `None` if nobody wants to know any more.
async fn write(
    ctx: &Context,
    tx: &Tx,
    mut steps: Vec<Step>,
    teller: &Teller<'_>,
) -> Result<Option<Made>, Problem> {
    let mut written = Vec::new();
    teller.done(0);
    let numbered = steps.iter_mut().enumerate();
    let items = numbered.filter_map(|(index, step)| Some((index, step.item.take()?)));
    let items: Vec<(usize, serde_json::Value)> = items.collect();
    for chunk in items.chunks(BATCH) {
        let batch = SurfaceBatch::Merge(SurfaceMergeBatchRequest {
            mode: Mode::Partial,
            merge: true,
            items: chunk.iter().map(|(_, item)| item.clone()).collect(),
        });
        let view = batch::store(ctx, tx, batch).await?;
        let indexes = chunk.iter().map(|(index, _)| *index);
        // What stands before the last of them and is not among them was nothing to write.
        let last = indexes.clone().next_back();
        let n_done = last.map_or(0, |last| last.saturating_add(1));
        written.extend(indexes.zip(view.items));
        // The last is told by the end, so that a small file has as many versions on every database.
        if written.len() < items.len() && !teller.done_by_now(n_done).await? {
            return Ok(None);
        }
    }
    teller.done(steps.len());
    for (index, item) in written {
        if let Some(step) = steps.get_mut(index) {
            settle(step, item);
        }
    }
    let mut made = Made::default();
    for step in steps {
        made.take(&step)?;
    }
    Ok(Some(made))
}

/// Notes in a step what the register made of it.
fn settle(step: &mut Step, item: ItemView) {
    let view = &mut step.view;
    let fate = match item.outcome {
        Outcome::Created => Fate::Created,
        Outcome::Updated => Fate::Updated,
        Outcome::Unchanged => Fate::Unchanged,
        Outcome::OutOfScope => Fate::OutOfScope,
        Outcome::ToSplit | Outcome::NeedsAttention => Fate::NeedsAttention,
    };
    view.outcome = fate.word();
    if item.surface_id.is_some() {
        view.surface_id = item.surface_id;
    }
    if matches!(fate, Fate::OutOfScope | Fate::NeedsAttention) {
        step.said = None;
    }
    let place = view.place.clone();
    view.reasons
        .extend(item.errors.iter().map(|fault| ImportRemark {
            code: Reason::Refused.word().to_owned(),
            detail: fault.detail.to_string(),
            place: place.clone(),
        }));
}

impl Made {
    fn take(&mut self, step: &Step) -> Result<(), Problem> {
        let view = &step.view;
        let fates = Fate::ALL.iter();
        let fate = fates.copied().find(|fate| fate.word() == view.outcome);
        self.counts.add(fate.unwrap_or(Fate::NeedsAttention));
        let surface = view.surface_id.as_deref().and_then(|id| id.parse().ok());
        if let Some((surface_id, said)) = surface.zip(step.said.as_ref()) {
            self.said.push(HandedOver {
                surface_id,
                document: wire::document(&Said::of(said))?,
            });
        }
        self.rows.push(OutcomeRow {
            number: view.number,
            outcome: view.outcome.to_owned(),
            document: wire::document(view)?,
        });
        Ok(())
    }
}

/// Keeps what the file said of surfaces for the next one.
async fn keep(tx: &Tx, made: &Made) -> Result<(), Problem> {
    Ok(tx.imports().keep_handed_over(&made.said).await?)
}
