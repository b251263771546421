//! What floors need together, against what each of them needs.

use domain::{
    estimate::pool::{Planned, pool},
    quantity::{Area, Volume},
    stock::Stock,
    survey::{Film, FilmCondition, FilmKind, Goal, Limits, Survey},
};

use crate::{
    cases::{STRIP, bare},
    common::{base, climate, corridor},
    floors::{card, film_for, named, plan_in},
};

#[test]
fn floors_together_are_never_dearer_than_one_by_one() {
    let mut own = base().clone();
    own.rules.clear();
    let cleaners = own.products.iter_mut();
    for row in cleaners.filter(|row| row.class == "neutral_cleaner") {
        row.dilution = 1.0;
    }
    let of = |process: &str, material: &str, m2: i64| {
        let survey = Survey {
            area: Area::from_mm2(m2 * 1_000_000),
            film: film_for(process),
            ..bare(material)
        };
        let wish = named(process, Goal::Restore, Limits::default());
        (
            survey.area,
            plan_in(&own, &survey, &wish, &climate(), &card("GBP")),
        )
    };
    // A cleaner that one process pays by the pack and the other by the litre.
    let routine = of("damp_mop", "hardwood", 40);
    let mut mixed = 0;
    for m2 in (20..2_000).step_by(60) {
        let plans = [
            of("screen_and_recoat_wood", "hardwood", m2),
            routine.clone(),
        ];
        let planned: Vec<Planned<'_>> = plans
            .iter()
            .map(|(area, plan)| Planned { area: *area, plan })
            .collect();
        let all = pool(&own, &card("GBP"), &planned, Stock::NONE).expect("an estimate");
        let works = || plans.iter().filter_map(|(_, plan)| plan.work.as_ref());
        for line in &all.products {
            let lines = works().flat_map(|work| &work.products);
            let lines = lines.filter(|one| one.product == line.product);
            let apart: i64 = lines.map(|one| one.price.amount).sum();
            // Each price is rounded to a penny.
            assert!(
                line.price.amount <= apart + 100,
                "{m2} m²: {apart} {line:?}"
            );
            mixed += i32::from(line.whole && line.ordered.less(line.total) == Volume::ZERO);
        }
        let pads = works().flat_map(|work| &work.pads);
        let apart: i64 = pads.map(|line| line.price.amount).sum();
        let together: i64 = all.pads.iter().map(|line| line.price.amount).sum();
        assert!(together <= apart + 100, "{m2} m²: {together} {apart}");
    }
    assert!(mixed > 0, "the case is met");
}

#[test]
fn a_film_that_is_stripped_twice_wears_twice_the_pads() {
    let pads = |coats: i64| {
        let mut survey = corridor();
        survey.film = Film {
            kind: Some(FilmKind::Polish),
            coats: Some(coats),
            condition: Some(FilmCondition::Yellowed),
        };
        let wish = named(STRIP, Goal::Restore, Limits::default());
        let told = plan_in(base(), &survey, &wish, &climate(), &card("GBP"));
        let lines = told.work.expect("work").pads;
        lines.iter().map(|line| line.area.m2()).fold(0.0, f64::max)
    };
    assert!(pads(10) > 1.4 * pads(6), "{} {}", pads(10), pads(6));
}
