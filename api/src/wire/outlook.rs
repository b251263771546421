//! How work may turn out, on the wire.

use domain::{
    estimate::{pool::Estimate, spread::Percentiles},
    money::{Currency, Money},
    plan::Work,
    quantity::whole,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{money::MoneyView, number};

/// What an amount comes to at most in so many of all cases.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub(crate) struct PercentilesView {
    /// No more than this in half of all cases.
    #[schema(minimum = 0)]
    p50: f64,
    /// No more than this in four of five.
    #[schema(minimum = 0)]
    p80: f64,
    /// No more than this in nine of ten.
    #[schema(minimum = 0)]
    p90: f64,
}

/// What a price before tax comes to at most in so many of all cases.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct MoneyPercentilesView {
    /// No more than this in half of all cases.
    p50: MoneyView,
    /// No more than this in four of five.
    p80: MoneyView,
    /// No more than this in nine of ten.
    p90: MoneyView,
}

/// How the work on a floor may turn out. Percentiles are of sums, and never add up: an estimate has its own.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct OutlookView {
    /// Hours of all operatives, set-up and allowance included.
    paid_h: PercentilesView,
    /// Litres of all products together, as they come out of the pack.
    product_l: PercentilesView,
    /// Price before tax.
    net: MoneyPercentilesView,
    /// Minutes from closing the floor to walking on it, done in one go.
    elapsed_min: PercentilesView,
    /// The reason, by its id in the list of reasons.
    #[schema(max_length = 100)]
    basis: &'static str,
}

/// How the work on many floors may turn out together: what one crew makes dear makes others dear too, and chances of single
/// floors even out.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct PooledOutlookView {
    /// Hours of all operatives, set-up and allowance included.
    paid_h: PercentilesView,
    /// Litres of all products together, as they come out of the pack.
    product_l: PercentilesView,
    /// Price before tax.
    net: MoneyPercentilesView,
    /// Shifts of the crew, whole ones.
    n_shifts: PercentilesView,
    /// The reason, by its id in the list of reasons.
    #[schema(max_length = 100)]
    basis: &'static str,
}

const BASIS: &str = "outlook";

fn of(found: Percentiles, show: impl Fn(f64) -> f64) -> PercentilesView {
    PercentilesView {
        p50: show(found.p50),
        p80: show(found.p80),
        p90: show(found.p90),
    }
}

fn money(found: Percentiles, currency: Currency) -> MoneyPercentilesView {
    let money = |amount: f64| {
        let amount = whole(amount).unwrap_or(i64::MAX);
        Money { amount, currency }.into()
    };
    MoneyPercentilesView {
        p50: money(found.p50),
        p80: money(found.p80),
        p90: money(found.p90),
    }
}

impl From<&Work> for OutlookView {
    fn from(work: &Work) -> Self {
        let outlook = &work.outlook;
        Self {
            paid_h: of(outlook.paid_h, number::hundredths),
            product_l: of(outlook.product_l, number::thousandths),
            net: money(outlook.net, work.cost.net.currency),
            elapsed_min: of(work.elapsed_min, f64::ceil),
            basis: BASIS,
        }
    }
}

impl From<&Estimate> for PooledOutlookView {
    fn from(estimate: &Estimate) -> Self {
        let outlook = &estimate.outlook;
        Self {
            paid_h: of(outlook.paid_h, number::hundredths),
            product_l: of(outlook.product_l, number::thousandths),
            net: money(outlook.net, estimate.cost.net.currency),
            n_shifts: of(estimate.shifts, f64::ceil),
            basis: BASIS,
        }
    }
}
