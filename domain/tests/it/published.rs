//! Figures that others have published, met by whole plans and by the engine's parts. What stands here beside a number is
//! where it was printed; *as quoted* means that it was read in another text only.
//!
//! Not held, as no plan says it: the surface pH against that of the rinse water (UFC 3-190-06 section 6.7.2.1: a completion
//! tells one pH only), what a slab gives off in a day (ASTM F710 as quoted: a survey knows its humidity), loose or broken
//! tiles (US Navy NAVEDTRA 14045: no fact of damage), the temperature and flash point of what goes to the sewer (40 CFR
//! 403.5 as quoted), and equal annual cost at a rate of interest (OpenStax, *Principles of Finance*: years are compared
//! without interest).

#![expect(clippy::expect_used, reason = "a plan without work fails the test")]

use std::collections::BTreeSet;

use domain::{
    knowledge::KnowledgeBase,
    physics::psychrometrics::saturation_pressure_pa,
    plan::Plan,
    quantity::Area,
    sampling::{QualityLimit, SamplingPlan},
    survey::{Climate, FilmCondition, Goal, Limits, Strength, Survey, Traffic, Wish},
};

use crate::{
    cases::{STRIP, ask, bare, polished},
    common::{base, climate, corridor, golden_card, plan},
    floors::{card, named, plan_in},
};

fn close(value: f64, printed: f64, share: f64) -> bool {
    ((value - printed) / printed).abs() <= share
}

/// Parts of water to one of a stock of which so many percent are in the solution.
fn parts(pct: f64) -> f64 {
    let pct_thousandths = domain::quantity::whole(pct * 1e3);
    let strength = Strength {
        pct_thousandths,
        ..Strength::default()
    };
    strength.parts().expect("a share")
}

/// US CDC, *Best Practices for Environmental Cleaning in Global Healthcare Facilities*, Appendix E: parts of water are
/// the stock's percentage by the wanted one, less one. 3.5 % to 0.5 %: 6; 5 % to 0.1 %: 49.
#[test]
fn check_p25_p26_parts_of_water_to_one_of_bleach() {
    assert!(close(parts(0.5 / 3.5 * 100.0), 6.0, 1e-4));
    assert!(close(parts(0.1 / 5.0 * 100.0), 49.0, 1e-9));
    let bleach = base().product("disinfectant_hypochlorite").expect("a row");
    assert!(close(bleach.dilution, 49.0, 1e-9));
}

/// OpenStax, *Chemistry 2e*, Molarity: 5.00 L of 0.100 M from a stock of 1.59 M take about one part in sixteen.
#[test]
fn check_p28_the_inverse_of_a_dilution() {
    assert!(close(parts(0.100 / 1.59 * 100.0), 14.9, 1e-3));
}

/// Worked example of the trade: 200 m² at 0.25 L/m² are 50 L, of which 10 L are concentrate at 1:4.
#[test]
fn a_stripper_at_one_to_four_takes_a_fifth() {
    let floor = Survey {
        area: Area::from_mm2(200_000_000),
        ..corridor()
    };
    let wish = named(STRIP, Goal::Restore, Limits::default());
    let work = plan(&floor, &wish, &golden_card()).work.expect("work");
    let mut lines = work.products.iter();
    let stripper = lines.find(|line| line.class == "stripper").expect("a line");
    assert!(close(stripper.working.l(), 50.0, 1e-9));
    assert!(close(stripper.need.l(), 10.0, 1e-9));
}

/// US DoD, UFC 3-190-06 section 2.1.5: a gallon covers 1,600 ft² one mil wet, so 39.27 m² a litre lie 25.4 µm thick; 800
/// ft² two mil. A coat's water in the reason of its wait is that film's.
#[test]
fn check_p01_the_wet_film_of_a_coverage() {
    for (m2_l, printed_um) in [(39.27, 25.4), (19.635, 50.8)] {
        let mut other = base().clone();
        let rows = other
            .products
            .iter_mut()
            .filter(|row| row.class == "polish");
        for row in rows {
            row.water_share = Some(0.8);
            for table in row.coverage_first.iter_mut().chain(&mut row.coverage_next) {
                (table.none, table.low, table.medium, table.high) = (m2_l, m2_l, m2_l, m2_l);
            }
        }
        let wish = named("polish", Goal::Protect, Limits::default());
        let plan = plan_in(
            &other,
            &bare("vinyl_sheet"),
            &wish,
            &climate(),
            &card("GBP"),
        );
        let work = plan.work.expect("work");
        let mut rows = work.basis.iter();
        let row = rows.find(|row| row.id.starts_with("wait.polish_to_next"));
        let mut inputs = row.expect("a reason").inputs.iter();
        let water = inputs.find(|input| input.name == "water").expect("g/m²");
        // A litre weighs a kilogram here, so grams per m² are µm.
        assert!(
            close(water.value / 0.8, printed_um, 3e-3),
            "{}",
            water.value
        );
    }
}

/// OpenStax, *Chemistry 2e*, Molarity: what is diluted keeps what it held, C₁V₁ = C₂V₂. The concentrate of each product
/// of a plan, times its parts, is its working solution.
#[test]
fn check_p27_what_is_diluted_keeps_what_it_held() {
    let wish = named(STRIP, Goal::Restore, Limits::default());
    let work = plan(&corridor(), &wish, &golden_card()).work.expect("work");
    let mut n = 0;
    for used in work.steps.iter().filter_map(|step| step.product.as_ref()) {
        if let (Some(working), Some(concentrate)) = (used.working, used.concentrate) {
            assert!(close(
                concentrate.l() * (1.0 + used.dilution),
                working.l(),
                1e-6
            ));
            n += 1;
        }
    }
    assert!(n >= 3, "hardly any product was laid");
}

/// University of Toledo, cleaning frequencies, read in an excerpt: floors are scrubbed twice a year. A film in medium traffic
/// is scrubbed and recoated no later.
#[test]
fn check_p75_a_busy_film_is_renewed_within_half_a_year() {
    let row = base().process("scrub_and_recoat").expect("a row");
    assert!(
        row.interval_days
            .get("medium")
            .is_some_and(|days| *days <= 182)
    );
}

/// Weber State University, procedures S02 and S03 (2012), read in excerpts: a floor is stripped at 175 rpm; the finish of
/// wood comes off fully about every ten years.
#[test]
fn check_p76_rotary_speed_and_ten_years_of_a_wood_finish() {
    let rotary = base().machine("rotary_43").expect("a row");
    assert!(
        rotary
            .rpm
            .is_some_and(|[low, high]| low <= 175 && 175 <= high)
    );
    let sand = base().process("sand_wood").expect("a row");
    assert_eq!(sand.interval_days.get("medium"), Some(&3650));
}

/// US Air Force, AFCESA ETL 96-5 Change 1 (1996), coated hangar floors, read in an excerpt: one man-hour a week for 93 m²,
/// all upkeep in one; wet mopping goes at a rate of that order.
#[test]
fn check_p80_a_man_hour_for_a_thousand_square_feet() {
    let mut rates = base().rates.iter();
    let mop = rates.find(|row| row.activity == "wet_mop").expect("a row");
    let [low, _, high] = mop.per_h;
    assert!((low..=high).contains(&92.9), "{low} to {high}");
}

/// IAPWS R7-97 region 4, as printed in an open implementation: 2,339.2 Pa at 20 °C, 1,705.7 Pa at 15 °C.
#[test]
fn check_p52_saturation_pressure_by_another_formula() {
    assert!(close(saturation_pressure_pa(20.0), 2_339.2, 1e-3));
    assert!(close(saturation_pressure_pa(15.0), 1_705.7, 1e-3));
}

/// OpenStax, *Introductory Statistics*, Poisson distribution: of 100 pieces with 3 % defective, at most four are with a
/// chance of 0.8179 by the binomial.
#[test]
fn check_p67_at_most_four_of_a_hundred() {
    let plan = SamplingPlan {
        sample: 100,
        accept: 4,
        all: false,
    };
    assert!((plan.passes_share(0.03) - 0.8179).abs() < 5e-5);
}

/// Birolini, *Reliability Engineering* (2007), section 7.1, figure 7.4, plans for 0.65 %: F 20 and 0, J 80 and 1, N 500
/// and 7; read in an excerpt.
#[test]
fn check_p68_three_plans_of_a_handbook() {
    let limit = QualityLimit::of_pct(0.65).expect("of the series");
    for (lot, sample, accept) in [(150, 20, 0), (800, 80, 1), (100_000, 500, 7)] {
        let plan = SamplingPlan::new(lot, limit);
        assert_eq!((plan.sample, plan.accept), (sample, accept), "{lot}");
    }
}

/// Public custodial specifications, read in excerpts: three thin coats, elsewhere at least two.
#[test]
fn check_p73_a_polish_has_two_coats_or_more() {
    for traffic in Traffic::ALL {
        let floor = Survey {
            traffic: Some(*traffic),
            ..corridor()
        };
        let wish = named(STRIP, Goal::Restore, Limits::default());
        let work = plan(&floor, &wish, &golden_card()).work.expect("work");
        let coats = work.steps.iter().filter(|step| step.coat.is_some()).count();
        assert!(coats >= 2, "{} has {coats}", traffic.word());
    }
}

/// US Navy, *Basic Military Requirements*, NAVEDTRA 12018, chapter 18: a non-skid deck soaks for 5 min; the trade says 10
/// to 15. The lower bound is that of the deck.
#[test]
fn check_p16_a_rough_floor_soaks_for_five_minutes_at_least() {
    let work = ask(&bare("safety_vinyl"), "safety_floor_deep_clean")
        .work
        .expect("work");
    let mut dwells = work.steps.iter().filter_map(|step| step.dwell.as_ref());
    assert!(dwells.any(|dwell| dwell.least_min >= 5 && dwell.typical_min >= 10));
}

/// A facility magazine's account of a college, as quoted: 4.65 m² a man-hour for stripping and recoating in occupied,
/// furnished rooms with five to six coats, which is slower than any rate of the trade. An empty corridor with four coats
/// is done faster, but not ten times as fast.
#[test]
fn check_p81_strip_and_recoat_is_of_the_order_of_what_was_paid() {
    let wish = named(STRIP, Goal::Restore, Limits::default());
    let work = plan(&corridor(), &wish, &golden_card()).work.expect("work");
    let hours = work.labour.iter().map(|line| line.time.hours());
    let rate = 240.0 / hours.sum::<f64>();
    assert!(rate > 4.65 && rate < 46.5, "{rate}");
}

/// US DoD, UFC 3-190-06 section 7.4.1: most paints are laid at air and surface temperatures up to 90 °F, 32.2 °C.
#[test]
fn check_p02_no_film_above_ninety_fahrenheit() {
    let too_warm = |celsius: f64| {
        let air = Climate {
            air_c: celsius,
            floor_c: celsius,
            ..climate()
        };
        let wish = named("polish", Goal::Protect, Limits::default());
        let plan = plan_in(base(), &bare("vinyl_sheet"), &wish, &air, &card("GBP"));
        plan.findings
            .iter()
            .any(|finding| finding.rule == "too-warm-for-film")
    };
    assert!(!too_warm(32.2) && too_warm(32.3));
}

/// US DoD, UFC 3-190-06 section 9.6.6, has the surface 5 °F above the dew point whatever the wind: a fan alone lifts no gate
/// on the air but that nothing dries in it.
#[test]
fn check_p56_a_fan_lifts_no_gate_on_the_air() {
    let fired = |speed: f64, humidity: f64, floor_c: f64| {
        let air = Climate {
            humidity_pct: humidity,
            floor_c,
            air_speed_m_s: speed,
            ..climate()
        };
        let wish = named("polish", Goal::Protect, Limits::default());
        let plan: Plan = plan_in(base(), &bare("vinyl_sheet"), &wish, &air, &card("GBP"));
        let rules = plan.findings.into_iter().map(|finding| finding.rule);
        let of_air = [
            "too-cold-for-film",
            "too-near-dew-point",
            "too-humid-for-film",
        ];
        rules
            .filter(|rule| of_air.contains(&rule.as_str()))
            .collect::<BTreeSet<String>>()
    };
    let mut lifted = 0;
    for humidity in [50.0, 84.0, 86.0, 92.0] {
        for floor_c in [9.0, 14.0, 19.0] {
            let still = fired(0.1, humidity, floor_c);
            lifted += usize::from(!still.is_empty());
            assert_eq!(
                still,
                fired(3.0, humidity, floor_c),
                "{humidity} % {floor_c} °C"
            );
        }
    }
    assert!(lifted > 4, "hardly any gate was closed");
}

/// ANSI/ESD S20.20, as quoted: at most 1.0×10⁹ Ω to ground, so 1,000 MΩ in the hold point and in the last check.
#[test]
fn a_static_control_floor_is_read_against_a_gigohm() {
    let base = base();
    let holds = base.hold_points.iter().map(|row| (&row.key, row.most));
    let checks = base.final_checks.iter().map(|row| (&row.key, row.most));
    let limits: Vec<Option<f64>> = holds
        .chain(checks)
        .filter(|(key, _most)| *key == "resistance_to_ground")
        .map(|(_key, most)| most)
        .collect();
    assert!(!limits.is_empty());
    assert!(limits.iter().all(|most| *most == Some(1_000.0)));
}

/// Regulation (EC) 1272/2008, Annex I, 3.2.3.1.2: pH 2 or less, or 11.5 or more, counts as corrosive without other data.
#[test]
fn what_is_sold_at_a_ph_of_eleven_and_a_half_is_corrosive() {
    let told = |ph: f64| {
        let mut other = base().clone();
        let mut rows = other.products.iter_mut();
        let row = rows
            .find(|row| row.key == "stripper_alkaline")
            .expect("a row");
        row.ph_undiluted = Some(ph);
        let floor = polished("vinyl_composition_tile", 4, FilmCondition::Worn);
        let plan = strip_by(&other, &floor);
        let mut told = plan.cautions.iter();
        told.any(|row| row.caution.key == "corrosive")
    };
    assert!(told(11.5) && !told(11.49));
}

fn strip_by(base: &KnowledgeBase, floor: &Survey) -> Plan {
    let wish: Wish = named(STRIP, Goal::Restore, Limits::default());
    plan_in(base, floor, &wish, &climate(), &card("GBP"))
}
