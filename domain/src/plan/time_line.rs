//! When what may happen on the floor, and how the work fits the hours in which the floor can be closed.

use super::{PlannedStep, events::events};
use crate::{
    card::RateCard,
    estimate::cost::around,
    knowledge::KnowledgeBase,
    quantity::{Area, Labour, Rounding, divide},
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

/// What one access window holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Night {
    /// Its number, from 1.
    pub number: i64,
    /// What is done in it.
    pub work: Vec<String>,
    /// Minutes until the crew is done.
    pub work_min: i64,
    /// Minutes until people may walk on the floor.
    pub open_after_min: i64,
    /// In what state it leaves the floor.
    pub leaves: String,
}

/// A way to need fewer windows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alternative {
    /// Operatives.
    pub crew_size: i64,
    /// Minutes from closing to walking on it, done in one go.
    pub elapsed_min: i64,
    /// How many windows the work then takes; `None` if one part is longer than a window.
    pub n_nights: Option<i64>,
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
    /// The work spread over windows; empty without a window or where a part does not fit.
    pub nights: Vec<Night>,
    /// What a bigger crew would change.
    pub alternatives: Vec<Alternative>,
}

/// A piece of work that is not interrupted, and what follows it.
#[derive(Debug, Clone)]
pub(super) struct Block {
    pub(super) name: String,
    /// Setting up and cleaning down included.
    work: Labour,
    /// Setting up and cleaning down in it, which no smaller bay makes shorter.
    around: Labour,
    /// Before the next block, if it follows in the same window.
    then: Labour,
    then_p50: Labour,
    /// Before anybody may walk on the floor, if the window ends here.
    open: Labour,
    /// The work on one bay of it: what cannot be interrupted.
    bay: Labour,
    leaves: String,
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
    /// The floor.
    pub(super) area: Area,
    /// Waits that the caller gave.
    pub(super) given: GivenWaits,
}

/// Working time of one operative stretched by the allowance and shared by the crew.
fn crewed(card: &RateCard, time: Labour, crew: i64) -> Labour {
    let numerator = 10_000_i64.saturating_add(card.allowance.ten_thousandths());
    time.scaled(numerator, crew.max(1).saturating_mul(10_000))
}

/// The part of a block's work that one bay of the floor takes; all of it on a floor no larger than a bay.
fn one_bay(input: &TimeInput<'_>, work: Labour) -> Labour {
    let bay = input.base.factors.bay_m2.saturating_mul(1_000_000);
    work.scaled(bay.min(input.area.mm2()), input.area.mm2().max(1))
}

fn blocks(input: &TimeInput<'_>, crew: i64) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let set_up = crewed(input.card, around(input.card, 1), crew);
    let mut work = Labour::ZERO;
    let mut waited = (Labour::ZERO, Labour::ZERO);
    let n_coats = input
        .steps
        .iter()
        .filter(|step| step.coat.is_some())
        .count();
    let mut laid = 0_usize;
    let close =
        |name: String, work: Labour, waited: (Labour, Labour), open: i64, leaves: String| {
            let work = crewed(input.card, work, crew);
            Block {
                name,
                work,
                around: Labour::ZERO,
                then: waited.1,
                then_p50: waited.0,
                open: Labour::from_minutes(open),
                bay: one_bay(input, work),
                leaves,
            }
        };
    for step in input.steps {
        let wait = step
            .wait
            .as_ref()
            .map_or((0, 0), |wait| (wait.p50_min, wait.used_min));
        let wait = (Labour::from_minutes(wait.0), Labour::from_minutes(wait.1));
        if step.coat.is_some() {
            if laid == 0 {
                let leaves =
                    "a clean, bare floor without film: mind soil and stains until it is coated"
                        .to_owned();
                blocks.push(close(
                    "prepare".to_owned(),
                    work,
                    waited,
                    input.bare_floor_min,
                    leaves,
                ));
            }
            laid = laid.saturating_add(1);
            let leaves = if laid == n_coats {
                "the floor as planned".to_owned()
            } else {
                format!("{laid} of {n_coats} coats: light use only until the rest is laid")
            };
            // What is done between two coats belongs to the later one.
            let between = if laid == 1 { Labour::ZERO } else { work };
            blocks.push(close(
                format!("coat {laid}"),
                between.plus(step.labour),
                wait,
                input.foot_min.1,
                leaves,
            ));
            work = Labour::ZERO;
            waited = (Labour::ZERO, Labour::ZERO);
        } else {
            // Where no coat is laid, people may walk on the floor while it waits for what comes next.
            let goes_on = step.labour > Labour::ZERO && waited.1 > Labour::ZERO;
            if n_coats == 0 && goes_on {
                let wait = minutes_up(waited.1);
                let leaves = format!("open to people; what comes next begins {wait} min later");
                let name = format!("part {}", blocks.len().saturating_add(1));
                blocks.push(close(name, work, waited, input.bare_floor_min, leaves));
                (work, waited) = (Labour::ZERO, (Labour::ZERO, Labour::ZERO));
            }
            work = work.plus(step.labour);
            waited = (waited.0.plus(wait.0), waited.1.plus(wait.1));
        }
    }
    if laid == 0 {
        let name = if blocks.is_empty() {
            "the work".to_owned()
        } else {
            format!("part {}", blocks.len().saturating_add(1))
        };
        let mut last = close(name, work, waited, 0, "the floor as planned".to_owned());
        last.open = waited.1;
        blocks.push(last);
    } else if let Some(last) = blocks.last_mut() {
        last.work = last.work.plus(crewed(input.card, work, crew));
    }
    if let Some(first) = blocks.first_mut() {
        first.around = set_up;
        first.work = first.work.plus(set_up);
        first.bay = first.bay.plus(set_up);
    }
    blocks
}

pub(super) fn is_coated(input: &TimeInput<'_>) -> bool {
    input.steps.iter().any(|step| step.coat.is_some())
}

/// From closing to walking on it, done in one go: median and planned; and the moments at which blocks end.
fn in_one_go(input: &TimeInput<'_>, blocks: &[Block]) -> (Labour, Labour, Vec<(Labour, Labour)>) {
    let (mut p50, mut used) = (Labour::ZERO, Labour::ZERO);
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

/// Into how many parts of equal area a block is cut so that each fits a window; `None` if one bay does not fit.
fn parts(block: &Block, window: Labour) -> Option<i64> {
    if block.bay.plus(block.open) > window {
        return None;
    }
    // Each part is set up and cleaned down in its own window.
    let room = i128::from(window.less(block.open).less(block.around).us());
    let floor = block.work.less(block.around);
    divide(i128::from(floor.us()), room, Rounding::Up)
}

/// What a part of a block is called, and in what state it leaves the floor.
fn part_of(block: &Block, part: i64, of: i64) -> (String, String) {
    if of == 1 {
        return (block.name.clone(), block.leaves.clone());
    }
    let name = format!("{}, part {part} of {of}", block.name);
    let leaves = if part == of {
        block.leaves.clone()
    } else {
        format!("{part} of {of} parts of the floor done, the rest as it was")
    };
    (name, leaves)
}

/// Fills windows one after the other with as many blocks as fit, and cuts what is longer than a window into parts;
/// `None` where not even one bay fits.
fn nights(blocks: &[Block], window: Labour) -> Option<Vec<Night>> {
    let mut nights: Vec<Night> = Vec::new();
    let mut used = Labour::ZERO;
    let mut then = Labour::ZERO;
    for block in blocks {
        let of = parts(block, window)?.max(1);
        let floor = block.work.less(block.around);
        let work = block.around.plus(floor.scaled(1, of));
        for part in 1..=of {
            let (name, leaves) = part_of(block, part, of);
            let together = used.plus(then).plus(work);
            match nights.last_mut() {
                Some(night) if of == 1 && together.plus(block.open) <= window => {
                    used = together;
                    night.work.push(name);
                    night.leaves = leaves;
                }
                _ => {
                    used = work;
                    nights.push(Night {
                        number: i64::try_from(nights.len()).unwrap_or(0).saturating_add(1),
                        work: vec![name],
                        work_min: 0,
                        open_after_min: 0,
                        leaves,
                    });
                }
            }
            if let Some(night) = nights.last_mut() {
                night.work_min = minutes_up(used);
                night.open_after_min = minutes_up(used.plus(block.open));
            }
        }
        then = block.then;
    }
    Some(nights)
}

/// Makes the time line of a candidate.
pub(super) fn time_line(input: &TimeInput<'_>) -> TimeLine {
    let blocks_of = |crew| blocks(input, crew);
    let planned = blocks_of(input.crew_size);
    let (elapsed_p50, elapsed, ends) = in_one_go(input, &planned);
    let longest = planned
        .iter()
        .map(|block| block.bay.plus(block.open))
        .max()
        .unwrap_or(Labour::ZERO);
    let window = input.window_min.map(Labour::from_minutes);
    let alternatives = window.map_or_else(Vec::new, |window| {
        let bigger = (1..=3).map(|more| input.crew_size.saturating_add(more));
        bigger
            .map(|crew_size| {
                let blocks = blocks_of(crew_size);
                let n_nights =
                    nights(&blocks, window).and_then(|nights| i64::try_from(nights.len()).ok());
                let elapsed_min = minutes_up(in_one_go(input, &blocks).1);
                Alternative {
                    crew_size,
                    elapsed_min,
                    n_nights,
                }
            })
            .collect()
    });
    TimeLine {
        crew_size: input.crew_size,
        crew_time: planned.iter().map(|block| block.work).sum(),
        elapsed_p50,
        elapsed,
        events: events(input, &planned, &ends, (elapsed_p50, elapsed)),
        window_min: input.window_min,
        longest_block_min: minutes_up(longest),
        nights: window
            .and_then(|window| nights(&planned, window))
            .unwrap_or_default(),
        alternatives,
    }
}
