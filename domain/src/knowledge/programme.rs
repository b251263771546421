//! How polish wears in the lane, what upkeep gives back, and what programmes over years reckon with.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::{Grade, KnowledgeBase};
use crate::survey::{FilmCondition, Soil, Traffic};

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
    /// What can be done.
    Upkeep {
        /// The word that names it everywhere.
        key: String,
        /// Its name.
        name: String,
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

    /// An action by its word.
    pub fn action(&self, key: &str) -> Option<&Upkeep> {
        self.action.iter().find(|row| row.key == key)
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

    /// Everything that is missing or cannot be.
    pub(super) fn faults(&self, base: &KnowledgeBase) -> Vec<String> {
        let mut faults = Vec::new();
        let mut need = |holds: bool, what: String| {
            if !holds {
                faults.push(format!("programme: {what}"));
            }
        };
        let share = 0.0..=1.0;
        let gloss = &self.gloss;
        need(
            0.0 <= gloss.worn_gu
                && gloss.worn_gu < gloss.target_gu
                && gloss.target_gu < gloss.new_gu,
            "gloss: worn_gu < target_gu < new_gu".to_owned(),
        );
        need(
            share.contains(&gloss.recoat_share)
                && share.contains(&gloss.buff_restores)
                && gloss.buff_um >= 0.0
                && self.film.coat_um > 0.0,
            "gloss, film: shares from 0 to 1, µm not below 0".to_owned(),
        );
        let words: Vec<&str> = Traffic::ALL.iter().map(|word| word.word()).collect();
        let keys: Vec<&str> = self.traffic.iter().map(|row| row.key.as_str()).collect();
        need(
            words == keys,
            format!("traffic: one row for each of {words:?}, in that order"),
        );
        need(
            self.traffic.iter().all(|row| {
                row.passes_per_day > 0.0
                    && row.passes_per_day <= row.up_to_per_day
                    && row.film_um_per_kpass > 0.0
                    && row.gloss_kpass > 0.0
            }) && self
                .traffic
                .is_sorted_by(|one, other| one.up_to_per_day < other.up_to_per_day),
            "traffic: figures above 0, classes in the order of their passes".to_owned(),
        );
        let curve = &self.matting.curve;
        need(
            curve
                .first()
                .is_some_and(|[length, kept]| *length == 0.0 && *kept == 0.0)
                && curve.is_sorted_by(|one, other| one[0] < other[0] && one[1] <= other[1])
                && curve.iter().all(|[_, kept]| share.contains(kept))
                && kept(curve, self.matting.usual_m) > 0.0
                && self.matting.unmatted_wear >= 1.0,
            "matting: from [0, 0] upwards, shares from 0 to 1".to_owned(),
        );
        let soils = Soil::ALL.iter().map(|soil| self.soil.wear.get(soil.word()));
        need(
            soils
                .into_iter()
                .all(|wear| wear.is_some_and(|wear| *wear > 0.0)),
            "soil: wear of each word above 0".to_owned(),
        );
        faults.extend(self.faults_of_terms(base));
        faults
    }

    /// What is wrong with doubts, limits and actions.
    fn faults_of_terms(&self, base: &KnowledgeBase) -> Vec<String> {
        let mut faults = Vec::new();
        let mut need = |holds: bool, what: String| {
            if !holds {
                faults.push(format!("programme: {what}"));
            }
        };
        let share = 0.0..=1.0;
        let doubt = &self.doubt;
        // Three nodes at 1 - √3 σ, 1 and 1 + √3 σ stand for the months; none may bring film back.
        need(
            (0.0..=0.55).contains(&doubt.month),
            "doubt: month from 0 to 0.55".to_owned(),
        );
        need(
            [
                doubt.reading_gu,
                doubt.reading_ptv,
                doubt.new_gu,
                doubt.unknown_gu,
                doubt.loss,
            ]
            .iter()
            .all(|sigma| *sigma > 0.0)
                && doubt.drift_gu2 >= 0.0
                && doubt.drift_loss >= 0.0,
            "doubt: deviations above 0".to_owned(),
        );
        need(
            self.grip.least_ptv > 0.0 && (0..=365).contains(&self.grip.same_days),
            "grip: least_ptv above 0, same_days from 0 to 365".to_owned(),
        );
        need(
            share.contains(&self.service.below_share),
            "service: below_share".to_owned(),
        );
        for key in [BUFF, RECOAT, STRIP] {
            let row = self.action(key);
            let known = row.is_some_and(|row| FilmCondition::of(&row.condition).is_some());
            need(known, format!("action {key}: its row and condition"));
            for process in row.into_iter().flat_map(|row| &row.processes) {
                let known = base.process(process).is_some();
                need(
                    known,
                    format!("action {key}: no process is named {process}"),
                );
            }
        }
        faults
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
mod tests {
    use super::{KnowledgeBase, Traffic};

    #[test]
    fn wear_is_what_usual_intervals_imply() {
        let base = KnowledgeBase::builtin().unwrap();
        for traffic in Traffic::ALL {
            let row = base.programme.wear(*traffic, None).unwrap();
            let days = |process: &str| {
                let days = base.process(process).unwrap().interval_days[traffic.word()];
                crate::quantity::float(days)
            };
            let recoat = row.passes_per_day * days("scrub_and_recoat") / 1_000.0;
            let buff = row.passes_per_day * days("spray_buff") / 1_000.0;
            let film = 8.0 / recoat;
            let gloss = -buff / 0.85_f64.ln();
            assert!(
                (row.film_um_per_kpass / film - 1.0).abs() < 0.01,
                "{traffic:?}: {film}"
            );
            assert!(
                (row.gloss_kpass / gloss - 1.0).abs() < 0.01,
                "{traffic:?}: {gloss}"
            );
        }
    }

    #[test]
    fn less_matting_wears_more_and_counted_passes_choose_the_class() {
        let figures = &KnowledgeBase::builtin().unwrap().programme;
        // By hand: at 3 m 48 % of the soil gets in, 14 % at 4.6 m: 1 + 2.3 × 0.34 / 0.86.
        let by_hand = [(0.0, 3.3), (3.0, 1.909_302), (4.6, 1.0), (9.0, 0.679_07)];
        for (length, times) in by_hand {
            assert!((figures.matted(length) - times).abs() < 1e-5, "{length}");
        }
        let class = |passes| &figures.wear(Traffic::Light, passes).unwrap().key;
        assert_eq!(class(None), "light");
        assert_eq!(class(Some(1_000.0)), "medium");
        assert_eq!(class(Some(1_001.0)), "heavy");
    }
}
