//! The waits of a plan: never below the label, lengthened by what the air of the room does to the film.

use super::{DraftPlanError, PlanInput, PlannedStep, steps};
use crate::{
    estimate::basis::{Basis, Input as Figure, input as figure},
    knowledge::{Facts, Grade, Hold},
    physics::{
        drying::{DoesNotDry, DryTime, Drying, Floor, FloorConductance, WetFilm, WetFilmReading},
        psychrometrics::Air,
    },
    quantity::{float, whole},
    survey::GivenWaits,
};

/// A wait between two events.
#[derive(Debug, Clone, PartialEq)]
pub struct Wait {
    /// Its key.
    pub key: String,
    /// From what to what.
    pub name: String,
    /// Minutes by the product's label; `None` where it says nothing.
    pub label_min: Option<i64>,
    /// Minutes that are usual in the trade, where no label says any.
    pub usual_min: Option<i64>,
    /// Minutes that the floor's maker asks for.
    pub maker_min: Option<i64>,
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

/// What a wait is never shorter than, whatever the air: label or usual, and the maker's.
struct Least<'a> {
    label_min: Option<i64>,
    usual_min: Option<i64>,
    maker_min: Option<i64>,
    source: &'a str,
    grade: Grade,
}

impl Least<'_> {
    /// The longest of them.
    fn min(&self) -> i64 {
        let all = [self.label_min, self.usual_min, self.maker_min];
        all.into_iter().flatten().max().unwrap_or(0)
    }

    /// Which of them that is, in words.
    fn cause(&self) -> &'static str {
        let min = Some(self.min());
        if self.maker_min == min {
            "the instruction of the floor's maker"
        } else if self.label_min == min {
            "the product's label"
        } else {
            "usual in the trade"
        }
    }

    /// Them with their names.
    fn figures(&self) -> impl Iterator<Item = Figure> {
        let all = [
            ("label", self.label_min),
            ("usual", self.usual_min),
            ("maker", self.maker_min),
        ];
        let known = all.into_iter().filter_map(|(name, min)| Some((name, min?)));
        known.map(|(name, min)| figure(name, float(min), "min"))
    }
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

/// The wait of a key, where it is one of these.
pub(super) fn wait_of(key: &str, waits: &GivenWaits) -> Option<i64> {
    match key {
        "rinse_to_coat" => waits.rinse_to_coat_min,
        "seal_to_next" | "polish_to_next" => waits.between_coats_min,
        "to_foot" => waits.to_foot_min,
        "mop_to_foot" | "wet_mop_to_foot" | "rinse_to_foot" => waits.mop_to_foot_min,
        _ => None,
    }
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
        let usual = label.is_none().then_some(hold.typical_min);
        let film = match (hold.coat, product, step.coat) {
            // A coat without a share of water is no water that air takes up: its label alone decides.
            (true, Some(row), Some(coat)) => row.water_share.and_then(|water_mass_fraction| {
                let thickness_um = 1_000.0 / steps::coverage(row, coat.layer, facts)?;
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
        let least = Least {
            label_min: label.map(|label| label.max(hold.least_min)),
            usual_min: usual.map(|usual| usual.max(hold.least_min)),
            maker_min: self.input.makers_wait(key),
            source,
            grade,
        };
        Some(self.settle(hold, &least, dried, step.number))
    }

    /// Takes the longest of label, maker and drying, or what the caller gave.
    fn settle(
        &mut self,
        hold: &Hold,
        least: &Least<'_>,
        dried: Option<Result<DryTime, DoesNotDry>>,
        step: usize,
    ) -> Wait {
        let least_min = least.min();
        let minutes = |seconds: f64| whole((seconds / 60.0).ceil()).unwrap_or(i64::MAX);
        let (p50, p80) = match &dried {
            Some(Ok(time)) => (minutes(time.p50_s), minutes(time.p80_s)),
            Some(Err(_never)) => {
                self.does_not_dry = true;
                (least_min, least_min)
            }
            None => (least_min, least_min),
        };
        let worked_out = p80.max(least_min);
        let given = self.given(&hold.key);
        self.shortened |= given.is_some_and(|given| given < worked_out);
        // The product's label wins over whoever asks for less; what is usual in the trade does not.
        let bound = least.label_min.unwrap_or(hold.least_min);
        self.below_least |= given.is_some_and(|given| given < bound);
        let used_min = given.unwrap_or(worked_out);
        let climate = self.input.climate;
        let cause = if given.is_some() {
            "given by the caller".to_owned()
        } else if p80 > least_min {
            format!(
                "drying at {} °C over a floor of {} °C at {} % humidity, four cases of five",
                climate.air_c, climate.floor_c, climate.humidity_pct
            )
        } else {
            least.cause().to_owned()
        };
        let basis = format!("wait.{}.{step}", hold.key);
        let mut inputs: Vec<Figure> = least.figures().collect();
        inputs.extend([
            figure("drying_p50", float(p50), "min"),
            figure("drying_p80", float(p80), "min"),
            figure("air", climate.air_c, "°C"),
            figure("floor", climate.floor_c, "°C"),
            figure("humidity", climate.humidity_pct, "%"),
            figure("air_speed", climate.air_speed_m_s, "m/s"),
        ]);
        let told = self.basis.iter().any(|known| known.id == basis);
        let reason = Basis {
            id: basis.clone(),
            what: format!("wait {}", hold.name),
            formula: "given, else max(label or usual, maker's, drying time in four cases of five)",
            inputs,
            result: float(used_min),
            unit: "min",
            rounding: "drying times up to whole minutes",
            source: least.source.to_owned(),
            grade: least.grade,
        };
        // A wait after the same step is told of once, though it may be needed twice.
        if !told {
            self.basis.push(reason);
        }
        Wait {
            key: hold.key.clone(),
            name: hold.name.clone(),
            label_min: least.label_min,
            usual_min: least.usual_min,
            maker_min: least.maker_min,
            p50_min: given.unwrap_or(p50.max(least_min)),
            used_min,
            cause,
            given: given.is_some(),
            basis,
        }
    }

    fn given(&self, key: &str) -> Option<i64> {
        wait_of(key, &self.input.wish.limits.waits)
    }

    /// After how many minutes a laid solution of `ml` per m² would dry up.
    pub(super) fn solution_dries_after(&self, ml: f64) -> Option<i64> {
        let film = WetFilm::new(WetFilmReading::Water { mass_g_m2: ml }).ok()?;
        let time = self.drying.time(&film).ok()?;
        whole((time.p50_s / 60.0).floor())
    }
}
