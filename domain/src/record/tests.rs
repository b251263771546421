//! A completion against its plan: money to the cent, shares that never exceed the whole.

use super::{LedgerLine, PlanPart, Promised, Reported, Used, deviations, price, share_ppm};
use crate::{
    card::{RateCard, Share},
    estimate::cost::LineKind,
    knowledge::KnowledgeBase,
    money::{Currency, Money},
    plan::Stage,
    quantity::{Area, Labour, Volume},
};

fn euro(text: &str) -> Money {
    let currency: Currency = "EUR".parse().expect("a code");
    Money::parse(text, currency).expect("an amount")
}

fn card() -> RateCard {
    let base = KnowledgeBase::builtin().expect("usable");
    let mut card = RateCard::defaults(base, euro("0").currency).expect("usable");
    card.labour_per_h = euro("20");
    card.overhead = Share::from_pct(10.0).expect("legal");
    card.margin = Share::from_pct(20.0).expect("legal");
    card.tax = Share::from_pct(25.0).expect("legal");
    card
}

fn planned() -> Vec<LedgerLine> {
    vec![LedgerLine {
        kind: LineKind::Labour,
        stage: Some(Stage::Prepare),
        product_class: None,
        labour: Labour::from_minutes(600),
        volume: Volume::ZERO,
        amount: euro("200"),
    }]
}

fn reported() -> Reported {
    Reported {
        labour: vec![(Stage::Prepare, Labour::from_minutes(330))],
        products: vec![Used {
            product: "polish_emulsion".to_owned(),
            stage: Stage::Protect,
            volume: Volume::from_ml(10_000),
        }],
        ..Reported::default()
    }
}

/// The first part of a plan.
fn part(share_ppm: i64) -> PlanPart {
    PlanPart::next(super::WHOLE_PPM, share_ppm)
}

#[test]
fn thirds_of_a_plan_add_up_to_the_plan() {
    let base = KnowledgeBase::builtin().expect("usable");
    let plan = [LedgerLine {
        amount: euro("100"),
        labour: Labour::from_seconds(10),
        volume: Volume::from_ml(1),
        ..planned().remove(0)
    }];
    let (mut left, mut planned) = (super::WHOLE_PPM, Vec::new());
    for _third in 0..3 {
        let share = share_ppm(Area::from_mm2(1), Area::from_mm2(3), left);
        let part = PlanPart::next(left, share);
        let lines = price(base, &card(), &plan, part, &Reported::default()).expect("priced");
        let of_plan = lines.iter().find(|line| line.stage.is_some());
        planned.push(of_plan.expect("a line").clone());
        left -= share;
    }
    assert_eq!(left, 0);
    let money: Vec<i64> = planned.iter().map(|line| line.planned.amount).collect();
    assert_eq!(money, [333_300, 333_400, 333_300]);
    let labour: Labour = planned.iter().map(|line| line.planned_labour).sum();
    let volume: Volume = planned.iter().map(|line| line.planned_volume).sum();
    assert_eq!(
        (labour, volume),
        (Labour::from_seconds(10), Volume::from_ml(1))
    );
}

#[test]
fn half_a_floor_is_held_against_half_of_its_plan() {
    let base = KnowledgeBase::builtin().expect("usable");
    let share = share_ppm(Area::from_mm2(50), Area::from_mm2(100), super::WHOLE_PPM);
    let lines = price(base, &card(), &planned(), part(share), &reported()).expect("priced");
    let labour = lines
        .iter()
        .find(|line| line.kind == Some(LineKind::Labour))
        .expect("a line");
    assert_eq!(labour.planned, euro("100"));
    assert_eq!(labour.planned_labour, Labour::from_minutes(300));
    // 5.5 h at 20.00; 10 L at 4.20; 10 % overhead on 152.00; margin so that it is 20 % of the price; tax 25 %.
    assert_eq!(labour.actual, euro("110"));
    let of = |kind| {
        lines
            .iter()
            .find(|line| line.kind == Some(kind))
            .expect("a line")
            .actual
    };
    assert_eq!(of(LineKind::Product), euro("42"));
    assert_eq!(of(LineKind::Overhead), euro("15.20"));
    assert_eq!(of(LineKind::Margin), euro("41.80"));
    assert_eq!(of(LineKind::Tax), euro("52.25"));
}

#[test]
fn what_nobody_reports_cost_what_was_planned() {
    let base = KnowledgeBase::builtin().expect("usable");
    let pads = LedgerLine {
        kind: LineKind::Consumable,
        stage: None,
        product_class: None,
        labour: Labour::ZERO,
        volume: Volume::ZERO,
        amount: euro("6"),
    };
    let plan = [planned(), vec![pads]].concat();
    let lines = price(
        base,
        &card(),
        &plan,
        part(super::WHOLE_PPM / 2),
        &Reported::default(),
    )
    .expect("priced");
    let of = |kind| {
        lines
            .iter()
            .find(|line| line.kind == Some(kind))
            .expect("a line")
            .actual
    };
    assert_eq!(of(LineKind::Consumable), euro("3"));
    assert_eq!(of(LineKind::Overhead), euro("0.30"));
}

#[test]
fn what_was_charged_counts_and_what_was_computed_is_kept() {
    let base = KnowledgeBase::builtin().expect("usable");
    let charged = Reported {
        charged: Some(euro("180")),
        ..reported()
    };
    let lines = price(base, &card(), &planned(), part(super::WHOLE_PPM), &charged).expect("priced");
    let net: i64 = lines
        .iter()
        .filter(|line| line.kind != Some(LineKind::Tax))
        .map(|line| line.actual.amount)
        .sum();
    let computed: i64 = lines
        .iter()
        .filter(|line| line.kind != Some(LineKind::Tax))
        .map(|line| line.computed.amount)
        .sum();
    assert_eq!(net, euro("180").amount);
    assert_eq!(computed, euro("209").amount);
}

#[test]
fn a_plan_is_never_used_up_twice() {
    let whole = Area::from_mm2(100);
    assert_eq!(share_ppm(whole, whole, 400_000), 400_000);
    assert_eq!(share_ppm(whole, whole, -1), 0);
    assert_eq!(
        share_ppm(Area::from_mm2(300), whole, super::WHOLE_PPM),
        super::WHOLE_PPM
    );
}

#[test]
fn every_contradiction_is_flagged() {
    let promised = Promised {
        polish_coats: 4,
        products: vec!["stripper_alkaline".to_owned()],
        least_wait: Labour::from_minutes(120),
        ph_hundredths: Some((700, 850)),
        exceeded: true,
        ..Promised::default()
    };
    let report = Reported {
        polish_coats: Some(3),
        elapsed: Labour::from_minutes(90),
        ..reported()
    };
    let codes: Vec<_> = deviations(&promised, &report)
        .iter()
        .map(|found| found.code)
        .collect();
    assert_eq!(
        codes,
        [
            "fewer_polish_coats",
            "other_product",
            "no_ph_reading",
            "too_fast_for_waits",
            "area_exceeds_plan"
        ]
    );
    let read = Reported {
        surface_ph_hundredths: Some(1_000),
        ..Reported::default()
    };
    let found = deviations(
        &Promised {
            least_wait: Labour::ZERO,
            ..promised
        },
        &read,
    );
    assert!(found.iter().any(|found| found.code == "ph_outside_limits"));
}

/// Standard costing, as textbooks of cost accounting have it (from memory): hours beyond the plan at the planned rate, litres at
/// the planned price; the rest is the price.
#[test]
fn hours_and_litres_beyond_the_plan_count_at_its_rates() {
    let base = KnowledgeBase::builtin().expect("usable");
    let mut card = card();
    card.labour_per_h = euro("25");
    let polish = LedgerLine {
        kind: LineKind::Product,
        stage: Some(Stage::Protect),
        product_class: Some("polish".to_owned()),
        labour: Labour::ZERO,
        volume: Volume::from_ml(12_000),
        amount: euro("60"),
    };
    let plan = [planned().remove(0), polish];
    let report = Reported {
        labour: vec![
            (Stage::Prepare, Labour::from_minutes(12 * 60)),
            (Stage::Maintain, Labour::from_minutes(60)),
        ],
        ..reported()
    };
    let told = |report: &Reported| {
        let lines = price(base, &card, &plan, part(super::WHOLE_PPM), report).expect("priced");
        let sum = |of: fn(&super::RecordLine) -> Money| {
            lines.iter().map(|line| of(line).amount).sum::<i64>()
        };
        (sum(|line| line.productivity), sum(|line| line.quantity))
    };
    // 10 h were planned at 20: 2 h more. An hour in a stage that has none planned counts as computed, at 25.
    // 12 L were planned at 5: 2 L fewer.
    assert_eq!(told(&report), (400_000 + 250_000, -100_000));
    let charged = Reported {
        labour: Vec::new(),
        products: Vec::new(),
        charged: Some(euro("500")),
        ..reported()
    };
    assert_eq!(
        told(&charged),
        (0, 0),
        "a charge that tells no hours and no litres"
    );
    let idle = Reported {
        labour: Vec::new(),
        ..reported()
    };
    assert_eq!(
        told(&idle).0,
        -2_000_000,
        "hours that were saved altogether"
    );
}

#[test]
fn water_and_vapour_go_with_the_litres_that_were_used() {
    let base = KnowledgeBase::builtin().expect("usable");
    let key = |key: &str| Reported {
        products: vec![Used {
            product: key.to_owned(),
            stage: Stage::Prepare,
            volume: Volume::from_ml(2_500),
        }],
        ..Reported::default()
    };
    let mut seen = [false, false];
    for product in &base.products {
        let lines = price(base, &card(), &[], part(0), &key(&product.key)).expect("priced");
        let line = lines
            .iter()
            .find(|line| line.kind == Some(LineKind::Product))
            .expect("a line");
        assert!(
            (line.water.l() - 2.5 * product.dilution).abs() < 1e-6,
            "{}",
            product.key
        );
        let known = product.voc_g_l.map(|content| (2.5 * content * 1e3, 0));
        let (mg, unknown_ml) = known.unwrap_or((0.0, 2_500));
        assert!(
            (crate::quantity::float(line.voc_mg) - mg).abs() <= 0.5,
            "{}",
            product.key
        );
        assert_eq!(
            line.voc_unknown.ml_half_even(),
            unknown_ml,
            "{}",
            product.key
        );
        seen[usize::from(product.voc_g_l.is_some())] = true;
    }
    assert_eq!(seen, [true, true]);
}

#[test]
fn a_product_that_two_stages_use_is_one_deviation() {
    let mut reported = reported();
    let mut other = reported.products.first().expect("a product").clone();
    other.stage = Stage::Prepare;
    reported.products.push(other);
    let found = deviations(&Promised::default(), &reported);
    let others = found.iter().filter(|row| row.code == "other_product");
    assert_eq!(others.count(), 1);
}
