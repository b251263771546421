//! The instruction of a floor's maker wins over general practice, and a finding names it.

use chrono::NaiveDate;
use domain::{
    plan::{Plan, PlannedStep},
    quantity::{Area, Length},
    survey::{
        AccessWindow, Film, FilmCondition, FilmKind, Goal, Limits, MakerFinish, MakerInstruction,
        Survey, Ventilation, Weekday,
    },
};

use crate::{
    common::{base, climate},
    floors::{card, named, plan_in},
};

fn instruction() -> MakerInstruction {
    let day = NaiveDate::from_ymd_opt(2026, 2, 11);
    MakerInstruction::new("care guide, edition 4".to_owned(), day.unwrap_or_default())
}

/// A polished vinyl floor whose maker says this.
fn floor(maker: MakerInstruction) -> Survey {
    Survey {
        built_year: Some(2012),
        occupied: false,
        perimeter: Some(Length::from_mm(28_000)),
        film: Film {
            kind: Some(FilmKind::Polish),
            coats: Some(4),
            condition: Some(FilmCondition::Worn),
        },
        maker_instruction: Some(maker),
        ..Survey::new("vinyl_sheet", Area::from_mm2(48_000_000))
    }
}

fn strip(survey: &Survey, limits: Limits) -> Plan {
    let wish = named("machine_strip_and_refinish", Goal::Restore, limits);
    plan_in(base(), survey, &wish, &climate(), &card("EUR"))
}

fn coats<'p>(plan: &'p Plan, class: &str) -> Vec<&'p PlannedStep> {
    let steps = plan.work.iter().flat_map(|work| &work.steps);
    let of_class = |step: &&PlannedStep| {
        let product = step.product.as_ref();
        step.coat.is_some() && product.is_some_and(|product| product.class == class)
    };
    steps.filter(of_class).collect()
}

#[test]
fn fact_k20_coats_gap_and_waits_of_the_maker_win_over_what_is_usual() {
    let mut maker = instruction();
    maker.polish_coats = Some(2);
    maker.finish = Some(MakerFinish::SealAndPolish);
    maker.seal_coats = Some(1);
    maker.edge_gap = Some(Length::from_mm(250));
    maker.waits.between_coats_min = Some(600);
    let plan = strip(&floor(maker.clone()), Limits::default());
    let polish = coats(&plan, "polish");
    assert_eq!((coats(&plan, "seal").len(), polish.len()), (1, 2));
    let gaps: Vec<i64> = polish
        .iter()
        .filter_map(|step| Some(step.coat?.gap.mm()))
        .collect();
    assert_eq!(gaps, [250, 0], "the last coat goes up to the skirting");
    let wait = polish.first().and_then(|step| step.wait.as_ref());
    let told = wait.map(|wait| (wait.maker_min, wait.used_min, wait.cause.as_str()));
    let cause = "the instruction of the floor's maker";
    assert_eq!(told, Some((Some(600), 600, cause)));

    // What the caller says is done, and warned of.
    let own = Limits {
        polish_coats: Some(4),
        ..Limits::default()
    };
    let plan = strip(&floor(maker), own);
    assert_eq!(coats(&plan, "polish").len(), 4);
    let warned = plan.findings.iter().any(|f| f.rule == "maker-overruled");
    assert!(warned, "{:?}", plan.findings);
    let without = strip(&floor(instruction()), own);
    assert!(without.findings.iter().all(|f| f.rule != "maker-overruled"));
}

#[test]
fn fact_k20_a_refusal_names_the_instruction_that_forbids_it() {
    let mut maker = instruction();
    maker.ph_max = Some(9.0);
    let plan = strip(&floor(maker), Limits::default());
    let refusal = plan
        .findings
        .iter()
        .find(|f| f.rule == "maker-too-alkaline");
    let source = refusal.map(|finding| finding.source.as_str());
    let cited = "instruction of the floor's maker: care guide, edition 4, read on 2026-02-11";
    assert_eq!(source, Some(cited));
    assert!(plan.work.is_none());
    // What the maker did not say is told with its own source.
    let other = plan.findings.iter().find(|f| f.rule == "cleanest-first");
    assert!(other.is_some_and(|finding| finding.source != cited));
}

#[test]
fn fact_k20_the_product_that_the_maker_demands_is_chosen() {
    let mop = |maker: &MakerInstruction| {
        let wish = named("wet_mop", Goal::Clean, Limits::default());
        let plan = plan_in(
            base(),
            &floor(maker.clone()),
            &wish,
            &climate(),
            &card("EUR"),
        );
        let steps = plan.work.into_iter().flat_map(|work| work.steps);
        let mut used = steps.filter_map(|step| step.product);
        used.next().map(|product| product.key)
    };
    let mut maker = instruction();
    let key = |key: &str| Some(key.to_owned());
    assert_eq!(mop(&maker), key("cleaner_neutral"));
    maker.products = vec!["detergent_scrub".to_owned()];
    assert_eq!(
        mop(&maker),
        key("cleaner_neutral"),
        "it is of another class"
    );
    maker.products = vec!["cleaner_solvent".to_owned()];
    let mut survey = floor(maker);
    survey.material = "ceramic_tile".to_owned();
    survey.surroundings.ventilation = Some(Ventilation::Extract);
    survey.surroundings.ignition_source = Some(false);
    let wish = named("wet_mop", Goal::Clean, Limits::default());
    let plan = plan_in(base(), &survey, &wish, &climate(), &card("EUR"));
    let steps = plan.work.iter().flat_map(|work| &work.steps);
    let mut used = steps.filter_map(|step| step.product.as_ref());
    assert!(used.any(|product| product.key == "cleaner_solvent"));
    assert!(
        plan.findings
            .iter()
            .all(|f| f.rule != "maker-other-product")
    );
}

#[test]
fn the_longest_access_window_of_the_floor_counts_where_the_wish_names_none() {
    let mut survey = floor(instruction());
    survey.access_windows = vec![AccessWindow {
        days: vec![Weekday::Monday, Weekday::Friday],
        from_min: 18 * 60,
        to_min: 4 * 60,
    }];
    let window = |plan: &Plan| {
        plan.work
            .as_ref()
            .and_then(|work| work.time_line.window_min)
    };
    assert_eq!(window(&strip(&survey, Limits::default())), Some(600));
    let own = Limits {
        window_min: Some(480),
        ..Limits::default()
    };
    assert_eq!(window(&strip(&survey, own)), Some(480));
    survey.access_windows.clear();
    assert_eq!(window(&strip(&survey, Limits::default())), None);
}
