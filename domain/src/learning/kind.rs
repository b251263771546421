//! Which kinds of figures jobs tell of, and what they tell of each.

use std::collections::BTreeMap;

use super::LearntFigure;
use crate::words::words;

words! {
    /// A kind of figure that jobs tell of.
    Kind {
        /// How fast an activity goes, as a multiple of what a plan reckons: of an activity.
        Rate "rate",
        /// How far a litre goes, as a multiple of what the data sheet says: of a class of product that is laid by coverage.
        Coverage "coverage",
        /// How long a wet film takes, as a multiple of what the drying model says: of a class of product, or of [`WATER`].
        DryTime "dry_time",
    }
}

/// The film of water that rinsing and mopping leave, as a subject of drying beside the classes of product.
pub const WATER: &str = "water";

impl Kind {
    /// By what a site says that a figure of this kind is not learnt: the key of an activity, or kind and class of product.
    pub fn named(self, subject: &str) -> String {
        match self {
            Self::Rate => subject.to_owned(),
            Self::Coverage | Self::DryTime => format!("{}.{subject}", self.word()),
        }
    }
}

/// What jobs tell of figures of each kind, by what they are of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LearntFigures(BTreeMap<Kind, BTreeMap<String, LearntFigure>>);

impl LearntFigures {
    /// What jobs tell of a figure, if it was learnt.
    pub fn get(&self, kind: Kind, subject: &str) -> Option<&LearntFigure> {
        self.0.get(&kind)?.get(subject)
    }

    /// Puts in what jobs tell of a figure.
    pub fn insert(&mut self, kind: Kind, subject: String, figure: LearntFigure) {
        self.0.entry(kind).or_default().insert(subject, figure);
    }

    /// All of them, each with its kind and what it is of.
    pub fn iter(&self) -> impl Iterator<Item = (Kind, &str, &LearntFigure)> {
        let of_kind = |(kind, figures): (&Kind, _)| (*kind, figures);
        self.0.iter().map(of_kind).flat_map(
            |(kind, figures): (Kind, &BTreeMap<String, LearntFigure>)| {
                let figures = figures.iter();
                figures.map(move |(subject, figure)| (kind, subject.as_str(), figure))
            },
        )
    }
}
