//! Which part of a plan a completion is held against.

use crate::{
    money::Money,
    quantity::{Area, Labour, Rounding, Volume, divide},
};

/// Parts per million: the whole of a plan.
pub const WHOLE_PPM: i64 = 1_000_000;

/// What so many completions leave of a plan by rounding their shares, in parts per million, is taken with the last.
const ROUNDING_PPM: i64 = 10;

/// The share of a plan that work on `done` out of `planned` area makes up, at most what is `left` of it.
pub fn share_ppm(done: Area, planned: Area, left: i64) -> i64 {
    let share = divide(
        i128::from(done.mm2()) * i128::from(WHOLE_PPM),
        i128::from(planned.mm2()),
        Rounding::HalfEven,
    );
    let left = left.clamp(0, WHOLE_PPM);
    let share = share.unwrap_or(WHOLE_PPM).clamp(0, left);
    if share > 0 && left.saturating_sub(share) <= ROUNDING_PPM {
        left
    } else {
        share
    }
}

/// The part of a plan that a completion is held against.
///
/// Each line's part is what the plan promises up to its end less what it promises up to its beginning, so the parts of a
/// plan that is done in several completions add up to the plan, cent by cent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PlanPart {
    /// What other completions have done of the plan, in parts per million.
    pub before_ppm: i64,
    /// What this one does, in parts per million.
    pub share_ppm: i64,
}

impl PlanPart {
    /// The part that is next where so much of a plan is left.
    pub const fn next(left_ppm: i64, share_ppm: i64) -> Self {
        Self {
            before_ppm: WHOLE_PPM.saturating_sub(left_ppm),
            share_ppm,
        }
    }

    const fn after_ppm(self) -> i64 {
        self.before_ppm.saturating_add(self.share_ppm)
    }

    pub(super) fn of_labour(self, whole: Labour) -> Labour {
        let up_to = |ppm| whole.scaled(ppm, WHOLE_PPM);
        up_to(self.after_ppm()).less(up_to(self.before_ppm))
    }

    pub(super) fn of_volume(self, whole: Volume) -> Volume {
        let up_to = |ppm| whole.scaled(ppm, WHOLE_PPM);
        up_to(self.after_ppm()).less(up_to(self.before_ppm))
    }

    pub(super) fn of_money(self, whole: Money) -> i64 {
        let up_to = |ppm| whole.times(ppm, WHOLE_PPM).amount;
        up_to(self.after_ppm()).saturating_sub(up_to(self.before_ppm))
    }
}
