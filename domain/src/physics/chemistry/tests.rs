//! pH and rinsing against published values and their own laws.

use proptest::prelude::*;

use super::*;

type Checked = Result<(), Box<dyn std::error::Error>>;

fn near(actual: f64, expected: f64, tolerance: f64) {
    assert!(
        (actual - expected).abs() <= tolerance,
        "{actual} is not {expected} ± {tolerance}"
    );
}

fn acetic(mol_l: f64) -> Concentrations {
    Concentrations {
        acetic: mol_l,
        ..Concentrations::default()
    }
}

fn ph(totals: Concentrations) -> Result<f64, RefusedValues> {
    Ok(Solution::new(totals)?.ph())
}

#[test]
fn check_p20_hydronium_of_weak_acetic_acid() -> Checked {
    // Source: OpenStax Chemistry 2e, Relative Strengths of Acids and Bases, worked example (0.0787 M, 0.00118 M).
    near(10_f64.powf(-ph(acetic(0.0787))?), 0.001_18, 0.000_02);
    Ok(())
}

#[test]
fn check_p21_tenth_molar_acetic_acid() -> Checked {
    // Source: OpenStax Chemistry 2e, same section, check question: pH 2.89 and 1.3 % ionised.
    let value = ph(acetic(0.10))?;
    near(value, 2.89, 0.015);
    near(10_f64.powf(-value) / 0.10, 0.013, 0.0005);
    // Source: calculated from Ka 1.75e-5 in closed form: 2.881.
    near(value, 2.881, 0.001);
    Ok(())
}

#[test]
fn check_p22_white_vinegar() -> Checked {
    // Source: OpenStax Chemistry 2e, same section, exercise: 5.0 % by mass, 1.007 g/cm³, pH 2.41.
    near(ph(acetic(0.05 * 1007.0 / 60.05))?, 2.41, 0.01);
    Ok(())
}

#[test]
fn check_p23_potassium_hydroxide() -> Checked {
    // Source: OpenStax Chemistry 2e, pH and pOH: 0.0125 M is pH 12.10, 2.5 M is pH 14.4.
    let base = |strong_base| {
        ph(Concentrations {
            strong_base,
            ..Concentrations::default()
        })
    };
    near(base(0.0125)?, 12.10, 0.005);
    near(base(2.5)?, 14.4, 0.005);
    Ok(())
}

#[test]
fn check_p24_equal_acetic_acid_and_acetate() -> Checked {
    // Source: OpenStax Chemistry 2e, Buffers: pH 4.74 with Ka 1.8e-5; ours is 1.75e-5, hence 0.02.
    near(
        ph(Concentrations {
            acetic: 0.2,
            strong_base: 0.1,
            ..Concentrations::default()
        })?,
        4.74,
        0.02,
    );
    // Source: same book, Polyprotic Acids: Ka1 4.3e-7 and Ka2 4.7e-11.
    near(-CARBONIC.0.log10(), -(4.3e-7_f64).log10(), 0.02);
    near(-CARBONIC.1.log10(), -(4.7e-11_f64).log10(), 0.005);
    Ok(())
}

#[test]
fn vinegar_for_ten_litres_of_residue() -> Checked {
    // Source: calculated by hand for a strong base, (10^-(14 - pH) · 10 L / 0.8326 mol/L).
    for (residue_ph, ml) in [(11.0, 12.0), (11.5, 38.0), (12.0, 120.0), (12.5, 380.0)] {
        near(vinegar_for_residue_ml(10.0, residue_ph)?, ml, ml * 0.006);
    }
    Ok(())
}

#[test]
fn vinegar_that_only_consumes_the_alkalinity_of_a_bucket() {
    // Source: calculated by hand: 5 L at 50, 100, 200, 250, 300 mg/L CaCO3 take 6, 12, 24, 30, 36 mL.
    for (mg_l, ml) in [
        (50.0, 6.0),
        (100.0, 12.0),
        (200.0, 24.0),
        (250.0, 30.0),
        (300.0, 36.0),
    ] {
        near(vinegar_ml(alkalinity_mol_l(mg_l) * 5.0), ml, 0.05);
    }
}

#[test]
fn a_capful_in_a_bucket_of_tap_water() -> Checked {
    // Source: a separate calculation for tap water of pH 7.8, which holds some carbonic acid already; hence 0.06.
    for (mg_l, expected) in [(100.0, 5.82), (200.0, 6.48), (250.0, 6.62), (300.0, 6.72)] {
        near(
            Solution::vinegar_in_water(10.0, 5.0, alkalinity_mol_l(mg_l))?.ph(),
            expected,
            0.06,
        );
    }
    Ok(())
}

#[test]
fn acid_to_reach_ph_8_5() -> Checked {
    // Source: the titration curves behind ph.csv: about 1 mol per mol of sodium hydroxide, 0.91 per mol of ethanolamine.
    let base = Solution::new(Concentrations {
        strong_base: 0.05,
        ..Concentrations::default()
    })?;
    near(base.acetic_to_reach_mol_l(8.5)? / 0.05, 1.0, 0.005);
    let amine = Solution::new(Concentrations {
        ethanolamine: 0.01,
        ..Concentrations::default()
    })?;
    near(amine.acetic_to_reach_mol_l(8.5)? / 0.01, 0.91, 0.005);
    Ok(())
}

#[test]
fn rinses_follow_the_closed_form() {
    // Source: the closed form n = ceil(ln(c0 / target) / ln((δ + V) / δ)).
    let rinsing = Rinsing {
        residual_film_ml_m2: 20.0,
        rinse_ml_m2: 400.0,
        residue_mol_l: 0.05,
        target_mol_l: 1e-5,
    };
    assert_eq!(count_rinses(&rinsing), Ok(3));
    // Exactly two factors of 21: the last bits of a double do not add a third rinse.
    let exact = Rinsing {
        residue_mol_l: 0.441,
        target_mol_l: 0.001,
        ..rinsing
    };
    assert_eq!(count_rinses(&exact), Ok(2));
    assert_eq!(
        count_rinses(&Rinsing {
            residue_mol_l: 1e-6,
            ..rinsing
        }),
        Ok(0)
    );
    let hopeless = Rinsing {
        residual_film_ml_m2: 500.0,
        rinse_ml_m2: 1.0,
        ..rinsing
    };
    assert_eq!(count_rinses(&hopeless), Err(CountRinsesError::TooMany));
}

#[test]
fn every_concentration_outside_its_range_is_named() {
    let refused = Solution::new(Concentrations {
        acetic: -1.0,
        bicarbonate: f64::NAN,
        ..Concentrations::default()
    });
    let text = refused.err().map(|e| e.to_string()).unwrap_or_default();
    assert!(
        text.contains("acetic acid") && text.contains("bicarbonate"),
        "{text}"
    );
}

#[test]
fn strong_acid_and_base_are_one_anothers_mirror() -> Result<(), RefusedValues> {
    // Source: OpenStax Chemistry 2e: 0.0125 M of a strong base has pH 12.10; of a strong acid 14 less that.
    let base = Solution::new(Concentrations {
        strong_base: 0.0125,
        ..Concentrations::default()
    })?;
    let acid = Solution::new(Concentrations {
        strong_acid: 0.0125,
        ..Concentrations::default()
    })?;
    assert!((base.ph() - 12.097).abs() < 1e-3);
    assert!((acid.ph() + base.ph() - 14.0).abs() < 1e-9);
    let both = Solution::new(Concentrations {
        strong_acid: 0.0125,
        strong_base: 0.0125,
        ..Concentrations::default()
    })?;
    assert!((both.ph() - 7.0).abs() < 1e-6);
    // What brings pure water to a pH is what a strong base of that pH holds.
    let pure = Solution::new(Concentrations::default())?;
    assert!((pure.base_to_reach_mol_l(10.0)? - 1e-4).abs() < 1e-9);
    Ok(())
}

proptest! {
    #[test]
    fn the_dose_brings_the_water_to_its_target(base in 1e-5..0.5, amine in 0.0..0.5, tap in 0.0..0.01, target in 5.0..8.5) {
        let totals = Concentrations { strong_base: base, ethanolamine: amine, bicarbonate: tap, ..Concentrations::default() };
        let dose = Solution::new(totals).and_then(|s| s.acetic_to_reach_mol_l(target));
        let dosed = dose.and_then(|acetic| ph(Concentrations { acetic, ..totals }));
        prop_assert!(dosed.is_ok_and(|value| (value - target).abs() < 1e-6));
    }

    #[test]
    fn more_acid_never_raises_the_ph(base in 0.0..1.0, amine in 0.0..1.0, acid in 0.0..1.0, more in 0.0..1.0) {
        let totals = Concentrations { strong_base: base, ethanolamine: amine, acetic: acid, bicarbonate: 0.002, ..Concentrations::default() };
        let before = ph(totals);
        let after = ph(Concentrations { acetic: acid + more, ..totals });
        prop_assert!(after.is_ok_and(|after| before.is_ok_and(|before| after <= before + 1e-9)));
    }
}
