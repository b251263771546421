//! Whether a report can be recorded: everything that is wrong with it, told in one answer.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::{
    id::ContractorId,
    knowledge::{KnowledgeBase, Product, Products},
    plan::Verdict,
    quantity::{Area, Labour},
    record::Reported,
};
use infra::{
    clock::truncate_to_millis,
    row::{CompletionRow, PlanLineRow, PlanRow, PlanStatus, SiteRow, SurfaceRow},
};

use super::reported;
use crate::{app::site, body::Faults, problem::Problem, wire::completion::CompletionRequest};

/// How long work may take from beginning to end, in days.
pub(super) const MAX_DAYS: i64 = 14;
/// How far ahead of our clock the end may lie, in hours: clocks of others, and the night's work sent early.
const MAX_AHEAD_H: i64 = 24;

/// A plan with its lines.
#[derive(Debug)]
pub(super) struct CitedPlan {
    /// The plan.
    pub(super) row: PlanRow,
    /// What it costs.
    pub(super) lines: Vec<PlanLineRow>,
}

/// What a request names, as far as the tenant has it.
#[derive(Debug, Default)]
pub(super) struct Found {
    /// The surface.
    pub(super) surface: Option<SurfaceRow>,
    /// The surface's site.
    pub(super) site: Option<SiteRow>,
    /// The plan.
    pub(super) plan: Option<CitedPlan>,
    /// The contractor.
    pub(super) contractor: Option<ContractorId>,
    /// Whether there must be one: the report names it, or the caller is bound to it.
    pub(super) names_contractor: bool,
}

/// A report that can be recorded.
#[derive(Debug)]
pub(super) struct Work<'a> {
    pub(super) surface: &'a SurfaceRow,
    pub(super) site: &'a SiteRow,
    pub(super) plan: Option<&'a CitedPlan>,
    pub(super) contractor: Option<ContractorId>,
    pub(super) process: &'a str,
    pub(super) started_at: DateTime<Utc>,
    pub(super) finished_at: DateTime<Utc>,
    pub(super) area: Area,
    pub(super) reported: Reported,
    /// Whether the plan that is cited is for another surface.
    pub(super) is_elsewhere: bool,
}

/// Holds a report to what it names and to what is possible. `corrects` is the completion that it would replace.
///
/// # Errors
/// `invalid_body` with every fault; a name of another tenant's record is told like one that never was.
pub(super) fn check<'a>(
    products: Products<'_>,
    request: &'a CompletionRequest,
    found: &'a Found,
    corrects: Option<&CompletionRow>,
    now: DateTime<Utc>,
) -> Result<Work<'a>, Problem> {
    let base = products.base;
    let mut faults = Faults::new();
    if found.surface.is_none() {
        not_found(&mut faults, "#/surface_id", "surface");
    }
    if found.names_contractor && found.contractor.is_none() {
        not_found(&mut faults, "#/contractor_id", "contractor");
    }
    let plan = plan(request, found, corrects, &mut faults);
    let process = process(base, request, plan, &mut faults);
    let (started_at, finished_at) = times(request, now, &mut faults);
    let area = area(request, found.surface.as_ref(), &mut faults);
    let reported = reported::read(products, request, found.site.as_ref(), &mut faults);
    faults.finish()?;
    let (Some(surface), Some(site), Some(process), Some(area)) =
        (found.surface.as_ref(), found.site.as_ref(), process, area)
    else {
        return Err(Problem::internal(&Incomplete));
    };
    let known = base.process(process);
    let usual = |product: &Product| reported::usual_stage(product, plan, known);
    let took = finished_at.signed_duration_since(started_at);
    let charged = reported.charged.or_else(|| reported.invoiced());
    let reported = Reported {
        charged,
        expired: reported::expired(request, site::day_of(site, started_at)),
        products: reported::used(products, request, usual),
        elapsed: Labour::from_us(took.num_microseconds().unwrap_or(0)),
        ..reported
    };
    Ok(Work {
        surface,
        site,
        plan,
        contractor: found.contractor,
        process,
        started_at,
        finished_at,
        area,
        reported,
        is_elsewhere: plan.is_some_and(|plan| plan.row.surface_id != surface.id),
    })
}

/// A report without a fault lacks something, or a surface has no site: a mistake of ours.
#[derive(Debug, thiserror::Error)]
#[error("a completion without a fault is not complete")]
struct Incomplete;

pub(super) fn not_found(faults: &mut Faults, pointer: impl Into<String>, what: &str) {
    faults.push(
        pointer,
        "reference_not_found",
        format!("There is no such {what}."),
    );
}

/// The plan that is cited, if it can be.
fn plan<'a>(
    request: &CompletionRequest,
    found: &'a Found,
    corrects: Option<&CompletionRow>,
    faults: &mut Faults,
) -> Option<&'a CitedPlan> {
    request.plan_id.as_ref()?;
    let Some(plan) = &found.plan else {
        not_found(faults, "#/plan_id", "plan");
        return None;
    };
    let mut refuse = |code, detail| faults.push("#/plan_id", code, detail);
    let row = &plan.row;
    let has_work = matches!(
        Verdict::of(&row.verdict),
        Some(Verdict::Allowed | Verdict::AllowedWithWarnings)
    );
    if !has_work || row.process.is_none() {
        refuse(
            "plan_without_work",
            "The plan holds no work: it is refused or lacks information.",
        );
    }
    let is_open = matches!(row.status, PlanStatus::Proposed | PlanStatus::Accepted);
    // A correction may go on citing the plan that was open when the work was first reported.
    let cited_before = corrects.is_some_and(|old| old.plan_id == Some(row.id));
    if !is_open && !cited_before {
        refuse("plan_not_open", "The plan is superseded or withdrawn.");
    }
    Some(plan)
}

/// The key of the process that was done: the plan's, or the one that is named.
///
/// The plan's own is taken even if the knowledge base has lost it since: the work was done by it.
fn process<'a>(
    base: &KnowledgeBase,
    request: &'a CompletionRequest,
    plan: Option<&'a CitedPlan>,
    faults: &mut Faults,
) -> Option<&'a str> {
    let planned = plan.and_then(|plan| plan.row.process.as_deref());
    let named = request.process.as_deref();
    match (planned, named) {
        (None, None) if request.plan_id.is_none() => {
            faults.push("#/process", "required", "Name the process, or a plan.");
        }
        (Some(planned), Some(named)) if planned == named => {}
        (_, Some(named)) if base.process(named).is_none() => {
            not_found(faults, "#/process", "process");
        }
        (Some(planned), Some(_)) => {
            let detail = format!("The plan's process is `{planned}`.");
            faults.push("#/process", "process_of_plan_differs", detail);
        }
        (_, None) | (None, Some(_)) => {}
    }
    named.or(planned)
}

/// When the work began and ended, to the millisecond that is kept.
fn times(
    request: &CompletionRequest,
    now: DateTime<Utc>,
    faults: &mut Faults,
) -> (DateTime<Utc>, DateTime<Utc>) {
    let started = truncate_to_millis(request.started_at);
    let finished = truncate_to_millis(request.finished_at);
    let first = NaiveDate::from_ymd_opt(2000, 1, 1).and_then(|day| day.and_hms_opt(0, 0, 0));
    if first.is_some_and(|first| started < first.and_utc()) {
        faults.push(
            "#/started_at",
            "too_early",
            "Work before the year 2000 is not kept here.",
        );
    }
    let took = finished.signed_duration_since(started);
    if took <= TimeDelta::zero() {
        faults.push(
            "#/finished_at",
            "not_after_start",
            "The end must lie after the beginning.",
        );
    } else if took > TimeDelta::days(MAX_DAYS) {
        let detail = format!("Work may take up to {MAX_DAYS} days; report a longer one in parts.");
        faults.push("#/finished_at", "too_long", detail);
    }
    let ahead =
        |moment: DateTime<Utc>| moment.signed_duration_since(now) > TimeDelta::hours(MAX_AHEAD_H);
    for (pointer, moment) in [("#/started_at", started), ("#/finished_at", finished)] {
        if ahead(moment) {
            let detail = format!("This lies more than {MAX_AHEAD_H} hours in the future.");
            faults.push(pointer, "in_future", detail);
        }
    }
    (started, finished)
}

/// The area that was worked on, at most the surface and a thousandth for what was rounded elsewhere.
fn area(
    request: &CompletionRequest,
    surface: Option<&SurfaceRow>,
    faults: &mut Faults,
) -> Option<Area> {
    let Some(sent) = request.area_m2 else {
        return surface.map(|surface| surface.area);
    };
    let area = Area::from_m2(sent).filter(|area| *area > Area::ZERO);
    let Some(area) = area else {
        faults.push(
            "#/area_m2",
            "minimum",
            "Must be at least a millionth of a m².",
        );
        return None;
    };
    let surface = surface?.area;
    if i128::from(area.mm2()) * 1_000 > i128::from(surface.mm2()) * 1_001 {
        let detail = format!("The surface has {} m².", surface.m2());
        faults.push("#/area_m2", "exceeds_surface", detail);
    }
    Some(area)
}
