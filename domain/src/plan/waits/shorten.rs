//! What would make the waits of a plan shorter, by the same model: told only where it helps, never below label or maker.

use super::{
    super::{PlanInput, PlannedStep},
    CoatLimits, Laid, RoomAir, RuledBy, Wait, hardened, minutes_of,
};
use crate::{
    estimate::{basis::Basis, covered::Multiple},
    knowledge::{Lever, Measure},
    physics::{
        drying::{Floor, WetFilm},
        psychrometrics::{Air, AirReading, saturation_pressure_pa},
        room::{Laying, Room, RoomDrying, RoomReading},
    },
};

/// A measure that makes a wait shorter.
#[derive(Debug, Clone, PartialEq)]
pub struct Shortening {
    /// Which.
    pub measure: Measure,
    /// How much: the air speed, coverage or air changes to reach; by how much warmer or drier.
    pub amount: f64,
    /// In what.
    pub unit: String,
    /// How it is done, and what to mind.
    pub how: String,
    /// The wait in four of five cases that it leads to.
    pub p80_min: i64,
    /// Minutes by which that is less.
    pub saves_min: i64,
    /// What makes the wait as long as it then is.
    pub ruled_by: RuledBy,
    /// Where the reason of the amount stands.
    pub basis: String,
}

/// The room with a measure taken.
struct Changed<'k> {
    row: &'k Lever,
    measure: Measure,
    amount: f64,
    air: RoomAir,
}

/// Tells each wait what would make it shorter; adds the reasons of the amounts.
pub(in crate::plan) fn shorten(
    input: &PlanInput<'_>,
    air: &RoomAir,
    steps: &mut [PlannedStep],
    basis: &mut Vec<Basis>,
) {
    let too_long = |wait: &&mut Wait| {
        let by_model = [RuledBy::Drying, RuledBy::Curing];
        by_model.contains(&wait.ruled_by)
    };
    let mut waits: Vec<&mut Wait> = steps
        .iter_mut()
        .filter_map(|step| step.wait.as_mut())
        .filter(too_long)
        .collect();
    if waits.is_empty() {
        return;
    }
    let changed: Vec<Changed<'_>> = Measure::ALL
        .iter()
        .filter_map(|measure| change(input, &air.drying, *measure))
        .collect();
    for wait in &mut waits {
        let mut found: Vec<Shortening> = changed
            .iter()
            .filter_map(|changed| shortened(wait, changed))
            .collect();
        found.sort_by_key(|one| (one.p80_min, one.measure));
        wait.shorten = found;
    }
    for changed in &changed {
        let used = |wait: &&mut Wait| {
            wait.shorten
                .iter()
                .any(|one| one.measure == changed.measure)
        };
        if waits.iter().any(used) {
            basis.push(reason(changed));
        }
    }
}

/// The room with a measure taken; `None` where it is there already or cannot be.
fn change<'k>(input: &PlanInput<'k>, here: &RoomDrying, measure: Measure) -> Option<Changed<'k>> {
    let row = input.base.lever(measure)?;
    let (reading, floor, room) = (*here.air().reading(), *here.floor(), *here.room().reading());
    let with = |air: AirReading, floor: Floor, room: RoomReading| {
        let (air, room) = (Air::new(air).ok()?, Room::new(room).ok()?);
        Some(RoomDrying::between(&air, &floor, &room))
    };
    let mut amount = row.amount;
    let drying = match measure {
        Measure::ThinnerCoat => here.clone(),
        Measure::Fan => {
            let speed_m_s = Some(amount).filter(|speed| reading.speed_m_s < *speed)?;
            with(
                AirReading {
                    speed_m_s,
                    ..reading
                },
                floor,
                room,
            )?
        }
        Measure::Ventilate => {
            let often = Some(amount).filter(|often| room.air_changes_per_h < *often)?;
            let room = RoomReading {
                air_changes_per_h: often,
                ..room
            };
            here.in_room(&Room::new(room).ok()?)
        }
        Measure::Heat => {
            let temperature_c = reading.temperature_c + amount;
            // No water comes into the air with the heat: it only becomes relatively drier.
            let share = here.air().vapour_pressure_pa() / saturation_pressure_pa(temperature_c);
            let air = AirReading {
                temperature_c,
                relative_humidity: share.max(0.01),
                ..reading
            };
            // The floor follows over many hours: what it will do then is not promised.
            with(air, floor, room)?
        }
        Measure::Dehumidify => {
            let now_pct = reading.relative_humidity * 100.0;
            let then_pct = (now_pct - amount).max(row.limit.unwrap_or(1.0));
            amount = Some(now_pct - then_pct).filter(|drier| *drier >= 1.0)?;
            let air = AirReading {
                relative_humidity: then_pct / 100.0,
                ..reading
            };
            // What comes in from outside the room is as moist as it ever was.
            let supply = room.supply_ratio.unwrap_or(here.air().humidity_ratio());
            let room = RoomReading {
                supply_ratio: Some(supply),
                ..room
            };
            with(air, floor, room)?
        }
    };
    Some(Changed {
        row,
        measure,
        amount,
        air: RoomAir::holding(drying),
    })
}

/// What a measure makes of a wait; `None` where it does not help or may not be taken.
fn shortened(wait: &Wait, changed: &Changed<'_>) -> Option<Shortening> {
    let (air, drying) = (&changed.air, &changed.air.drying);
    let is_within = |warmest_c: f64| {
        let warmer_c = drying
            .air()
            .temperature_c()
            .max(drying.floor().temperature_c());
        changed.measure != Measure::Heat || warmer_c <= warmest_c
    };
    let dries = |film: &WetFilm, laying: &Laying, dried: &Multiple| {
        let time = air.time(film, laying).ok()?;
        let (_median, p80_min) = minutes_of(&time.time, dried);
        Some(p80_min)
    };
    let (amount, model) = match (changed.measure, wait.laid) {
        (
            Measure::Heat,
            Laid::Hardens {
                curing,
                label_min,
                warmest_c,
            },
        ) if is_within(warmest_c) => (changed.amount, hardened(&curing, label_min, drying)),
        (
            Measure::ThinnerCoat,
            Laid::Dries {
                film,
                laying,
                dried,
                coat: Some(coat),
            },
        ) => {
            let (m2_l, film) = thinner(&film, &coat, changed.amount)?;
            (m2_l, dries(&film, &laying, &dried)?)
        }
        (
            Measure::Fan | Measure::Heat | Measure::Dehumidify | Measure::Ventilate,
            Laid::Dries {
                film,
                laying,
                dried,
                coat,
            },
        ) if coat.is_none_or(|coat| is_within(coat.warmest_c)) => {
            (changed.amount, dries(&film, &laying, &dried)?)
        }
        _ => return None,
    };
    let (least_min, by_word) = wait.least();
    let p80_min = model.max(least_min);
    let saves_min = wait.p80_min.saturating_sub(p80_min);
    (saves_min > 0).then(|| Shortening {
        measure: changed.measure,
        amount,
        unit: changed.row.unit.clone(),
        how: changed.row.how.clone(),
        p80_min,
        saves_min,
        ruled_by: if model > least_min {
            wait.ruled_by
        } else {
            by_word
        },
        basis: basis_of(changed.measure),
    })
}

/// A coat spread further, as far as its class of product ever is; `None` where it already is.
fn thinner(film: &WetFilm, coat: &CoatLimits, factor: f64) -> Option<(f64, WetFilm)> {
    let m2_l = (coat.m2_l * factor).min(coat.most_m2_l);
    (m2_l > coat.m2_l).then(|| (m2_l, film.thinned_to(coat.m2_l / m2_l)))
}

fn basis_of(measure: Measure) -> String {
    format!("shorten.{}", measure.word())
}

/// Why so much of a measure is reckoned with.
fn reason(changed: &Changed<'_>) -> Basis {
    let row = changed.row;
    let (formula, unit) = match changed.measure {
        Measure::Fan => ("air speed to reach", "m/s"),
        Measure::Ventilate => ("air changes to reach", "1/h"),
        Measure::Heat => ("by how much the air is warmer; the floor as it is", "K"),
        Measure::Dehumidify => ("by how much the air is drier, not below the driest", "% RH"),
        Measure::ThinnerCoat => ("times the area that a litre covers, within the class", "1"),
    };
    Basis {
        id: basis_of(changed.measure),
        what: format!("what shortens a wait: {}", changed.measure.word()),
        formula,
        inputs: Vec::new(),
        result: changed.amount,
        unit,
        rounding: "none",
        source: row.source.clone(),
        grade: row.grade,
    }
}
