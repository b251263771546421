//! What a drying floor does to the air of its room, and what that does to the drying.
//!
//! A coat gives its water to the room: in a small or closed room the air grows damp and the coat slows itself down. The
//! balance of film and room is followed step by step: `dW/dt = A E / (ρ V) − n (W − W_supply)`, with the evaporation
//! `E` at the humidity of that moment. The model is ours, like the drying that it rests on: walls and furniture that take
//! moisture up are left out, so it errs towards the longer wait. It knows no label and no plan.

mod laying;
mod rates;

pub use laying::Laying;

use self::laying::Wet;
use self::rates::{Piece, Rates};
use super::drying::{DoesNotDry, DoesNotDryReason, DryTime, Drying, Floor, LONGEST_S, WetFilm};
use super::psychrometrics::{Air, saturation_pressure_pa, vapour_pressure_pa};
use super::range::{self, RefusedValues, check_all};

#[cfg(test)]
mod tests;

/// Share of what its air could take up, until it is full, up to which a room hardly notices: its humidity is taken as
/// unchanged.
const HARDLY_NOTICED: f64 = 0.02;
/// How a room is followed: 0.4 % of a wait in 19 of 20 rooms beside steps of a second, and 1.5 % in any that a
/// test tries.
const STEPS: Steps = Steps {
    share: 0.1,
    longest_s: 600.0,
};

/// How long the steps are in which a room is followed.
#[derive(Debug, Clone, Copy)]
struct Steps {
    /// The share of its water that leaves a film at the constant rate meanwhile.
    share: f64,
    /// At most so many seconds; so long while bays are still laid.
    longest_s: f64,
}

/// What is known of a room; [`Room::new`] checks it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoomReading {
    /// Volume of its air in m³, from 1 to 10 000 000.
    pub volume_m3: f64,
    /// How often an hour its air is changed, from 0 to 60.
    pub air_changes_per_h: f64,
    /// Kilograms of water per kilogram of the dry air that comes in, from 0 to 0.15; `None` where that is as the air of
    /// the room was before the work.
    pub supply_ratio: Option<f64>,
}

/// A room, with every reading inside its legal range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room(RoomReading);

impl Room {
    /// Accepts a room.
    ///
    /// # Errors
    /// [`RefusedValues`] names every reading outside its range.
    pub fn new(reading: RoomReading) -> Result<Self, RefusedValues> {
        check_all(&[
            (range::ROOM_VOLUME, reading.volume_m3),
            (range::AIR_CHANGES, reading.air_changes_per_h),
            (range::SUPPLY_RATIO, reading.supply_ratio.unwrap_or(0.0)),
        ])?;
        Ok(Self(reading))
    }

    /// What it was made of.
    pub const fn reading(&self) -> &RoomReading {
        &self.0
    }
}

/// How long a film takes in a room, and how humid the room grows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoomDryTime {
    /// The times; rate and film temperature are those of the first moment.
    pub time: DryTime,
    /// The highest relative humidity of the room until then, as a share.
    pub humidity_peak: f64,
}

/// How films dry on the floor of a room: worked out once, asked for many films.
#[derive(Debug, Clone)]
pub struct RoomDrying {
    drying: Drying,
    air: Air,
    floor: Floor,
    room: Room,
    rates: Rates,
}

impl RoomDrying {
    /// How films dry between an air and a floor; how fast at each humidity is found once the room comes to it, as that is
    /// the slow part and most rooms stay far from the dampest.
    pub fn between(air: &Air, floor: &Floor, room: &Room) -> Self {
        let supply = room.0.supply_ratio.unwrap_or_else(|| air.humidity_ratio());
        Self {
            drying: Drying::between(air, floor),
            air: *air,
            floor: *floor,
            room: *room,
            rates: Rates::between(air, floor, supply),
        }
    }

    /// The same air and floor in another room; what is known of them stays known where that room takes the same air in.
    #[must_use]
    pub fn in_room(&self, room: &Room) -> Self {
        if room.0.supply_ratio == self.room.0.supply_ratio {
            Self {
                room: *room,
                ..self.clone()
            }
        } else {
            Self::between(&self.air, &self.floor, room)
        }
    }

    /// The air at the first moment.
    pub const fn air(&self) -> &Air {
        &self.air
    }

    /// The floor.
    pub const fn floor(&self) -> &Floor {
        &self.floor
    }

    /// How films dry here while the room hardly notices.
    pub const fn open(&self) -> &Drying {
        &self.drying
    }

    /// The room.
    pub const fn room(&self) -> &Room {
        &self.room
    }

    /// The time that a film takes from the end of the last bay of a floor.
    ///
    /// Where all water of the film is next to nothing in the room and the air that comes in is no other than its own, its
    /// humidity is taken as unchanged; else the balance is followed in steps of a tenth of that water, of ten minutes at most.
    ///
    /// # Errors
    /// [`DoesNotDry`] where the air gives water to the film, or the median lies beyond seven days.
    pub fn time(&self, film: &WetFilm, laying: &Laying) -> Result<RoomDryTime, DoesNotDry> {
        // What condenses at once is refused as in the open: nobody waits for a room to dry under a wet coat.
        let condenses = |refused: &DoesNotDry| refused.reason == DoesNotDryReason::Condenses;
        let open = self.drying.time(film);
        if let Err(refused) = open
            && condenses(&refused)
        {
            return Err(refused);
        }
        let same_air = self.room.0.supply_ratio.is_none();
        let held = film.water_kg_m2() * laying.area_m2;
        let takes = (self.rates.high() - self.air.humidity_ratio())
            * self.air.density_kg_m3()
            * self.room.0.volume_m3;
        if same_air && held <= HARDLY_NOTICED * takes {
            return open.map(|time| RoomDryTime {
                time,
                humidity_peak: self.air.relative_humidity(),
            });
        }
        let (p50_s, peak_ratio) = self.follow(film, laying, STEPS);
        let time = self.drying.after(p50_s)?;
        let pressure_pa = self.air.pressure_pa();
        let peak_pa = vapour_pressure_pa(peak_ratio, pressure_pa);
        let peak = peak_pa / saturation_pressure_pa(self.air.temperature_c());
        Ok(RoomDryTime {
            time,
            humidity_peak: peak.clamp(self.air.relative_humidity(), 1.0),
        })
    }

    /// Follows film and room until the goal; gives the seconds from the end of the last bay (beyond the longest where the
    /// goal is never met) and the highest humidity ratio on the way.
    fn follow(&self, film: &WetFilm, laying: &Laying, steps: Steps) -> (f64, f64) {
        let (part_m2, part_s, n_parts) = laying.parts();
        let mut balance = Balance::new(self, film, part_m2);
        for _part in 0..n_parts {
            balance.wet.lay();
            let mut left_s = part_s;
            while left_s > 0.0 {
                balance.step(left_s.min(steps.longest_s));
                left_s -= steps.longest_s;
            }
        }
        // How far the last bay has come, counted as if it still dried at the constant rate: the goal is the film's path.
        let (mut seconds, mut path) = (0.0, 0.0);
        while seconds <= LONGEST_S {
            let by_s = balance.pace(steps);
            let dried = balance.step(by_s);
            if path + dried >= film.path() {
                let part = (film.path() - path) / dried;
                return (seconds + part * by_s, balance.peak.max(balance.ratio));
            }
            path += dried;
            seconds += by_s;
        }
        (f64::INFINITY, balance.peak)
    }
}

/// The room and what is wet in it, at a moment.
struct Balance<'r> {
    rates: &'r Rates,
    /// The piece of the rates that the humidity ratio lay on last.
    piece: Piece,
    water_kg_m2: f64,
    wet: Wet,
    /// By how much a part raises the humidity ratio with what it gives off, in m² per kg of the room's air.
    gain: f64,
    change_s: f64,
    ratio: f64,
    /// The highest humidity ratio at the beginning of a step.
    peak: f64,
}

impl<'r> Balance<'r> {
    fn new(room: &'r RoomDrying, film: &WetFilm, part_m2: f64) -> Self {
        let RoomReading {
            volume_m3,
            air_changes_per_h,
            ..
        } = room.room.0;
        let ratio = room.air.humidity_ratio();
        Self {
            rates: &room.rates,
            piece: room.rates.piece(room.rates.place(ratio)),
            water_kg_m2: film.water_kg_m2(),
            wet: Wet::new(film),
            gain: part_m2 / (room.air.density_kg_m3() * volume_m3),
            change_s: air_changes_per_h / 3_600.0,
            ratio,
            peak: ratio,
        }
    }

    /// The seconds of a step from here: the longest where next to nothing leaves a film.
    fn pace(&self, steps: Steps) -> f64 {
        let (rate, _) = self.piece.at(self.rates.place(self.ratio));
        let share_s = steps.share * self.water_kg_m2 / rate;
        if share_s > 0.0 {
            share_s.min(steps.longest_s)
        } else {
            steps.longest_s
        }
    }

    /// Goes on by `step_s` seconds; gives the share of its water that leaves a part at the constant rate meanwhile.
    fn step(&mut self, step_s: f64) -> f64 {
        self.peak = self.peak.max(self.ratio);
        let place = self.rates.place(self.ratio);
        if !self.piece.holds(place) {
            self.piece = self.rates.piece(place);
        }
        let (rate, fall) = self.piece.at(place);
        let gives = self.gain * self.wet.gives(rate * step_s / self.water_kg_m2);
        // Rate and humidity are taken as straight within a step, along the piece that it begins on: what a room
        // whose air crosses many pieces in a step loses by that is in the bounds of [`STEPS`].
        let towards = gives * rate + self.change_s * (self.rates.supply - self.ratio);
        let pull = gives * fall + self.change_s;
        let (rise, mean_rise) = relax(towards, pull, step_s);
        let dried = (rate - fall * mean_rise).max(0.0) * step_s / self.water_kg_m2;
        self.wet.dry(dried);
        self.ratio += rise;
        dried
    }
}

/// What `dx/dt = towards − pull x` comes to from 0 in `step_s` seconds: at the end, and in the mean.
fn relax(towards: f64, pull: f64, step_s: f64) -> (f64, f64) {
    let turns = pull * step_s;
    if turns < 1e-9 {
        return (towards * step_s, towards * step_s / 2.0);
    }
    let reached = 1.0 - (-turns).exp();
    let end = towards / pull;
    (end * reached, end * (1.0 - reached / turns))
}
