//! What holds for every floor, whatever the figures in the knowledge base are.

#![expect(
    clippy::expect_used,
    reason = "a law that cannot be put to the test must stop"
)]

use std::collections::BTreeSet;

use domain::{
    estimate::cost::LineKind,
    knowledge::{KnowledgeBase, Severity},
    plan::{Plan, Verdict, Work},
    quantity::{Area, Labour, Length},
    survey::{Asbestos, Climate, Goal, Limits, Skill, Survey, Wish},
};
use proptest::{prelude::*, sample::select};

use crate::{
    common::{base, climate, keys},
    floors::{
        any_climate, any_floor, any_limits, any_process, any_survey, any_wish, card, cases,
        film_for, named, plan_in,
    },
};

fn plan(survey: &Survey, wish: &Wish) -> Plan {
    plan_in(base(), survey, wish, &climate(), &card("GBP"))
}

/// The work of one process, if it is allowed on this floor.
fn work(floor: &Survey, process: &str, limits: Limits) -> Option<Work> {
    let survey = Survey {
        film: film_for(process),
        ..floor.clone()
    };
    plan(&survey, &named(process, Goal::Restore, limits)).work
}

fn labour(work: &Work) -> Labour {
    work.labour.iter().map(|line| line.time).sum()
}

/// The same shape with its area `times` as large.
fn grown(floor: &Survey, times: f64) -> Survey {
    let area = Area::from_m2(floor.area.m2() * times).expect("legal");
    let edge = floor
        .perimeter
        .and_then(|edge| Length::from_m(edge.m() * times.sqrt()));
    Survey {
        area,
        perimeter: edge,
        ..floor.clone()
    }
}

/// A verdict's place from the mildest to the hardest.
fn hardness(verdict: Verdict) -> usize {
    let place = Verdict::ALL.iter().position(|known| *known == verdict);
    place.expect("a verdict")
}

fn rules(plan: &Plan, severity: Severity) -> BTreeSet<String> {
    let fired = plan.findings.iter().filter(|f| f.severity == severity);
    fired.map(|finding| finding.rule.clone()).collect()
}

/// One fact that gets worse by `step`.
fn worsen(survey: &mut Survey, air: &mut Climate, what: &str, step: f64) {
    let raised = |value: Option<f64>| value.map(|value| (value + step).min(100.0));
    match what {
        "moisture" => survey.moisture_rh_pct = raised(survey.moisture_rh_pct),
        "humidity" => air.humidity_pct = (air.humidity_pct + step).min(99.0),
        "grip" => survey.ptv_wet = survey.ptv_wet.map(|value| (value - step).max(0.0)),
        // Few coats are a danger of their own where asbestos lies below; build-up counts from a thick film on.
        "coats" => survey.film.coats = survey.film.coats.map(|coats| coats.max(8) + 3),
        _ => survey.built_year = survey.built_year.map(|year| year - 30),
    }
}

fn shuffled(order: &[prop::sample::Index]) -> KnowledgeBase {
    let mut base = base().clone();
    for (at, index) in order.iter().enumerate().take(base.processes.len()) {
        let other = index.index(base.processes.len());
        base.processes.swap(at, other);
    }
    base
}

fn adds_up(work: &Work) -> Result<(), TestCaseError> {
    let cost = &work.cost;
    let sum = |without: &[LineKind]| -> i64 {
        let counted = cost
            .lines
            .iter()
            .filter(|line| !without.contains(&line.kind));
        counted.map(|line| line.amount.amount).sum()
    };
    prop_assert_eq!(cost.gross.amount, sum(&[]));
    prop_assert_eq!(cost.net.amount, sum(&[LineKind::Tax]));
    prop_assert_eq!(cost.tax.amount, cost.gross.amount - cost.net.amount);
    for line in &cost.lines {
        prop_assert_eq!(line.amount.shown(), line.amount, "{}", line.what);
    }
    for line in &work.labour {
        let of = |step: &&domain::plan::PlannedStep| {
            step.activity.as_ref() == Some(&line.activity) && step.stage == line.stage
        };
        let steps: Vec<i64> = work
            .steps
            .iter()
            .filter(of)
            .map(|s| s.labour.us())
            .collect();
        let apart = (steps.iter().sum::<i64>() - line.time.us()).abs();
        let n_steps = i64::try_from(steps.len()).expect("few");
        prop_assert!(apart <= n_steps, "{}: {} µs", line.activity, apart);
    }
    for line in &work.products {
        let held: i64 = line
            .packs
            .iter()
            .map(|pack| pack.count * pack.size_ml)
            .sum();
        prop_assert_eq!(line.ordered.ul(), held * 1_000);
        prop_assert!(
            line.ordered.ul() + 10 >= line.total.ul(),
            "{}",
            line.product
        );
        prop_assert!(line.total == line.need.plus(line.loss));
    }
    Ok(())
}

fn is_told_why(work: &Work) -> Result<(), TestCaseError> {
    let mut ids = BTreeSet::new();
    for basis in &work.basis {
        prop_assert!(ids.insert(basis.id.as_str()), "{} stands twice", basis.id);
        prop_assert!(basis.result.is_finite() && !basis.source.is_empty());
    }
    let labour = work.labour.iter().map(|line| &line.basis);
    let products = work.products.iter().map(|line| &line.basis);
    let pads = work.pads.iter().map(|line| &line.basis);
    let waits = work.steps.iter().filter_map(|step| step.wait.as_ref());
    let waits = waits.map(|wait| &wait.basis);
    for named in labour.chain(products).chain(pads).chain(waits) {
        prop_assert!(ids.contains(named.as_str()), "{named} is missing");
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(256))]

    #[test]
    fn a_larger_floor_never_takes_less(
        floor in any_floor(),
        process in any_process(),
        limits in any_limits(),
        times in 1.05..4.0_f64,
    ) {
        let larger = grown(&floor, times);
        if let (Some(small), Some(large)) = (work(&floor, &process, limits), work(&larger, &process, limits)) {
            prop_assert!(labour(&large) >= labour(&small));
            prop_assert!(large.time_line.elapsed >= small.time_line.elapsed);
            prop_assert!(large.cost.net.amount >= small.cost.net.amount);
            prop_assert!(large.water.slurry >= small.water.slurry);
            prop_assert_eq!(large.products.len(), small.products.len());
            for (large, small) in large.products.iter().zip(&small.products) {
                prop_assert!(large.total >= small.total && large.ordered >= small.ordered);
                prop_assert!(large.price.amount >= small.price.amount);
            }
        }
    }

    #[test]
    fn two_halves_never_take_less_labour_than_the_whole(
        floor in any_floor(),
        process in any_process(),
        share in 0.1..0.9_f64,
    ) {
        let whole = Survey { perimeter: None, ..floor };
        let one = grown(&whole, share);
        let rest = Survey { area: whole.area.less(one.area), ..whole.clone() };
        let of = |floor: &Survey| work(floor, &process, Limits::default());
        if let (Some(whole), Some(one), Some(rest)) = (of(&whole), of(&one), of(&rest)) {
            let apart = labour(&one).plus(labour(&rest));
            // The edge is kept in mm: a millimetre at 25 m/h is a seventh of a second.
            prop_assert!(apart.plus(Labour::from_seconds(1)) >= labour(&whole));
        }
    }

    #[test]
    fn a_bigger_crew_never_makes_the_work_longer(
        floor in any_floor(),
        process in any_process(),
        limits in any_limits(),
        (crew, more) in (1_i64..12, 1_i64..12),
    ) {
        let of = |crew| work(&floor, &process, Limits { crew_size: Some(crew), ..limits });
        if let (Some(small), Some(large)) = (of(crew), of(crew + more)) {
            // Each block is shared out to the microsecond.
            let slack = Labour::from_us(1_000);
            prop_assert!(large.time_line.elapsed <= small.time_line.elapsed.plus(slack));
            prop_assert!(labour(&large) >= labour(&small), "each of them is no faster");
        }
    }

    #[test]
    fn more_skill_never_makes_the_work_longer(
        floor in any_floor(),
        process in any_process(),
        limits in any_limits(),
    ) {
        let of = |skill| work(&floor, &process, Limits { skill: Some(skill), ..limits });
        let done: Vec<Option<Work>> = Skill::ALL.iter().copied().map(of).collect();
        for pair in done.windows(2) {
            if let [Some(less), Some(more)] = pair {
                prop_assert!(labour(more) <= labour(less));
                prop_assert!(more.time_line.elapsed <= less.time_line.elapsed);
                prop_assert!(more.cost.net.amount <= less.cost.net.amount);
            }
        }
        let told = of(Skill::Trained).map(|work| labour(&work));
        let untold = work(&floor, &process, Limits { skill: None, ..limits });
        prop_assert_eq!(told, untold.map(|work| labour(&work)));
    }

    #[test]
    fn a_wetter_room_never_shortens_a_wait(
        floor in any_floor(),
        process in any_process(),
        air in any_climate(),
        more in 0.0..20.0_f64,
    ) {
        let survey = Survey { film: film_for(&process), ..floor };
        let wish = named(&process, Goal::Restore, Limits::default());
        let in_air = |air: &Climate| plan_in(base(), &survey, &wish, air, &card("GBP")).work;
        let wetter = Climate { humidity_pct: (air.humidity_pct + more).min(99.0), ..air };
        if let (Some(dry), Some(wet)) = (in_air(&air), in_air(&wetter)) {
            for (dry, wet) in dry.steps.iter().zip(&wet.steps) {
                let minutes = |step: &domain::plan::PlannedStep| {
                    step.wait.as_ref().map(|wait| (wait.p50_min, wait.used_min))
                };
                let (dry, wet) = (minutes(dry), minutes(wet));
                prop_assert!(dry.map(|w| w.0) <= wet.map(|w| w.0) && dry.map(|w| w.1) <= wet.map(|w| w.1));
            }
        }
    }

    #[test]
    fn a_worse_floor_is_never_judged_more_mildly(
        floor in any_survey(),
        process in any_process(),
        air in any_climate(),
        what in select(vec!["moisture", "humidity", "grip", "coats", "year"]),
        step in 1.0..40.0_f64,
    ) {
        let wish = named(&process, Goal::Restore, Limits::default());
        // Without a window: whether the work fits is another question than whether it may be done.
        let before = plan_in(base(), &floor, &wish, &air, &card("GBP"));
        let (mut worse, mut worse_air) = (floor.clone(), air);
        worsen(&mut worse, &mut worse_air, what, step);
        let after = plan_in(base(), &worse, &wish, &worse_air, &card("GBP"));
        let kept = |severity| {
            let gone: Vec<_> = rules(&before, severity).difference(&rules(&after, severity)).cloned().collect();
            gone
        };
        let mut gone = kept(Severity::Refuse);
        // A warning may turn into a refusal, never into silence.
        if rules(&after, Severity::Refuse).is_subset(&rules(&before, Severity::Refuse)) {
            gone.extend(kept(Severity::Warn));
        }
        // A thick film is the one thing that makes more coats safer: over asbestos, and under a fast pad.
        let thin = ["asbestos-confirmed-thin-film", "burnish-on-thin-film"];
        gone.retain(|rule| what != "coats" || !thin.contains(&rule.as_str()));
        // Damper air has one good side: what is laid to work does not dry up.
        let dries = ["solution-dries-early", "solution-left-to-dry"];
        gone.retain(|rule| what != "humidity" || !dries.contains(&rule.as_str()));
        prop_assert!(gone.is_empty(), "{what}: {gone:?}");
        let milder = hardness(after.verdict) < hardness(before.verdict);
        let was_thin = before.findings.iter().any(|finding| thin.contains(&finding.rule.as_str()));
        let thicker = what == "coats" && (floor.asbestos == Asbestos::Confirmed || was_thin);
        let dried = before.findings.iter().any(|finding| dries.contains(&finding.rule.as_str()));
        let wetter = what == "humidity" && dried;
        prop_assert!(!milder || thicker || wetter, "{what}");
    }

    #[test]
    fn every_answer_says_what_comes_next(floor in any_survey(), wish in any_wish(), air in any_climate()) {
        let made = plan_in(base(), &floor, &wish, &air, &card("GBP"));
        let refused = !rules(&made, Severity::Refuse).is_empty();
        let warned = !rules(&made, Severity::Warn).is_empty();
        match made.verdict {
            Verdict::Refused => prop_assert!(refused && made.work.is_none()),
            Verdict::NeedsInformation => {
                prop_assert!(made.work.is_none() && !made.questions.is_empty(), "{}", made.process);
                for question in &made.questions {
                    prop_assert!(base().question(&question.fact).is_some(), "{}", question.fact);
                }
            }
            Verdict::AllowedWithWarnings => prop_assert!(warned && made.work.is_some()),
            Verdict::Allowed => prop_assert!(!warned && made.work.is_some()),
        }
        if made.work.is_some() {
            prop_assert!(!refused && made.questions.is_empty());
            prop_assert!(wish.process.is_some() || made.candidates[0].suits == Some(true), "{}", made.process);
        }
        prop_assert!(!keys(&made.instead).contains(&made.process.as_str()) && !keys(&made.meanwhile).contains(&made.process.as_str()));
    }

    #[test]
    fn the_same_question_gets_the_same_answer(floor in any_survey(), wish in any_wish()) {
        prop_assert_eq!(plan(&floor, &wish), plan(&floor, &wish));
    }

    #[test]
    fn the_order_of_processes_in_the_file_does_not_matter(
        floor in any_survey(),
        wish in any_wish(),
        order in prop::collection::vec(any::<prop::sample::Index>(), 20),
    ) {
        let mixed = plan_in(&shuffled(&order), &floor, &wish, &climate(), &card("GBP"));
        let mut expected = plan(&floor, &wish);
        // Who asks for a fact is listed in the order of asking.
        let sorted = |mut plan: Plan| {
            plan.questions.sort_by(|a, b| a.fact.cmp(&b.fact));
            plan
        };
        expected = sorted(expected);
        prop_assert_eq!(sorted(mixed), expected);
    }

    #[test]
    fn sums_are_those_of_their_parts(
        floor in any_floor(),
        process in any_process(),
        limits in any_limits(),
    ) {
        if let Some(work) = work(&floor, &process, limits) {
            adds_up(&work)?;
            is_told_why(&work)?;
        }
    }

    #[test]
    fn early_coats_keep_the_gap_and_the_last_goes_to_the_wall(
        floor in any_floor(),
        process in any_process(),
        limits in any_limits(),
    ) {
        if let Some(work) = work(&floor, &process, limits) {
            let gap = limits.edge_gap.map_or(base().factors.edge_gap_mm, Length::mm);
            for coat in work.steps.iter().filter_map(|step| step.coat) {
                let expected = if coat.number < coat.of { gap } else { 0 };
                prop_assert_eq!(coat.gap.mm(), expected);
                prop_assert!(coat.area <= floor.area && coat.number <= coat.of);
            }
        }
    }
}
