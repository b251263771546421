//! Arrhenius against its textbook rule of thumb and its own laws.

use proptest::prelude::*;

use super::*;
use crate::physics::psychrometrics::{AirReading, STANDARD_PRESSURE_PA};

type Checked = Result<(), Box<dyn std::error::Error>>;

fn air(temperature_c: f64, relative_humidity: f64) -> Result<Air, RefusedValues> {
    Air::new(AirReading {
        temperature_c,
        relative_humidity,
        speed_m_s: 0.1,
        pressure_pa: STANDARD_PRESSURE_PA,
    })
}

fn curing(label_humidity: Option<f64>) -> Result<Curing, RefusedValues> {
    Curing::new(CuringReading {
        activation_kj_mol: 50.0,
        label_c: 20.0,
        label_humidity,
    })
}

#[test]
fn ten_kelvin_colder_takes_twice_as_long() -> Checked {
    // Source: textbook rule of thumb, a factor of about two for 10 K near room temperature; by hand with
    // R = 8.314462618: 50000/R·(1/283.15 − 1/293.15) = 0.7245, exp = 2.0637.
    let factor = curing(None)?.factor(&air(10.0, 0.5)?, 10.0);
    assert!((factor - 2.0637).abs() < 1e-3, "{factor}");
    // The colder of the two counts.
    let over_cold = curing(None)?.factor(&air(20.0, 0.5)?, 10.0);
    assert!((factor - over_cold).abs() < 1e-12);
    Ok(())
}

#[test]
fn what_hardens_by_moisture_waits_for_it() -> Checked {
    // Source: by hand; at the label's temperature half of its vapour pressure takes twice as long.
    let factor = curing(Some(0.5))?.factor(&air(20.0, 0.25)?, 20.0);
    assert!((factor - 2.0).abs() < 1e-9, "{factor}");
    Ok(())
}

#[test]
fn an_energy_outside_its_range_is_named() {
    let refused = Curing::new(CuringReading {
        activation_kj_mol: 0.0,
        label_c: 20.0,
        label_humidity: Some(2.0),
    });
    let names: Vec<_> = refused
        .err()
        .iter()
        .flat_map(RefusedValues::values)
        .map(|v| v.quantity)
        .collect();
    assert_eq!(names, ["activation energy", "relative humidity"]);
}

proptest! {
    #[test]
    fn hotter_is_never_slower_and_no_label_is_undercut(
        t in 5.0..35.0, more in 0.0..15.0, below in -3.0..3.0, humidity in 0.1..0.95, moist: bool
    ) {
        let factors = (|| -> Result<(f64, f64), RefusedValues> {
            let curing = curing(moist.then_some(0.5))?;
            let cold = curing.factor(&air(t, humidity)?, t + below);
            Ok((cold, curing.factor(&air(t + more, humidity)?, t + more + below)))
        })();
        let (cold, warm) = factors.map_err(|refused| TestCaseError::fail(refused.to_string()))?;
        prop_assert!(warm <= cold && warm >= 1.0);
    }
}
