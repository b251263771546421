//! Cautions, and the basis of numbers, on the wire.

use domain::{
    estimate::basis::{Basis, Input},
    plan::{Because, CalledFor, Told},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::number;

/// What to mind.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CautionView {
    /// Its key.
    #[schema(max_length = 60)]
    key: String,
    /// What it keeps off: first (it stands before all others), life, health, injury, property or environment.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    harm: &'static str,
    /// What it says.
    #[schema(max_length = 2000)]
    text: String,
    /// The facts that called for it; none for what is always shown.
    #[schema(max_items = 20)]
    because: Vec<BecauseView>,
    /// Where it comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted.
    #[schema(max_length = 20)]
    grade: &'static str,
}

/// A fact that called for a caution.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct BecauseView {
    /// The fact's name, as rules speak of it.
    #[schema(max_length = 60)]
    fact: &'static str,
    /// What it said: `true` or `false`, a number in the unit that its name carries, or a word.
    #[schema(max_length = 60)]
    value: String,
}

impl From<&Because> for BecauseView {
    fn from(because: &Because) -> Self {
        Self {
            fact: because.fact.name(),
            value: match &because.told {
                Told::Flag(flag) => flag.to_string(),
                Told::Number(figure) => number::figure(*figure).to_string(),
                Told::Word(word) => word.clone(),
            },
        }
    }
}

impl From<&CalledFor> for CautionView {
    fn from(called: &CalledFor) -> Self {
        let caution = &called.caution;
        Self {
            key: caution.key.clone(),
            harm: caution.harm.word(),
            text: caution.text.clone(),
            because: called.because.iter().map(Into::into).collect(),
            source: caution.source.clone(),
            grade: caution.grade.word(),
        }
    }
}

/// The reason for one number.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct BasisView {
    /// Its id.
    #[schema(max_length = 100)]
    id: String,
    /// What the number is.
    #[schema(max_length = 200)]
    what: String,
    /// How it is worked out, in the names of the inputs.
    #[schema(max_length = 500)]
    formula: &'static str,
    /// What went in.
    #[schema(max_items = 30)]
    inputs: Vec<InputView>,
    /// What came out.
    result: f64,
    /// In what.
    #[schema(max_length = 20)]
    unit: &'static str,
    /// How and where it was rounded.
    #[schema(max_length = 200)]
    rounding: &'static str,
    /// Where the figures come from.
    #[schema(max_length = 1000)]
    source: String,
    /// How far they can be trusted.
    #[schema(max_length = 20)]
    grade: &'static str,
}

/// One input of a formula.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct InputView {
    /// Its name in the formula.
    #[schema(max_length = 60)]
    name: &'static str,
    /// Its value.
    value: f64,
    /// In what.
    #[schema(max_length = 20)]
    unit: &'static str,
}

impl From<&Basis> for BasisView {
    fn from(basis: &Basis) -> Self {
        let input = |input: &Input| InputView {
            name: input.name,
            value: number::figure(input.value),
            unit: input.unit,
        };
        Self {
            id: basis.id.clone(),
            what: basis.what.clone(),
            formula: basis.formula,
            inputs: basis.inputs.iter().map(input).collect(),
            result: number::figure(basis.result),
            unit: basis.unit,
            rounding: basis.rounding,
            source: basis.source.clone(),
            grade: basis.grade.word(),
        }
    }
}
