//! The balance of a room against our published figures and its own laws.

use proptest::prelude::*;

use super::*;
use crate::physics::{
    drying::{FloorConductance, WetFilmReading, dry_time},
    psychrometrics::{AirReading, STANDARD_PRESSURE_PA},
};
use crate::schedule::rng::{Purpose, Rng};

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

fn polish() -> Result<WetFilm, RefusedValues> {
    WetFilm::new(WetFilmReading::CoatThickness {
        thickness_um: 20.0,
        density_kg_m3: 1_030.0,
        water_mass_fraction: 0.8,
    })
}

/// An ordinary room of this volume and change of air, over a floor of `floor_c`.
fn in_room(
    air: &Air,
    floor_c: f64,
    (volume_m3, air_changes_per_h): (f64, f64),
    supply_ratio: Option<f64>,
) -> Result<RoomDrying, RefusedValues> {
    let room = Room::new(RoomReading {
        volume_m3,
        air_changes_per_h,
        supply_ratio,
    })?;
    let floor = Floor::new(floor_c, FloorConductance::Resilient)?;
    Ok(RoomDrying::between(air, &floor, &room))
}

/// Median in s, infinite for what does not dry.
fn seconds(drying: &RoomDrying, film: &WetFilm, wet_m2: f64) -> f64 {
    drying
        .time(film, &Laying::at_once(wet_m2))
        .map_or(f64::INFINITY, |found| found.time.p50_s)
}

#[test]
fn a_coat_of_200_m2_dampens_a_room_of_600_m3() -> Checked {
    // Source: the figures we publish for OUR model (a regression target, not a measurement): 20 °C, 55 %, 20 µm of
    // polish; 81 % and 72 min at 0.2 air changes, 71 % and 52 min at 2; 50 m² in the same room 43 min; 38 in the open.
    let air = air(20.0, 0.55, 0.1)?;
    for (wet_m2, changes, minutes, peak) in [
        (200.0, 0.2, 72.0, Some(0.81)),
        (200.0, 2.0, 52.0, Some(0.71)),
        (50.0, 0.2, 43.0, None),
        // Between the open and 50 m²: no room is so large that its air takes nothing up.
        (20.0, 0.2, 40.5, None),
    ] {
        let found = in_room(&air, 20.0, (600.0, changes), None)?
            .time(&polish()?, &Laying::at_once(wet_m2))?;
        near(found.time.p50_s / 60.0, minutes, 1.6);
        if let Some(peak) = peak {
            near(found.humidity_peak, peak, 0.011);
        }
    }
    Ok(())
}

#[test]
fn a_room_that_hardly_notices_dries_as_the_open() -> Checked {
    let air = air(20.0, 0.5, 0.1)?;
    let floor = Floor::new(19.0, FloorConductance::Resilient)?;
    let open = dry_time(&polish()?, &air, &floor)?;
    let large = in_room(&air, 19.0, (1e7, 1.0), None)?;
    near(seconds(&large, &polish()?, 40.0), open.p50_s, 1e-9);
    // The steps themselves come to the same where the room is so large that its air stays as it is.
    let (followed, peak) = large.follow(&polish()?, &Laying::at_once(40.0), STEPS);
    near(followed / open.p50_s, 1.0, 2e-3);
    near(peak, air.humidity_ratio(), 1e-6);
    Ok(())
}

#[test]
fn no_more_water_is_in_the_air_of_a_shut_room_than_left_the_floor() -> Checked {
    // Source: conservation of mass; a film of 10 g/m² on 30 m² of a shut room of 90 m³ adds 300 g.
    let air = air(20.0, 0.3, 0.1)?;
    let shut = in_room(&air, 20.0, (90.0, 0.0), None)?;
    let film = WetFilm::new(WetFilmReading::Water { mass_g_m2: 10.0 })?;
    let (_, peak) = shut.follow(&film, &Laying::at_once(30.0), STEPS);
    let added = (peak - air.humidity_ratio()) * air.density_kg_m3() * 90.0;
    near(added, 0.3, 0.3 * 2e-3);
    Ok(())
}

#[test]
fn steps_come_to_what_far_finer_steps_come_to() -> Checked {
    // Source: the same balance in steps of a second, over rooms, air, films and paces that a fixed seed draws.
    let mut rng = Rng::new(1, Purpose::Chance, 0);
    let mut draw = |low: f64, high: f64| low + (high - low) * rng.unit();
    let mut off = Vec::new();
    for number in 0..120 {
        let (t, area_m2) = (draw(12.0, 30.0), draw(10.0, 400.0));
        let air = air(t, draw(0.2, 0.85), draw(0.0, 1.0))?;
        let room = (area_m2 * draw(2.4, 8.0), draw(0.2, 8.0));
        let supply = (number % 2 == 0).then_some(draw(0.002, 0.012));
        let room = in_room(&air, t + draw(-3.0, 2.0), room, supply)?;
        let film = if number % 4 < 2 {
            polish()?.thinned_to(draw(0.6, 3.0))
        } else {
            let mass_g_m2 = draw(10.0, 120.0);
            WetFilm::new(WetFilmReading::Water { mass_g_m2 })?
        };
        let over_s = draw(-6_000.0, 20_000.0);
        let laying = Laying { area_m2, over_s };
        let finest = Steps {
            share: 0.001,
            longest_s: 1.0,
        };
        let (fine_s, _) = room.follow(&film, &laying, finest);
        let (found_s, _) = room.follow(&film, &laying, STEPS);
        assert_eq!(found_s.is_finite(), fine_s.is_finite(), "room {number}");
        if fine_s.is_finite() {
            off.push((found_s / fine_s - 1.0).abs());
        }
    }
    off.sort_by(f64::total_cmp);
    let of = |share: usize| off.get(off.len() * share / 100).copied();
    assert!(off.len() > 100 && of(95) < Some(0.004), "{:?}", of(95));
    assert!(off.last() < Some(&0.015), "{:?}", off.last());
    Ok(())
}

#[test]
fn a_floor_that_is_rinsed_bay_by_bay_is_mostly_dry_when_the_last_bay_is_done() -> Checked {
    // Source: our own model. 240 m² of a room of 720 m³ with doors open are rinsed over five hours: at 48 m² an hour and
    // about an hour and a half of drying some 70 m² are wet at once, and the last bay takes little longer than such a
    // floor in the open.
    let room = in_room(&air(20.0, 0.5, 0.1)?, 19.0, (720.0, 2.0), None)?;
    let film = WetFilm::new(WetFilmReading::Water { mass_g_m2: 60.0 })?;
    let slowly = Laying {
        area_m2: 240.0,
        over_s: 18_000.0,
    };
    let p50_s = |laying: &Laying| room.time(&film, laying).map(|found| found.time.p50_s);
    let open_s = room.open().time(&film)?.p50_s;
    let bays_s = p50_s(&slowly)?;
    let whole_s = p50_s(&Laying::at_once(240.0))?;
    assert!(open_s < bays_s && bays_s < 0.75 * whole_s);
    near(slowly.wet_m2(bays_s), 48.0 * bays_s / 3_600.0, 1e-9);
    // What is wet on average keeps the air as damp as so large a floor that is always wet would.
    let always = p50_s(&Laying::at_once(slowly.wet_m2(bays_s)))?;
    near(bays_s / always, 1.0, 0.1);
    // Laid faster than a minute it is laid at once.
    let fast = Laying {
        area_m2: 240.0,
        over_s: 1.0,
    };
    near(p50_s(&fast)? / whole_s, 1.0, 1e-3);
    Ok(())
}

#[test]
fn bays_that_are_dry_have_left_their_water_in_a_shut_room() -> Checked {
    // Source: conservation of mass; 10 g/m² on 30 m² of a shut room of 90 m³ add 300 g however slowly they are laid.
    let air = air(20.0, 0.3, 0.1)?;
    let shut = in_room(&air, 20.0, (90.0, 0.0), None)?;
    let film = WetFilm::new(WetFilmReading::Water { mass_g_m2: 10.0 })?;
    for over_s in [600.0, 5_000.0, 28_000.0] {
        let laying = Laying {
            area_m2: 30.0,
            over_s,
        };
        let (_, peak) = shut.follow(&film, &laying, STEPS);
        let added = (peak - air.humidity_ratio()) * air.density_kg_m3() * 90.0;
        near(added, 0.3, 0.3 * 0.03);
    }
    Ok(())
}

#[test]
fn a_shut_cupboard_never_dries_a_flood() -> Checked {
    let air = air(20.0, 0.5, 0.1)?;
    let shut = in_room(&air, 20.0, (75.0, 0.0), None)?;
    let flood = WetFilm::new(WetFilmReading::Water { mass_g_m2: 60.0 })?;
    let refused = shut
        .time(&flood, &Laying::at_once(30.0))
        .map_err(|refused| refused.reason);
    assert_eq!(refused, Err(DoesNotDryReason::TooSlow));
    Ok(())
}

#[test]
fn dry_air_from_outdoors_helps_and_damp_air_does_not() -> Checked {
    let air = air(20.0, 0.55, 0.1)?;
    let with = |supply: Option<f64>, changes: f64| -> Result<f64, RefusedValues> {
        let room = in_room(&air, 20.0, (600.0, changes), supply)?;
        Ok(seconds(&room, &polish()?, 200.0))
    };
    // Frosty air holds about 2 g/kg, a sultry day 14; the room has 8.
    assert!(with(Some(0.002), 2.0)? < with(None, 2.0)?);
    assert!(with(Some(0.014), 2.0)? > with(None, 2.0)?);
    assert!(with(Some(0.014), 6.0)? > with(Some(0.014), 0.5)?);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(20_261),
        ..ProptestConfig::default()
    })]

    #[test]
    fn damper_rooms_smaller_rooms_and_stiller_air_are_never_faster(
        t in 12.0..30.0, below in -2.0..2.0, humidity in 0.2..0.8, more in 0.0..0.15,
        volume in 60.0..2_000.0, larger in 1.0..20.0, changes in 0.0..8.0, speed in 0.0..2.0,
        supply in prop::option::of(0.001..0.014)
    ) {
        let held = (|| -> Result<[f64; 4], RefusedValues> {
            let film = polish()?;
            let time = |humidity: f64, speed: f64, volume: f64| -> Result<f64, RefusedValues> {
                let room = (volume, changes);
                let drying = in_room(&air(t, humidity, speed)?, t + below, room, supply)?;
                Ok(seconds(&drying, &film, 100.0))
            };
            Ok([
                time(humidity, speed, volume)?,
                time(humidity + more, speed, volume)?,
                time(humidity, speed + 0.5, volume)?,
                time(humidity, speed, volume * larger)?,
            ])
        })();
        let [here, damper, draught, roomier] =
            held.map_err(|refused| TestCaseError::fail(refused.to_string()))?;
        // Where a film hardly dries at all, what it gives off is too little for the table of rates.
        prop_assume!(here <= 43_200.0 && damper <= 43_200.0);
        // Steps and straight pieces leave a few thousandths.
        prop_assert!(damper >= here * 0.995, "damper: {damper} and {here}");
        prop_assert!(draught <= here * 1.005, "draught: {draught} and {here}");
        prop_assert!(roomier <= here * 1.005, "roomier: {roomier} and {here}");
    }

    #[test]
    fn a_crew_that_lays_faster_is_never_done_later(
        t in 12.0..30.0, humidity in 0.2..0.8, more in 0.0..0.15, volume in 60.0..2_000.0, changes in 0.2..8.0,
        over_s in 0.0..28_000.0, slower in 1.0..3.0, coat in any::<bool>()
    ) {
        let held = (|| -> Result<[f64; 3], RefusedValues> {
            let film = if coat {
                polish()?
            } else {
                WetFilm::new(WetFilmReading::Water { mass_g_m2: 30.0 })?
            };
            let end = |humidity: f64, over_s: f64| -> Result<f64, RefusedValues> {
                let drying = in_room(&air(t, humidity, 0.1)?, t, (volume, changes), None)?;
                let laying = Laying { area_m2: 100.0, over_s };
                let found = drying.time(&film, &laying);
                Ok(over_s + found.map_or(f64::INFINITY, |found| found.time.p50_s))
            };
            let slow_s = f64::min(over_s * slower, 28_800.0);
            Ok([end(humidity, over_s)?, end(humidity, slow_s)?, end(humidity + more, over_s)?])
        })();
        let [here, slowly, damper] =
            held.map_err(|refused| TestCaseError::fail(refused.to_string()))?;
        prop_assume!(here <= 86_400.0 && damper <= 86_400.0);
        // Parts and steps leave a few thousandths.
        prop_assert!(slowly >= here * 0.99, "slower: {slowly} and {here}");
        prop_assert!(damper >= here * 0.995, "damper: {damper} and {here}");
    }
}

#[test]
fn there_is_no_wall_between_rooms_that_notice_and_rooms_that_do_not() -> Checked {
    // Source: continuity of the balance itself: a hand of air more over a floor changes a wait by next to nothing.
    let film = WetFilm::new(WetFilmReading::Water { mass_g_m2: 60.0 })?;
    let mut before: Option<f64> = None;
    for step in 0..60 {
        let volume_m3 = 240.0 * 10.0 * 1.05_f64.powi(step);
        let room = in_room(&air(20.0, 0.85, 0.1)?, 19.0, (volume_m3, 0.2), None)?;
        let here = seconds(&room, &film, 240.0);
        if let Some(before) = before {
            assert!(here / before > 0.93, "{volume_m3} m³: {before} {here}");
        }
        before = Some(here);
    }
    Ok(())
}
