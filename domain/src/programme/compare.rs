//! Programmes for one floor side by side: the best that keeps its grip, the fixed intervals of the due rules, longer ones, and nothing.

#![expect(
    clippy::indexing_slicing,
    reason = "tables of a model are as long as it has states and actions"
)]

use super::{
    act::Act,
    figures::{MonthFigures, Programme, Terms},
    lane::{Lane, Made, Spot},
    policy::{Course, Fault, Horizon, Model},
    start::GripToday,
    wear::MONTH_DAYS,
};
use crate::{
    due::Due,
    knowledge::{BUFF, RECOAT, STRIP},
    quantity::float,
};

/// Chances below this are rounding.
const NOTHING: f64 = 1e-9;
/// Steps of the search for what a month below the asked gloss has to be worth.
const STEPS: u32 = 10;

/// A floor ready to be compared on.
pub(super) struct Desk<'a> {
    pub(super) lane: &'a Lane,
    pub(super) made: Made<'a>,
    /// Where it may lie now.
    pub(super) start: &'a [(usize, f64)],
    pub(super) terms: Terms,
    /// Whether each state keeps the grip; all do where nobody read it.
    grips: Vec<bool>,
    /// The model without the ways that lead to less grip, or to less film than is allowed.
    held: Model,
    hand_back: Vec<f64>,
}

/// The best programme, and what a month below the asked gloss has to be worth for it.
pub(super) struct Best {
    pub(super) programme: Programme,
    pub(super) worth: f64,
    course: Course,
}

impl<'a> Desk<'a> {
    pub(super) fn new(
        (lane, made): (&'a Lane, Made<'a>),
        start: &'a [(usize, f64)],
        grip: Option<GripToday>,
        terms: Terms,
    ) -> Self {
        let likely = likeliest(start);
        let now = lane.spots[likely];
        let figures = &made.base.programme;
        let keeps = |spot: &Spot| {
            grip.is_none_or(|grip| {
                let drop = |spot: &Spot| {
                    let worn = if spot.coats == 0 {
                        figures.grip.worn_through
                    } else {
                        0.0
                    };
                    f64::from(spot.built) * figures.grip.per_coat + worn
                };
                // Less film may take from what was read and never adds to it: what was read is known, what lies below is not.
                grip.ptv + (drop(spot) - drop(&now)).min(0.0) >= figures.grip.least_ptv
            })
        };
        let grips: Vec<bool> = lane.spots.iter().map(keeps).collect();
        let both = lane.spots.iter().zip(&grips);
        let safe: Vec<bool> = both
            .map(|(spot, grips)| *grips && spot.coats >= made.frame.least)
            .collect();
        let states = 0..lane.spots.len();
        let hand_back = states.map(|state| lane.hand_back(state, made, &safe));
        Self {
            hand_back: hand_back.collect(),
            held: lane.model.within(|state| safe[state]),
            grips,
            lane,
            made,
            start,
            terms,
        }
    }

    fn horizon(&self) -> Horizon<'_> {
        Horizon {
            months: self.terms.months,
            rate: self.terms.rate,
            at_end: &self.hand_back,
        }
    }

    /// The safe model where each month that begins below the asked gloss costs `worth` more.
    fn weighed(&self, worth: f64) -> Model {
        self.held.clone().priced(|state, action| {
            let cost = self.lane.prices[state][action].map_or(0.0, |price| price.cost);
            cost + if self.lane.is_below(state) {
                worth
            } else {
                0.0
            }
        })
    }

    /// What a course brings from where the floor may lie now; `None` where it does not exist from there.
    fn follow(&self, course: &Course) -> Option<Programme> {
        let mut states = vec![0.0; self.lane.spots.len()];
        for &(state, chance) in self.start {
            (*course.costs.get(state)?)?;
            states[state] = chance;
        }
        let unsafe_share = |states: &[f64]| {
            let off = states.iter().zip(&self.grips).filter(|(_, grips)| !**grips);
            off.map(|(chance, _)| chance).sum::<f64>()
        };
        let thin_share = |states: &[f64]| {
            let thin = self.lane.spots.iter().zip(states);
            let thin = thin.filter(|(spot, _)| spot.coats < self.made.frame.least);
            thin.map(|(_, chance)| chance).sum::<f64>()
        };
        let mut months = Vec::new();
        let (mut most_built, mut may_wear_through) = (0, false);
        let (mut unsafe_from, mut thin_from) = (None, None);
        for (number, choice) in course.actions.iter().enumerate() {
            let (month, later) = self.lane.model.month(choice, states)?;
            let lies = || {
                month
                    .states
                    .iter()
                    .enumerate()
                    .filter(|(_, chance)| **chance > 0.0)
            };
            let hours = lies().filter_map(|(state, chance)| {
                let price = self.lane.prices[state][choice[state]?]?;
                Some(chance * price.hours)
            });
            let below = lies().filter(|(state, _)| self.lane.is_below(*state));
            months.push(MonthFigures {
                hours: hours.sum(),
                // Nothing at all adds up to minus nought, which nobody wants to read.
                below: below.map(|(_, chance)| chance).sum::<f64>() + 0.0,
                acts: month.actions,
                cost: month.cost,
            });
            states = later;
            for (spot, _) in self
                .lane
                .spots
                .iter()
                .zip(&states)
                .filter(|(_, chance)| **chance > NOTHING)
            {
                most_built = most_built.max(spot.built);
                may_wear_through |= spot.coats == 0;
            }
            note(&mut unsafe_from, number + 1, unsafe_share(&states));
            note(&mut thin_from, number + 1, thin_share(&states));
        }
        let hand_back = states.iter().zip(&self.hand_back);
        Some(Programme {
            months,
            hand_back: hand_back.map(|(chance, cost)| chance * cost).sum(),
            unsafe_from,
            thin_from,
            most_built,
            may_wear_through,
        })
    }

    fn best_at(
        &self,
        worth: f64,
        open: impl Fn(u32, usize) -> bool,
    ) -> Result<Option<Best>, Fault> {
        let course = self.weighed(worth).best_course(self.horizon(), open)?;
        let programme = self.follow(&course);
        Ok(programme.map(|programme| Best {
            programme,
            worth,
            course,
        }))
    }

    /// The cheapest programme that keeps the grip and looks worse than asked for in no more than the allowed share of months; where
    /// none does so, the one that does so least. `None` where every way would lose the grip.
    pub(super) fn best(&self) -> Result<Option<Best>, Fault> {
        // Where gloss is not followed, what a film has to be is taken care of: no thinner state is entered.
        let fits = |best: &Best| {
            let share = best.programme.below_share();
            !self.made.frame.shines() || share <= self.terms.below_share + NOTHING
        };
        let Some(free) = self.best_at(0.0, |_, _| true)? else {
            return Ok(None);
        };
        if fits(&free) {
            return Ok(Some(free));
        }
        let dearest = self.lane.prices.iter().flatten().flatten();
        let dearest = dearest.map(|price| price.cost).fold(1.0, f64::max);
        let (mut low, mut high) = (0.0, dearest / 8.0);
        let mut found = None;
        for _ in 0..4 {
            let best = self.best_at(high, |_, _| true)?;
            let enough = best.as_ref().is_some_and(fits);
            found = best;
            if enough {
                break;
            }
            low = high;
            high *= 8.0;
        }
        let Some(mut best) = found else {
            return Ok(None);
        };
        if !fits(&best) {
            return Ok(Some(best));
        }
        for _ in 0..STEPS {
            let middle = f64::midpoint(low, best.worth);
            match self.best_at(middle, |_, _| true)? {
                Some(better) if fits(&better) => best = better,
                _ => low = middle,
            }
        }
        Ok(Some(best))
    }

    /// The best that leaves the floor alone for the first months; `None` where that would lose the grip.
    pub(super) fn waiting(&self, worth: f64, months: u32) -> Result<Option<Programme>, Fault> {
        let leave = Act::Leave.number();
        let best = self.best_at(worth, |month, act| month >= months || act == leave)?;
        Ok(best.map(|best| best.programme))
    }

    /// A programme by the calendar, whatever the floor looks like. Where the rules refuse what the calendar asks for, the next
    /// stronger action is taken.
    pub(super) fn by_calendar(&self, acts: &[Act]) -> Result<Option<Programme>, Fault> {
        let course = self
            .lane
            .model
            .given_course(self.horizon(), |month, state| {
                let index = usize::try_from(month).unwrap_or(0);
                let wanted = acts.get(index).copied().unwrap_or(Act::Leave);
                let chain = [wanted, Act::Recoat, Act::Strip];
                let from = if wanted == Act::Strip { 2 } else { 0 };
                let chain = chain.iter().skip(from).map(|act| act.number());
                let mut open = chain.filter(|act| self.lane.model.offers(state, *act));
                open.next().unwrap_or(Act::Leave.number())
            })?;
        let mut programme = self.follow(&course);
        // What lies below today loses no grip later: it has none now.
        if let Some(programme) = &mut programme
            && !self.grips[likeliest(self.start)]
        {
            programme.unsafe_from = Some((0, 1.0));
        }
        Ok(programme)
    }

    /// What each action costs more than the best if it is taken now on the floor as it most likely lies, and the best after it;
    /// `None` where the rules or the grip do not allow it.
    pub(super) fn now(&self, best: &Best) -> Result<Vec<(Act, Option<f64>)>, Fault> {
        let here = likeliest(self.start);
        let least = best.course.costs[here].unwrap_or(0.0);
        let model = self.weighed(best.worth);
        let extra = |act: &Act| {
            let first = act.number();
            if !model.offers(here, first) {
                return Ok((*act, None));
            }
            let open = |month, act| month > 0 || act == first;
            let course = model.best_course(self.horizon(), open)?;
            Ok((*act, course.costs[here].map(|cost| cost - least)))
        };
        Act::ALL.iter().map(extra).collect()
    }

    /// What is expected of a programme with its months below at `worth` each: what the search made least.
    pub(super) fn objective(&self, programme: &Programme, worth: f64) -> f64 {
        let rate = self.terms.rate;
        programme.present(rate) + programme.below_worth(worth, rate)
    }

    /// The wet pendulum value that the floor has to show today so that no state which a programme may reach lies below what is kept.
    pub(super) fn grip_needed(&self, programme: Option<&Programme>) -> f64 {
        let figures = &self.made.base.programme.grip;
        let now = self.lane.spots[likeliest(self.start)];
        let reached = programme.map_or(now.built, |programme| programme.most_built);
        let worn = programme.is_none_or(|programme| programme.may_wear_through) && now.coats > 0;
        let built = f64::from(reached) - f64::from(now.built);
        let drop =
            built.max(0.0) * figures.per_coat + if worn { figures.worn_through } else { 0.0 };
        figures.least_ptv - drop
    }

    /// What the due rules ask for, month by month: each action after its interval, counted from its next due date or from today. New
    /// coats begin the shorter intervals anew. `times` stretches the intervals.
    pub(super) fn calendar(&self, due: &[(Due, i64)], times: f64) -> Vec<Act> {
        let clock = |key: &str, act: Act| {
            let process = self.made.prices.process(act)?;
            let row = self.made.base.programme.action(key, self.made.kind)?;
            let known = due
                .iter()
                .find(|(due, _)| row.processes.contains(&due.process));
            let days = float(known.map_or_else(
                || crate::due::interval_days(process, self.made.traffic),
                |(due, _)| due.interval_days,
            ));
            let first = known.map_or(days, |(_, in_days)| float((*in_days).max(0)));
            Some((first, days * times))
        };
        let mut buff = clock(BUFF, Act::Buff);
        let mut recoat = clock(RECOAT, Act::Recoat);
        let mut strip = clock(STRIP, Act::Strip);
        let (mut acts, mut owed) = (Vec::new(), 0);
        for month in 0..self.terms.months {
            let end = f64::from(month + 1) * MONTH_DAYS;
            let n_strips = count(&mut strip, end);
            let n_recoats = count(&mut recoat, end);
            let n_buffs = count(&mut buff, end);
            let anew = |clock: &mut Option<(f64, f64)>| {
                if let Some((next, days)) = clock {
                    *next = end + *days - MONTH_DAYS / 2.0;
                }
            };
            acts.push(match (n_strips, n_recoats, n_buffs) {
                (1.., _, _) => {
                    anew(&mut recoat);
                    anew(&mut buff);
                    owed = 0;
                    Act::Strip
                }
                (0, 1.., _) => {
                    anew(&mut buff);
                    owed = 0;
                    Act::Recoat
                }
                (0, 0, _) => buffing(n_buffs, &mut owed),
            });
        }
        acts
    }
}

/// Keeps the first month with a chance of something, and the greatest chance of it.
fn note(from: &mut Option<(usize, f64)>, month: usize, chance: f64) {
    if chance > NOTHING {
        let (first, most) = from.unwrap_or((month, 0.0));
        *from = Some((first, most.max(chance)));
    }
}

/// The buffings of a month that are due and owed from those before; of three two are done, and the third is owed.
fn buffing(n_due: u32, owed: &mut u32) -> Act {
    let n = n_due.saturating_add(*owed);
    let act = match n {
        0 => Act::Leave,
        1 => Act::Buff,
        2 | 3 => Act::BuffTwice,
        4.. => Act::BuffFour,
    };
    *owed = n.saturating_sub(u32::from(act.buffs())).min(3);
    act
}

/// How often something is due before `end`; its clock goes on.
fn count(clock: &mut Option<(f64, f64)>, end: f64) -> u32 {
    let mut n = 0;
    if let Some((next, days)) = clock {
        while *next < end {
            *next += days.max(1.0);
            n += 1;
        }
    }
    n
}

/// The state in which the floor most likely lies.
pub(super) fn likeliest(start: &[(usize, f64)]) -> usize {
    let most = start.iter().max_by(|one, other| one.1.total_cmp(&other.1));
    most.map_or(0, |(state, _)| *state)
}

#[cfg(test)]
mod tests;
