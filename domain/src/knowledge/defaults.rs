//! What holds where a site says nothing: rate card, climate, factors on rates, losses and coats.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::evidence::Grade;
use crate::survey::Skill;

/// What holds where a site's rate card says nothing.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RateCardDefaults {
    /// Cost of an operative's hour.
    pub labour_per_h: String,
    /// Share added to working time for rest, fatigue and delay, in %.
    pub allowance_pct: f64,
    /// Share added for what nobody foresees, in %.
    pub contingency_pct: f64,
    /// Share added for running the business, in %.
    pub overhead_pct: f64,
    /// Share of the price that is margin, in %.
    pub margin_pct: f64,
    /// Tax on the price, in %.
    pub tax_pct: f64,
    /// Operatives who work at the same time.
    pub crew_size: u8,
    /// Minutes to set up, once a job.
    pub setup_min: i64,
    /// Minutes to clean down, once a job.
    pub clean_down_min: i64,
    /// Cost of getting rid of a litre of slurry.
    pub waste_per_l: String,
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

/// The air over the floor where nobody says anything.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClimateDefaults {
    /// Air temperature in °C.
    pub air_c: f64,
    /// Floor temperature in °C.
    pub floor_c: f64,
    /// Relative humidity in %.
    pub humidity_pct: f64,
    /// Air speed over the floor in m/s.
    pub air_speed_m_s: f64,
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

/// What a film of many coats does to stripping it.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuildUp {
    /// More coats than these are many.
    pub over_coats: i64,
    /// Share of the rate that is then reached.
    pub rate: f64,
    /// How often the stripper is then laid.
    pub passes: i64,
}

/// Factors on rates, losses and coats.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Factors {
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
    /// Share of the rate reached, by obstruction.
    pub obstruction: BTreeMap<String, f64>,
    /// Share of the rate reached, by soil.
    pub soil: BTreeMap<String, f64>,
    /// What a film of many coats does to stripping it.
    pub build_up: BuildUp,
    /// The shortest and the longest edge of a floor whose edge nobody told, as multiples of that which is assumed.
    pub edge_range: [f64; 2],
    /// Minutes of a shift, set-up and clean-down included.
    pub shift_min: i64,
    /// Share of the rate reached, by area in m².
    pub room: Vec<[f64; 2]>,
    /// Share of product lost, by area in m².
    pub loss: Vec<[f64; 2]>,
    /// Coats of polish, by traffic.
    pub coats: BTreeMap<String, i64>,
    /// Coats of seal where one is laid.
    pub seal_coats: i64,
    /// How far early coats stop short of the skirting, in mm.
    pub edge_gap_mm: i64,
    /// Share of a measure by which what is told and what was drawn may differ.
    pub outline_tolerance: f64,
    /// The coldest air and floor that a coat is laid in, in °C, where no data sheet says so.
    pub apply_min_c: f64,
    /// The warmest air and floor that a coat is laid in, in °C, where no data sheet says so.
    pub apply_max_c: f64,
    /// The most humid air that a coat is laid in, in %, where no data sheet says so.
    pub humidity_max_pct: f64,
    /// Share of laid liquid that is taken up again.
    pub slurry_share: f64,
    /// What a solution comes down to in mL/m² where it runs thin: at edges, on high places.
    pub thin_film_ml_m2: f64,
    /// For how many days what was used on a floor and not rinsed off counts as still there.
    pub unrinsed_days: i64,
    /// pH of the wet floor that shows that it was rinsed: lowest, highest.
    pub rinsed_ph: [f64; 2],
    /// The wait after which a rinsed, bare floor may be opened between two nights.
    pub bare_floor_wait: String,
}

/// What skill and the number of operatives do to a rate, and what filling a bucket takes.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CrewFigures {
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
    /// Share of its rate that each operative reaches in a crew of one, two, ...; the last for every larger crew.
    pub size: Vec<f64>,
    /// Minutes to empty a bucket, fill it and bring it back.
    pub bucket_fill_min: f64,
    /// Area in m² after which the water in it is changed.
    pub bucket_m2: f64,
    /// Share of the rate that operatives of each skill reach.
    pub skill: Vec<SkillRate>,
}

/// Share of the rate that operatives of a skill reach.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SkillRate {
    /// The word for the skill.
    pub key: String,
    /// Share of the rate.
    pub rate: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

impl CrewFigures {
    /// Share of its rate that each operative of a crew reaches.
    pub fn reached(&self, crew: i64) -> f64 {
        let at = usize::try_from(crew.saturating_sub(1)).unwrap_or(0);
        let last = self.size.last().copied().unwrap_or(1.0);
        self.size.get(at).copied().unwrap_or(last)
    }

    /// What a skill does to the rate.
    pub fn skill(&self, key: &str) -> Option<&SkillRate> {
        self.skill.iter().find(|row| row.key == key)
    }

    /// Everything that is wrong with the figures.
    pub(super) fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        let mut most = 0.0;
        for (n, share) in (1..).zip(&self.size) {
            let together = crate::quantity::float(n) * share;
            if !(*share > 0.0 && *share <= 1.0 && together > most) {
                faults.push(format!(
                    "crew.size: a crew of {n} is no faster than one less"
                ));
            }
            most = together;
        }
        let words = Skill::ALL.iter().map(|skill| skill.word());
        let mut least = 0.0;
        for word in words {
            match self.skill(word) {
                Some(row) if row.rate > 0.0 && row.rate >= least => least = row.rate,
                _ => faults.push(format!(
                    "crew.skill: {word} is missing, or slower than the one before"
                )),
            }
        }
        let filled = self.bucket_fill_min >= 0.0 && self.bucket_m2 > 0.0;
        if self.size.is_empty() || !filled {
            faults.push(
                "crew: sizes, the minutes to fill a bucket and the area that it lasts for"
                    .to_owned(),
            );
        }
        faults
    }
}

/// What bays are measured by.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BayDefaults {
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
    /// Minutes for which the next stroke of a coat can join the one before.
    pub wet_edge_min: i64,
    /// Litres that an operative has at hand.
    pub bucket_l: f64,
    /// Area in m² of the smallest bay that is worked on its own, where nothing dries.
    pub least_m2: i64,
    /// Width in mm of what a coat is laid with.
    pub applicator_mm: i64,
    /// How many of these widths a floor must have to be coated across.
    pub strokes_across: i64,
    /// The least depth in mm of a bay from wall to wall.
    pub depth_mm: i64,
    /// The least width in mm of a neck that a seam may leave.
    pub passage_mm: i64,
    /// How far in mm a machine's rim is held off the skirting.
    pub clear_mm: i64,
}

/// What is usual of figures that jobs tell of as multiples, and beyond which none is believed.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LearningFigures {
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
    /// Of the coverage that a data sheet tells.
    pub coverage: LearntRange,
    /// Of the time that the drying model tells.
    pub dry_time: LearntRange,
}

/// Multiples of what is usual.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LearntRange {
    /// Where a site and its crew lie before a job has told: below the first in one case of ten, usually, above the last in one
    /// of ten.
    pub usual: [f64; 3],
    /// The least and the most that is believed, whatever jobs tell.
    pub bounds: [f64; 2],
}

impl LearningFigures {
    /// Everything that cannot be.
    pub(super) fn faults(&self) -> Vec<String> {
        let both = [("coverage", self.coverage), ("dry_time", self.dry_time)];
        let wrong = both.iter().filter(|(_name, range)| {
            let [low, typical, high] = range.usual;
            let [least, most] = range.bounds;
            let is_one = (typical - 1.0).abs() < f64::EPSILON;
            !(0.0 < least && least <= low && low < 1.0 && is_one && 1.0 < high && high <= most)
        });
        let fault = |(name, _range): &(&str, LearntRange)| {
            format!("spread.learning: {name}: usually 1, within its bounds")
        };
        wrong.map(fault).collect()
    }
}

/// How far jobs turn out from what was estimated, as the σ of logarithms.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpreadFigures {
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
    /// Of what goes with working time.
    pub labour: f64,
    /// Of what goes with what is used up.
    pub material: f64,
    /// How far jobs of one site turn out alike: the correlation of their logarithms.
    pub shared: f64,
    /// What jobs may tell of coverage and of drying.
    pub learning: LearningFigures,
}

impl SpreadFigures {
    /// Everything that cannot be.
    pub(super) fn faults(&self) -> Vec<String> {
        let sigma = |figure: f64| (0.0..=crate::estimate::spread::MAX_SIGMA).contains(&figure);
        let right = sigma(self.labour) && sigma(self.material) && (0.0..1.0).contains(&self.shared);
        let fault = "spread: a figure is outside its range".to_owned();
        let own = (!right).then_some(fault).into_iter();
        own.chain(self.learning.faults()).collect()
    }
}
