//! In what strength a product is used: parts of water, or a share in percent.

use crate::quantity::float;

/// In what strength a product is used.
///
/// `1:10` is one part in eleven, 9.09 %, and not 10 %: parts win, and where both are given and differ the plan says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Strength {
    /// Parts of water to one part of concentrate, in thousandths.
    pub parts_thousandths: Option<i64>,
    /// Share of concentrate in the solution, in thousandths of a percent.
    pub pct_thousandths: Option<i64>,
}

impl Strength {
    /// Parts of water to one part of concentrate, if either is given.
    pub fn parts(self) -> Option<f64> {
        let of_pct = |pct: i64| (pct > 0).then(|| 100_000.0 / float(pct) - 1.0);
        let parts = self.parts_thousandths.map(|parts| float(parts) / 1e3);
        parts.or_else(|| self.pct_thousandths.and_then(of_pct))
    }

    /// Whether both are given and say different things, by more than rounding.
    pub fn contradicts_itself(self) -> bool {
        let (Some(parts), Some(pct)) = (self.parts_thousandths, self.pct_thousandths) else {
            return false;
        };
        let shown = 100.0 / (1.0 + float(parts) / 1e3);
        (shown - float(pct) / 1e3).abs() > 0.05
    }
}
