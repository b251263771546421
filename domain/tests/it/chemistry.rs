//! What a plan says of alkali, acid, corrosive products, vapour and slurry, against published figures and by hand.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use domain::{
    knowledge::KnowledgeBase,
    plan::{Chemistry, Plan},
    survey::{FilmCondition, Goal, Limits, Neutralise, Survey, Ventilation, Wish},
};

use crate::{
    cases::{bare, polished},
    common::{base, climate},
    floors::{card, named, plan_in},
};

fn plan(base: &KnowledgeBase, survey: &Survey, wish: &Wish) -> Plan {
    plan_in(base, survey, wish, &climate(), &card("GBP"))
}

fn chemistry(base: &KnowledgeBase, survey: &Survey, wish: &Wish) -> Chemistry {
    let plan = plan(base, survey, wish);
    plan.work.expect("work").chemistry
}

fn near(actual: f64, expected: f64, tolerance: f64) {
    let off = (actual - expected).abs();
    assert!(off <= tolerance, "{actual} is not {expected} ± {tolerance}");
}

fn strip() -> (Survey, Wish) {
    let survey = polished("vinyl_composition_tile", 4, FilmCondition::Worn);
    let wish = named(
        "machine_strip_and_refinish",
        Goal::Restore,
        Limits::default(),
    );
    (survey, wish)
}

#[test]
fn rinses_are_counted_by_the_dilution_of_the_film() {
    let (mut survey, mut wish) = strip();
    survey.surroundings.water_alkalinity_mg_l = Some(100.0);
    let usual = chemistry(base(), &survey, &wish);
    let usual = usual.neutralising.expect("alkali");
    // Source: by hand with pK 6.35 and 10.33. Water of 2 mmol/L reaches pH 8.5 with 0.0183 mmol/L of base. A film of
    // 20 mL/m² under 400 mL/m² keeps 1/21. pH 11.8 is 6.31 mmol/L: ln(345)/ln(21) = 1.92; pH 13 is 100: 2.83.
    assert_eq!((usual.rinses_needed, usual.rinses_planned), (Some(2), 2));
    near(usual.rinse_ml_m2, 400.0, 1e-6);
    let heavy = ("stripper".to_owned(), "stripper_heavy".to_owned());
    wish.products.extend([heavy]);
    let strong = chemistry(base(), &survey, &wish).neutralising;
    assert_eq!(strong.and_then(|row| row.rinses_needed), Some(3));
    // What was read before the work does not make its stripper weaker; what is stronger still counts.
    survey.surroundings.residue_ph = Some(8.0);
    let read = chemistry(base(), &survey, &wish).neutralising;
    let read = read.expect("alkali");
    assert!(!read.measured);
    assert_eq!(read.rinses_needed, Some(3));
    survey.surroundings.residue_ph = Some(13.5);
    let read = chemistry(base(), &survey, &wish).neutralising;
    assert!(read.is_some_and(|row| row.measured));
    // Where the work lays no alkali itself, the reading alone tells how often to rinse.
    let wish = named("rinse_and_neutralise", Goal::Clean, Limits::default());
    let rinsed = chemistry(base(), &bare_of(13.0), &wish).neutralising;
    let rinsed = rinsed.expect("alkali");
    assert!(rinsed.measured && rinsed.rinses_needed >= Some(3));
    assert_eq!(chemistry(base(), &bare_of(8.0), &wish).neutralising, None);
}

fn bare_of(residue_ph: f64) -> Survey {
    let mut survey = bare("vinyl_sheet");
    survey.surroundings.water_alkalinity_mg_l = Some(100.0);
    survey.surroundings.residue_ph = Some(residue_ph);
    survey
}

#[test]
fn a_film_of_bleach_is_offered_no_acid() {
    // Source: common practice, no published source: acid sets chlorine free from hypochlorite.
    let mut wish = named("disinfect", Goal::Clean, Limits::default());
    let bleach = (
        "disinfectant".to_owned(),
        "disinfectant_hypochlorite".to_owned(),
    );
    wish.products.extend([bleach]);
    for material in ["ceramic_tile", "vinyl_sheet"] {
        let found = chemistry(base(), &bare(material), &wish);
        assert_eq!(found.neutralising, None, "{material}");
    }
    // Bleach that lies there already: the alkali has to come off, and the rule that keeps acid away is named.
    let mut survey = bare("ceramic_tile");
    survey.closer.recent_products = vec!["disinfectant_hypochlorite".to_owned()];
    let mut own = base().clone();
    own.rules.retain(|rule| rule.id == "bleach-meets-acid");
    let wish = named("greasy_tile_deep_clean", Goal::Clean, Limits::default());
    let found = chemistry(&own, &survey, &wish)
        .neutralising
        .expect("alkali");
    let rules: Vec<&str> = found
        .acid
        .refused_by
        .iter()
        .map(|row| row.rule.as_str())
        .collect();
    assert_eq!(rules, ["bleach-meets-acid"]);
}

#[test]
fn only_clean_water_after_the_alkali_rinses_it_off() {
    let mut own = base().clone();
    own.rules.clear();
    for row in &mut own.products {
        if row.class == "scrub_detergent" {
            row.ph_in_use = 11.0;
        }
    }
    let wish = named("new_floor_preparation", Goal::Protect, Limits::default());
    let plan = plan(&own, &bare("vinyl_sheet"), &wish).work.expect("work");
    let found = plan.chemistry.neutralising.expect("alkali");
    let laid = plan.steps.iter().rposition(|step| {
        let used = step.product.as_ref();
        used.is_some_and(|used| used.class == "scrub_detergent")
    });
    let after = plan.steps.iter().skip(laid.expect("scrubbed"));
    let rinses = after.filter(|step| step.product.is_none() && step.water.ul() > 0);
    assert_eq!(
        found.rinses_planned,
        i64::try_from(rinses.count()).expect("few")
    );
    let all = plan
        .steps
        .iter()
        .filter(|step| step.product.is_none() && step.water.ul() > 0);
    assert!(found.rinses_planned < i64::try_from(all.count()).expect("few"));
}

#[test]
fn work_without_a_rinse_says_how_many_usual_ones_it_takes() {
    let mut own = base().clone();
    own.rules.clear();
    let mut survey = bare("vinyl_sheet");
    survey.surroundings.water_alkalinity_mg_l = Some(100.0);
    let mut wish = named("wet_mop", Goal::Clean, Limits::default());
    wish.products
        .extend([("neutral_cleaner".to_owned(), "cleaner_soda".to_owned())]);
    let found = chemistry(&own, &survey, &wish)
        .neutralising
        .expect("alkali");
    // Source: by hand; pH 10 is 0.1 mmol/L, 0.0183 may stay, 20 mL/m² under 250 keeps 2/27: one.
    assert_eq!((found.rinses_planned, found.rinses_needed), (0, Some(1)));
    near(found.rinse_ml_m2, 250.0, 1e-9);
}

#[test]
fn what_is_meant_to_stay_is_not_rinsed_off() {
    let mut own = base().clone();
    own.rules.clear();
    for row in &mut own.products {
        if row.class == "polish" {
            row.ph_in_use = 9.4;
        }
    }
    let wish = named("polish", Goal::Protect, Limits::default());
    let found = chemistry(&own, &bare("vinyl_sheet"), &wish);
    assert_eq!(found.neutralising, None);
    // Source: by hand; the scrub before a densifier (pH 11.5) is the strongest that has to come off.
    let wish = named("densify_concrete", Goal::Protect, Limits::default());
    let found = chemistry(&own, &bare("concrete_bare"), &wish);
    assert!(found.neutralising.is_none_or(|row| row.residue_ph < 11.5));
}

#[test]
fn studs_and_joints_keep_more_of_the_film() {
    let mut own = base().clone();
    own.rules.clear();
    let (mut survey, wish) = strip();
    survey.surroundings.water_alkalinity_mg_l = Some(100.0);
    survey.surroundings.joints = Some(domain::survey::Joints::Open);
    // Source: by hand; 6.31 mmol/L to 0.0183, 60 mL/m² under 400 keeps 3/23: ln(345)/ln(23/3) = 2.87.
    let found = chemistry(&own, &survey, &wish)
        .neutralising
        .expect("alkali");
    assert_eq!(found.rinses_needed, Some(3));
}

#[test]
fn a_weak_acid_in_the_slurry_keeps_it_acid() {
    let mut own = base().clone();
    own.rules.clear();
    for row in &mut own.products {
        if row.class == "neutral_cleaner" {
            row.ph_in_use = 3.0;
        }
    }
    let mut survey = bare("vinyl_sheet");
    survey.surroundings.water_alkalinity_mg_l = Some(100.0);
    let wish = named("wet_mop", Goal::Clean, Limits::default());
    let slurry = chemistry(&own, &survey, &wish).slurry.expect("slurry");
    // Source: charge balance; acetic acid of pH 3.0 is 0.058 mol/L, of which water of 2 mmol/L takes next to nothing:
    // pH 3.4 in the mop's own water, where a strong acid of that pH would be used up (pH 6.4 and more).
    assert!(slurry.ph < 4.0, "{}", slurry.ph);
}

#[test]
fn a_capful_does_nothing_in_hard_water_and_acid_is_refused_where_it_harms() {
    let (mut survey, mut wish) = strip();
    wish.limits.neutralise = Some(Neutralise::Acid);
    // Source: 10 mL of 5 % vinegar in 5 L by charge balance: pH 3.79 in pure water, 6.66 with 5 mmol/L (250 mg/L).
    for (alkalinity_mg_l, ph) in [(0.0, 3.79), (250.0, 6.66)] {
        survey.surroundings.water_alkalinity_mg_l = Some(alkalinity_mg_l);
        let found = chemistry(base(), &survey, &wish);
        let acid = found.neutralising.expect("alkali").acid;
        assert!(acid.used && acid.refused_by.is_empty());
        near(acid.ph_in_water.expect("acid"), ph, 0.01);
        // Source: by hand; 400 mL/m² of 5 mmol/L hold 2 mmol/m², which 2.40 mL of 0.8326 mol/L use up.
        let used_up = alkalinity_mg_l / 250.0 * 2.402 * survey.area.m2();
        near(acid.used_up_by_water_ml, used_up, 0.01 * used_up + 1e-9);
    }
    // A floor of lime says which rule keeps acid off it; nothing else stands in the way here.
    let (mut survey, wish) = strip();
    "terrazzo_cement".clone_into(&mut survey.material);
    let mut own = base().clone();
    own.rules.retain(|rule| rule.id == "acid-refused");
    let found = chemistry(&own, &survey, &wish);
    let acid = found.neutralising.expect("alkali").acid;
    let rules: Vec<&str> = acid
        .refused_by
        .iter()
        .map(|row| row.rule.as_str())
        .collect();
    assert!(!acid.used);
    assert_eq!(rules, ["acid-refused"]);
}

#[test]
fn check_p22_products_are_corrosive_by_their_ph() {
    // Source: Regulation (EC) 1272/2008 Annex I 3.2.3.1.2: pH 2 or less, 11.5 or more, without other data.
    for (ph, burns) in [(2.0, true), (2.01, false), (11.49, false), (11.5, true)] {
        let mut own = base().clone();
        own.rules.clear();
        for row in &mut own.products {
            row.ph_undiluted = Some(ph);
        }
        let wish = named("damp_mop", Goal::Clean, Limits::default());
        let found = chemistry(&own, &bare("vinyl_sheet"), &wish);
        assert_eq!(!found.corrosive.is_empty(), burns, "{ph}");
        assert!(found.corrosive.iter().all(|row| !row.in_use));
    }
}

#[test]
fn slurry_of_a_strong_base_has_its_textbook_ph() {
    // Source: OpenStax Chemistry 2e, pH and pOH: 0.0125 M potassium hydroxide has pH 12.10; pH 12.097 by hand.
    let mut own = base().clone();
    own.rules.clear();
    for row in &mut own.products {
        row.ph_in_use = 12.097;
    }
    let mut survey = bare("vinyl_sheet");
    survey.surroundings.water_alkalinity_mg_l = Some(0.0);
    let wish = named("wet_mop", Goal::Clean, Limits::default());
    let found = plan(&own, &survey, &wish).work.expect("work");
    let slurry = found.chemistry.slurry.expect("slurry");
    let solution: f64 = found
        .steps
        .iter()
        .filter_map(|step| step.product.as_ref()?.working)
        .map(domain::quantity::Volume::l)
        .sum();
    let share = solution / (solution + found.water.clean.l());
    near(slurry.ph, 14.0 + (0.0125 * share).log10(), 0.01);
}

#[test]
fn vapour_is_that_of_a_well_mixed_room() {
    let mut survey = bare("hardwood");
    survey.surroundings.ventilation = Some(Ventilation::Extract);
    survey.surroundings.ignition_source = Some(false);
    survey.surroundings.room_volume_m3 = Some(300.0);
    survey.surroundings.air_changes_per_h = Some(2.0);
    survey.occupied = false;
    let mut wish = named("seal_wood", Goal::Protect, Limits::default());
    let solvent = ("seal".to_owned(), "seal_solvent_wood".to_owned());
    wish.products.extend([solvent]);
    let mut own = base().clone();
    own.rules.clear();
    let work = plan(&own, &survey, &wish).work.expect("work");
    let vapour = work.chemistry.vapour.expect("vapour");
    // Source: mass balance of a well-mixed room, G/Q (1 − exp(−Q t / V)): 480 g/L, half of it in the first hour.
    let coats = work.steps.iter().filter(|step| step.coat.is_some());
    let litres = coats.filter_map(|step| step.product.as_ref()?.concentrate);
    let most = litres.map(domain::quantity::Volume::l).fold(0.0, f64::max);
    let per_h = most * 480.0 * 0.5;
    let expected = per_h / (2.0 * 300.0) * (1.0 - (-2.0_f64).exp()) * 1e3;
    near(vapour.peak_mg_m3 / expected, 1.0, 1e-9);
    assert!(vapour.peak_mg_m3 > vapour.limit_mg_m3);
}

#[test]
fn no_edge_is_chipped_for_a_drop_of_vinegar_where_asbestos_is_presumed() {
    let mut tests = base().identification.iter();
    let drop = tests.find(|test| test.key == "acid_drop").expect("a test");
    assert!(drop.disturbs);
}
