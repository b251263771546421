//! Which production rate counts: the one that the site's card tells, else the one that jobs done there have told, else the
//! table's typical one.

use crate::{
    card::RateCard,
    estimate::{
        basis::{Input, input as figure},
        covered::paced_on,
    },
    knowledge::{Grade, Rate},
    learning::LearntFigure,
    quantity::float,
};

/// A rate before what slows it on a floor, and where it comes from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rated {
    /// Per operative and hour.
    pub(super) per_h: f64,
    /// The slowest and the fastest that the table knows, or between which four of five jobs lie.
    pub(super) range: [f64; 2],
    origin: Origin,
}

#[derive(Debug, Clone, Copy)]
enum Origin {
    Card,
    /// The table's typical rate, and what jobs tell in its place.
    Jobs(f64, LearntFigure),
    Table,
}

/// The rate that counts on this card.
pub(super) fn rated(card: &RateCard, row: &Rate) -> Rated {
    let [low, typical, high] = row.per_h;
    if let Some(per_h) = card.rates.get(&row.activity) {
        return Rated {
            per_h: *per_h,
            range: [low, high],
            origin: Origin::Card,
        };
    }
    match paced_on(card, &row.activity).learnt() {
        Some(learnt) => Rated {
            per_h: typical * learnt.median(),
            range: learnt.next_job_80().map(|factor| typical * factor),
            origin: Origin::Jobs(typical, learnt),
        },
        None => Rated {
            per_h: typical,
            range: [low, high],
            origin: Origin::Table,
        },
    }
}

impl Rated {
    /// Whether the site tells it of itself.
    pub(super) const fn is_of_card(&self) -> bool {
        matches!(self.origin, Origin::Card)
    }

    /// How far the next job may turn out from it, where jobs have told: the σ of its logarithm.
    pub(super) const fn sigma(&self) -> Option<f64> {
        match self.origin {
            Origin::Jobs(_typical, learnt) => Some(learnt.next_sd_log),
            Origin::Card | Origin::Table => None,
        }
    }

    /// How well it is known. What a site says of itself nobody here has verified.
    pub(super) const fn grade(&self, row: &Rate) -> Grade {
        if self.is_of_card() {
            Grade::FromMemory
        } else {
            row.grade
        }
    }

    /// What the rate was learnt from, beside the rate itself.
    pub(super) fn inputs(&self, unit: &'static str) -> Vec<Input> {
        let Origin::Jobs(typical, learnt) = self.origin else {
            return Vec::new();
        };
        let n_jobs = i64::try_from(learnt.n_jobs).unwrap_or(i64::MAX);
        let [low, high] = learnt.interval_80();
        vec![
            figure("usual_rate", typical, unit),
            figure("learnt_from", float(n_jobs), "jobs"),
            figure("learnt_low", typical * low, unit),
            figure("learnt_high", typical * high, unit),
        ]
    }

    /// Where the rate comes from, in words.
    pub(super) fn source(&self, row: &Rate) -> String {
        match self.origin {
            Origin::Card => "the site's rate card".to_owned(),
            Origin::Jobs(_typical, learnt) => format!(
                "learnt from {} jobs at the site: the rate lies between `learnt_low` and `learnt_high` in four cases of five; \
                 without them: {}",
                learnt.n_jobs, row.source
            ),
            Origin::Table => row.source.clone(),
        }
    }
}
