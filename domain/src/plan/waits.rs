//! The waits of a plan: never below the label, lengthened by what the air of the room does to the film.

mod air;
mod laid;
mod pace;
mod shorten;
mod told;

pub(super) use air::RoomAir;
use laid::{CoatLimits, Laid, minutes_of};
pub(super) use pace::Pace;
pub use shorten::Shortening;
pub(super) use shorten::shorten;
use told::{Least, foot_label, formula, source};

use super::{PlanInput, PlannedStep, used};
use crate::{
    estimate::basis::{Basis, Input as Figure, Reasons, Telling},
    knowledge::{Facts, Hold},
    physics::{
        curing::Curing,
        drying::{WetFilm, WetFilmReading},
        room::RoomDrying,
    },
    quantity::{float, whole},
    survey::GivenWaits,
    words::words,
};

/// What takes longer does not dry: seven days, as in the drying model.
const LONGEST_MIN: i64 = 7 * 24 * 60;

words! {
    /// What makes a wait as long as it is.
    RuledBy {
        /// The product's label.
        Label "label",
        /// The instruction of the floor's maker.
        Maker "maker",
        /// What is usual in the trade, where no label says more.
        Usual "usual",
        /// Drying in this air.
        Drying "drying",
        /// Hardening at this temperature.
        Curing "curing",
        /// Whoever asked for the plan.
        Caller "caller",
    }
}

/// A wait between two events.
#[derive(Debug, Clone, PartialEq)]
pub struct Wait {
    /// Its key.
    pub key: String,
    /// From what to what.
    pub name: String,
    /// Minutes by the product's label; `None` where it says nothing.
    pub label_min: Option<i64>,
    /// Minutes that are usual in the trade, where no label says any or fewer than are ever safe.
    pub usual_min: Option<i64>,
    /// Minutes that the floor's maker asks for.
    pub maker_min: Option<i64>,
    /// Minutes in half of the cases.
    pub p50_min: i64,
    /// Minutes in four of five cases, never below label, maker or what is usual.
    pub p80_min: i64,
    /// What the plan uses: those, unless the caller gave another wait.
    pub used_min: i64,
    /// What makes it as long as it is.
    pub ruled_by: RuledBy,
    /// Where the minutes come from, in words.
    pub cause: String,
    /// What would make it shorter, shortest first; empty where nothing would.
    pub shorten: Vec<Shortening>,
    /// Whether the caller gave it.
    pub given: bool,
    /// Where its reason stands.
    pub basis: String,
    /// What goes on meanwhile.
    laid: Laid,
    /// Minutes that it takes in four of five cases, whatever label and maker say.
    hardened_min: i64,
}

/// Which word sets the least minutes of a wait.
fn least_of(label_min: Option<i64>, maker_min: Option<i64>, least_min: i64) -> RuledBy {
    if maker_min == Some(least_min) {
        RuledBy::Maker
    } else if label_min == Some(least_min) {
        RuledBy::Label
    } else {
        RuledBy::Usual
    }
}

impl Wait {
    /// By how much longer than its label says a coat hardens in this air; 1 for what does not harden so.
    pub(super) fn slowed(&self) -> f64 {
        match self.laid {
            Laid::Hardens { label_min, .. } if label_min > 0 => {
                (float(self.hardened_min) / float(label_min)).max(1.0)
            }
            Laid::Hardens { .. } | Laid::Nothing | Laid::Dries { .. } => 1.0,
        }
    }

    /// What it is never shorter than, whatever the air, and which word says so.
    fn least(&self) -> (i64, RuledBy) {
        let all = [self.label_min, self.usual_min, self.maker_min];
        let least_min = all.into_iter().flatten().max().unwrap_or(0);
        (
            least_min,
            least_of(self.label_min, self.maker_min, least_min),
        )
    }
}

/// Works waits out for one floor and its air.
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact that a rule asks for"
)]
pub(super) struct Waits<'a> {
    pub(super) input: &'a PlanInput<'a>,
    air: &'a RoomAir,
    pub(super) basis: Reasons,
    /// Whether a given wait is shorter than the one worked out.
    pub(super) shortened: bool,
    /// Whether a given wait is shorter than any that is ever right.
    pub(super) below_least: bool,
    /// Whether something that was laid never dries.
    pub(super) does_not_dry: bool,
    /// The temperature of a coat in °C while its water leaves it, if one is laid.
    pub(super) film_c: Option<f64>,
    /// How humid in % the room grows while a coat dries, if one is laid.
    pub(super) humidity_peak_pct: Option<f64>,
    /// Whether the air of the room decided any of them.
    dried: bool,
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
    pub(super) const fn new(input: &'a PlanInput<'a>, air: &'a RoomAir, telling: Telling) -> Self {
        Self {
            input,
            air,
            basis: Reasons::new(telling),
            shortened: false,
            below_least: false,
            does_not_dry: false,
            film_c: None,
            humidity_peak_pct: None,
            dried: false,
        }
    }

    /// The reasons of all waits, those of the room's air before them where it decided any.
    pub(super) fn into_basis(self) -> Vec<Basis> {
        let mut rows = Vec::new();
        if self.dried && self.basis.telling.is_full() {
            rows.extend(air::reasons(self.input));
        }
        rows.extend(self.basis.rows);
        rows
    }

    /// The wait of a key after a step, where bays are laid at a pace; `None` if the knowledge base has no such wait.
    pub(super) fn after(
        &mut self,
        key: &str,
        (step, pace): (&PlannedStep, &Pace<'_>),
        known: &Facts<'_>,
    ) -> Option<Wait> {
        let base = self.input.base;
        let hold = base.hold(key)?;
        let product = used::product(self.input, step);
        let label = match (hold.coat, product) {
            (true, Some(row)) if hold.key == "to_foot" => foot_label(row, hold),
            (true, Some(row)) => row.coat_wait_min,
            _ => None,
        };
        // A label that asks for less than is ever safe is told as it stands, and what is usual beside it.
        let usual = match label {
            None => Some(hold.typical_min.max(hold.least_min)),
            Some(label) => (label < hold.least_min).then_some(hold.least_min),
        };
        // What a data sheet says is told as its word, not as that of the trade.
        let sheet = product.filter(|row| label.is_some() && row.own.is_some());
        let (source, grade) =
            sheet.map_or((&hold.source, hold.grade), |row| (&row.source, row.grade));
        let least = Least {
            label_min: label,
            usual_min: usual,
            maker_min: self.input.makers_wait(key),
            source,
            grade,
        };
        let laid = self.laid(hold, (product, step, pace), label.or(usual), known);
        Some(self.settle(hold, &least, laid, step.number))
    }

    /// Median and four cases of five of what goes on, in minutes; `None` where nothing does or it never ends.
    fn worked_out(&mut self, laid: &Laid) -> Option<(i64, i64)> {
        match laid {
            Laid::Nothing => None,
            Laid::Hardens {
                curing, label_min, ..
            } => {
                let drying = &self.air.drying;
                let minutes = hardened(curing, *label_min, drying);
                Some((minutes, minutes))
            }
            Laid::Dries {
                film,
                laying,
                dried,
                coat,
            } => {
                self.dried = true;
                let found = self.air.time(film, laying);
                self.does_not_dry |= found.is_err();
                if coat.is_some() {
                    self.film_c = Some(self.air.drying.open().film_c());
                    let peak = found.as_ref().map_or(1.0, |found| found.humidity_peak) * 100.0;
                    let before = self.humidity_peak_pct.unwrap_or(0.0);
                    self.humidity_peak_pct = Some(before.max(peak));
                }
                let (p50, p80) = minutes_of(&found.ok()?.time, dried);
                self.does_not_dry |= p50 > LONGEST_MIN;
                (p50 <= LONGEST_MIN).then_some((p50, p80))
            }
        }
    }

    /// Takes the longest of label, maker and drying, or what the caller gave.
    fn settle(&mut self, hold: &Hold, least: &Least<'_>, laid: Laid, step: usize) -> Wait {
        let least_min = least.min();
        let model = self.worked_out(&laid);
        let (p50, p80) = model.unwrap_or((least_min, least_min));
        let p80_min = p80.max(least_min);
        let given = self.given(&hold.key);
        self.shortened |= given.is_some_and(|given| given < p80_min);
        // The product's label wins over whoever asks for less; what is usual in the trade does not.
        let bound = least.label_min.unwrap_or(0).max(hold.least_min);
        self.below_least |= given.is_some_and(|given| given < bound);
        let telling = self.basis.telling;
        let used_min = given.unwrap_or(p80_min);
        let ruled_by = match laid {
            _ if given.is_some() => RuledBy::Caller,
            Laid::Dries { .. } if p80 > least_min => RuledBy::Drying,
            Laid::Hardens { .. } if p80 > least_min => RuledBy::Curing,
            _ => least.rules(),
        };
        let basis = telling.text(|| format!("wait.{}.{step}", hold.key));
        let told = self.basis.rows.iter().any(|known| known.id == basis);
        // A wait after the same step is told of once, though it may be needed twice.
        if telling.is_full() && !told {
            let mut inputs: Vec<Figure> = least.figures().collect();
            inputs.extend(self.figures(&laid, (p50, p80)));
            self.basis.add(|| Basis {
                id: basis.clone(),
                what: format!("wait {}", hold.name),
                formula: formula(&laid),
                inputs,
                result: float(used_min),
                unit: "min",
                rounding: "times up to whole minutes",
                source: source(&laid, least.source),
                grade: least.grade,
            });
        }
        Wait {
            key: hold.key.clone(),
            name: telling.text(|| hold.name.clone()),
            label_min: least.label_min,
            usual_min: least.usual_min,
            maker_min: least.maker_min,
            p50_min: given.unwrap_or(p50.max(least_min)),
            p80_min,
            used_min,
            ruled_by,
            cause: telling.text(|| self.cause(ruled_by, &laid, p50)),
            shorten: Vec::new(),
            given: given.is_some(),
            basis,
            laid,
            hardened_min: p80,
        }
    }

    fn given(&self, key: &str) -> Option<i64> {
        wait_of(key, &self.input.wish.limits.waits)
    }

    /// After how many minutes a laid solution of `ml` per m² begins to dry up: where it runs thin, in one of five cases.
    pub(super) fn solution_dries_after(&self, ml: f64) -> Option<i64> {
        let mass_g_m2 = ml.min(self.input.base.factors.thin_film_ml_m2);
        let film = WetFilm::new(WetFilmReading::Water { mass_g_m2 }).ok()?;
        // In the open: the earliest.
        let time = self.air.drying.open().time(&film).ok()?;
        whole((time.p20_s() / 60.0).floor())
    }
}

/// Seconds in minutes, rounded up.
fn minutes_up(seconds: f64) -> i64 {
    whole((seconds / 60.0).ceil()).unwrap_or(i64::MAX)
}

/// The minutes of a label in this air, rounded up.
fn hardened(curing: &Curing, label_min: i64, drying: &RoomDrying) -> i64 {
    let factor = curing.factor(drying.air(), drying.floor().temperature_c());
    minutes_up(float(label_min) * 60.0 * factor)
}
