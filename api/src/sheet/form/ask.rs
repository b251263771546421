//! What a form asks: only what the plan leads to expect.

use serde::Deserialize;

use crate::{
    problem::Problem,
    wire::{
        self,
        reckoned::{Reckoned, ReckonedFilm},
    },
};

/// The parts of floor care by their words, in the order of [`super::super::words::FormWords::stages`].
pub(super) const STAGES: [&str; 3] = ["prepare", "protect", "maintain"];

/// What is asked of the work of a plan.
#[derive(Debug, Default)]
pub(crate) struct Ask {
    /// What people call the process.
    pub(super) process: String,
    /// Parts of the work that take hours, by their place in [`STAGES`], with the planned hours.
    pub(super) stages: Vec<(usize, f64)>,
    /// The products that the plan uses.
    pub(super) products: Vec<Product>,
    /// Planned coats of seal and of polish; none is not asked for.
    pub(super) seal_coats: usize,
    pub(super) polish_coats: usize,
    /// Whether the pH must be read.
    pub(super) ph: bool,
    /// The waits for films that dry.
    pub(super) films: Vec<Film>,
}

/// A wait for a film that dries.
#[derive(Debug)]
pub(super) struct Film {
    pub(super) wait: String,
    pub(super) name: String,
}

impl Film {
    /// The name of its field.
    pub(super) fn field(&self) -> String {
        format!("dried_{}", self.wait)
    }
}

/// A product that is asked for.
#[derive(Debug)]
pub(super) struct Product {
    pub(super) key: String,
    pub(super) name: String,
    pub(super) litres: f64,
}

impl Ask {
    /// Reads it from a kept plan.
    ///
    /// # Errors
    /// `internal` for a plan that is not what was written.
    pub(crate) fn of(document: &str) -> Result<Self, Problem> {
        let Kept { process, work } = wire::stored(document)?;
        let process = process.map(|process| process.name).unwrap_or_default();
        let Some(Work { steps, products }) = work else {
            return Ok(Self {
                process,
                ..Self::default()
            });
        };
        let stages = STAGES.iter().enumerate().filter_map(|(n, word)| {
            let of_stage = steps.iter().filter(|step| step.stage == *word);
            let hours: f64 = of_stage.map(|step| step.labour_h).sum();
            (hours > 0.0).then_some((n, hours))
        });
        let coats = |class: &str| {
            let laid = steps.iter().filter(|step| {
                let used = step.product.as_ref();
                step.coat.is_some() && used.is_some_and(|used| used.class == class)
            });
            laid.count()
        };
        let film = |film: ReckonedFilm| {
            let mut waits = steps.iter().filter_map(|step| step.wait.as_ref());
            let wait = waits.find(|wait| wait.key == film.wait)?;
            Some(Film {
                name: wait.name.clone(),
                wait: film.wait,
            })
        };
        let films = Reckoned::read(document)?.films;
        let is_ph = |hold: &Hold| hold.unit.as_deref() == Some("pH");
        Ok(Self {
            process,
            stages: stages.collect(),
            seal_coats: coats("seal"),
            polish_coats: coats("polish"),
            ph: steps
                .iter()
                .any(|step| step.hold.as_ref().is_some_and(is_ph)),
            films: films.into_iter().filter_map(film).collect(),
            products: products
                .into_iter()
                .map(|line| Product {
                    key: line.product.key,
                    name: line.product.name,
                    litres: line.total_l,
                })
                .collect(),
        })
    }

    /// What people call a product; its key where the plan does not use it.
    pub(super) fn name_of<'a>(&'a self, key: &'a str) -> &'a str {
        let known = self.products.iter().find(|product| product.key == key);
        known.map_or(key, |product| &product.name)
    }
}

#[derive(Deserialize)]
struct Kept {
    process: Option<Named>,
    work: Option<Work>,
}

#[derive(Deserialize)]
struct Named {
    name: String,
}

#[derive(Deserialize)]
struct Work {
    #[serde(default)]
    steps: Vec<Step>,
    #[serde(default)]
    products: Vec<Line>,
}

#[derive(Deserialize)]
struct Step {
    stage: String,
    labour_h: f64,
    coat: Option<serde::de::IgnoredAny>,
    product: Option<Used>,
    hold: Option<Hold>,
    wait: Option<Keyed>,
}

#[derive(Deserialize)]
struct Used {
    class: String,
}

#[derive(Deserialize)]
struct Hold {
    unit: Option<String>,
}

#[derive(Deserialize)]
struct Line {
    product: Keyed,
    total_l: f64,
}

#[derive(Deserialize)]
struct Keyed {
    key: String,
    name: String,
}
