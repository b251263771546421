//! Why a number is what it is: formula, inputs with units, rounding, source.

use crate::knowledge::Grade;

/// One input of a formula.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Its name in the formula.
    pub name: &'static str,
    /// Its value.
    pub value: f64,
    /// In what.
    pub unit: &'static str,
}

/// Shorthand for an [`Input`].
pub(crate) const fn input(name: &'static str, value: f64, unit: &'static str) -> Input {
    Input { name, value, unit }
}

/// The reason for one number.
#[derive(Debug, Clone, PartialEq)]
pub struct Basis {
    /// The name by which the number points here; unique within a plan.
    pub id: String,
    /// What the number is.
    pub what: String,
    /// How it is worked out, in the names of the inputs.
    pub formula: &'static str,
    /// What went in.
    pub inputs: Vec<Input>,
    /// What came out.
    pub result: f64,
    /// In what.
    pub unit: &'static str,
    /// How and where it was rounded.
    pub rounding: &'static str,
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

/// How much of a candidate is written down. One that is only compared is judged and priced; nobody reads its texts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Telling {
    /// Figures and texts: what answers.
    InFull,
    /// Figures only: texts stay empty.
    Figures,
}

impl Telling {
    /// Whether texts are written.
    pub(crate) const fn is_full(self) -> bool {
        matches!(self, Self::InFull)
    }

    /// A text, where texts are written.
    pub(crate) fn text<T: Default>(self, write: impl FnOnce() -> T) -> T {
        if self.is_full() {
            write()
        } else {
            T::default()
        }
    }
}

/// The reasons of a candidate's numbers, in the order of their making; none where only figures are told.
#[derive(Debug)]
pub(crate) struct Reasons {
    pub(crate) telling: Telling,
    pub(crate) rows: Vec<Basis>,
}

impl Reasons {
    /// No reason yet.
    pub(crate) const fn new(telling: Telling) -> Self {
        Self {
            telling,
            rows: Vec::new(),
        }
    }

    /// Adds a reason, where reasons are told.
    pub(crate) fn add(&mut self, reason: impl FnOnce() -> Basis) {
        if self.telling.is_full() {
            self.rows.push(reason());
        }
    }

    /// Adds reasons, where reasons are told.
    pub(crate) fn extend<I: IntoIterator<Item = Basis>>(&mut self, reasons: impl FnOnce() -> I) {
        if self.telling.is_full() {
            self.rows.extend(reasons());
        }
    }
}
