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
