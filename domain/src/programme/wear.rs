//! How fast the lane of a floor wears: passes, matting, soil and the figures of its traffic class.

use crate::{
    estimate::basis::{Basis, input},
    knowledge::{Grade, KnowledgeBase},
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

/// How a lane wears.
#[derive(Debug, Clone, PartialEq)]
pub struct Wear {
    /// Passes a day.
    pub passes_per_day: f64,
    /// Times as much wear as the class has, by matting and soil.
    pub times: f64,
    /// Film worn off in a month, in coats.
    pub coats_per_month: f64,
    /// Thousand passes, well matted, in which 63 % of the gloss above the dullest is lost.
    pub gloss_kpass: f64,
    /// The reasons of these figures.
    pub basis: Vec<Basis>,
}

impl Wear {
    /// The wear of a floor by its class or its counted passes; `None` where the figures lack its class.
    pub fn of(base: &KnowledgeBase, survey: &Survey, told: Use) -> Option<Self> {
        let figures = &base.programme;
        let traffic = survey.traffic.unwrap_or(Traffic::Medium);
        let class = figures.wear(traffic, told.passes_per_day)?;
        let passes = told.passes_per_day.unwrap_or(class.passes_per_day);
        let length = told.matting_m.unwrap_or(figures.matting.usual_m);
        let (matted, soiled) = (figures.matted(length), figures.soiled(survey.soil));
        let times = matted * soiled;
        let kpass = passes * MONTH_DAYS / 1_000.0;
        let coats_per_month = kpass * class.film_um_per_kpass * times / figures.film.coat_um;
        let of_class = |grade| (class.source.clone(), grade);
        let row = |id: &str, what: &str, formula, inputs, (result, unit), (source, grade)| Basis {
            id: id.to_owned(),
            what: what.to_owned(),
            formula,
            inputs,
            result,
            unit,
            rounding: "none",
            source,
            grade,
        };
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
                "kpass · film_um_per_kpass · wear_times / coat_um",
                vec![
                    input("kpass", kpass, "kpass"),
                    input("film_um_per_kpass", class.film_um_per_kpass, "µm/kpass"),
                    input("wear_times", times, "1"),
                    input("coat_um", figures.film.coat_um, "µm"),
                ],
                (coats_per_month, "coats"),
                of_class(class.grade),
            ),
        ];
        Some(Self {
            passes_per_day: passes,
            times,
            coats_per_month,
            gloss_kpass: class.gloss_kpass,
            basis,
        })
    }

    /// Thousand passes of so many days, as many as a well matted lane would need for the same wear.
    pub fn kpass(&self, days: f64) -> f64 {
        self.passes_per_day * days * self.times / 1_000.0
    }
}
