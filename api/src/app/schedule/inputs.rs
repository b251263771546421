//! What a schedule is made from: plans, crews and hours, read and found to be in order.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    card::RateCard,
    id::{PlanId, SurfaceId},
    money::Currency,
    placing::{Crew, Floor, Job, Machine, Placed, Span, Way, place},
    quantity::{Labour, Rounding, divide},
    schedule::{MAX_LINKS, MAX_STEPS, Time},
};
use infra::{
    row::{PlanRow, PlanStatus, SurfaceRow},
    store::Tx,
};

use super::{
    crews,
    hours::{self, Terms},
};
use crate::{
    app::{
        product,
        site::{self, Site},
    },
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        schedule::{
            ScheduleRequest,
            plan::{Kept, KeptPlan},
        },
    },
};

/// The longest time that is scheduled.
const MAX_DAYS: i64 = 92;
/// How far back a schedule may begin.
const MAX_BACK: TimeDelta = TimeDelta::days(1);
/// How far ahead it may: it is to be over before it is deleted.
const MAX_AHEAD: TimeDelta = TimeDelta::days(300);

/// A plan to be scheduled, with its floor.
#[derive(Debug)]
pub(super) struct Planned {
    pub(super) plan_id: PlanId,
    pub(super) surface_id: SurfaceId,
    pub(super) name: String,
    pub(super) kept: Kept,
    pub(super) crew: usize,
}

/// All that a schedule is made from.
#[derive(Debug)]
pub(super) struct Inputs {
    pub(super) span: Span,
    pub(super) currency: Currency,
    pub(super) plans: Vec<Planned>,
    pub(super) crews: Vec<Crew>,
    pub(super) machines: Vec<Machine>,
    pub(super) floors: Vec<Floor>,
    pub(super) placed: Placed,
    pub(super) assumptions: Vec<String>,
}

impl Inputs {
    /// A moment of the schedule.
    pub(super) fn at(&self, time: Time) -> DateTime<Utc> {
        let after = TimeDelta::try_minutes(time).unwrap_or(TimeDelta::zero());
        self.span.from + after
    }
}

/// A plan as it is asked for, and as it was found.
struct Found {
    at: usize,
    row: PlanRow,
    floor: SurfaceRow,
    kept: Kept,
}

/// Reads what a request names, as of a moment.
///
/// # Errors
/// `invalid_body` with everything that is wrong; those of the store.
pub(super) async fn load(
    ctx: &Context,
    tx: &Tx,
    request: &ScheduleRequest,
    now: DateTime<Utc>,
) -> Result<Inputs, Problem> {
    read(ctx, tx, request, (now, Surveys::OfToday)).await
}

/// Which surveys plans may be made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Surveys {
    /// The survey that counts now.
    OfToday,
    /// Whichever they were made of: they are being done.
    AsPlanned,
}

/// The same, of plans that are being done.
///
/// # Errors
/// As [`load`].
pub(super) async fn read(
    ctx: &Context,
    tx: &Tx,
    request: &ScheduleRequest,
    (now, surveys): (DateTime<Utc>, Surveys),
) -> Result<Inputs, Problem> {
    let mut faults = Faults::new();
    let span = Span {
        from: request.from,
        to: request.to,
    };
    check_span(span, now, &mut faults);
    let own = product::own(tx).await?;
    let Some(site) = site::named(tx, &request.site_id, own).await? else {
        return Err(site::no_such(faults));
    };
    let zone = site::zone_of(&site.row);
    let day = site::day_of(&site.row, now);
    site.is_retired(day, "#/site_id", &mut faults);
    let (_, card) = site::card_on(tx, &site.row, site::day_of(&site.row, span.from)).await?;
    check_machines(ctx, request, &mut faults);
    let found = plans(ctx, tx, request, (&site, &card, surveys), &mut faults).await?;
    let mut crews = crews::crews(request, (&card, zone, span), &mut faults);
    let storeys = found.iter().map(|found| {
        let id = found.row.surface_id.to_string();
        (id, found.floor.storey.as_str())
    });
    crews::moves(
        request,
        &storeys.collect::<Vec<_>>(),
        &mut crews,
        &mut faults,
    );
    let assigned = crews::assign(request, &works(&found), &crews, &mut faults);
    let terms = Terms {
        request,
        zone,
        span,
        floors: found.iter().map(|found| &found.floor).collect(),
    };
    let (floors, assumptions) = hours::floors(&terms, &mut faults)?;
    let ways = ways(request, &found, &mut faults);
    faults.finish()?;
    let mut inputs = put_together(
        ctx,
        (request, &site, span),
        found,
        (crews, floors),
        (assigned, ways),
    );
    inputs.assumptions = assumptions;
    let workload = &inputs.placed.workload;
    if workload.steps.len() > MAX_STEPS || workload.links.len() > MAX_LINKS {
        let detail = format!(
            "These plans have {} tasks and waits; {MAX_STEPS} can be scheduled at once: leave plans out.",
            workload.steps.len()
        );
        let mut faults = Faults::new();
        faults.push("#/plans", "too_many_tasks", detail);
        faults.finish()?;
    }
    Ok(inputs)
}

fn check_span(span: Span, now: DateTime<Utc>, faults: &mut Faults) {
    if span.to <= span.from {
        faults.push("#/to", "out_of_range", "Must be later than `from`.");
    }
    if span.to - span.from > TimeDelta::days(MAX_DAYS) {
        let detail = format!("Must be at most {MAX_DAYS} days after `from`.");
        faults.push("#/to", "out_of_range", detail);
    }
    if span.from > now + MAX_AHEAD {
        let detail = "Must not lie more than 300 days ahead: schedules are kept for 400 days from when they are made.";
        faults.push("#/from", "out_of_range", detail);
    }
    if span.from < now - MAX_BACK {
        let detail = "Must not lie more than a day back: what is over cannot be scheduled.";
        faults.push("#/from", "out_of_range", detail);
    }
}

fn check_machines(ctx: &Context, request: &ScheduleRequest, faults: &mut Faults) {
    let mut seen = BTreeSet::new();
    for (at, named) in request.machines.iter().enumerate() {
        let place = format!("#/machines/{at}/machine");
        if !seen.insert(&named.machine) {
            faults.push(place, "duplicate", "The machine is named before.");
        } else if ctx.knowledge.machine(&named.machine).is_none() {
            let detail = format!("Nothing here is named `{}`.", named.machine);
            faults.push(place, "unknown_machine", detail);
        }
    }
}

/// The plans that a request names, each found to be one that can be done.
async fn plans(
    ctx: &Context,
    tx: &Tx,
    request: &ScheduleRequest,
    (site, card, surveys): (&Site, &RateCard, Surveys),
    faults: &mut Faults,
) -> Result<Vec<Found>, Problem> {
    let ids: Vec<Option<PlanId>> = request
        .plans
        .iter()
        .map(|plan| plan.plan_id.parse().ok())
        .collect();
    let wanted: Vec<PlanId> = ids.iter().flatten().copied().collect();
    let rows = tx.plans().get_many(&wanted).await?;
    let mut rows: BTreeMap<PlanId, PlanRow> = rows.into_iter().map(|row| (row.id, row)).collect();
    let wanted: Vec<SurfaceId> = rows.values().map(|row| row.surface_id).collect();
    let floors = tx.surfaces().get_many(&wanted).await?;
    let floors: BTreeMap<SurfaceId, SurfaceRow> =
        floors.into_iter().map(|floor| (floor.id, floor)).collect();
    let keys: Vec<&str> = request
        .machines
        .iter()
        .map(|named| named.machine.as_str())
        .collect();
    let (mut seen, mut surfaces, mut found) = (BTreeSet::new(), BTreeSet::new(), Vec::new());
    for (at, id) in ids.into_iter().enumerate() {
        let place = || format!("#/plans/{at}/plan_id");
        let known = id.is_some_and(|id| !seen.insert(id));
        if known {
            faults.push(place(), "duplicate", "The plan is named before.");
            continue;
        }
        let row = id.and_then(|id| rows.remove(&id));
        let row = row.filter(|row| row.site_id == site.row.id);
        let with_floor = row.and_then(|row| floors.get(&row.surface_id).map(|floor| (row, floor)));
        let Some((row, floor)) = with_floor else {
            let detail = "There is no such plan for a surface of this site.";
            faults.push(place(), "reference_not_found", detail);
            continue;
        };
        if !surfaces.insert(row.surface_id) {
            let detail =
                "Another plan of the same surface is named before: one surface has one plan here.";
            faults.push(place(), "duplicate", detail);
            continue;
        }
        match standing(ctx, (row, floor.clone(), surveys), card, &keys)? {
            Ok((row, floor, kept)) => found.push(Found {
                at,
                row,
                floor,
                kept,
            }),
            Err((code, detail)) => faults.push(place(), code, detail),
        }
    }
    Ok(found)
}

type Standing = Result<(PlanRow, SurfaceRow, Kept), (&'static str, String)>;

/// The work of a plan, or why it cannot be scheduled.
fn standing(
    ctx: &Context,
    (row, floor, surveys): (PlanRow, SurfaceRow, Surveys),
    card: &RateCard,
    machines: &[&str],
) -> Result<Standing, Problem> {
    if !matches!(row.status, PlanStatus::Proposed | PlanStatus::Accepted) {
        let detail = format!("The plan is {}: name the one that counts.", row.status);
        return Ok(Err(("plan_gone", detail)));
    }
    if surveys == Surveys::OfToday && row.surface_version != floor.version {
        let detail = "The surface was changed since the plan was made: have it planned anew.";
        return Ok(Err(("stale_plan", detail.to_owned())));
    }
    let plan: KeptPlan = wire::stored(&row.document)?;
    let kept = plan.work(card, ctx.knowledge, machines);
    let verdict = row.verdict.clone();
    let allowed = verdict.starts_with("allowed");
    let kept = kept.filter(|kept| allowed && !kept.parts.is_empty());
    Ok(kept.map(|kept| (row, floor, kept)).ok_or_else(|| {
        let detail = format!(
            "The plan's verdict is `{verdict}` and it holds no work: see its findings and questions."
        );
        ("not_allowed", detail)
    }))
}

/// Place in the request, operatives and working time of each plan.
fn works(found: &[Found]) -> Vec<(usize, u32, Labour)> {
    let works = found.iter().map(|found| {
        let pieces = found.kept.parts.iter().flat_map(|part| &part.pieces);
        let time: Labour = pieces.map(|piece| piece.crew_time).sum();
        let time = time.scaled(i64::from(found.kept.crew_size), 1);
        (found.at, found.kept.crew_size, time)
    });
    works.collect()
}

fn ways(request: &ScheduleRequest, found: &[Found], faults: &mut Faults) -> Vec<Way> {
    let place_of = |text: &str| {
        let mut all = found.iter();
        all.position(|found| found.row.surface_id.to_string() == text)
    };
    let mut ways = Vec::new();
    for (at, terms) in request.surfaces.iter().enumerate() {
        let Some(floor) = place_of(&terms.surface_id) else {
            continue;
        };
        let mut to = Vec::new();
        for (behind_at, behind) in terms.only_way_to.iter().enumerate() {
            if let Some(behind) = place_of(&behind.0).filter(|behind| *behind != floor) {
                to.push(behind);
            } else {
                let place = format!("#/surfaces/{at}/only_way_to/{behind_at}");
                let detail = "Must be another surface of one of these plans.";
                faults.push(place, "reference_not_found", detail);
            }
        }
        if !to.is_empty() {
            ways.push(Way { floor, to });
        }
    }
    ways
}

fn put_together(
    ctx: &Context,
    (request, site, span): (&ScheduleRequest, &Site, Span),
    found: Vec<Found>,
    (crews, floors): (Vec<Crew>, Vec<Floor>),
    (assigned, ways): (Vec<usize>, Vec<Way>),
) -> Inputs {
    let name = |named: &wire::schedule::MachineCount| {
        let machine = ctx.knowledge.machine(&named.machine);
        Machine {
            name: machine.map_or_else(|| named.machine.clone(), |machine| machine.name.clone()),
            count: named.count,
        }
    };
    let machines: Vec<Machine> = request.machines.iter().map(name).collect();
    let jobs: Vec<Job> = found
        .iter()
        .zip(&assigned)
        .enumerate()
        .map(|(floor, (found, crew))| Job {
            floor,
            crew: *crew,
            operatives: found.kept.crew_size,
            parts: found.kept.parts.clone(),
        })
        .collect();
    let horizon = (span.to - span.from).num_minutes();
    let sigma = ctx.knowledge.spread.labour;
    let placed = place((&floors, &jobs), (&crews, &machines, &ways), horizon, sigma);
    let plans = found
        .into_iter()
        .zip(&assigned)
        .map(|(found, crew)| Planned {
            plan_id: found.row.id,
            surface_id: found.row.surface_id,
            name: found.floor.name,
            kept: found.kept,
            crew: *crew,
        });
    Inputs {
        span,
        currency: site.row.currency,
        plans: plans.collect(),
        crews,
        machines,
        floors,
        placed,
        assumptions: Vec::new(),
    }
}

/// Whole minutes of a time, rounded up.
pub(super) fn minutes_up(time: Labour) -> i64 {
    divide(i128::from(time.us()), 60_000_000, Rounding::Up).unwrap_or(i64::MAX)
}
