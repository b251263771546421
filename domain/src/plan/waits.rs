//! The waits of a plan: never below the label, lengthened by what the air of the room does to the film.

use super::{DraftPlanError, PlanInput, PlannedStep, steps};
use crate::{
    estimate::basis::{Basis, input as figure},
    knowledge::{Facts, Grade, Hold},
    physics::{
        drying::{DoesNotDry, DryTime, Drying, Floor, FloorConductance, WetFilm, WetFilmReading},
        psychrometrics::Air,
    },
    quantity::{float, whole},
};

/// A wait between two events.
#[derive(Debug, Clone, PartialEq)]
pub struct Wait {
    /// Its key.
    pub key: String,
    /// From what to what.
    pub name: String,
    /// Minutes by the label, or usual where there is none.
    pub label_min: i64,
    /// Minutes in half of the cases.
    pub p50_min: i64,
    /// Minutes in four of five cases: what the plan uses.
    pub used_min: i64,
    /// Where the minutes come from.
    pub cause: String,
    /// Whether the caller gave it.
    pub given: bool,
    /// Where its reason stands.
    pub basis: String,
}

/// The wait of a label, or what is usual where there is none.
struct Label<'a> {
    min: i64,
    /// Whether the product's label says it.
    of_product: bool,
    source: &'a str,
    grade: Grade,
}

/// Works waits out for one floor and its air.
pub(super) struct Waits<'a> {
    pub(super) input: &'a PlanInput<'a>,
    pub(super) drying: Drying,
    pub(super) basis: Vec<Basis>,
    /// Whether a given wait is shorter than the one worked out.
    pub(super) shortened: bool,
    /// Whether a given wait is shorter than any that is ever right.
    pub(super) below_least: bool,
    /// Whether something that was laid never dries.
    pub(super) does_not_dry: bool,
}

/// How films dry on the floor: the same for all candidates.
///
/// # Errors
/// [`DraftPlanError::Climate`] for a floor temperature outside the range of the physics.
pub(super) fn drying(
    input: &PlanInput<'_>,
    air: &Air,
    conductance: &str,
) -> Result<Drying, DraftPlanError> {
    let conductance = match conductance {
        "stone" => FloorConductance::Stone,
        "timber" => FloorConductance::Timber,
        _ => FloorConductance::Resilient,
    };
    let floor = Floor::new(input.climate.floor_c, conductance).map_err(|refused| {
        DraftPlanError::Climate {
            reason: refused.to_string(),
        }
    })?;
    Ok(Drying::between(air, &floor))
}

impl<'a> Waits<'a> {
    pub(super) const fn new(input: &'a PlanInput<'a>, drying: Drying) -> Self {
        Self {
            input,
            drying,
            basis: Vec::new(),
            shortened: false,
            below_least: false,
            does_not_dry: false,
        }
    }

    /// The wait of a key after a step; `None` if the knowledge base has no such wait.
    pub(super) fn after(
        &mut self,
        key: &str,
        step: &PlannedStep,
        facts: &Facts<'_>,
    ) -> Option<Wait> {
        let base = self.input.base;
        let hold = base.hold(key)?;
        let product = step
            .product
            .as_ref()
            .and_then(|used| self.input.products().product(&used.key));
        let label = match (hold.coat, product) {
            (true, Some(row)) if hold.key == "to_foot" => row.foot_wait_min,
            (true, Some(row)) => row.coat_wait_min,
            _ => None,
        };
        let label_min = label.unwrap_or(hold.typical_min).max(hold.least_min);
        let film = match (hold.coat, product, step.coat) {
            // A coat without a share of water is no water that air takes up: its label alone decides.
            (true, Some(row), Some(coat)) => row.water_share.and_then(|water_mass_fraction| {
                let thickness_um = 1_000.0 / steps::coverage(row, coat.layer, facts);
                WetFilm::new(WetFilmReading::CoatThickness {
                    thickness_um,
                    density_kg_m3: 1_000.0,
                    water_mass_fraction,
                })
                .ok()
            }),
            _ => hold
                .water_g_m2
                .and_then(|mass_g_m2| WetFilm::new(WetFilmReading::Water { mass_g_m2 }).ok()),
        };
        let dried = film.map(|film| self.drying.time(&film));
        // What a data sheet says is told as its word, not as that of the trade.
        let sheet = product.filter(|row| label.is_some() && row.own.is_some());
        let (source, grade) =
            sheet.map_or((&hold.source, hold.grade), |row| (&row.source, row.grade));
        let label = Label {
            min: label_min,
            of_product: label.is_some(),
            source,
            grade,
        };
        Some(self.settle(hold, &label, dried, step.number))
    }

    /// Takes the longest of label and drying, or what the caller gave.
    fn settle(
        &mut self,
        hold: &Hold,
        label: &Label<'_>,
        dried: Option<Result<DryTime, DoesNotDry>>,
        step: usize,
    ) -> Wait {
        let label_min = label.min;
        let minutes = |seconds: f64| whole((seconds / 60.0).ceil()).unwrap_or(i64::MAX);
        let (p50, p80) = match &dried {
            Some(Ok(time)) => (minutes(time.p50_s), minutes(time.p80_s)),
            Some(Err(_never)) => {
                self.does_not_dry = true;
                (label_min, label_min)
            }
            None => (label_min, label_min),
        };
        let worked_out = p80.max(label_min);
        let given = self.given(&hold.key);
        self.shortened |= given.is_some_and(|given| given < worked_out);
        // The product's label wins over whoever asks for less; what is usual in the trade does not.
        let least = if label.of_product {
            label_min
        } else {
            hold.least_min
        };
        self.below_least |= given.is_some_and(|given| given < least);
        let used_min = given.unwrap_or(worked_out);
        let climate = self.input.climate;
        let cause = if given.is_some() {
            "given by the caller".to_owned()
        } else if p80 > label_min {
            format!(
                "drying at {} °C over a floor of {} °C at {} % humidity, four cases of five",
                climate.air_c, climate.floor_c, climate.humidity_pct
            )
        } else if label.of_product {
            "the product's label".to_owned()
        } else {
            "usual in the trade".to_owned()
        };
        let basis = format!("wait.{}.{step}", hold.key);
        self.basis.push(Basis {
            id: basis.clone(),
            what: format!("wait {}", hold.name),
            formula: "given, else max(label, drying time in four cases of five)",
            inputs: vec![
                figure("label", float(label_min), "min"),
                figure("drying_p50", float(p50), "min"),
                figure("drying_p80", float(p80), "min"),
                figure("air", climate.air_c, "°C"),
                figure("floor", climate.floor_c, "°C"),
                figure("humidity", climate.humidity_pct, "%"),
                figure("air_speed", climate.air_speed_m_s, "m/s"),
            ],
            result: float(used_min),
            unit: "min",
            rounding: "drying times up to whole minutes",
            source: label.source.to_owned(),
            grade: label.grade,
        });
        Wait {
            key: hold.key.clone(),
            name: hold.name.clone(),
            label_min,
            p50_min: given.unwrap_or(p50.max(label_min)),
            used_min,
            cause,
            given: given.is_some(),
            basis,
        }
    }

    fn given(&self, key: &str) -> Option<i64> {
        let waits = self.input.wish.limits.waits;
        match key {
            "rinse_to_coat" => waits.rinse_to_coat_min,
            "seal_to_next" | "polish_to_next" => waits.between_coats_min,
            "to_foot" => waits.to_foot_min,
            "mop_to_foot" => waits.mop_to_foot_min,
            _ => None,
        }
    }

    /// After how many minutes a laid solution of `ml` per m² would dry up.
    pub(super) fn solution_dries_after(&self, ml: f64) -> Option<i64> {
        let film = WetFilm::new(WetFilmReading::Water { mass_g_m2: ml }).ok()?;
        let time = self.drying.time(&film).ok()?;
        whole((time.p50_s / 60.0).floor())
    }
}
