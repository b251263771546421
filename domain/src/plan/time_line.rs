//! When what may happen on the floor, and how the work fits the hours in which the floor can be closed.

use super::{
    PlannedStep,
    events::events,
    nights::{Cut, Night, n_bays, nights},
};
use crate::{
    card::RateCard,
    estimate::{basis::Telling, cost::around_of_crew},
    knowledge::KnowledgeBase,
    quantity::{Labour, Rounding, divide},
    survey::GivenWaits,
};

/// Something that happens, counted from the closing of the floor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// What: `work_begins`, `coat`, `walk`, `furniture`, `wet_clean`, `burnish`, `mats`.
    pub key: &'static str,
    /// In words.
    pub what: String,
    /// Minutes after closing, in half of the cases.
    pub p50_min: i64,
    /// Minutes after closing that the plan uses.
    pub used_min: i64,
}

/// When what may happen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimeLine {
    /// Operatives who work at the same time.
    pub crew_size: i64,
    /// Working time of the crew, allowance included.
    pub crew_time: Labour,
    /// From closing to walking on it, done in one go, in the median.
    pub elapsed_p50: Labour,
    /// From closing to walking on it, done in one go, as planned with.
    pub elapsed: Labour,
    /// What happens when.
    pub events: Vec<Event>,
    /// The access window in minutes, if one was given.
    pub window_min: Option<i64>,
    /// The longest part that cannot be interrupted (one bay of a step and what belongs to it), with the wait before
    /// anybody may walk there.
    pub longest_block_min: i64,
    /// Minutes after which a rinsed floor without a coat may be opened, where a window ends on one.
    pub bare_floor_min: i64,
    /// Into how many bays what comes before the first coat, or all of the work, is cut.
    pub(super) n_before: i64,
    /// The work spread over windows; empty without a window or where a part does not fit.
    pub nights: Vec<Night>,
}

/// A piece of work that is not interrupted, and what follows it.
#[derive(Debug, Clone)]
pub(super) struct Block {
    pub(super) name: String,
    /// Setting up and cleaning down a window that begins with it, which no smaller bay makes shorter.
    pub(super) around: Labour,
    /// On all of its bays, without that.
    pub(super) work: Labour,
    /// Before the next block, if it follows in the same window.
    pub(super) then: Labour,
    then_p50: Labour,
    /// Before anybody may walk on the floor, if the window ends here.
    pub(super) open: Labour,
    /// Into which bays it is cut.
    pub(super) cut: Cut,
    pub(super) leaves: String,
}

impl Block {
    /// The work on its largest bay, set up and cleaned down: what cannot be interrupted.
    pub(super) fn largest(&self) -> Labour {
        self.around.plus(self.cut.largest(self.work))
    }
}

/// Into which bays the work is cut, by its parts.
#[derive(Debug, Clone)]
pub(super) struct Cuts {
    /// What comes before the first coat, or all of it.
    pub(super) before: Cut,
    /// The first coat, and every other one after it.
    pub(super) odd: Cut,
    /// The second coat, and every other one after it.
    pub(super) even: Cut,
}

/// What a time line is made from.
pub(super) struct TimeInput<'a> {
    pub(super) base: &'a KnowledgeBase,
    pub(super) card: &'a RateCard,
    pub(super) steps: &'a [PlannedStep],
    pub(super) crew_size: i64,
    pub(super) window_min: Option<i64>,
    /// Wait after which a rinsed, bare floor may be opened.
    pub(super) bare_floor_min: i64,
    /// Wait from the last coat to walking on it: median, planned.
    pub(super) foot_min: (i64, i64),
    /// The bays.
    pub(super) cuts: &'a Cuts,
    /// Waits that the caller gave.
    pub(super) given: GivenWaits,
    /// Whether it says what happens when.
    pub(super) telling: Telling,
}

/// Working time of one operative stretched by the allowance and shared by the crew.
pub(super) fn crewed(card: &RateCard, time: Labour, crew: i64) -> Labour {
    let numerator = 10_000_i64.saturating_add(card.allowance.ten_thousandths());
    time.scaled(numerator, crew.max(1).saturating_mul(10_000))
}

fn blocks(input: &TimeInput<'_>, crew: i64) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let cuts = input.cuts;
    let mut work = Labour::ZERO;
    let mut waited = (Labour::ZERO, Labour::ZERO);
    let coats = input.steps.iter().filter(|step| step.coat.is_some());
    let n_coats = coats.count();
    let mut laid = 0_usize;
    // The first step that no block holds yet.
    let mut begun = 1_usize;
    for step in input.steps {
        let wait = step
            .wait
            .as_ref()
            .map_or((0, 0), |wait| (wait.p50_min, wait.used_min));
        let wait = (Labour::from_minutes(wait.0), Labour::from_minutes(wait.1));
        if step.coat.is_some() {
            if laid == 0 {
                let told = || {
                    let leaves =
                        "a clean, bare floor without film: mind soil and stains until it is coated";
                    ("prepare".to_owned(), leaves.to_owned())
                };
                let done = (&cuts.before, (work, waited), input.bare_floor_min);
                blocks.push(block(input, crew, done, told));
            }
            laid = laid.saturating_add(1);
            let told = || {
                let leaves = if laid == n_coats {
                    "the floor as planned".to_owned()
                } else {
                    format!("{laid} of {n_coats} coats: light use only until the rest is laid")
                };
                (format!("coat {laid}"), leaves)
            };
            // What is done between two coats belongs to the later one.
            let between = if laid == 1 { Labour::ZERO } else { work };
            let cut = if laid % 2 == 1 { &cuts.odd } else { &cuts.even };
            let done = (cut, (between.plus(step.labour), wait), input.foot_min.1);
            blocks.push(block(input, crew, done, told));
            work = Labour::ZERO;
            waited = (Labour::ZERO, Labour::ZERO);
        } else {
            // Where no coat is laid, people may walk on the floor while it waits for what comes next.
            let goes_on = step.labour > Labour::ZERO && waited.1 > Labour::ZERO;
            if n_coats == 0 && goes_on {
                let wait = minutes_up(waited.1);
                let told = || {
                    let leaves = format!("open to people; what comes next begins {wait} min later");
                    (steps(begun, step.number.saturating_sub(1)), leaves)
                };
                let done = (&cuts.before, (work, waited), input.bare_floor_min);
                blocks.push(block(input, crew, done, told));
                begun = step.number;
                (work, waited) = (Labour::ZERO, (Labour::ZERO, Labour::ZERO));
            }
            work = work.plus(step.labour);
            waited = (waited.0.plus(wait.0), waited.1.plus(wait.1));
        }
    }
    round_off(input, crew, &mut blocks, (begun, work, waited));
    blocks
}

/// Steps by their numbers.
fn steps(first: usize, last: usize) -> String {
    if first < last {
        format!("steps {first} to {last}")
    } else {
        format!("step {first}")
    }
}

/// A piece of work with what follows it; `told` gives its name and in what state it leaves the floor.
fn block(
    input: &TimeInput<'_>,
    crew: i64,
    (cut, (work, waited), open): (&Cut, (Labour, (Labour, Labour)), i64),
    told: impl FnOnce() -> (String, String),
) -> Block {
    let (name, leaves) = input.telling.text(told);
    Block {
        name,
        around: around_of_crew(input.card, (1, crew)),
        work: crewed(input.card, work, crew),
        then: waited.1,
        then_p50: waited.0,
        open: Labour::from_minutes(open),
        cut: cut.clone(),
        leaves,
    }
}

/// Adds what is left at the end.
fn round_off(
    input: &TimeInput<'_>,
    crew: i64,
    blocks: &mut Vec<Block>,
    (begun, work, waited): (usize, Labour, (Labour, Labour)),
) {
    if is_coated(input) {
        if let Some(last) = blocks.last_mut() {
            last.work = last.work.plus(crewed(input.card, work, crew));
        }
    } else {
        let only = blocks.is_empty();
        let told = || {
            let name = if only {
                "the work".to_owned()
            } else {
                steps(begun, input.steps.len())
            };
            (name, "the floor as planned".to_owned())
        };
        let cut = (&input.cuts.before, (work, waited), 0);
        let mut last = block(input, crew, cut, told);
        last.open = waited.1;
        blocks.push(last);
    }
}

/// Setting up and cleaning down once: done in one go, all blocks share it.
fn set_up(blocks: &[Block]) -> Labour {
    blocks.first().map_or(Labour::ZERO, |block| block.around)
}

pub(super) fn is_coated(input: &TimeInput<'_>) -> bool {
    input.steps.iter().any(|step| step.coat.is_some())
}

/// From closing to walking on it, done in one go: median and planned; and the moments at which blocks end.
fn in_one_go(input: &TimeInput<'_>, blocks: &[Block]) -> (Labour, Labour, Vec<(Labour, Labour)>) {
    let (mut p50, mut used) = (set_up(blocks), set_up(blocks));
    let mut ends = Vec::new();
    for (index, block) in blocks.iter().enumerate() {
        p50 = p50.plus(block.work);
        used = used.plus(block.work);
        ends.push((p50, used));
        let last = index.saturating_add(1) == blocks.len();
        if !last {
            p50 = p50.plus(block.then_p50);
            used = used.plus(block.then);
        }
    }
    if let Some(last) = blocks.last() {
        let (a, b) = if is_coated(input) {
            (
                Labour::from_minutes(input.foot_min.0),
                Labour::from_minutes(input.foot_min.1),
            )
        } else {
            (last.then_p50, last.then)
        };
        (p50, used) = (p50.plus(a), used.plus(b));
    }
    (p50, used, ends)
}

/// Whole minutes, rounded up: a floor is not opened a second early.
pub(super) fn minutes_up(time: Labour) -> i64 {
    divide(i128::from(time.us()), 60_000_000, Rounding::Up).unwrap_or(i64::MAX)
}

/// Whole minutes, to the nearest.
pub(super) fn minutes(time: Labour) -> i64 {
    divide(i128::from(time.us()), 60_000_000, Rounding::HalfEven).unwrap_or(i64::MAX)
}

/// Makes the time line of a candidate.
pub(super) fn time_line(input: &TimeInput<'_>) -> TimeLine {
    let planned = blocks(input, input.crew_size);
    let (elapsed_p50, elapsed, ends) = in_one_go(input, &planned);
    let longest = planned
        .iter()
        .map(|block| block.largest().plus(block.open))
        .max()
        .unwrap_or(Labour::ZERO);
    let window = input.window_min.map(Labour::from_minutes);
    let n_before = planned.first().map_or(1, |block| n_bays(block, window));
    TimeLine {
        crew_size: input.crew_size,
        crew_time: planned
            .iter()
            .fold(set_up(&planned), |sum, block| sum.plus(block.work)),
        elapsed_p50,
        elapsed,
        events: input
            .telling
            .text(|| events(input, &planned, &ends, (elapsed_p50, elapsed))),
        window_min: input.window_min,
        longest_block_min: minutes_up(longest),
        bare_floor_min: input.bare_floor_min,
        n_before,
        nights: window
            .and_then(|window| nights(&planned, window))
            .unwrap_or_default(),
    }
}
