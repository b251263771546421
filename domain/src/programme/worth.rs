//! Life-cycle cost as ISO 15686-5:2017 states it: costs at constant prices, discounted at a real rate.
//!
//! Costs are plain numbers of one currency; the present value is `Σ C / (1 + d)^n`, `n` in years.

/// A real discount rate a year, as a share: 0.035 is 3.5 %.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct DiscountRate(f64);

impl DiscountRate {
    /// A rate from 0 to 1; `None` for any other.
    pub fn of(share: f64) -> Option<Self> {
        (0.0..=1.0).contains(&share).then_some(Self(share))
    }

    /// The rate as a share.
    pub fn share(self) -> f64 {
        self.0
    }

    /// The nominal rate that goes with this real one where prices rise by `inflation` a year: `(1 + d)(1 + i) - 1`.
    pub fn nominal(self, inflation: f64) -> f64 {
        (1.0 + self.0).mul_add(1.0 + inflation, -1.0)
    }

    /// What 1 in `years` is worth today: single present value.
    pub fn present_of_one(self, years: f64) -> f64 {
        (1.0 + self.0).powf(-years)
    }

    /// What 1 at the end of each of `years` years is worth today: uniform present value.
    pub fn present_of_annual(self, years: u32) -> f64 {
        if self.0 == 0.0 {
            return f64::from(years);
        }
        // -expm1(-n ln(1+d)) keeps its digits at rates near nought, where 1 - (1+d)^-n does not.
        -(-f64::from(years) * self.0.ln_1p()).exp_m1() / self.0
    }
}

/// A cost and when it falls due.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// Months from today.
    pub month: u32,
    /// At prices of today; less than nought for what comes in.
    pub amount: f64,
}

/// What costs to come are worth today.
pub fn net_present_value(costs: &[Cost], rate: DiscountRate) -> f64 {
    costs
        .iter()
        .map(|cost| cost.amount * rate.present_of_one(f64::from(cost.month) / 12.0))
        .sum()
}

/// The even sum at the end of each year that is worth as much today; `None` over no years.
pub fn annual_equivalent(present: f64, rate: DiscountRate, years: u32) -> Option<f64> {
    (years > 0).then(|| present / rate.present_of_annual(years))
}

/// The same over months that need not make whole years; `None` over none.
pub fn annual_equivalent_over(present: f64, rate: DiscountRate, months: u32) -> Option<f64> {
    let years = f64::from(months) / 12.0;
    let factor = if rate.share() == 0.0 {
        years
    } else {
        -(-years * rate.share().ln_1p()).exp_m1() / rate.share()
    };
    (months > 0).then(|| present / factor)
}
