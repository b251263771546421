//! Why a wait is as long as it is, in words and in figures.

use super::{Laid, RuledBy, Waits, least_of};
use crate::{
    estimate::basis::{Input as Figure, input as figure},
    knowledge::{Grade, Hold, Product},
    quantity::float,
};

/// What a wait is never shorter than, whatever the air: label or usual, and the maker's.
pub(super) struct Least<'a> {
    pub(super) label_min: Option<i64>,
    pub(super) usual_min: Option<i64>,
    pub(super) maker_min: Option<i64>,
    pub(super) source: &'a str,
    pub(super) grade: Grade,
}

impl Least<'_> {
    /// The longest of them.
    pub(super) fn min(&self) -> i64 {
        let all = [self.label_min, self.usual_min, self.maker_min];
        all.into_iter().flatten().max().unwrap_or(0)
    }

    /// Which of them that is.
    pub(super) fn rules(&self) -> RuledBy {
        least_of(self.label_min, self.maker_min, self.min())
    }

    /// Them with their names.
    pub(super) fn figures(&self) -> impl Iterator<Item = Figure> {
        let all = [
            ("label", self.label_min),
            ("usual", self.usual_min),
            ("maker", self.maker_min),
        ];
        let known = all.into_iter().filter_map(|(name, min)| Some((name, min?)));
        known.map(|(name, min)| figure(name, float(min), "min"))
    }
}

impl Waits<'_> {
    /// What makes a wait as long as it is, in words.
    pub(super) fn cause(&self, ruled_by: RuledBy, laid: &Laid, p50_min: i64) -> String {
        let climate = self.input.climate;
        match ruled_by {
            RuledBy::Label => "the product's label".to_owned(),
            RuledBy::Maker => "the instruction of the floor's maker".to_owned(),
            RuledBy::Usual => "usual in the trade".to_owned(),
            RuledBy::Caller => "given by the caller".to_owned(),
            RuledBy::Drying => {
                let room = self.air.drying.room().reading();
                let bays = match laid {
                    Laid::Dries { laying, .. } if laying.over_s > 0.0 => format!(
                        " with {:.0} m² wet at once, from the end of the last bay",
                        laying.wet_m2(float(p50_min) * 60.0)
                    ),
                    _ => String::new(),
                };
                format!(
                    "drying at {} °C over a floor of {} °C from {} % humidity, in {:.0} m³ of air changed {} times an hour{bays}, four cases of five",
                    climate.air_c,
                    climate.floor_c,
                    climate.humidity_pct,
                    room.volume_m3,
                    room.air_changes_per_h
                )
            }
            RuledBy::Curing => format!(
                "hardening at {} °C over a floor of {} °C, colder or drier than the label's minutes are meant for",
                climate.air_c, climate.floor_c
            ),
        }
    }

    /// What goes into a wait beside the words of label and maker.
    pub(super) fn figures(&self, laid: &Laid, (p50, p80): (i64, i64)) -> Vec<Figure> {
        let climate = self.input.climate;
        let air = [
            figure("air", climate.air_c, "°C"),
            figure("floor", climate.floor_c, "°C"),
            figure("humidity", climate.humidity_pct, "%"),
        ];
        match laid {
            Laid::Nothing => Vec::new(),
            Laid::Hardens { curing, .. } => {
                let reading = curing.reading();
                let mut inputs = vec![
                    figure("hardened", float(p80), "min"),
                    figure("activation_energy", reading.activation_kj_mol, "kJ/mol"),
                    figure("label_temperature", reading.label_c, "°C"),
                ];
                inputs.extend(air);
                inputs
            }
            Laid::Dries {
                film,
                laying,
                dried,
                ..
            } => {
                let room = self.air.drying.room().reading();
                let mut inputs = vec![
                    figure("drying_p50", float(p50), "min"),
                    figure("drying_p80", float(p80), "min"),
                    figure("water", film.water_kg_m2() * 1e3, "g/m²"),
                    figure("laid_area", laying.area_m2, "m²"),
                    figure("laid_over", laying.over_s / 60.0, "min"),
                    figure("wet_area", laying.wet_m2(float(p50) * 60.0), "m²"),
                ];
                inputs.extend(air);
                inputs.extend([
                    figure("air_speed", climate.air_speed_m_s, "m/s"),
                    figure("room_volume", room.volume_m3, "m³"),
                    figure("air_changes", room.air_changes_per_h, "1/h"),
                ]);
                inputs.extend(dried.inputs("dry_time_multiple"));
                inputs
            }
        }
    }
}

/// How a wait is worked out, in the names of its inputs.
pub(super) fn formula(laid: &Laid) -> &'static str {
    match laid {
        Laid::Nothing => "given, else max(label or usual, maker's)",
        Laid::Dries { dried, .. } if dried.learnt().is_some() => {
            "given, else max(label or usual, maker's, dry_time_multiple times the drying time of the last bay, in four cases of five); the room takes the water up: dW/dt = wet_area E / (ρ room_volume) − air_changes (W − W_supply), wet_area what was laid of laid_area at an even pace over laid_over and has not dried; drying_p50 and drying_p80 hold the multiple"
        }
        Laid::Dries { .. } => {
            "given, else max(label or usual, maker's, drying time of the last bay in four cases of five); the room takes the water up: dW/dt = wet_area E / (ρ room_volume) − air_changes (W − W_supply), wet_area what was laid of laid_area at an even pace over laid_over and has not dried"
        }
        Laid::Hardens { .. } => {
            "given, else max(label or usual, maker's, label · exp(Ea/R (1/T − 1/T_label))), T the colder of air and floor"
        }
    }
}

/// Where a wait comes from whose words come from `words`.
pub(super) fn source(laid: &Laid, words: &str) -> String {
    match laid {
        Laid::Dries { dried, .. } => dried.source(words),
        Laid::Nothing | Laid::Hardens { .. } => words.to_owned(),
    }
}

/// Minutes to walking on a coat by its label: never before the next coat might be laid, of which alone many labels speak.
pub(super) fn foot_label(row: &Product, hold: &Hold) -> Option<i64> {
    let coat = row.coat_wait_min;
    match row.foot_wait_min {
        Some(foot) => coat.max(Some(foot)),
        None => coat.filter(|coat| *coat > hold.typical_min),
    }
}
