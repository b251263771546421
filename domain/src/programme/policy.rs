//! What to do when, under chance: a Markov decision process in steps of a month, over an endless or a bounded time.
//!
//! States and actions are numbers here; what they stand for is the caller's. An action that a state does not offer is never taken,
//! however cheap it would be: what must hold is a way that is not there and not a price ([`Model::within`]).
//! Same model, same answer; of two actions that cost the same, the one with the lower number.

#![expect(
    clippy::indexing_slicing,
    reason = "states and actions are checked once, when the model is made; tables are as long as there are states"
)]

use super::dense::solve;
use super::worth::DiscountRate;

/// So many states at most: a dense matrix of them is solved.
pub const MAX_STATES: usize = 1_000;
/// So many months at most: fifty years.
pub const MAX_MONTHS: u32 = 600;
/// Chances of a way add up to 1 within this.
const SUM: f64 = 1e-9;
/// Costs closer than this share are the same.
const SAME: f64 = 1e-11;

/// What an action in a state costs at once, and where it leads within the month.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// At once.
    pub cost: f64,
    /// States and their chances, which add up to 1.
    pub next: Vec<(usize, f64)>,
}

/// Why there is no such model, or no answer from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// No states, or too many.
    #[error("a model has 1 to {MAX_STATES} states")]
    States,
    /// The states do not all list the same number of actions, or none.
    #[error("state {0} does not list as many actions as the first")]
    Actions(usize),
    /// A cost is not a number, a chance lies outside 0 to 1, or they do not add up, or lead to no state.
    #[error("action {action} in state {state} has a cost or chances that cannot be")]
    Way {
        /// Of which state.
        state: usize,
        /// Which action.
        action: usize,
    },
    /// A state offers nothing, not even leaving it alone.
    #[error("state {0} offers no action")]
    Stuck(usize),
    /// Endless costs have no value without interest.
    #[error("endless costs are worth something finite only at a discount rate above 0")]
    Rate,
    /// No months or too many, or not as many worths at the end as states, or one that is no number.
    #[error("a horizon has 1 to {MAX_MONTHS} months and a worth at its end for each state")]
    Horizon,
}

/// States, and what each action does in each of them. Each way leads only to states that offer one.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    n_actions: usize,
    /// By state, then by action; `None` where it is not offered.
    ways: Vec<Vec<Option<Way>>>,
}

/// The best for ever: what each state costs from now on, and what to do there. `None` where [`Model::within`] left no way.
#[derive(Debug, Clone, PartialEq)]
pub struct Steady {
    /// Expected present cost by state.
    pub costs: Vec<Option<f64>>,
    /// The action by state.
    pub actions: Vec<Option<usize>>,
    /// How often the policy was made better until nothing could be.
    pub rounds: usize,
}

/// The best, or a given, course over a bounded time.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Expected present cost by state at the beginning; `None` where no course exists.
    pub costs: Vec<Option<f64>>,
    /// The action by month, then by state.
    pub actions: Vec<Vec<Option<usize>>>,
}

/// A time that ends: with a lease, say.
#[derive(Debug, Clone, Copy)]
pub struct Horizon<'a> {
    /// How many months.
    pub months: u32,
    /// At which real rate.
    pub rate: DiscountRate,
    /// What each state costs at the end, less than nought for what it is still worth.
    pub at_end: &'a [f64],
}

/// What a month is expected to bring.
#[derive(Debug, Clone, PartialEq)]
pub struct Month {
    /// The chance of each action.
    pub actions: Vec<f64>,
    /// The chance of each state at its beginning.
    pub states: Vec<f64>,
    /// What it is expected to cost, at prices of today and not discounted.
    pub cost: f64,
}

impl Model {
    /// A model of these ways, by state and then by action.
    pub fn of(mut ways: Vec<Vec<Option<Way>>>) -> Result<Self, Fault> {
        let n_states = ways.len();
        let n_actions = ways.first().map_or(0, Vec::len);
        if n_states == 0 || n_states > MAX_STATES {
            return Err(Fault::States);
        }
        for (state, row) in ways.iter_mut().enumerate() {
            if n_actions == 0 || row.len() != n_actions {
                return Err(Fault::Actions(state));
            }
            if row.iter().all(Option::is_none) {
                return Err(Fault::Stuck(state));
            }
            for (action, way) in row.iter_mut().enumerate() {
                let Some(way) = way else { continue };
                if !way.is_sound(n_states) {
                    return Err(Fault::Way { state, action });
                }
                way.next.retain(|&(_, chance)| chance > 0.0);
            }
        }
        Ok(Self { n_actions, ways })
    }

    /// The same model without each way that could ever lead out of the states that are `safe`, now or later, at any price.
    ///
    /// A state that is not safe keeps the ways that lead to where it can be kept safe from then on.
    #[must_use]
    pub fn within(&self, safe: impl Fn(usize) -> bool) -> Self {
        let mut held: Vec<bool> = (0..self.ways.len()).map(&safe).collect();
        loop {
            let stays: Vec<bool> = self
                .ways
                .iter()
                .zip(&held)
                .map(|(row, &is)| is && row.iter().flatten().any(|way| way.leads_only_to(&held)))
                .collect();
            if stays == held {
                break;
            }
            held = stays;
        }
        let mut ways = self.ways.clone();
        for way in ways.iter_mut().flatten() {
            if way.as_ref().is_some_and(|way| !way.leads_only_to(&held)) {
                *way = None;
            }
        }
        Self {
            n_actions: self.n_actions,
            ways,
        }
    }

    /// Whether a state offers an action.
    pub fn offers(&self, state: usize, action: usize) -> bool {
        self.way(state, action).is_some()
    }

    /// The best policy for ever, by policy iteration.
    pub fn steady(&self, rate: DiscountRate) -> Result<Steady, Fault> {
        if rate.share() <= 0.0 {
            return Err(Fault::Rate);
        }
        let factor = month_factor(rate);
        let mut actions: Vec<Option<usize>> = self
            .ways
            .iter()
            .map(|row| row.iter().position(Option::is_some))
            .collect();
        let mut rounds = 0_usize;
        loop {
            rounds = rounds.saturating_add(1);
            let costs = self.forever(&actions, factor);
            let mut is_better = false;
            let next: Vec<Option<usize>> = (0..self.ways.len())
                .map(|state| {
                    let best = self.best(state, factor, &costs, |_| true)?;
                    // Only a true gain changes what is done, so that rounding cannot turn the policy in a circle.
                    let gains = costs[state].is_none_or(|now| is_less(best.0, now));
                    is_better |= gains;
                    if gains { Some(best.1) } else { actions[state] }
                })
                .collect();
            if !is_better {
                let least = (0..self.ways.len())
                    .map(|state| Some(self.best(state, factor, &costs, |_| true)?.1))
                    .collect();
                return Ok(Steady {
                    costs,
                    actions: least,
                    rounds,
                });
            }
            actions = next;
        }
    }

    /// The best course over a bounded time, by backward induction; in a month only actions that are `open` then are taken.
    ///
    /// A state from which every course would end where nothing is open has no cost and no action, and no way leads to it.
    pub fn best_course(
        &self,
        horizon: Horizon<'_>,
        open: impl Fn(u32, usize) -> bool,
    ) -> Result<Course, Fault> {
        self.backward(horizon, |month, state, factor, costs| {
            self.best(state, factor, costs, |action| open(month, action))
        })
    }

    /// What a given programme costs over a bounded time; without cost where it asks for what a state does not offer.
    pub fn given_course(
        &self,
        horizon: Horizon<'_>,
        programme: impl Fn(u32, usize) -> usize,
    ) -> Result<Course, Fault> {
        self.backward(horizon, |month, state, factor, costs| {
            let action = programme(month, state);
            Some((self.way(state, action)?.expected(factor, costs)?, action))
        })
    }

    /// What each month of a course is expected to bring from `start` on; `None` where the course does not exist from there.
    pub fn forecast(&self, course: &Course, start: usize) -> Option<Vec<Month>> {
        self.forecast_from(course, &[(start, 1.0)])
    }

    /// The same where only the chances of what lies there now are known, which add up to 1.
    pub fn forecast_from(&self, course: &Course, start: &[(usize, f64)]) -> Option<Vec<Month>> {
        let mut states = vec![0.0; self.ways.len()];
        for &(state, chance) in start {
            (*course.costs.get(state)?)?;
            *states.get_mut(state)? += chance;
        }
        let mut months = Vec::with_capacity(course.actions.len());
        for choice in &course.actions {
            let (month, later) = self.month(choice, states)?;
            months.push(month);
            states = later;
        }
        Some(months)
    }

    /// What a month brings whose states are `states` at its beginning, and the states at its end.
    pub fn month(&self, choice: &[Option<usize>], states: Vec<f64>) -> Option<(Month, Vec<f64>)> {
        let mut later = vec![0.0; self.ways.len()];
        let (mut actions, mut cost) = (vec![0.0; self.n_actions], 0.0);
        let held = states.iter().enumerate();
        for (state, &chance) in held.filter(|(_, chance)| **chance > 0.0) {
            let action = (*choice.get(state)?)?;
            let way = self.way(state, action)?;
            actions[action] += chance;
            cost += chance * way.cost;
            for &(next, share) in &way.next {
                later[next] += chance * share;
            }
        }
        let month = Month {
            actions,
            states,
            cost,
        };
        Some((month, later))
    }

    /// The same model at other costs, by state and action; each has to be a number.
    #[must_use]
    pub fn priced(mut self, cost: impl Fn(usize, usize) -> f64) -> Self {
        for (state, row) in self.ways.iter_mut().enumerate() {
            for (action, way) in row.iter_mut().enumerate() {
                if let Some(way) = way {
                    way.cost = cost(state, action);
                }
            }
        }
        self
    }

    fn way(&self, state: usize, action: usize) -> Option<&Way> {
        self.ways.get(state)?.get(action)?.as_ref()
    }

    /// The least expected cost among the actions that are offered and open, and the first action that comes to it.
    fn best(
        &self,
        state: usize,
        factor: f64,
        costs: &[Option<f64>],
        open: impl Fn(usize) -> bool,
    ) -> Option<(f64, usize)> {
        let mut least: Option<(f64, usize)> = None;
        for (action, way) in self.ways[state].iter().enumerate() {
            let cost = way
                .as_ref()
                .filter(|_| open(action))
                .and_then(|way| way.expected(factor, costs));
            if let Some(cost) = cost
                && least.is_none_or(|(best, _)| is_less(cost, best))
            {
                least = Some((cost, action));
            }
        }
        least
    }

    /// What a policy costs for ever: `(I - βP) V = c`.
    fn forever(&self, actions: &[Option<usize>], factor: f64) -> Vec<Option<f64>> {
        let n = self.ways.len();
        let mut matrix = vec![vec![0.0; n]; n];
        let mut costs = vec![0.0; n];
        for (state, row) in matrix.iter_mut().enumerate() {
            row[state] = 1.0;
            if let Some(way) = actions[state].and_then(|action| self.way(state, action)) {
                costs[state] = way.cost;
                for &(next, chance) in &way.next {
                    row[next] -= factor * chance;
                }
            }
        }
        solve(matrix, costs)
            .into_iter()
            .zip(actions)
            .map(|(cost, action)| action.map(|_| cost))
            .collect()
    }

    fn backward(
        &self,
        horizon: Horizon<'_>,
        choose: impl Fn(u32, usize, f64, &[Option<f64>]) -> Option<(f64, usize)>,
    ) -> Result<Course, Fault> {
        let n_states = self.ways.len();
        let is_sound = (1..=MAX_MONTHS).contains(&horizon.months)
            && horizon.at_end.len() == n_states
            && horizon.at_end.iter().all(|worth| worth.is_finite());
        if !is_sound {
            return Err(Fault::Horizon);
        }
        let factor = month_factor(horizon.rate);
        let mut costs: Vec<Option<f64>> = horizon.at_end.iter().copied().map(Some).collect();
        let mut actions = Vec::new();
        for month in (0..horizon.months).rev() {
            let (now, chosen) = (0..n_states)
                .map(|state| choose(month, state, factor, &costs).unzip())
                .unzip();
            costs = now;
            actions.push(chosen);
        }
        actions.reverse();
        Ok(Course { costs, actions })
    }
}

impl Way {
    fn is_sound(&self, n_states: usize) -> bool {
        let total: f64 = self.next.iter().map(|&(_, chance)| chance).sum();
        self.cost.is_finite()
            && (total - 1.0).abs() <= SUM
            && self
                .next
                .iter()
                .all(|&(state, chance)| state < n_states && (0.0..=1.0).contains(&chance))
    }

    fn leads_only_to(&self, states: &[bool]) -> bool {
        self.next.iter().all(|&(state, _)| states[state])
    }

    /// What it costs with all that comes after; `None` where it may lead to where nothing can be done.
    fn expected(&self, factor: f64, costs: &[Option<f64>]) -> Option<f64> {
        self.next
            .iter()
            .try_fold(self.cost, |sum, &(state, chance)| {
                Some(sum + factor * chance * costs[state]?)
            })
    }
}

fn month_factor(rate: DiscountRate) -> f64 {
    rate.present_of_one(1.0 / 12.0)
}

/// Whether a cost is less by more than rounding.
fn is_less(cost: f64, than: f64) -> bool {
    cost < than - SAME * (1.0 + than.abs())
}
