//! How fast the lane of a floor wears: passes, matting, soil and the figures of its traffic class.

use super::frame::interval;
use crate::{
    estimate::basis::{Basis, Input, input},
    knowledge::{Grade, KnowledgeBase, Process, TrafficWear},
    survey::{Survey, Traffic},
};

/// Days of a month.
pub const MONTH_DAYS: f64 = 365.25 / 12.0;

/// What is told of the use of a floor beside its survey.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Use {
    /// People who walk the lane in a day, counted.
    pub passes_per_day: Option<f64>,
    /// Metres of entrance matting that they walk before.
    pub matting_m: Option<f64>,
    /// The gloss that is asked for, in GU.
    pub target_gu: Option<f64>,
}

/// Which film wears.
#[derive(Debug, Clone, Copy)]
pub enum Film<'a> {
    /// A polish, by the figures of its traffic class.
    Polish,
    /// Another film: what a renewal adds wears off over the usual days from one to the next.
    Coating {
        /// Coats that a renewal adds beside what it takes off.
        coats: f64,
        /// What renews it.
        over: &'a Process,
    },
}

/// How a lane wears.
#[derive(Debug, Clone, PartialEq)]
pub struct Wear {
    /// Passes a day.
    pub passes_per_day: f64,
    /// Times as much wear as the class has, by matting and soil.
    pub times: f64,
    /// Film worn off in a month, in coats.
    pub coats_per_month: f64,
    /// Thousand passes, well matted, in which 63 % of the gloss above the dullest is lost; of a polish.
    pub gloss_kpass: f64,
    /// Where the wear of the film comes from.
    pub film_source: String,
    /// The reasons of these figures.
    pub basis: Vec<Basis>,
}

impl Film<'_> {
    /// Coats worn off by a thousand passes and the thousand passes in which gloss goes, at a class.
    fn at(self, base: &KnowledgeBase, row: &TrafficWear) -> Option<[f64; 2]> {
        let coats = match self {
            Self::Polish => row.film_um_per_kpass / base.programme.film.coat_um,
            Self::Coating { coats, over } => {
                let days = interval(over, Traffic::of(&row.key)?)?;
                coats / (days * row.passes_per_day / 1_000.0)
            }
        };
        Some([coats, row.gloss_kpass])
    }

    /// How the wear of the film is told: formula, what stands for the film in it, and where that comes from.
    fn told(
        self,
        base: &KnowledgeBase,
        (rate, source): (f64, &str),
    ) -> (&'static str, Vec<Input>, String) {
        match self {
            Self::Polish => {
                let coat = base.programme.film.coat_um;
                let inputs = vec![
                    input("film_um_per_kpass", rate * coat, "µm/kpass"),
                    input("coat_um", coat, "µm"),
                ];
                let formula = "kpass · film_um_per_kpass · wear_times / coat_um";
                (formula, inputs, source.to_owned())
            }
            Self::Coating { coats, over } => {
                let inputs = vec![
                    input("coats_per_kpass", rate, "coats/kpass"),
                    input("coats_per_renewal", coats, "coats"),
                ];
                let source = format!(
                    "reckoned: what a renewal adds wears off over the usual days from one to the next at the usual passes of the class ({}: {})",
                    over.name, over.source
                );
                ("kpass · coats_per_kpass · wear_times", inputs, source)
            }
        }
    }
}

impl Wear {
    /// The wear of a floor by its class or its counted passes; `None` where the figures lack its class.
    pub fn of(
        base: &KnowledgeBase,
        survey: &Survey,
        (told, film): (Use, Film<'_>),
    ) -> Option<Self> {
        let figures = &base.programme;
        let traffic = survey.traffic.unwrap_or(Traffic::Medium);
        let class = figures.wear(traffic, told.passes_per_day)?;
        let passes = told.passes_per_day.unwrap_or(class.passes_per_day);
        let ([rate, gloss_kpass], source) =
            figures.rates(class, told.passes_per_day, |row| film.at(base, row))?;
        let (film_formula, mut of_film, film_source) = film.told(base, (rate, &source));
        let film_grade = match film {
            Film::Polish => class.grade,
            // That a renewal just makes good what wore since the last is assumed.
            Film::Coating { .. } => Grade::FromMemory,
        };
        let length = told.matting_m.unwrap_or(figures.matting.usual_m);
        let (matted, soiled) = (figures.matted(length), figures.soiled(survey.soil));
        let times = matted * soiled;
        let kpass = passes * MONTH_DAYS / 1_000.0;
        let coats_per_month = kpass * rate * times;
        of_film.extend([
            input("kpass", kpass, "kpass"),
            input("wear_times", times, "1"),
        ]);
        let counted = if told.passes_per_day.is_some() {
            (
                "the footfall that was told or read".to_owned(),
                Grade::CommonPractice,
            )
        } else {
            (
                format!("traffic class `{}`: {}", class.key, class.source),
                class.grade,
            )
        };
        let basis = vec![
            row(
                "passes",
                "Passes over the lane in a month",
                "passes_per_day · days / 1000",
                vec![
                    input("passes_per_day", passes, "1/d"),
                    input("days", MONTH_DAYS, "d"),
                ],
                (kpass, "kpass"),
                counted,
            ),
            row(
                "wear_times",
                "Wear beside that of a well matted lane of ordinary soil",
                "matting · soil",
                vec![
                    input("matting", matted, "1"),
                    input("matting_length", length, "m"),
                    input("soil", soiled, "1"),
                ],
                (times, "1"),
                (figures.matting.source.clone(), figures.matting.grade),
            ),
            row(
                "film_wear",
                "Film worn off the lane in a month",
                film_formula,
                of_film,
                (coats_per_month, "coats"),
                (film_source.clone(), film_grade),
            ),
        ];
        Some(Self {
            passes_per_day: passes,
            times,
            coats_per_month,
            gloss_kpass,
            film_source,
            basis,
        })
    }

    /// Thousand passes of so many days, as many as a well matted lane would need for the same wear.
    pub fn kpass(&self, days: f64) -> f64 {
        self.passes_per_day * days * self.times / 1_000.0
    }
}

/// A reason.
fn row(
    id: &str,
    what: &str,
    formula: &'static str,
    inputs: Vec<Input>,
    (result, unit): (f64, &'static str),
    (source, grade): (String, Grade),
) -> Basis {
    Basis {
        id: id.to_owned(),
        what: what.to_owned(),
        formula,
        inputs,
        result,
        unit,
        rounding: "none",
        source,
        grade,
    }
}
