//! What is wrong with a workload: all of it at once, each fault with its place.

use super::{Time, Window, Workload};

/// The longest horizon, in units of time.
pub const MAX_HORIZON: Time = 200_000;
/// The most steps of one workload.
pub const MAX_STEPS: usize = 5_000;
/// The most steps of a workload some of whose waits are negative, lead in circles or are longest ones that form no chains: the least
/// distances between all of them are kept, 4 MB at that size.
pub const MAX_LAGGED: usize = 1_000;
/// The most resources of one workload.
pub const MAX_RESOURCES: usize = 256;
/// The most links of one workload.
pub const MAX_LINKS: usize = 50_000;
/// The most slots of time that all resources together may have, four of them counted as one.
pub const MAX_SLOTS: usize = 4_000_000;
/// The most units of one resource.
pub const MAX_UNITS: u32 = 1_000;
/// The highest price of a call or of a unit of time, so that no sum of them overflows.
pub const MAX_PRICE: i64 = 50_000_000;
/// The most units of a resource whose units travel and are told apart.
pub const MAX_TRAVELLING: u32 = 64;

/// Where a fault is: a member of the workload and the index in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The horizon.
    Horizon,
    /// A calendar.
    Calendar(usize),
    /// A resource.
    Resource(usize),
    /// A step.
    Step(usize),
    /// A link.
    Link(usize),
    /// A space.
    Space(usize),
}

/// What is wrong there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wrong {
    /// There is nothing, or more than is taken.
    Count,
    /// A number is negative or beyond its limit.
    Range,
    /// Windows are empty, out of order, overlap or lie outside the horizon.
    Windows,
    /// An index names nothing.
    Unknown,
    /// A step waits for itself.
    Itself,
    /// The longest wait is shorter than the least.
    Lags,
    /// A step has two longest waits on the same side; they have to form chains.
    Branch,
    /// Steps wait for each other in a circle.
    Circle,
    /// Steps that have to be done in one go wait for something that waits for them.
    Interlocked,
    /// The gaps are no square table with nothing on its diagonal, or a place is outside it.
    Gaps,
    /// A resource is demanded twice by one step.
    Twice,
    /// The 80 % quantile is below the median.
    Spread,
}

/// One fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fault {
    /// Where.
    pub place: Place,
    /// What.
    pub wrong: Wrong,
}

struct Faults<'w> {
    workload: &'w Workload,
    anyhow: bool,
    found: Vec<Fault>,
}

/// All faults of a workload apart from what only its structure shows. `anyhow`: waits may be of any sign and longest waits
/// need not form chains.
pub(super) fn faults(workload: &Workload, anyhow: bool) -> Vec<Fault> {
    let mut faults = Faults {
        workload,
        anyhow,
        found: Vec::new(),
    };
    let in_range = (1..=MAX_HORIZON).contains(&workload.horizon);
    faults.need(in_range, Place::Horizon, Wrong::Range);
    let count = |n: usize, most: usize| (1..=most).contains(&n);
    faults.need(
        count(workload.steps.len(), MAX_STEPS),
        Place::Horizon,
        Wrong::Count,
    );
    faults.need(
        workload.resources.len() <= MAX_RESOURCES,
        Place::Horizon,
        Wrong::Count,
    );
    let counts = workload.links.len() <= MAX_LINKS && workload.spaces.len() <= MAX_STEPS;
    faults.need(counts, Place::Horizon, Wrong::Count);
    let slots = usize::try_from(workload.horizon).unwrap_or(0);
    let slots = slots.saturating_mul(workload.resources.len().div_ceil(4));
    faults.need(slots <= MAX_SLOTS, Place::Horizon, Wrong::Count);
    faults.calendars();
    faults.resources();
    faults.steps();
    faults.links();
    faults.spaces();
    faults.found
}

impl Faults<'_> {
    fn need(&mut self, holds: bool, place: Place, wrong: Wrong) {
        let fault = Fault { place, wrong };
        if !holds && !self.found.contains(&fault) {
            self.found.push(fault);
        }
    }

    fn windows(&mut self, windows: impl Iterator<Item = Window>, place: Place) {
        let mut before = 0;
        for window in windows {
            let in_order = before <= window.from
                && window.from < window.to
                && window.to <= self.workload.horizon;
            self.need(in_order, place, Wrong::Windows);
            before = window.to;
        }
    }

    fn calendars(&mut self) {
        for (at, calendar) in self.workload.calendars.iter().enumerate() {
            self.windows(calendar.windows.iter().copied(), Place::Calendar(at));
        }
    }

    fn resources(&mut self) {
        for (at, resource) in self.workload.resources.iter().enumerate() {
            let place = Place::Resource(at);
            self.windows(resource.periods.iter().map(|p| p.window), place);
            let gaps = &resource.gaps;
            let most = if gaps.is_empty() {
                MAX_UNITS
            } else {
                MAX_TRAVELLING
            };
            let price = |price: i64| (0..=MAX_PRICE).contains(&price);
            for period in &resource.periods {
                let fine = period.units <= most && price(period.per_call) && price(period.per_time);
                self.need(fine, place, Wrong::Range);
            }
            let square = gaps.iter().enumerate().all(|(from, row)| {
                row.len() == gaps.len()
                    && row.get(from) == Some(&0)
                    && row.iter().all(|gap| (0..=MAX_HORIZON).contains(gap))
            });
            self.need(square, place, Wrong::Gaps);
        }
    }

    fn steps(&mut self) {
        for (at, step) in self.workload.steps.iter().enumerate() {
            let place = Place::Step(at);
            let horizon = self.workload.horizon;
            let times =
                (0..=horizon).contains(&step.duration) && (0..=horizon).contains(&step.release);
            self.need(times, place, Wrong::Range);
            let calendar = step.calendar.unwrap_or(0);
            let known = step.calendar.is_none() || calendar < self.workload.calendars.len();
            self.need(known, place, Wrong::Unknown);
            let space = step.space.unwrap_or(0);
            let known = step.space.is_none() || space < self.workload.spaces.len();
            self.need(known, place, Wrong::Unknown);
            self.spread(step.spread, place);
            for (i, demand) in step.demands.iter().enumerate() {
                let resource = self.workload.resources.get(demand.resource);
                self.need(resource.is_some(), place, Wrong::Unknown);
                self.need(demand.units <= MAX_UNITS, place, Wrong::Range);
                let once = step.demands[..i]
                    .iter()
                    .all(|other| other.resource != demand.resource);
                self.need(once, place, Wrong::Twice);
                let placed = resource.is_none_or(|resource| {
                    resource.gaps.is_empty() || step.place < resource.gaps.len()
                });
                self.need(placed, place, Wrong::Gaps);
            }
        }
    }

    fn spread(&mut self, spread: Option<super::Spread>, place: Place) {
        if let Some(spread) = spread {
            let fine = (0..=spread.p80).contains(&spread.p50)
                && spread.p80 <= MAX_HORIZON
                && (spread.p50 > 0 || spread.p80 == 0);
            self.need(fine, place, Wrong::Spread);
        }
    }

    fn links(&mut self) {
        let n = self.workload.steps.len();
        let (mut tight_out, mut tight_in) = (vec![false; n], vec![false; n]);
        let least = if self.anyhow { -MAX_HORIZON } else { 0 };
        for (at, link) in self.workload.links.iter().enumerate() {
            let place = Place::Link(at);
            let known = link.from < n && link.to < n;
            self.need(known, place, Wrong::Unknown);
            self.need(link.from != link.to, place, Wrong::Itself);
            self.need(
                (least..=MAX_HORIZON).contains(&link.min_lag),
                place,
                Wrong::Range,
            );
            self.spread(link.spread, place);
            let Some(max_lag) = link.max_lag else {
                continue;
            };
            self.need(max_lag >= link.min_lag, place, Wrong::Lags);
            self.need(max_lag <= MAX_HORIZON, place, Wrong::Range);
            if known && !self.anyhow {
                let alone = !tight_out[link.from] && !tight_in[link.to];
                self.need(alone, place, Wrong::Branch);
                tight_out[link.from] = true;
                tight_in[link.to] = true;
            }
        }
    }

    fn spaces(&mut self) {
        for (at, space) in self.workload.spaces.iter().enumerate() {
            let place = Place::Space(at);
            self.need(!space.opens_after.is_empty(), place, Wrong::Count);
            let known = space
                .opens_after
                .iter()
                .all(|step| *step < self.workload.steps.len());
            self.need(known, place, Wrong::Unknown);
            self.need(
                (0..=1_000_000).contains(&space.weight)
                    && space
                        .deadline
                        .is_none_or(|at| (0..=Time::from(i32::MAX)).contains(&at)),
                place,
                Wrong::Range,
            );
        }
    }
}
