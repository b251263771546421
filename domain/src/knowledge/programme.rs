//! How films wear in the lane, what upkeep gives back, and what programmes over years reckon with.

mod check;

use std::collections::BTreeMap;

use serde::Deserialize;

use super::Grade;
use crate::survey::{FilmKind, Soil, Traffic};

/// The word of the action that buffs.
pub const BUFF: &str = "buff";
/// The word of the action that recoats.
pub const RECOAT: &str = "recoat";
/// The word of the action that strips and refinishes.
pub const STRIP: &str = "strip";

/// What programmes reckon with.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProgrammeFigures {
    /// The film in the lane.
    pub film: LaneFilm,
    /// Gloss at 60°.
    pub gloss: GlossFigures,
    /// Wear by traffic.
    pub traffic: Vec<TrafficWear>,
    /// What entrance matting does.
    pub matting: Matting,
    /// What soil does.
    pub soil: SoilWear,
    /// How uncertain it is.
    pub doubt: Doubt,
    /// The grip that is kept.
    pub grip: GripFigures,
    /// What is handed back at the end.
    pub hand_back: HandBack,
    /// How often gloss may lie below what is asked for.
    pub service: Service,
    /// Films other than polish.
    pub coating: Vec<Coating>,
    /// What can be done.
    pub action: Vec<Upkeep>,
}

macro_rules! figures {
    ($($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident: $type:ty,)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $($(#[$field_doc])* pub $field: $type,)+
            /// Where the figures come from.
            pub source: String,
            /// How far they can be trusted.
            pub grade: Grade,
        }
    )+};
}

figures! {
    /// The film in the lane.
    LaneFilm {
        /// Thickness of a dry coat in µm.
        coat_um: f64,
    }
    /// Gloss at 60° in GU.
    GlossFigures {
        /// Of a polish just laid.
        new_gu: f64,
        /// As dull as traffic makes it.
        worn_gu: f64,
        /// What is asked for where nobody says.
        target_gu: f64,
        /// Share of the gloss above the dullest that a recoat reaches.
        recoat_share: f64,
        /// Share of the loss that one buffing brings back.
        buff_restores: f64,
        /// What one buffing takes off, in µm.
        buff_um: f64,
    }
    /// Wear at a traffic class.
    TrafficWear {
        /// The word of the class.
        key: String,
        /// More passes a day than these are the next class.
        up_to_per_day: f64,
        /// Passes a day where nobody counted.
        passes_per_day: f64,
        /// Film worn off the lane by a thousand passes, in µm, well matted.
        film_um_per_kpass: f64,
        /// Thousand passes in which 63 % of the gloss above the dullest is lost.
        gloss_kpass: f64,
    }
    /// What entrance matting does.
    Matting {
        /// Metres walked on it, and the share of soil that it keeps.
        curve: Vec<[f64; 2]>,
        /// The length that counts as well matted.
        usual_m: f64,
        /// Times as much wear without any.
        unmatted_wear: f64,
    }
    /// What soil does.
    SoilWear {
        /// Times as much wear, by the word of the soil.
        wear: BTreeMap<String, f64>,
    }
    /// How uncertain wear and readings are.
    Doubt {
        /// σ of the wear of a month, as a share.
        month: f64,
        /// σ of one reading in GU.
        reading_gu: f64,
        /// σ of one reading in PTV.
        reading_ptv: f64,
        /// σ of the gloss of a polish just laid, in GU.
        new_gu: f64,
        /// σ of a gloss of which nothing is known, in GU.
        unknown_gu: f64,
        /// σ of the loss, as a share.
        loss: f64,
        /// σ of the film worn off, as a share.
        film: f64,
        /// Variance by which gloss strays per thousand passes, in GU².
        drift_gu2: f64,
        /// Variance by which the loss strays, as a share of its square.
        drift_loss: f64,
    }
    /// The grip that is kept.
    GripFigures {
        /// The least wet pendulum test value.
        least_ptv: f64,
        /// What each coat of build-up changes.
        per_coat: f64,
        /// What a lane that is worn through changes.
        worn_through: f64,
        /// Days before the newest reading within which readings are averaged.
        same_days: i64,
    }
    /// What is handed back at the end.
    HandBack {
        /// Coats in the lane.
        coats: u8,
    }
    /// How often gloss may lie below what is asked for.
    Service {
        /// As a share of the months.
        below_share: f64,
    }
    /// A film other than polish that wears and is renewed.
    Coating {
        /// The word of its kind.
        film: String,
        /// Whether its coats are counted.
        counted: bool,
        /// The fewest coats in the lane that are allowed.
        least_coats: f64,
        /// Coats with which it is handed back.
        hand_back_coats: f64,
        /// Coats that a renewal brings, where its process counts none.
        renewal_coats: Option<f64>,
        /// Coats in the lane by the condition that was told, where nobody counted: least, likely, most.
        left: BTreeMap<String, [f64; 3]>,
    }
    /// What can be done.
    Upkeep {
        /// The word that names it everywhere.
        key: String,
        /// Its name.
        name: String,
        /// What it is called in a sentence.
        doing: String,
        /// On which kinds of film.
        films: Vec<String>,
        /// By which processes, first things first.
        processes: Vec<String>,
        /// The condition of a film for which a process is looked up.
        condition: String,
    }
}

impl ProgrammeFigures {
    /// The wear of a traffic class; by counted passes where somebody counted.
    pub fn wear(&self, traffic: Traffic, passes_per_day: Option<f64>) -> Option<&TrafficWear> {
        match passes_per_day {
            Some(passes) => self
                .traffic
                .iter()
                .find(|row| passes <= row.up_to_per_day)
                .or(self.traffic.last()),
            None => self.traffic.iter().find(|row| row.key == traffic.word()),
        }
    }

    /// Figures of a class: its own, or between those of the two classes whose usual passes lie around a count, in the logarithms of
    /// both, so that more passes never wear less. `None` where a figure is missing.
    pub fn rates(
        &self,
        class: &TrafficWear,
        counted: Option<f64>,
        of: impl Fn(&TrafficWear) -> Option<[f64; 2]>,
    ) -> Option<([f64; 2], String)> {
        let as_class = |row: &TrafficWear| Some((of(row)?, row.source.clone()));
        let Some(passes) = counted else {
            return as_class(class);
        };
        let upper = self.traffic.iter().find(|row| passes <= row.passes_per_day);
        let lower = self.traffic.iter().rfind(|row| row.passes_per_day < passes);
        let (lower, upper) = match (lower, upper) {
            (Some(lower), Some(upper)) => (lower, upper),
            (one, other) => return as_class(one.or(other).unwrap_or(class)),
        };
        let way = (passes / lower.passes_per_day).ln()
            / (upper.passes_per_day / lower.passes_per_day).ln();
        let between = |from: f64, to: f64| from * (to / from).powf(way);
        let ([film, gloss], [film_above, gloss_above]) = (of(lower)?, of(upper)?);
        let source = format!(
            "between traffic classes `{}` ({}) and `{}` ({}) by the logarithm of the passes",
            lower.key, lower.source, upper.key, upper.source
        );
        Some((
            [between(film, film_above), between(gloss, gloss_above)],
            source,
        ))
    }

    /// An action by its word, on a kind of film.
    pub fn action(&self, key: &str, film: FilmKind) -> Option<&Upkeep> {
        let mut rows = self.action.iter();
        rows.find(|row| row.key == key && row.films.iter().any(|kind| kind == film.word()))
    }

    /// Whether a process does an action on some film.
    pub fn does(&self, process: &str, key: &str) -> bool {
        let mut rows = self.action.iter().filter(|row| row.key == key);
        rows.any(|row| row.processes.iter().any(|known| known == process))
    }

    /// What is known of a kind of film other than polish.
    pub fn coating(&self, film: FilmKind) -> Option<&Coating> {
        self.coating.iter().find(|row| row.film == film.word())
    }

    /// Times as much wear at this length of matting as well matted.
    pub fn matted(&self, length_m: f64) -> f64 {
        let row = &self.matting;
        let let_in = |length| 1.0 - kept(&row.curve, length);
        let (usual, none) = (let_in(row.usual_m), let_in(0.0));
        1.0 + (row.unmatted_wear - 1.0) * (let_in(length_m) - usual) / (none - usual)
    }

    /// Times as much wear at this soil.
    pub fn soiled(&self, soil: Option<Soil>) -> f64 {
        let word = soil.unwrap_or(Soil::Normal).word();
        self.soil.wear.get(word).copied().unwrap_or(1.0)
    }
}

/// The share of soil that matting of this length keeps: straight between the points of the curve, level beyond its end.
fn kept(curve: &[[f64; 2]], length_m: f64) -> f64 {
    let mut before = [0.0, 0.0];
    for point in curve {
        if length_m <= point[0] {
            let width = point[0] - before[0];
            if width <= 0.0 {
                return point[1];
            }
            return before[1] + (point[1] - before[1]) * (length_m - before[0]) / width;
        }
        before = *point;
    }
    before[1]
}

#[cfg(test)]
mod tests;
