//! Policies against a table of other libraries, and what holds of them on the floor of that table.

#![expect(
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "the table is whole and its parameters are read by their names"
)]

use domain::programme::policy::{Fault, Horizon, Model, Way};
use domain::programme::worth::{Cost, DiscountRate, net_present_value};

const FIGURES: &str = include_str!("../reference/wear_mdp.json");
const TABLE: &str = include_str!("../reference/wear_mdp.csv");
const ACTIONS: [&str; 4] = ["none", "burnish", "recoat", "strip"];

fn rate(share: f64) -> DiscountRate {
    DiscountRate::of(share).unwrap()
}

/// A figure of the table's parameters: a number, or the first of a list.
fn figures(name: &str) -> Vec<f64> {
    let (_, rest) = FIGURES.split_once(&format!("\"{name}\":")).unwrap();
    let end = if rest.trim_start().starts_with('[') {
        ']'
    } else {
        ','
    };
    rest.split(end)
        .next()
        .unwrap()
        .trim_start_matches([' ', '[', '\n'])
        .split(',')
        .map(|figure| figure.trim().parse().unwrap())
        .collect()
}

fn figure(name: &str) -> f64 {
    figures(name)[0]
}

fn count(name: &str) -> usize {
    format!("{}", figure(name)).parse().unwrap()
}

/// The model of the table. Its file of parameters does not say how a month goes; these are the rules that all its rows obey: the
/// action first, then wear; gloss falls by a Poisson number of classes, four or more counted as four; one coat at most is lost;
/// a month that ends with gloss beyond the limit or without film costs a failure; recoating is offered while coats and build-up fit.
struct Wear {
    model: Model,
    levels: [usize; 3],
}

impl Wear {
    fn of_the_table() -> Self {
        let levels = [
            count("gloss_classes"),
            count("film_levels"),
            count("buildup_levels"),
        ];
        let ways = (0..levels.iter().product())
            .map(|state| {
                (0..4)
                    .map(|action| Self::way(levels, state, action))
                    .collect()
            })
            .collect();
        Self {
            model: Model::of(ways).unwrap(),
            levels,
        }
    }

    fn parts([_, films, builds]: [usize; 3], state: usize) -> [usize; 3] {
        [
            state / (films * builds),
            state / builds % films,
            state % builds,
        ]
    }

    fn state(&self, [gloss, film, build]: [usize; 3]) -> usize {
        (gloss * self.levels[1] + film) * self.levels[2] + build
    }

    fn way(levels: [usize; 3], state: usize, action: usize) -> Option<Way> {
        let [gloss, film, build] = Self::parts(levels, state);
        let mut lost = figure("film_loss_prob_per_month");
        let [gloss, film, build] = match action {
            0 => [gloss, film, build],
            1 => {
                lost += figure("burnish_film_loss_prob");
                [gloss.saturating_sub(count("burnish_gain")), film, build]
            }
            2 => {
                let [film, build] = [film + count("recoat_coats"), build + 1];
                if film >= levels[1] || build >= levels[2] {
                    return None;
                }
                [1, film, build]
            }
            _ => [0, count("strip_coats"), 0],
        };
        let mean = figure("gloss_drop_mean_per_month");
        let mut drops = vec![(-mean).exp()];
        for fall in 1..4_u32 {
            drops.push(drops.last().unwrap() * mean / f64::from(fall));
        }
        drops.push(1.0 - drops.iter().sum::<f64>());
        let mut way = Way {
            cost: figures("cost_per_m2")[action],
            next: Vec::new(),
        };
        for (fall, drop) in drops.into_iter().enumerate() {
            for (film, share) in [(film, 1.0 - lost), (film.saturating_sub(1), lost)] {
                let gloss = (gloss + fall).min(levels[0] - 1);
                if gloss > count("gloss_class_limit") || film == 0 {
                    way.cost += figure("failure_cost_per_m2") * drop * share;
                }
                way.next
                    .push(((gloss * levels[1] + film) * levels[2] + build, drop * share));
            }
        }
        Some(way)
    }
}

// Source: numpy 2.4.6 policy iteration, confirmed by pymdptoolbox 4.0b3; table wear_mdp.csv. Its parameters are illustrative.
#[test]
fn the_policy_for_ever_agrees_with_pymdptoolbox() {
    let wear = Wear::of_the_table();
    let steady = wear
        .model
        .steady(rate(figure("real_discount_rate")))
        .unwrap();
    let mut n_rows = 0;
    for line in TABLE.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let row: Vec<&str> = line.split(',').collect();
        let at = [0, 1, 2].map(|part| row[part].parse().unwrap());
        let expected: f64 = row[3].parse().unwrap();
        let cost = steady.costs[wear.state(at)].unwrap();
        assert!((cost / expected - 1.0).abs() < 1e-9, "{line}: {cost}");
        assert_eq!(
            ACTIONS[steady.actions[wear.state(at)].unwrap()],
            row[4],
            "{line}"
        );
        n_rows += 1;
    }
    assert_eq!(n_rows, 280);
    assert!(steady.rounds <= 10, "{} rounds", steady.rounds);
}

/// Ten years at 3.5 %.
fn ten_years(at_end: &[f64]) -> Horizon<'_> {
    Horizon {
        months: 120,
        rate: rate(0.035),
        at_end,
    }
}

#[test]
fn who_ends_with_what_is_to_come_does_as_who_never_ends() {
    let model = Wear::of_the_table().model;
    let steady = model.steady(rate(0.035)).unwrap();
    let at_end: Vec<f64> = steady.costs.iter().map(|cost| cost.unwrap()).collect();
    let course = model.best_course(ten_years(&at_end), |_, _| true).unwrap();
    for (cost, expected) in course.costs.iter().zip(&at_end) {
        assert!((cost.unwrap() / expected - 1.0).abs() < 1e-9);
    }
    assert_eq!(course.actions[0], steady.actions);
}

#[test]
fn nothing_dear_is_done_in_the_last_month_of_a_lease() {
    let wear = Wear::of_the_table();
    let nothing = vec![0.0; 280];
    let course = wear
        .model
        .best_course(ten_years(&nothing), |_, _| true)
        .unwrap();
    // Worn gloss over sound film: for ever it is recoated; a month before the end the failure costs more than burnishing alone.
    let worn = wear.state([6, 3, 0]);
    let steady = wear.model.steady(rate(0.035)).unwrap();
    assert_eq!(ACTIONS[steady.actions[worn].unwrap()], "recoat");
    assert_eq!(ACTIONS[course.actions[119][worn].unwrap()], "burnish");
}

/// Does the dearest action that is due and offered: each has its interval in months.
fn calendar(model: &Model, intervals: [u32; 3]) -> impl Fn(u32, usize) -> usize + '_ {
    move |month, state| {
        (1..4)
            .rev()
            .find(|&action| {
                month > 0 && month % intervals[action - 1] == 0 && model.offers(state, action)
            })
            .unwrap_or(0)
    }
}

#[test]
fn no_fixed_interval_is_cheaper_than_the_best_course() {
    let model = Wear::of_the_table().model;
    let nothing = vec![0.0; 280];
    let best = model.best_course(ten_years(&nothing), |_, _| true).unwrap();
    for burnish in [1, 2, 3, 6] {
        for recoat in [4, 8, 12, 24] {
            for strip in [24, 36, 60] {
                let given = model
                    .given_course(
                        ten_years(&nothing),
                        calendar(&model, [burnish, recoat, strip]),
                    )
                    .unwrap();
                for (best, given) in best.costs.iter().zip(&given.costs) {
                    assert!(best.unwrap() <= given.unwrap() + 1e-9);
                }
            }
        }
    }
}

#[test]
fn what_is_forecast_month_by_month_is_worth_what_the_course_costs() {
    let wear = Wear::of_the_table();
    let nothing = vec![0.0; 280];
    let new = wear.state([0, 4, 0]);
    let holidays = |month: u32, action: usize| action < 2 || month % 12 == 6;
    let best = wear
        .model
        .best_course(ten_years(&nothing), holidays)
        .unwrap();
    let given = wear
        .model
        .given_course(ten_years(&nothing), calendar(&wear.model, [2, 8, 36]))
        .unwrap();
    for course in [&best, &given] {
        let months = wear.model.forecast(course, new).unwrap();
        let costs: Vec<Cost> = (0..)
            .zip(&months)
            .map(|(month, brought)| Cost {
                month,
                amount: brought.cost,
            })
            .collect();
        let worth = net_present_value(&costs, rate(0.035));
        assert!((worth / course.costs[new].unwrap() - 1.0).abs() < 1e-9);
        for (month, brought) in (0..).zip(&months) {
            assert!((brought.actions.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            assert!((brought.states.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            if std::ptr::eq(course, &raw const best) && month % 12 != 6 {
                assert!(brought.actions[2] + brought.actions[3] <= 0.0);
            }
        }
    }
    let n_coatings: f64 = wear
        .model
        .forecast(&best, new)
        .unwrap()
        .iter()
        .map(|month| month.actions[2])
        .sum();
    assert!(n_coatings > 1.0, "{n_coatings}");
}

#[test]
fn what_cannot_be_is_refused_by_its_place() {
    let stay = |cost: f64| {
        Some(Way {
            cost,
            next: vec![(0, 1.0)],
        })
    };
    assert_eq!(Model::of(vec![]), Err(Fault::States));
    assert_eq!(Model::of(vec![vec![stay(0.0)]; 1001]), Err(Fault::States));
    assert_eq!(Model::of(vec![vec![]]), Err(Fault::Actions(0)));
    assert_eq!(
        Model::of(vec![vec![stay(0.0)], vec![stay(0.0); 2]]),
        Err(Fault::Actions(1))
    );
    assert_eq!(
        Model::of(vec![vec![stay(0.0)], vec![None]]),
        Err(Fault::Stuck(1))
    );
    let wrong = [
        Way {
            cost: f64::NAN,
            next: vec![(0, 1.0)],
        },
        Way {
            cost: 0.0,
            next: vec![(0, 0.9)],
        },
        Way {
            cost: 0.0,
            next: vec![(0, 1.5), (0, -0.5)],
        },
        Way {
            cost: 0.0,
            next: vec![(1, 1.0)],
        },
        Way {
            cost: 0.0,
            next: vec![],
        },
    ];
    for way in wrong {
        let fault = Model::of(vec![vec![stay(0.0), Some(way)]]);
        assert_eq!(
            fault,
            Err(Fault::Way {
                state: 0,
                action: 1
            })
        );
    }
    let model = Model::of(vec![vec![stay(1.0)]]).unwrap();
    assert_eq!(model.steady(rate(0.0)), Err(Fault::Rate));
    for (months, at_end) in [
        (0, vec![0.0]),
        (601, vec![0.0]),
        (1, vec![]),
        (1, vec![f64::NAN]),
    ] {
        let horizon = Horizon {
            months,
            rate: rate(0.0),
            at_end: &at_end,
        };
        assert_eq!(model.best_course(horizon, |_, _| true), Err(Fault::Horizon));
    }
}
