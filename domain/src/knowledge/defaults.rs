//! What holds where a site says nothing: rate card, climate, factors on rates, losses and coats.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::evidence::Grade;

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
    /// The coldest air and floor that a coat is laid in, in °C, where no data sheet says so.
    pub apply_min_c: f64,
    /// The warmest air and floor that a coat is laid in, in °C, where no data sheet says so.
    pub apply_max_c: f64,
    /// The most humid air that a coat is laid in, in %, where no data sheet says so.
    pub humidity_max_pct: f64,
    /// Share of laid liquid that is taken up again.
    pub slurry_share: f64,
    /// Area in m² of the smallest bay that is worked on its own, when a floor is too large for one access window.
    pub bay_m2: i64,
    /// The wait after which a rinsed, bare floor may be opened between two nights.
    pub bare_floor_wait: String,
}
