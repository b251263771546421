//! The room over a floor: how large it is, how its air is changed, what comes in, and so how films dry in it.

use std::{cell::RefCell, rc::Rc};

use super::super::{DraftPlanError, PlanInput};
use crate::{
    estimate::basis::{Basis, Input as Figure, input as figure},
    knowledge::RoomDefaults,
    physics::{
        drying::{DoesNotDry, Floor, FloorConductance, WetFilm},
        psychrometrics::{Air, AirReading},
        range::RefusedValues,
        room::{Laying, Room, RoomDryTime, RoomDrying, RoomReading},
    },
    survey::{Space, Ventilation},
};

/// A film, how it was laid, and how long it takes.
type Asked = (WetFilm, Laying, Result<RoomDryTime, DoesNotDry>);

/// How films dry in the room of a floor: the same for all candidates, and for all answers that leave the room as it is.
#[derive(Debug)]
pub(in crate::plan) struct RoomAir {
    pub(in crate::plan) drying: RoomDrying,
    /// The films that were asked for, each followed once: candidates lay much the same.
    asked: RefCell<Vec<Asked>>,
}

impl RoomAir {
    /// The room of the floor, as far as it was told; else as is usual. It is `known` where nothing of it differs.
    ///
    /// # Errors
    /// [`DraftPlanError::Climate`] for a floor or air outdoors outside the range of the physics.
    pub(in crate::plan) fn of(
        input: &PlanInput<'_>,
        air: &Air,
        conductance: &str,
        known: Option<&Rc<Self>>,
    ) -> Result<Rc<Self>, DraftPlanError> {
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
        let room = Room::new(RoomReading {
            volume_m3: volume_m3(input),
            air_changes_per_h: air_changes(input),
            supply_ratio: outdoor.map(|outdoor| outdoor.humidity_ratio()),
        });
        let room = room.map_err(refused)?;
        let same = known.filter(|known| {
            let there = &known.drying;
            (there.air(), there.floor(), there.room()) == (air, &floor, &room)
        });
        Ok(same
            .cloned()
            .unwrap_or_else(|| Rc::new(Self::holding(RoomDrying::between(air, &floor, &room)))))
    }

    /// A room of which no film was asked yet.
    pub(super) fn holding(drying: RoomDrying) -> Self {
        Self {
            drying,
            asked: RefCell::default(),
        }
    }

    /// The time that a film takes from the end of the last bay of a floor; see [`RoomDrying::time`].
    pub(super) fn time(&self, film: &WetFilm, laying: &Laying) -> Result<RoomDryTime, DoesNotDry> {
        let mut asked = self.asked.borrow_mut();
        let same = asked
            .iter()
            .find(|(known, laid, _)| known == film && laid == laying);
        if let Some((_, _, found)) = same {
            return *found;
        }
        let found = self.drying.time(film, laying);
        asked.push((*film, *laying, found));
        found
    }
}

/// Why the room is taken to be so large and its air to be changed so often.
pub(super) fn reasons(input: &PlanInput<'_>) -> [Basis; 2] {
    [volume(input), changes(input)]
}

/// How high the room is in m: as told, or as is usual.
fn height_m(input: &PlanInput<'_>) -> f64 {
    let space = input.survey.space.unwrap_or(Space::Room).word();
    let usual_m = input.base.room.ceiling_height_m.get(space).copied();
    let told_m = input.survey.surroundings.ceiling_height_m;
    told_m.or(usual_m).unwrap_or(3.0)
}

/// The volume of its air in m³.
fn volume_m3(input: &PlanInput<'_>) -> f64 {
    let told = input.survey.surroundings.room_volume_m3;
    let volume_m3 = told.unwrap_or_else(|| input.survey.area.m2() * height_m(input));
    // The smallest and the largest room that the physics knows.
    volume_m3.clamp(1.0, 1e7)
}

/// How often its air is changed, per hour.
fn air_changes(input: &PlanInput<'_>) -> f64 {
    let (around, room) = (&input.survey.surroundings, &input.base.room);
    let told = around.ventilation.map(Ventilation::word);
    let way = told.unwrap_or(&room.usual_ventilation);
    let usual = || room.air_changes_per_h.get(way).copied().unwrap_or(0.0);
    around.air_changes_per_h.unwrap_or_else(usual)
}

/// The volume of the room: as told, else the floor under a ceiling as high as told or as is usual.
fn volume(input: &PlanInput<'_>) -> Basis {
    let (around, room) = (&input.survey.surroundings, &input.base.room);
    let (formula, inputs) = match around.room_volume_m3 {
        Some(_told) => ("as told", Vec::new()),
        None => (
            "area · ceiling height, as told or usual for the kind of space",
            vec![
                figure("area", input.survey.area.m2(), "m²"),
                figure("ceiling_height", height_m(input), "m"),
            ],
        ),
    };
    of_room(
        room,
        "room.volume",
        ("volume of the room's air", formula),
        (volume_m3(input), "m³"),
        inputs,
    )
}

/// How often its air is changed: as told, else as is usual for the way in which it is changed.
fn changes(input: &PlanInput<'_>) -> Basis {
    let (around, room) = (&input.survey.surroundings, &input.base.room);
    let formula = match (around.air_changes_per_h, around.ventilation) {
        (Some(_told), _) => "as told",
        (None, Some(_told)) => "usual for the ventilation of the survey",
        (None, None) => "usual with doors and windows open, as nobody told of the ventilation",
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
        (air_changes(input), "1/h"),
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
