//! The room over a floor: how large it is, how its air is changed, what comes in, and so how films dry in it.

use super::super::{DraftPlanError, PlanInput};
use crate::{
    estimate::basis::{Basis, Input as Figure, input as figure},
    knowledge::RoomDefaults,
    physics::{
        drying::{Floor, FloorConductance},
        psychrometrics::{Air, AirReading},
        range::RefusedValues,
        room::{Room, RoomDrying, RoomReading},
    },
    survey::{Space, Ventilation},
};

/// How films dry in the room of a floor: the same for all candidates.
pub(in crate::plan) struct RoomAir {
    pub(in crate::plan) drying: RoomDrying,
    /// Volume and change of its air.
    pub(in crate::plan) basis: [Basis; 2],
}

impl RoomAir {
    /// The room of the floor, as far as it was told; else as is usual.
    ///
    /// # Errors
    /// [`DraftPlanError::Climate`] for a floor or air outdoors outside the range of the physics.
    pub(in crate::plan) fn of(
        input: &PlanInput<'_>,
        air: &Air,
        conductance: &str,
    ) -> Result<Self, DraftPlanError> {
        let refused = |refused: RefusedValues| DraftPlanError::Climate {
            reason: refused.to_string(),
        };
        let conductance = match conductance {
            "stone" => FloorConductance::Stone,
            "timber" => FloorConductance::Timber,
            _ => FloorConductance::Resilient,
        };
        let floor = Floor::new(input.climate.floor_c, conductance).map_err(refused)?;
        let outdoor = match input.climate.outdoor {
            Some(outdoor) => {
                let reading = AirReading {
                    temperature_c: outdoor.air_c,
                    relative_humidity: outdoor.humidity_pct / 100.0,
                    ..*air.reading()
                };
                Some(Air::new(reading).map_err(refused)?)
            }
            None => None,
        };
        let (volume, changes) = (volume(input), changes(input));
        let room = Room::new(RoomReading {
            volume_m3: volume.result,
            air_changes_per_h: changes.result,
            supply_ratio: outdoor.map(|outdoor| outdoor.humidity_ratio()),
        });
        Ok(Self {
            drying: RoomDrying::between(air, &floor, &room.map_err(refused)?),
            basis: [volume, changes],
        })
    }
}

/// The volume of the room: as told, else the floor under a ceiling as high as told or as is usual.
fn volume(input: &PlanInput<'_>) -> Basis {
    let (around, room) = (&input.survey.surroundings, &input.base.room);
    let space = input.survey.space.unwrap_or(Space::Room).word();
    let usual_m = room.ceiling_height_m.get(space).copied().unwrap_or(3.0);
    let height_m = around.ceiling_height_m.unwrap_or(usual_m);
    let area_m2 = input.survey.area.m2();
    let (formula, inputs, volume_m3) = match around.room_volume_m3 {
        Some(told) => ("as told", Vec::new(), told),
        None => (
            "area · ceiling height, as told or usual for the kind of space",
            vec![
                figure("area", area_m2, "m²"),
                figure("ceiling_height", height_m, "m"),
            ],
            area_m2 * height_m,
        ),
    };
    // The smallest and the largest room that the physics knows.
    let volume_m3 = volume_m3.clamp(1.0, 1e7);
    of_room(
        room,
        "room.volume",
        ("volume of the room's air", formula),
        (volume_m3, "m³"),
        inputs,
    )
}

/// How often its air is changed: as told, else as is usual for the way in which it is changed.
fn changes(input: &PlanInput<'_>) -> Basis {
    let (around, room) = (&input.survey.surroundings, &input.base.room);
    let told = around.ventilation.map(Ventilation::word);
    let way = told.unwrap_or(&room.usual_ventilation);
    let usual = room.air_changes_per_h.get(way).copied().unwrap_or(0.0);
    let (formula, changes) = match (around.air_changes_per_h, around.ventilation) {
        (Some(told), _) => ("as told", told),
        (None, Some(_told)) => ("usual for the ventilation of the survey", usual),
        (None, None) => (
            "usual with doors and windows open, as nobody told of the ventilation",
            usual,
        ),
    };
    let mut inputs = Vec::new();
    if let Some(outdoor) = input.climate.outdoor {
        inputs.extend([
            figure("outdoor_air", outdoor.air_c, "°C"),
            figure("outdoor_humidity", outdoor.humidity_pct, "%"),
        ]);
    }
    let what = if inputs.is_empty() {
        "how often the room's air is changed, for air as moist as it is"
    } else {
        "how often the room's air is changed, for air from outdoors"
    };
    of_room(
        room,
        "room.air_changes",
        (what, formula),
        (changes, "1/h"),
        inputs,
    )
}

fn of_room(
    room: &RoomDefaults,
    id: &str,
    (what, formula): (&str, &'static str),
    (result, unit): (f64, &'static str),
    inputs: Vec<Figure>,
) -> Basis {
    Basis {
        id: id.to_owned(),
        what: what.to_owned(),
        formula,
        inputs,
        result,
        unit,
        rounding: "none",
        source: room.source.clone(),
        grade: room.grade,
    }
}
