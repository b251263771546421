//! Whether the work fits the access window, and ways that would make it fit: each is worked out by the planner itself.

use super::{
    DraftPlanError, Plan, PlanInput, ProcessRef, Stage, Verdict, Work,
    choice::{Bench, is_feasible, order},
    time_line::minutes_up,
    work_up::Worked,
};
use crate::{
    estimate::{
        basis::Telling,
        cost::{CostInput, cost},
    },
    knowledge::{Process, Severity},
    money::Money,
    quantity::Labour,
    survey::Wish,
    words::words,
};

/// The rule that refuses work whose parts do not fit the window.
const TOO_SHORT: &str = "window-too-short";
/// Minutes that a bigger crew must save, where it does not make the work fit: less than waits make uncertain.
const LEAST_SAVED_MIN: i64 = 15;
/// How many bigger crews are worked out, one operative more each.
const MOST_MORE: i64 = 8;
/// How many of them are told: the smallest ones, and the first that fits.
const MOST_CREWS: usize = 3;
/// How many machines and how many processes are told.
const MOST_OTHERS: usize = 5;

words! {
    /// What is done otherwise.
    WayKind {
        /// More operatives.
        LargerCrew "larger_crew",
        /// Another machine of the same kind.
        OtherMachine "other_machine",
        /// Another process that is right and allowed.
        OtherProcess "other_process",
        /// The work spread over windows.
        MoreNights "more_nights",
        /// A longer window.
        LongerWindow "longer_window",
    }
}

/// A way to do the work otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// What is done otherwise.
    pub kind: WayKind,
    /// The process.
    pub process: ProcessRef,
    /// The machine that is named for it.
    pub machine: Option<String>,
    /// Operatives.
    pub crew_size: i64,
    /// The window in minutes.
    pub window_min: i64,
    /// Minutes from closing to walking on it, done in one go.
    pub elapsed_min: i64,
    /// Working time of all operatives, without setting up and allowance.
    pub labour: Labour,
    /// How many windows it takes; `None` if one part is longer than a window.
    pub n_nights: Option<i64>,
    /// What it costs more than the plan in one go, before tax; less than nothing if it costs less.
    pub net_change: Money,
    /// Whether it fits: into one window, or over the windows that are named.
    pub fits: bool,
}

/// Whether the work fits the access window.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WindowFit {
    /// The window in minutes.
    pub window_min: i64,
    /// Minutes from closing to walking on it, done in one go.
    pub elapsed_min: i64,
    /// Whether it fits into one window.
    pub fits: bool,
    /// How many windows it takes; `None` if one part is longer than a window.
    pub n_nights: Option<i64>,
    /// What would change that; empty where it fits into one.
    pub ways: Vec<Way>,
}

/// Says of a plan whether its work fits the access window, and if not which ways would make it fit.
///
/// `None` without a window, where a fact is missing, where another trade does the work, and where the plan is refused for
/// another reason than a part that is longer than the window.
///
/// # Errors
/// Those of [`super::draft_plan`].
pub(super) fn window_fit(
    input: &PlanInput<'_>,
    plan: &Plan,
) -> Result<Option<WindowFit>, DraftPlanError> {
    let Some(window_min) = input.limits().window_min else {
        return Ok(None);
    };
    let Some(process) = input.base.process(&plan.process) else {
        return Ok(None);
    };
    if plan.verdict == Verdict::NeedsInformation || process.specialist {
        return Ok(None);
    }
    // What fits needs no other way, and its work stands in the plan.
    let fitting = plan
        .work
        .as_ref()
        .filter(|_work| plan.verdict != Verdict::Refused);
    let fitting = fitting.map(|work| minutes_up(work.time_line.elapsed));
    if let Some(elapsed_min) = fitting.filter(|elapsed_min| *elapsed_min <= window_min) {
        return Ok(Some(WindowFit {
            window_min,
            elapsed_min,
            fits: true,
            n_nights: Some(1),
            ways: Vec::new(),
        }));
    }
    let mut refusals = plan.findings.iter();
    if refusals.any(|row| row.severity == Severity::Refuse && row.rule != TOO_SHORT) {
        return Ok(None);
    }
    let bench = Bench::new(input)?;
    let worked = bench.work_up(input, process)?;
    let planned = Planned::new(input, &worked, plan.work.as_ref(), window_min);
    if plan.verdict == Verdict::Refused && worked.work.time_line.longest_block_min <= window_min {
        return Ok(None);
    }
    let fits = planned.elapsed_min <= window_min;
    let ways = if fits {
        Vec::new()
    } else {
        planned.ways(&bench)?
    };
    Ok(Some(WindowFit {
        window_min,
        elapsed_min: planned.elapsed_min,
        fits,
        n_nights: planned.n_nights,
        ways,
    }))
}

/// What ways are held against.
struct Planned<'i, 'a> {
    input: &'i PlanInput<'a>,
    process: &'a Process,
    /// The work in one go; with drawn bays where it was answered.
    work: &'i Work,
    crew: i64,
    window_min: i64,
    elapsed_min: i64,
    n_nights: Option<i64>,
}

fn net_change(work: &Work, than: &Work) -> Money {
    let (one, other) = (work.cost.net, than.cost.net);
    Money {
        amount: one.amount.saturating_sub(other.amount),
        ..one
    }
}

/// How many windows work takes: one if it fits, else as it is spread.
fn n_nights(work: &Work, window_min: i64) -> Option<i64> {
    if minutes_up(work.time_line.elapsed) <= window_min {
        return Some(1);
    }
    let nights = i64::try_from(work.time_line.nights.len()).ok();
    nights.filter(|nights| *nights > 0)
}

impl<'i, 'a> Planned<'i, 'a> {
    fn new(
        input: &'i PlanInput<'a>,
        worked: &'i Worked<'a>,
        told: Option<&'i Work>,
        window_min: i64,
    ) -> Self {
        let work = told.unwrap_or(&worked.work);
        Self {
            input,
            process: worked.process,
            work,
            crew: work.time_line.crew_size,
            window_min,
            elapsed_min: minutes_up(work.time_line.elapsed),
            n_nights: n_nights(work, window_min),
        }
    }

    fn ways(&self, bench: &Bench<'_, 'a>) -> Result<Vec<Way>, DraftPlanError> {
        let mut ways = self.larger_crews(bench)?;
        ways.extend(self.other_machines(bench)?);
        ways.extend(self.other_processes(bench)?);
        ways.extend(self.more_nights());
        ways.extend(self.longer_windows(bench)?);
        Ok(ways)
    }

    /// The way that a plan with another wish is; `None` where the rules do not allow it.
    fn way(&self, kind: WayKind, worked: &Worked<'_>, window_min: i64) -> Option<Way> {
        if !is_feasible(worked.judgement.verdict) {
            return None;
        }
        let work = &worked.work;
        let elapsed_min = minutes_up(work.time_line.elapsed);
        Some(Way {
            kind,
            process: ProcessRef {
                key: worked.process.key.clone(),
                name: worked.process.name.clone(),
            },
            machine: None,
            crew_size: work.time_line.crew_size,
            window_min,
            elapsed_min,
            labour: work.labour.iter().map(|line| line.time).sum(),
            n_nights: n_nights(work, window_min),
            net_change: net_change(work, self.work),
            fits: elapsed_min <= window_min,
        })
    }

    /// The same process by another wish, as a way.
    fn with(
        &self,
        bench: &Bench<'_, 'a>,
        (kind, window_min): (WayKind, i64),
        change: impl FnOnce(&mut Wish),
    ) -> Result<Option<Way>, DraftPlanError> {
        let mut wish = self.input.wish.clone();
        change(&mut wish);
        let input = PlanInput {
            wish: &wish,
            ..*self.input
        };
        let worked = bench.work_up(&input, self.process)?;
        Ok(self.way(kind, &worked, window_min))
    }

    fn larger_crews(&self, bench: &Bench<'_, 'a>) -> Result<Vec<Way>, DraftPlanError> {
        let mut ways: Vec<Way> = Vec::new();
        for more in 1..=MOST_MORE {
            let crew = self.crew.saturating_add(more);
            let larger = |wish: &mut Wish| wish.limits.crew_size = Some(crew);
            let kind = (WayKind::LargerCrew, self.window_min);
            let Some(way) = self.with(bench, kind, larger)? else {
                continue;
            };
            let fits = way.fits;
            let before_min = ways.last().map_or(self.elapsed_min, |way| way.elapsed_min);
            let helps = before_min.saturating_sub(way.elapsed_min) >= LEAST_SAVED_MIN;
            if fits || (helps && ways.len() < MOST_CREWS) {
                ways.push(way);
            }
            if fits {
                break;
            }
        }
        Ok(ways)
    }

    /// Machines of the kinds that the work uses, where they make it shorter.
    fn other_machines(&self, bench: &Bench<'_, 'a>) -> Result<Vec<Way>, DraftPlanError> {
        let base = self.input.base;
        let used = self.work.labour.iter();
        let used: Vec<_> = used
            .filter_map(|line| base.machine(line.machine.as_ref()?))
            .collect();
        let others = base.machines.iter().filter(|machine| {
            let same_kind = used.iter().any(|one| one.kind == machine.kind);
            same_kind && used.iter().all(|one| one.key != machine.key)
        });
        let mut ways = Vec::new();
        for machine in others {
            let other = |wish: &mut Wish| wish.machine = Some(machine.key.clone());
            let kind = (WayKind::OtherMachine, self.window_min);
            let way = self.with(bench, kind, other)?;
            ways.extend(way.map(|way| Way {
                machine: Some(machine.key.clone()),
                ..way
            }));
        }
        ways.retain(|way| way.elapsed_min < self.elapsed_min);
        Ok(shortest(ways))
    }

    /// What else is right for the wish and allowed, where it is shorter.
    fn other_processes(&self, bench: &Bench<'_, 'a>) -> Result<Vec<Way>, DraftPlanError> {
        let mut ways = Vec::new();
        if self.input.wish.process.is_some() {
            return Ok(ways);
        }
        for worked in bench.for_goal(Telling::Figures)? {
            let other = worked.process.key != self.process.key && !worked.process.specialist;
            if other && order(&worked) == 0 {
                ways.extend(self.way(WayKind::OtherProcess, &worked, self.window_min));
            }
        }
        ways.retain(|way| way.elapsed_min < self.elapsed_min);
        Ok(shortest(ways))
    }

    /// The work as the plan spreads it: each window but the first is set up and cleaned down once more.
    fn more_nights(&self) -> Option<Way> {
        let n_nights = self.n_nights.filter(|nights| *nights > 1)?;
        let work = self.work;
        let spread = cost(&CostInput {
            base: self.input.base,
            card: self.input.card,
            labour: &work.labour,
            jobs: n_nights,
            products: &work.products,
            pads: &work.pads,
            water: work.water,
            first_stage: work
                .steps
                .first()
                .map_or(Stage::Maintain, |step| step.stage),
            telling: Telling::Figures,
        });
        let amount = spread.net.amount.saturating_sub(work.cost.net.amount);
        Some(Way {
            n_nights: Some(n_nights),
            net_change: Money {
                amount,
                ..spread.net
            },
            fits: true,
            ..self.as_planned(WayKind::MoreNights)
        })
    }

    /// The window that would hold it in one go; and where one part is longer than the window, the shortest that would
    /// hold its parts.
    fn longer_windows(&self, bench: &Bench<'_, 'a>) -> Result<Vec<Way>, DraftPlanError> {
        let mut windows = vec![self.elapsed_min];
        if self.n_nights.is_none() {
            windows.insert(0, self.work.time_line.longest_block_min);
        }
        // A window that is no longer than the present one is no way out of it.
        windows.retain(|window_min| *window_min > self.window_min);
        windows.dedup();
        let mut ways = Vec::new();
        for window_min in windows {
            let longer = |wish: &mut Wish| wish.limits.window_min = Some(window_min);
            let way = self.with(bench, (WayKind::LongerWindow, window_min), longer)?;
            ways.extend(way.map(|way| Way {
                fits: way.n_nights.is_some(),
                ..way
            }));
        }
        Ok(ways)
    }

    fn as_planned(&self, kind: WayKind) -> Way {
        Way {
            kind,
            process: ProcessRef {
                key: self.process.key.clone(),
                name: self.process.name.clone(),
            },
            machine: None,
            crew_size: self.crew,
            window_min: self.window_min,
            elapsed_min: self.elapsed_min,
            labour: self.work.labour.iter().map(|line| line.time).sum(),
            n_nights: self.n_nights,
            net_change: net_change(self.work, self.work),
            fits: false,
        }
    }
}

fn shortest(mut ways: Vec<Way>) -> Vec<Way> {
    ways.sort_by_key(|way| way.elapsed_min);
    ways.truncate(MOST_OTHERS);
    ways
}
