//! How work is spread over access windows: whole bays, as many in each as fit.

use super::time_line::{Block, minutes_up};
use crate::quantity::{Labour, Rounding, divide};

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

/// Into which bays a piece of work is cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Cut {
    /// So many bays of equal area.
    Equal(i64),
    /// Bays of these areas in mm², in the order of treatment.
    Drawn(Vec<i64>),
    /// As many bays of equal area as the windows need, up to so many: nothing dries that would set a number.
    AsNeeded(i64),
}

impl Cut {
    /// The work on the largest bay, for work on all of the floor.
    pub(super) fn largest(&self, work: Labour) -> Labour {
        match self {
            Self::Equal(n) | Self::AsNeeded(n) => work.scaled(1, (*n).max(1)),
            Self::Drawn(areas) => {
                let largest = areas.iter().copied().max().unwrap_or(0);
                work.scaled(largest, whole(areas))
            }
        }
    }
}

fn whole(areas: &[i64]) -> i64 {
    areas.iter().sum::<i64>().max(1)
}

/// Bays of one block that are treated in one window: the first and the last of them, and the work on them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Group {
    first: i64,
    last: i64,
    of: i64,
    work: Labour,
}

/// How equal bays are shared out among windows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fill {
    /// As many in one as in the other.
    Evenly,
    /// As many in each as it holds, so that the last one has room for what comes next.
    Full,
}

/// The bays of a block by the windows that hold them; `None` where the largest bay does not fit.
fn groups(block: &Block, window: Labour, fill: Fill) -> Option<Vec<Group>> {
    if block.largest().plus(block.open) > window {
        return None;
    }
    // Each window in which bays are treated is set up and cleaned down for itself.
    let room = window.less(block.open).less(block.around);
    let (work, us) = (block.work, i128::from(block.work.us()));
    let n_windows = |of: i128| divide(us, of, Rounding::Up).map_or(1, |n| n.max(1));
    let groups = match &block.cut {
        Cut::AsNeeded(_most) => even(n_windows(i128::from(room.us())), 1, work),
        Cut::Equal(n) => {
            let bay = block.cut.largest(work);
            let held = room.us().checked_div(bay.us().max(1)).unwrap_or(1);
            match fill {
                Fill::Evenly => even(*n, held.max(1), work),
                Fill::Full => full(*n, held.max(1), work),
            }
        }
        Cut::Drawn(areas) => drawn(areas, room, work),
    };
    Some(groups)
}

/// `n` equal bays, at most `held` in each window, spread evenly.
fn even(n: i64, held: i64, work: Labour) -> Vec<Group> {
    let n = n.max(1);
    let n_groups = divide(i128::from(n), i128::from(held), Rounding::Up).unwrap_or(n);
    let end = |group: i64| group.saturating_mul(n).checked_div(n_groups).unwrap_or(n);
    let groups = (0..n_groups).map(|group| {
        let (before, last) = (end(group), end(group.saturating_add(1)));
        Group {
            first: before.saturating_add(1),
            last,
            of: n,
            work: work.scaled(last.saturating_sub(before), n),
        }
    });
    groups.collect()
}

/// `n` equal bays, `held` in each window and the rest in the last.
fn full(n: i64, held: i64, work: Labour) -> Vec<Group> {
    let n = n.max(1);
    let n_groups = divide(i128::from(n), i128::from(held), Rounding::Up).unwrap_or(n);
    let groups = (0..n_groups).map(|group| {
        let before = group.saturating_mul(held);
        let last = before.saturating_add(held).min(n);
        Group {
            first: before.saturating_add(1),
            last,
            of: n,
            work: work.scaled(last.saturating_sub(before), n),
        }
    });
    groups.collect()
}

/// Bays of different areas, as many in each window as its room holds.
fn drawn(areas: &[i64], room: Labour, work: Labour) -> Vec<Group> {
    let whole = whole(areas);
    let of = i64::try_from(areas.len()).unwrap_or(i64::MAX);
    let mut groups: Vec<Group> = Vec::new();
    let mut taken = 0_i64;
    for (number, area) in (1_i64..).zip(areas) {
        let with = taken.saturating_add(*area);
        match groups.last_mut() {
            Some(group) if work.scaled(with, whole) <= room => {
                taken = with;
                group.last = number;
                group.work = work.scaled(taken, whole);
            }
            _ => {
                taken = *area;
                groups.push(Group {
                    first: number,
                    last: number,
                    of,
                    work: work.scaled(taken, whole),
                });
            }
        }
    }
    groups
}

/// What the bays of a window are called, and in what state it leaves the floor.
fn told(block: &Block, group: Group, alone: bool) -> (String, String) {
    if alone {
        return (block.name.clone(), block.leaves.clone());
    }
    let Group {
        first, last, of, ..
    } = group;
    let name = if first == last {
        format!("{}, bay {first} of {of}", block.name)
    } else {
        format!("{}, bays {first} to {last} of {of}", block.name)
    };
    let leaves = if last == of {
        block.leaves.clone()
    } else {
        format!("{last} of {of} bays done, the rest as it was")
    };
    (name, leaves)
}

/// Into how many bays a block is cut.
pub(super) fn n_bays(block: &Block, window: Option<Labour>) -> i64 {
    let groups = || window.and_then(|window| groups(block, window, Fill::Evenly));
    let n = match &block.cut {
        Cut::Equal(n) => Some(*n),
        Cut::Drawn(areas) => i64::try_from(areas.len()).ok(),
        Cut::AsNeeded(_most) => groups().and_then(|groups| i64::try_from(groups.len()).ok()),
    };
    n.unwrap_or(1)
}

/// Fills windows one after the other with as many blocks as fit, and cuts what is longer than a window between its
/// bays; `None` where not even one bay fits.
///
/// Bays are shared out evenly, so that no night is longer than it must be; unless fewer windows do where each is filled.
pub(super) fn nights(blocks: &[Block], window: Labour) -> Option<Vec<Night>> {
    let evenly = spread(blocks, window, Fill::Evenly)?;
    if evenly.len() < 2 {
        return Some(evenly);
    }
    let full = spread(blocks, window, Fill::Full)?;
    Some(if full.len() < evenly.len() {
        full
    } else {
        evenly
    })
}

fn spread(blocks: &[Block], window: Labour, fill: Fill) -> Option<Vec<Night>> {
    let mut nights: Vec<Night> = Vec::new();
    let mut used = Labour::ZERO;
    let mut then = Labour::ZERO;
    for block in blocks {
        let groups = groups(block, window, fill)?;
        let alone = groups.len() == 1;
        for group in groups {
            let (name, leaves) = told(block, group, alone);
            let together = used.plus(then).plus(group.work);
            match nights.last_mut() {
                Some(night) if alone && together.plus(block.open) <= window => {
                    used = together;
                    night.work.push(name);
                    night.leaves = leaves;
                }
                _ => {
                    used = block.around.plus(group.work);
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

#[cfg(test)]
mod tests {
    use super::{Cut, Group, drawn, even, full};
    use crate::quantity::Labour;

    fn spans(groups: &[Group]) -> Vec<(i64, i64, i64)> {
        let span = |group: &Group| (group.first, group.last, group.work.us() / 1_000_000);
        groups.iter().map(span).collect()
    }

    #[test]
    fn equal_bays_are_spread_evenly_over_windows() {
        let work = Labour::from_seconds(700);
        assert_eq!(spans(&even(7, 7, work)), [(1, 7, 700)]);
        assert_eq!(
            spans(&even(7, 3, work)),
            [(1, 2, 200), (3, 4, 200), (5, 7, 300)]
        );
        assert_eq!(spans(&even(1, 5, work)), [(1, 1, 700)]);
    }

    #[test]
    fn windows_that_are_filled_leave_room_in_the_last() {
        let work = Labour::from_seconds(700);
        assert_eq!(spans(&full(7, 5, work)), [(1, 5, 500), (6, 7, 200)]);
        assert_eq!(spans(&full(6, 3, work)), [(1, 3, 350), (4, 6, 350)]);
        assert_eq!(spans(&full(1, 5, work)), [(1, 1, 700)]);
    }

    #[test]
    fn drawn_bays_fill_each_window_in_their_order() {
        let work = Labour::from_seconds(100);
        let areas = [10, 40, 30, 20];
        let room = Labour::from_seconds(50);
        assert_eq!(spans(&drawn(&areas, room, work)), [(1, 2, 50), (3, 4, 50)]);
        let room = Labour::from_seconds(40);
        assert_eq!(
            spans(&drawn(&areas, room, work)),
            [(1, 1, 10), (2, 2, 40), (3, 3, 30), (4, 4, 20)]
        );
        assert_eq!(Cut::Drawn(areas.to_vec()).largest(work), room);
    }
}
