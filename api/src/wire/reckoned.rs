//! What a kept plan reckons for each activity: read back from the document that its caller was sent.

use serde::Deserialize;

use crate::problem::Problem;

/// What a plan reckons for one activity of a stage.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ReckonedLine {
    /// The activity.
    pub(crate) activity: String,
    /// Which of its rates it was reckoned at, by name.
    pub(crate) name: String,
    /// prepare, protect or maintain.
    pub(crate) stage: String,
    /// The rate before what slows it, per operative and hour.
    pub(crate) per_h: f64,
    /// What it came to, in hours of all operatives.
    pub(crate) hours: f64,
}

/// What a kept plan reckons for each activity; a line whose reason is not there is left out.
///
/// # Errors
/// `internal` if the kept document is not one that this service wrote.
pub(crate) fn reckoned(document: &str) -> Result<Vec<ReckonedLine>, Problem> {
    let kept: Kept = serde_json::from_str(document).map_err(|error| Problem::internal(&error))?;
    let Some(work) = kept.work else {
        return Ok(Vec::new());
    };
    let rate = |id: &str| {
        let basis = work.basis.iter().find(|basis| basis.id == id)?;
        let input = basis.inputs.iter().find(|input| input.name == "rate")?;
        Some(input.value)
    };
    let line = |line: &KeptLabour| {
        Some(ReckonedLine {
            activity: line.activity.key.clone(),
            name: line.activity.name.clone(),
            stage: line.stage.clone(),
            per_h: rate(&line.basis)?,
            hours: line.hours,
        })
    };
    Ok(work.labour.iter().filter_map(line).collect())
}

#[derive(Deserialize)]
struct Kept {
    #[serde(default)]
    work: Option<KeptWork>,
}

#[derive(Deserialize)]
struct KeptWork {
    #[serde(default)]
    labour: Vec<KeptLabour>,
    #[serde(default)]
    basis: Vec<KeptBasis>,
}

#[derive(Deserialize)]
struct KeptLabour {
    activity: KeptName,
    stage: String,
    hours: f64,
    basis: String,
}

#[derive(Deserialize)]
struct KeptName {
    key: String,
    name: String,
}

#[derive(Deserialize)]
struct KeptBasis {
    id: String,
    inputs: Vec<KeptInput>,
}

#[derive(Deserialize)]
struct KeptInput {
    name: String,
    value: f64,
}
