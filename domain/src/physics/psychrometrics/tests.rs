//! Moist air against published values and its own laws.

use proptest::prelude::*;

use super::*;

type Checked = Result<(), Box<dyn std::error::Error>>;

fn near(actual: f64, expected: f64, tolerance: f64) {
    assert!(
        (actual - expected).abs() <= tolerance,
        "{actual} is not {expected} ± {tolerance}"
    );
}

fn air(temperature_c: f64, relative_humidity: f64) -> Result<Air, RefusedValues> {
    Air::new(AirReading {
        temperature_c,
        relative_humidity,
        speed_m_s: 0.1,
        pressure_pa: STANDARD_PRESSURE_PA,
    })
}

#[test]
fn check_p50_saturation_pressure() {
    // Source: 2017 ASHRAE Handbook, Fundamentals, ch. 1 table 3, as reproduced in an open test suite (±300 ppm).
    for (t, pascal) in [(5.0, 872.6), (25.0, 3_169.7), (50.0, 12_351.3)] {
        near(saturation_pressure_pa(t) / pascal, 1.0, 3e-4);
    }
}

#[test]
fn check_p51_example_one() -> Checked {
    // Source: same handbook, ch. 1 example 1: 40 °C dry, 20 °C wet: W 0.0065, 14 %, 0.896 m³/kg (chart readings).
    let read = air(40.0, 0.1398)?;
    near(read.wet_bulb_c(), 20.0, 0.02);
    near(read.humidity_ratio(), 0.006_45, 0.000_1);
    near(
        (1.0 + read.humidity_ratio()) / read.density_kg_m3(),
        0.896,
        0.001,
    );
    near(read.dew_point_c(), 7.0, 0.5);
    Ok(())
}

#[test]
fn wet_bulbs_below_freezing() -> Checked {
    // Source: PsychroLib 2.5.0, GetTWetBulbFromRelHum at 101,325 Pa, whose own search ends within 0.001 K.
    for (t, humidity, wet_bulb_c) in [
        (-15.0, 0.4, -16.3746),
        (-5.0, 0.5, -7.2522),
        (0.0, 0.3, -4.2483),
        (5.0, 0.2, -1.4107),
    ] {
        near(air(t, humidity)?.wet_bulb_c(), wet_bulb_c, 0.002);
    }
    Ok(())
}

#[test]
fn check_p53_saturation_pressure() {
    // Source: OpenStax Chemistry 2e, appendix Water Properties (agrees within 0.25 %).
    for (t, pascal) in [
        (10.0, 1_226.6),
        (15.0, 1_706.5),
        (20.0, 2_333.1),
        (25.0, 3_173.1),
        (30.0, 4_239.6),
    ] {
        near(saturation_pressure_pa(t) / pascal, 1.0, 2.5e-3);
    }
}

#[test]
fn check_p55_relative_humidity_of_9_40_grams() {
    // Source: OpenStax College Physics, Humidity, worked example: 9.40 of 23.0 g/m³ at 25 °C is 40.9 %.
    // The gas law turns 9.40 g/m³ into a pressure; water vapour has 461.5 J/kg K.
    let vapour_pa = 9.40e-3 * 461.5 * 298.15;
    near(vapour_pa / saturation_pressure_pa(25.0), 0.409, 0.002);
}

#[test]
fn dew_points_of_the_trade_table() -> Checked {
    // Source: PsychroLib 2.5, confirmed by IAPWS-97; two decimals.
    let rows = [
        (10.0, [-2.63, 0.06, 2.60, 4.79, 5.78, 6.71, 7.60, 8.44]),
        (15.0, [1.52, 4.67, 7.31, 9.58, 10.61, 11.58, 12.50, 13.37]),
        (20.0, [6.00, 9.27, 12.01, 14.37, 15.44, 16.45, 17.40, 18.31]),
        (
            25.0,
            [10.48, 13.86, 16.70, 19.15, 20.26, 21.31, 22.30, 23.24],
        ),
        (
            30.0,
            [14.94, 18.45, 21.39, 23.93, 25.08, 26.17, 27.20, 28.18],
        ),
    ];
    for (t, dews) in rows {
        for (humidity, dew) in [0.40, 0.50, 0.60, 0.70, 0.75, 0.80, 0.85, 0.90]
            .into_iter()
            .zip(dews)
        {
            near(air(t, humidity)?.dew_point_c(), dew, 0.02);
        }
    }
    Ok(())
}

#[test]
fn every_refused_reading_of_the_air_is_named() {
    let reading = AirReading {
        temperature_c: 61.0,
        relative_humidity: 55.0,
        speed_m_s: -0.1,
        pressure_pa: f64::INFINITY,
    };
    let refused = Air::new(reading).err();
    let names: Vec<_> = refused
        .iter()
        .flat_map(RefusedValues::values)
        .map(|v| v.quantity)
        .collect();
    assert_eq!(
        names,
        [
            "air temperature",
            "relative humidity",
            "air speed",
            "air pressure"
        ]
    );
}

proptest! {
    #[test]
    fn dew_point_wet_bulb_and_air_stand_in_order(t in -10.0..50.0, humidity in 0.02..1.0, pressure in 70_000.0..105_000.0) {
        let reading = AirReading { temperature_c: t, relative_humidity: humidity, speed_m_s: 0.0, pressure_pa: pressure };
        let ordered = Air::new(reading).is_ok_and(|a| {
            // Over ice and over water the two equations meet only within a few hundredths of a kelvin.
            a.dew_point_c() <= a.wet_bulb_c() + 0.05 && a.wet_bulb_c() <= t + 1e-9
        });
        prop_assert!(ordered);
    }

    #[test]
    fn saturation_at_the_dew_point_is_the_vapour_pressure(t in -10.0..60.0, humidity in 0.02..1.0) {
        let held = air(t, humidity).is_ok_and(|a| {
            let dew_point = a.dew_point_c();
            // The two branches leave a step of 0.003 % at the triple point.
            (saturation_pressure_pa(dew_point) / a.vapour_pressure_pa() - 1.0).abs() < 1e-4
        });
        prop_assert!(held);
    }
}
