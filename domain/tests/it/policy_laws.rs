//! Policies on small models against every policy there is, and their laws.

#![expect(
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "states and actions are drawn as indices of what they index"
)]

use domain::programme::policy::{Course, Horizon, Model, Way};
use domain::programme::worth::DiscountRate;
use proptest::prelude::*;

fn rate(share: f64) -> DiscountRate {
    DiscountRate::of(share).unwrap()
}

type Ways = Vec<Vec<Option<Way>>>;

/// A way as it is drawn: its cost, states and their weights, and whether it is offered.
type Drawn = (f64, Vec<(usize, u8)>, bool);

/// Small models: every state offers action 0, and others by chance.
fn small() -> impl Strategy<Value = Ways> {
    (2_usize..5, 1_usize..4).prop_flat_map(|(n_states, n_actions)| {
        let next = proptest::collection::vec((0..n_states, 1_u8..5), 1..3);
        let way = (0.0..100.0_f64, next, any::<bool>());
        let row = proptest::collection::vec(way, n_actions);
        proptest::collection::vec(row, n_states).prop_map(|rows| {
            let one = |(action, (cost, next, is_offered)): (usize, Drawn)| {
                let total: f64 = next.iter().map(|&(_, weight)| f64::from(weight)).sum();
                let next = next
                    .into_iter()
                    .map(|(state, weight)| (state, f64::from(weight) / total));
                (action == 0 || is_offered).then(|| Way {
                    cost,
                    next: next.collect(),
                })
            };
            rows.into_iter()
                .map(|row| row.into_iter().enumerate().map(one).collect())
                .collect()
        })
    })
}

/// Every policy that offers hold.
fn policies(ways: &Ways) -> Vec<Vec<usize>> {
    ways.iter().fold(vec![vec![]], |all, row| {
        let offered: Vec<usize> = (0..row.len())
            .filter(|&action| row[action].is_some())
            .collect();
        all.iter()
            .flat_map(|begun| {
                offered
                    .iter()
                    .map(move |&action| [begun.as_slice(), &[action]].concat())
            })
            .collect()
    })
}

fn way(ways: &Ways, state: usize, action: usize) -> &Way {
    ways[state][action].as_ref().unwrap()
}

/// What a policy costs, by adding month after month until the rest is worth nothing.
fn slowly(ways: &Ways, policy: &[usize], share: f64) -> Vec<f64> {
    let factor = (1.0 + share).powf(-1.0 / 12.0);
    let mut costs = vec![0.0; ways.len()];
    for _ in 0..500 {
        costs = (0..ways.len())
            .map(|state| {
                let way = way(ways, state, policy[state]);
                way.cost
                    + way
                        .next
                        .iter()
                        .map(|&(next, chance)| factor * chance * costs[next])
                        .sum::<f64>()
            })
            .collect();
    }
    costs
}

/// Whether a policy meets only safe states from here on.
fn stays(ways: &Ways, policy: &[usize], safe: &[bool], start: usize) -> bool {
    let mut met = vec![start];
    let mut at = 0;
    while let Some(&state) = met.get(at) {
        if !safe[state] {
            return false;
        }
        for &(next, _) in &way(ways, state, policy[state]).next {
            if !met.contains(&next) {
                met.push(next);
            }
        }
        at += 1;
    }
    true
}

/// The least cost of a course by trying everything, and nothing where nothing is open.
fn by_trial(ways: &Ways, months: u32, month: u32, state: usize, shut: &[Vec<bool>]) -> Option<f64> {
    if month == months {
        return Some(0.0);
    }
    let factor = 1.07_f64.powf(-1.0 / 12.0);
    let open = |action: &usize| {
        ways[state][*action].is_some() && !shut[usize::try_from(month).unwrap()][*action]
    };
    (0..ways[state].len())
        .filter(open)
        .filter_map(|action| {
            let way = way(ways, state, action);
            way.next.iter().try_fold(way.cost, |sum, &(next, chance)| {
                Some(sum + factor * chance * by_trial(ways, months, month + 1, next, shut)?)
            })
        })
        .min_by(f64::total_cmp)
}

fn same(left: &Course, right: &Course) -> bool {
    let bits = |course: &Course| {
        course
            .costs
            .iter()
            .map(|cost| cost.map(f64::to_bits))
            .collect::<Vec<_>>()
    };
    bits(left) == bits(right) && left.actions == right.actions
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn the_policy_for_ever_is_the_cheapest_of_all_there_are(ways in small(), share in 0.9..1.0_f64) {
        let steady = Model::of(ways.clone()).unwrap().steady(rate(share)).unwrap();
        let all: Vec<_> = policies(&ways).iter().map(|policy| slowly(&ways, policy, share)).collect();
        for (state, cost) in steady.costs.iter().enumerate() {
            let least = all.iter().map(|costs| costs[state]).fold(f64::INFINITY, f64::min);
            prop_assert!((cost.unwrap() - least).abs() <= 1e-8 * (1.0 + least), "{cost:?} for {least}");
        }
    }

    #[test]
    fn no_price_leads_out_of_what_is_safe(ways in small(), safe in proptest::collection::vec(any::<bool>(), 5), price in 1.0..1e9_f64) {
        // What stays safe is made as dear as can be; a price cannot make up for it.
        let mut ways = ways;
        for way in ways.iter_mut().flatten().flatten() {
            if way.next.iter().all(|&(next, _)| safe[next]) {
                way.cost *= price;
            }
        }
        let model = Model::of(ways.clone()).unwrap().within(|state| safe[state]);
        let steady = model.steady(rate(0.035)).unwrap();
        let all = policies(&ways);
        let can_stay: Vec<bool> = (0..ways.len())
            .map(|state| all.iter().any(|policy| stays(&ways, policy, &safe, state)))
            .collect();
        for state in 0..ways.len() {
            let leads = |action: usize| ways[state][action].as_ref().is_some_and(|way| way.next.iter().all(|&(next, _)| can_stay[next]));
            for action in 0..ways[state].len() {
                prop_assert_eq!(model.offers(state, action), leads(action));
            }
            prop_assert_eq!(steady.actions[state].is_some(), (0..ways[state].len()).any(leads));
            if can_stay[state] {
                let policy: Vec<usize> = steady.actions.iter().map(|action| action.unwrap_or(0)).collect();
                prop_assert!(stays(&ways, &policy, &safe, state));
            }
        }
    }

    #[test]
    fn a_course_is_the_cheapest_by_trial_within_what_is_open(
        ways in small(),
        shut in proptest::collection::vec(proptest::collection::vec(proptest::bool::weighted(0.2), 4), 4),
        months in 1_u32..5,
    ) {
        let nothing = vec![0.0; ways.len()];
        let horizon = Horizon { months, rate: rate(0.07), at_end: &nothing };
        let model = Model::of(ways.clone()).unwrap();
        let open = |month: u32, action: usize| !shut[usize::try_from(month).unwrap()][action];
        let course = model.best_course(horizon, open).unwrap();
        for (state, cost) in course.costs.iter().enumerate() {
            match by_trial(&ways, months, 0, state, &shut) {
                Some(least) => prop_assert!((cost.unwrap() - least).abs() <= 1e-9 * (1.0 + least)),
                None => prop_assert!(cost.is_none()),
            }
            prop_assert_eq!(model.forecast(&course, state).is_some(), cost.is_some());
        }
        prop_assert!(same(&course, &model.best_course(horizon, open).unwrap()));
    }

    #[test]
    fn a_higher_rate_never_raises_what_the_best_costs(ways in small(), low in 0.01..0.5_f64, more in 0.0..0.5_f64) {
        let model = Model::of(ways).unwrap();
        let [dear, cheap] = [low, low + more].map(|share| model.steady(rate(share)).unwrap());
        for (dear, cheap) in dear.costs.iter().zip(&cheap.costs) {
            prop_assert!(cheap.unwrap() <= dear.unwrap() * (1.0 + 1e-9));
        }
    }
}
