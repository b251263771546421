//! What the work does to water, air and drain, on the wire.

use domain::plan::{AcidDose, Chemistry, Corrosive, Neutralising, RoomVapour, SlurryPh};
use serde::Serialize;
use utoipa::ToSchema;

use super::{number, plan::FindingView};

/// What the work does to water, air and drain. pH is told to 0.1: a reading on the floor decides, not these numbers.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ChemistryView {
    /// How alkali comes off, where a solution leaves any.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    neutralising: Option<NeutralisingView>,
    /// Products that count as corrosive to the skin, category 1, by their pH, where no other data say more.
    #[schema(max_items = 50)]
    corrosive: Vec<CorrosiveView>,
    /// The vapour in the room, where a product gives any off.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    vapour: Option<VapourView>,
    /// The slurry, where any is taken up.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    slurry: Option<SlurryView>,
}

impl From<&Chemistry> for ChemistryView {
    fn from(chemistry: &Chemistry) -> Self {
        Self {
            neutralising: chemistry.neutralising.as_ref().map(Into::into),
            corrosive: chemistry.corrosive.iter().map(Into::into).collect(),
            vapour: chemistry.vapour.as_ref().map(Into::into),
            slurry: chemistry.slurry.as_ref().map(Into::into),
        }
    }
}

/// How alkali comes off a floor.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = Neutralising)]
pub(crate) struct NeutralisingView {
    /// pH of the film that is left: of the strongest solution, or as measured before the work where that is more.
    #[schema(minimum = -1, maximum = 15)]
    residue_ph: f64,
    /// Whether it is the survey's `residue_ph`.
    measured: bool,
    /// Clean rinses that the plan has after its last alkaline solution.
    #[schema(minimum = 0)]
    rinses_planned: i64,
    /// Clean rinses that bring the film to `target_ph`; absent where not even a hundred do.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 100)]
    rinses_needed: Option<i64>,
    /// Clean water of the last rinse in mL/m²; of a usual one where the plan has none.
    #[schema(minimum = 0)]
    rinse_ml_m2: f64,
    /// The pH that is to be reached.
    #[schema(minimum = 0, maximum = 14)]
    target_ph: f64,
    /// Alkalinity of the water in mg/L of calcium carbonate.
    #[schema(minimum = 0)]
    alkalinity_mg_l: f64,
    /// Whether the survey told it; else it is what is usual.
    alkalinity_told: bool,
    /// What acid would do.
    acid: AcidDoseView,
    /// Where the reason stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&Neutralising> for NeutralisingView {
    fn from(row: &Neutralising) -> Self {
        Self {
            residue_ph: number::tenths(row.residue_ph),
            measured: row.measured,
            rinses_planned: row.rinses_planned,
            rinses_needed: row.rinses_needed,
            rinse_ml_m2: number::tenths(row.rinse_ml_m2),
            target_ph: row.target_ph,
            alkalinity_mg_l: row.alkalinity_mg_l,
            alkalinity_told: row.alkalinity_told,
            acid: (&row.acid).into(),
            basis: row.basis.clone(),
        }
    }
}

/// What acid would do in place of rinses.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = AcidDose)]
pub(crate) struct AcidDoseView {
    /// Whether the plan uses it.
    used: bool,
    /// 5 % vinegar in mL that matches the alkali of the film left on the floor; a lower bound.
    #[schema(minimum = 0)]
    vinegar_ml: f64,
    /// 5 % vinegar in mL that the alkalinity of one rinse's water uses up before any is left for the floor.
    #[schema(minimum = 0)]
    used_up_by_water_ml: f64,
    /// pH of the plan's neutraliser as it is diluted, in this water; absent where its strength is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = -1, maximum = 15)]
    ph_in_water: Option<f64>,
    /// The rules that refuse acid on this floor.
    #[schema(max_items = 20)]
    refused_by: Vec<FindingView>,
    /// Where the reason of the doses stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&AcidDose> for AcidDoseView {
    fn from(row: &AcidDose) -> Self {
        Self {
            used: row.used,
            vinegar_ml: number::tenths(row.vinegar_ml),
            used_up_by_water_ml: number::tenths(row.used_up_by_water_ml),
            ph_in_water: row.ph_in_water.map(number::tenths),
            refused_by: row.refused_by.iter().map(Into::into).collect(),
            basis: row.basis.clone(),
        }
    }
}

/// A product that is corrosive by its pH.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = Corrosive)]
pub(crate) struct CorrosiveView {
    /// Its key.
    #[schema(max_length = 60)]
    product: String,
    /// pH as supplied.
    ph_supplied: f64,
    /// pH as used.
    ph_in_use: f64,
    /// Whether it still counts as corrosive as it is used.
    in_use: bool,
    /// It counts as corrosive at this pH or less.
    least_ph: f64,
    /// It counts as corrosive at this pH or more.
    most_ph: f64,
    /// The source of these limits.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&Corrosive> for CorrosiveView {
    fn from(row: &Corrosive) -> Self {
        Self {
            product: row.product.clone(),
            ph_supplied: row.ph_supplied,
            ph_in_use: row.ph_in_use,
            in_use: row.in_use,
            least_ph: row.limits.0,
            most_ph: row.limits.1,
            source: row.source.clone(),
            grade: row.grade.word(),
        }
    }
}

/// Vapour in the air of the room, taken as well mixed.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = RoomVapour)]
pub(crate) struct VapourView {
    /// Volatile organic compounds of all products as far as figures are known, in g.
    #[schema(minimum = 0)]
    mass_g: f64,
    /// The product that comes nearest to its limit.
    #[schema(max_length = 60)]
    product: String,
    /// The most that the air of the room then holds, in mg/m³.
    #[schema(minimum = 0)]
    peak_mg_m3: f64,
    /// What it may hold over a working day, in mg/m³.
    #[schema(minimum = 0)]
    limit_mg_m3: f64,
    /// Where the reason stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&RoomVapour> for VapourView {
    fn from(row: &RoomVapour) -> Self {
        Self {
            mass_g: number::tenths(row.mass_g),
            product: row.product.clone(),
            peak_mg_m3: number::tenths(row.peak_mg_m3),
            limit_mg_m3: row.limit_mg_m3,
            basis: row.basis.clone(),
        }
    }
}

/// The slurry that is taken up.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = SlurryPh)]
pub(crate) struct SlurryView {
    /// How much, in L.
    #[schema(minimum = 0)]
    volume_l: f64,
    /// Its pH, all of it mixed.
    #[schema(minimum = -1, maximum = 15)]
    ph: f64,
    /// The lowest pH for the foul drain; the consent of the sewer's owner comes first.
    drain_least_ph: f64,
    /// The highest pH for the foul drain; the consent of the sewer's owner comes first.
    drain_most_ph: f64,
    /// Whether its pH lies between these; solids and metal are another question.
    within_drain_ph: bool,
    /// Where the reason stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&SlurryPh> for SlurryView {
    fn from(row: &SlurryPh) -> Self {
        let (least, most) = row.drain_ph;
        Self {
            volume_l: number::litres(row.volume),
            ph: number::tenths(row.ph),
            drain_least_ph: least,
            drain_most_ph: most,
            within_drain_ph: least <= row.ph && row.ph <= most,
            basis: row.basis.clone(),
        }
    }
}
