//! What a kept plan reckons with of hours, litres and drying: read back from the document that its caller was sent.

use domain::learning::WATER;
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

/// What a kept plan reckons of a product.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ReckonedProduct {
    /// Its key.
    pub(crate) key: String,
    /// Litres at hand, as they come out of the pack.
    pub(crate) total_l: f64,
    /// How many times as far as its data sheet says a litre was taken to go.
    pub(crate) multiple: f64,
}

/// What a kept plan reckons of films that dry.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ReckonedFilm {
    /// The key of the wait for it.
    pub(crate) wait: String,
    /// The class of its product, or the film of water.
    pub(crate) subject: String,
    /// Minutes until it is dry by the drying model, without what jobs have told: the mean of the films of this wait.
    pub(crate) model_min: f64,
}

/// What a kept plan reckons with, as far as work tells of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Reckoned {
    /// Labour; a line whose reason is not there is left out.
    pub(crate) labour: Vec<ReckonedLine>,
    /// Products.
    pub(crate) products: Vec<ReckonedProduct>,
    /// Films that dry.
    pub(crate) films: Vec<ReckonedFilm>,
}

impl Reckoned {
    /// Reads it from the document of the plan.
    ///
    /// # Errors
    /// `internal` if the kept document is not one that this service wrote.
    pub(crate) fn read(document: &str) -> Result<Self, Problem> {
        let kept: Kept =
            serde_json::from_str(document).map_err(|error| Problem::internal(&error))?;
        let Some(work) = kept.work else {
            return Ok(Self::default());
        };
        let line = |line: &KeptLabour| {
            Some(ReckonedLine {
                activity: line.activity.key.clone(),
                name: line.activity.name.clone(),
                stage: line.stage.clone(),
                per_h: work.input(&line.basis, "rate")?,
                hours: line.hours,
            })
        };
        let product = |line: &KeptProduct| ReckonedProduct {
            key: line.product.key.clone(),
            total_l: line.total_l,
            multiple: work.input(&line.basis, "coverage_multiple").unwrap_or(1.0),
        };
        Ok(Self {
            labour: work.labour.iter().filter_map(line).collect(),
            products: work.products.iter().map(product).collect(),
            films: work.films(),
        })
    }
}

impl KeptWork {
    fn input(&self, basis: &str, name: &str) -> Option<f64> {
        let basis = self.basis.iter().find(|row| row.id == basis)?;
        let input = basis.inputs.iter().find(|input| input.name == name)?;
        Some(input.value)
    }

    /// The films that dry, one for each wait.
    fn films(&self) -> Vec<ReckonedFilm> {
        let mut found: Vec<(ReckonedFilm, f64)> = Vec::new();
        for step in &self.steps {
            let Some(wait) = &step.wait else { continue };
            let Some(minutes) = self.input(&wait.basis, "drying_p50") else {
                continue;
            };
            let multiple = self.input(&wait.basis, "dry_time_multiple").unwrap_or(1.0);
            let product = step.product.as_ref().filter(|_product| step.coat.is_some());
            let subject = product.map_or(WATER, |product| &product.class);
            let same = found.iter_mut().find(|(film, _n)| film.wait == wait.key);
            if let Some((film, n)) = same {
                *n += 1.0;
                film.model_min += (minutes / multiple - film.model_min) / *n;
            } else {
                let film = ReckonedFilm {
                    wait: wait.key.clone(),
                    subject: subject.to_owned(),
                    model_min: minutes / multiple,
                };
                found.push((film, 1.0));
            }
        }
        found.into_iter().map(|(film, _n)| film).collect()
    }
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
    products: Vec<KeptProduct>,
    #[serde(default)]
    steps: Vec<KeptStep>,
    #[serde(default)]
    basis: Vec<KeptBasis>,
}

#[derive(Deserialize)]
struct KeptProduct {
    product: KeptName,
    total_l: f64,
    basis: String,
}

#[derive(Deserialize)]
struct KeptStep {
    #[serde(default)]
    coat: Option<serde::de::IgnoredAny>,
    #[serde(default)]
    product: Option<KeptClass>,
    #[serde(default)]
    wait: Option<KeptWait>,
}

#[derive(Deserialize)]
struct KeptClass {
    class: String,
}

#[derive(Deserialize)]
struct KeptWait {
    key: String,
    basis: String,
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
