//! Both evaporation formulas against published figures.

use super::*;
use crate::physics::psychrometrics::{AirReading, STANDARD_PRESSURE_PA};

type Checked = Result<(), Box<dyn std::error::Error>>;

fn near(actual: f64, expected: f64, tolerance: f64) {
    assert!(
        (actual - expected).abs() <= tolerance,
        "{actual} is not {expected} ± {tolerance}"
    );
}

fn air(temperature_c: f64, relative_humidity: f64, speed_m_s: f64) -> Result<Air, RefusedValues> {
    Air::new(AirReading {
        temperature_c,
        relative_humidity,
        speed_m_s,
        pressure_pa: STANDARD_PRESSURE_PA,
    })
}

#[test]
fn the_pool_equation_gives_the_trade_table() -> Checked {
    // Source: calculated by hand with saturation pressures of PsychroLib 2.5 and latent heats of IAPWS-97, kg/m² h.
    let rows = [
        (25.0, 0.40, 0.1, 2.4417e6, 0.271),
        (20.0, 0.50, 0.1, 2.4535e6, 0.1661),
        (20.0, 0.50, 0.5, 2.4535e6, 0.220),
        (20.0, 0.70, 0.1, 2.4535e6, 0.0997),
        (20.0, 0.85, 0.1, 2.4535e6, 0.0498),
        (15.0, 0.70, 0.1, 2.4654e6, 0.0723),
        (10.0, 0.80, 0.1, 2.4772e6, 0.0346),
    ];
    for (t, humidity, speed, latent, expected) in rows {
        let rate = pool_rate_kg_m2_s(&air(t, humidity, speed)?, t, latent)? * 3_600.0;
        near(rate / expected, 1.0, 3e-3);
    }
    Ok(())
}

#[test]
fn the_pool_equation_agrees_with_its_imperial_form() {
    // Source: abstract of ASHRAE Transactions 1998, vol. 104 pt 1A: (95 + 0.425 v) Δp / Y, lb/h ft², ft/min, inHg, Btu/lb.
    let (kg_per_lb, m2_per_ft2, pa_per_inhg) = (0.453_592_37, 0.092_903_04, 3_386.389);
    let joule_per_kg_of_btu_per_lb = 2_326.0;
    let to_si = kg_per_lb / m2_per_ft2 / 3_600.0 / pa_per_inhg * joule_per_kg_of_btu_per_lb;
    near(95.0 * to_si / 0.089, 1.0, 6e-3);
    let ft_min_per_m_s = 60.0 / 0.3048;
    near(0.425 * ft_min_per_m_s * to_si / 0.0782, 1.0, 6e-3);
}

#[test]
fn the_still_surface_formula_gives_the_trade_values() -> Checked {
    // Source: calculated by hand from the formula as quoted: 20 °C / 50 % 0.0585 and 25 °C / 50 % 0.0799 kg/m² h, the larger of two terms.
    for (t, expected) in [(20.0, 0.0585), (25.0, 0.0799)] {
        let rate = still_surface_rate_kg_m2_s(&air(t, 0.5, 0.1)?, t)? * 3_600.0;
        near(rate / expected, 1.0, 0.02);
    }
    Ok(())
}

#[test]
fn a_surface_below_the_dew_point_takes_water_up() -> Checked {
    let damp = air(20.0, 0.85, 0.1)?;
    assert!(still_surface_rate_kg_m2_s(&damp, damp.dew_point_c() - 1.0)? < 0.0);
    assert!(still_surface_rate_kg_m2_s(&damp, damp.dew_point_c() + 1.0)? > 0.0);
    Ok(())
}

#[test]
fn a_draught_counts_only_above_still_air() -> Checked {
    let rate = |speed| still_surface_rate_kg_m2_s(&air(20.0, 0.5, speed)?, 20.0);
    near(rate(0.15)?, rate(0.0)?, 1e-15);
    near(rate(1.5)? / rate(0.0)?, 10_f64.powf(0.7), 1e-9);
    Ok(())
}

#[test]
fn water_outside_its_range_is_refused() -> Checked {
    let room = air(20.0, 0.5, 0.1)?;
    assert!(still_surface_rate_kg_m2_s(&room, -1.0).is_err());
    assert!(
        pool_rate_kg_m2_s(&room, 20.0, 2_330.0).is_err(),
        "kJ/kg in place of J/kg"
    );
    Ok(())
}
