//! What a programme brings: each month, and all of it at a discount rate.

use super::worth::{Cost, DiscountRate, annual_equivalent_over, net_present_value};

/// On what terms programmes are compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// How many months.
    pub months: u32,
    /// The real discount rate a year.
    pub rate: DiscountRate,
    /// The share of months in which the floor may look worse than asked for.
    pub below_share: f64,
}

/// What a month of a programme is expected to bring.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthFigures {
    /// The chance of each action, in the order of [`Act::ALL`](super::Act::ALL).
    pub acts: Vec<f64>,
    /// Working hours.
    pub hours: f64,
    /// Cost in 1/10,000 of the currency's unit, before tax, at prices of today.
    pub cost: f64,
    /// The chance that the floor looks worse than asked for when the month begins.
    pub below: f64,
}

/// A programme with all that it brings.
#[derive(Debug, Clone, PartialEq)]
pub struct Programme {
    /// Each month.
    pub months: Vec<MonthFigures>,
    /// What handing the floor back costs when it is over.
    pub hand_back: f64,
    /// The first month, counted from 0, that may begin below the grip that is kept, and the greatest chance of it in any month;
    /// `None` where none may.
    pub unsafe_from: Option<(usize, f64)>,
    /// The first month that may begin with less film than is allowed, and the greatest chance of it; `None` where none may.
    pub thin_from: Option<(usize, f64)>,
    /// The most coats that may build up beside the lane.
    pub most_built: u8,
    /// Whether the lane may wear through.
    pub may_wear_through: bool,
}

impl Programme {
    /// Whether it keeps the grip and as much film as is allowed.
    pub fn is_allowed(&self) -> bool {
        self.unsafe_from.is_none() && self.thin_from.is_none()
    }

    /// Its costs by month, the hand-back last.
    pub fn costs(&self) -> Vec<Cost> {
        let amounts = self.months.iter().map(|month| month.cost);
        let all = amounts.chain([self.hand_back]);
        (0..)
            .zip(all)
            .map(|(month, amount)| Cost { month, amount })
            .collect()
    }

    /// What it is worth today.
    pub fn present(&self, rate: DiscountRate) -> f64 {
        net_present_value(&self.costs(), rate)
    }

    /// The even sum at the end of each year that is worth as much; `None` over no months.
    pub fn a_year(&self, rate: DiscountRate) -> Option<f64> {
        let months = u32::try_from(self.months.len()).ok()?;
        annual_equivalent_over(self.present(rate), rate, months)
    }

    /// How often each action is expected, in the order of [`super::lane::Act::ALL`](super::Act::ALL).
    pub fn jobs(&self) -> Vec<f64> {
        let mut sums = Vec::new();
        for month in &self.months {
            sums.resize(month.acts.len(), 0.0);
            for (sum, chance) in sums.iter_mut().zip(&month.acts) {
                *sum += chance;
            }
        }
        sums
    }

    /// The share of months that begin with the floor looking worse than asked for.
    pub fn below_share(&self) -> f64 {
        let n = u32::try_from(self.months.len()).map_or(1.0, f64::from);
        self.months.iter().map(|month| month.below).sum::<f64>() / n.max(1.0)
    }

    /// What months below come to at `worth` each, discounted.
    pub fn below_worth(&self, worth: f64, rate: DiscountRate) -> f64 {
        let below = (0..).zip(&self.months).map(|(month, figures)| Cost {
            month,
            amount: figures.below * worth,
        });
        net_present_value(&below.collect::<Vec<_>>(), rate)
    }
}
