//! How far a litre goes beside what its data sheet says: as jobs done at the site have told, else as the sheet says.
//!
//! It decides litres and what goes with them (money, vapour, cans to open), and nothing of the film: what a crew pours holds what it
//! spills and leaves in the tray, so a film is taken to be as thick as its sheet says, and waits are reckoned by that.

use crate::{
    card::RateCard,
    estimate::basis::{Input, input as figure},
    knowledge::{KnowledgeBase, Product},
    learning::{Kind, LearntFigure, WATER},
    plan::PlanInput,
    quantity::float,
};

/// Where a multiple of what is usual comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Multiple(Option<LearntFigure>);

/// How far a litre of a product goes on this card. What is laid by dose is laid as the dose says.
pub(crate) fn covered(input: &PlanInput<'_>, product: &Product) -> Multiple {
    covered_on((input.base, input.card), product)
}

/// How far a litre of a product goes on a card, whatever floor it is for.
pub(crate) fn covered_on(from: (&KnowledgeBase, &RateCard), product: &Product) -> Multiple {
    if !product.stays_on_floor() {
        return Multiple(None);
    }
    multiple(from, Kind::Coverage, &product.class)
}

/// How fast an activity goes beside its usual rates on a card that does not tell its rate.
pub(crate) fn paced_on(card: &RateCard, activity: &str) -> Multiple {
    let told = card.rates.contains_key(activity);
    let learnt = card.learnt.get(Kind::Rate, activity).copied();
    Multiple(learnt.filter(|_learnt| !told))
}

/// How long a film takes beside what the drying model says: one of this class of product, or of water.
pub(crate) fn dried(input: &PlanInput<'_>, subject: &str) -> Multiple {
    multiple((input.base, input.card), Kind::DryTime, subject)
}

fn multiple((base, card): (&KnowledgeBase, &RateCard), kind: Kind, subject: &str) -> Multiple {
    let figures = &base.spread.learning;
    let range = match kind {
        Kind::Coverage => figures.coverage,
        Kind::DryTime => figures.dry_time,
        // A rate is bound by its own table.
        Kind::Rate => return Multiple(None),
    };
    let [low, high] = range.bounds;
    // Jobs tell of all water in one figure, and some films of it are taken as the most that is usual and others as the least:
    // what dried sooner on the ones opens no floor sooner after the others.
    let low = if subject == WATER { low.max(1.0) } else { low };
    let learnt = card.learnt.get(kind, subject).copied();
    Multiple(learnt.map(|figure| figure.held_within([low, high])))
}

impl Multiple {
    /// The multiple: 1 where no job has told.
    pub(crate) fn factor(&self) -> f64 {
        self.0.map_or(1.0, |learnt| learnt.median())
    }

    /// What was learnt, if anything was.
    pub(crate) const fn learnt(&self) -> Option<LearntFigure> {
        self.0
    }

    /// How far the next job may turn out from it, where jobs have told: the σ of its logarithm.
    pub(crate) fn sigma(&self) -> Option<f64> {
        self.0.map(|learnt| learnt.next_sd_log)
    }

    /// What it was learnt from, with itself under a name; nothing where no job has told.
    pub(crate) fn inputs(&self, name: &'static str) -> Vec<Input> {
        let Some(learnt) = self.0 else {
            return Vec::new();
        };
        let n_jobs = i64::try_from(learnt.n_jobs).unwrap_or(i64::MAX);
        let [low, high] = learnt.interval_80();
        vec![
            figure(name, learnt.median(), ""),
            figure("learnt_from", float(n_jobs), "jobs"),
            figure("learnt_low", low, ""),
            figure("learnt_high", high, ""),
        ]
    }

    /// Where a figure comes from whose source without jobs is `otherwise`.
    pub(crate) fn source(&self, otherwise: &str) -> String {
        self.0.map_or_else(
            || otherwise.to_owned(),
            |learnt| {
                format!(
                    "learnt from {} jobs at the site: the multiple lies between `learnt_low` and `learnt_high` in four cases of \
                     five; without them: {otherwise}",
                    learnt.n_jobs
                )
            },
        )
    }
}
