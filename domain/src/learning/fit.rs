//! From jobs to what they tell: weights, spread and posterior in turn, until nothing moves any more.

use std::collections::BTreeMap;

use super::{
    Job, Prior, Reason, SetAside, Spread, Terms,
    job::sift,
    levels::{Levels, Place},
    posterior::{Cell, Posterior, Variances},
};
use crate::id::CompletionId;

/// Degrees of freedom of Student's t: the fewer, the less an odd job counts.
const FREEDOM: f64 = 4.0;
/// The 90th percentile of Student's t with 4 degrees of freedom over that of the normal: what makes a normal spread of its.
const NORMAL_OF_T: f64 = 1.533_206_274_058_943 / crate::normal::Z90;
/// A job that counts less than this, where an ordinary one counts 1, is told of: it lies about four spreads off.
const UNUSUAL: f64 = 0.25;
/// How closely a round must meet the one before.
const SETTLED: f64 = 1e-9;
/// Rounds that are made at most; logs of sixty jobs settle in about thirty.
const MOST_ROUNDS: usize = 200;
/// Differences between fewer sites, or contractors, tell nothing of how sites differ.
const LEAST_LEVELS: usize = 3;
/// No two sites, contractors or jobs are taken to be more alike than this, however few or odd the jobs are that say so.
const LEAST_SPREAD: f64 = 0.05;
/// Spreads are taken to lie below about this before the jobs are seen (the scale of a half-normal distribution).
const USUAL_SPREAD: f64 = 0.3;

/// What the jobs tell.
#[derive(Debug, Clone)]
pub struct Learnt {
    pub(super) priors: BTreeMap<String, Prior>,
    pub(super) levels: Levels,
    pub(super) rows: Vec<Row>,
    pub(super) posterior: Posterior,
    pub(super) spread: Spread,
    /// What the spread between jobs of a normal distribution would be.
    pub(super) chance: f64,
    /// Jobs that are not taken at their word, in the order of their completions.
    pub set_aside: Vec<SetAside>,
}

/// A job that counts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row {
    pub(super) completion: CompletionId,
    pub(super) place: Place,
    cell: usize,
    /// Its deviation from what is usual for its subject, logarithmic.
    deviation: f64,
    /// Its share in a whole job.
    share: f64,
    /// What its age has left of it.
    kept: f64,
    /// What it counts for being as odd as it is.
    oddity: f64,
}

impl Row {
    /// What it counts, where an ordinary job counts 1.
    pub(super) fn weight(&self) -> f64 {
        self.share * self.kept * self.oddity
    }
}

impl Learnt {
    /// How far sites, contractors and jobs differ, as it was taken or learnt.
    pub const fn spread(&self) -> Spread {
        Spread {
            job: self.chance,
            ..self.spread
        }
    }

    /// How many jobs count.
    pub const fn n_jobs(&self) -> usize {
        self.rows.len()
    }
}

/// Learns from jobs. Those that cannot be true are left out, and listed with those that count little.
pub fn learn(priors: &BTreeMap<String, Prior>, jobs: &[Job], terms: &Terms) -> Learnt {
    let (counted, left_out) = sift(priors, jobs, terms);
    let levels = Levels::of(&counted);
    let (rows, cells) = rows(priors, &levels, &counted, terms);
    let subjects = levels.subjects.iter();
    let variances =
        subjects.map(|subject| priors.get(subject).map_or(1.0, |prior| prior.sd().powi(2)));
    let mut fit = Fit {
        subjects: variances.collect(),
        levels: &levels,
        rows,
        cells,
        spread: terms.spread,
    };
    let is_free = terms
        .spread_from_jobs
        .is_some_and(|least| fit.rows.len() >= least);
    let mut posterior = fit.posterior();
    if terms.heavy_tails || is_free {
        for _round in 0..MOST_ROUNDS {
            let moved = fit.step(&posterior, terms.heavy_tails, is_free);
            posterior = fit.posterior();
            if moved < SETTLED {
                break;
            }
        }
    }
    let Fit { rows, spread, .. } = fit;
    let chance = if is_free && terms.heavy_tails {
        spread.job * NORMAL_OF_T
    } else {
        spread.job
    };
    let set_aside = set_aside(left_out, &counted, &rows);
    Learnt {
        priors: priors.clone(),
        levels,
        rows,
        posterior,
        spread,
        chance,
        set_aside,
    }
}

/// The jobs as rows, and the places that they share.
fn rows(
    priors: &BTreeMap<String, Prior>,
    levels: &Levels,
    counted: &[&Job],
    terms: &Terms,
) -> (Vec<Row>, Vec<Place>) {
    let places = counted.iter().filter_map(|job| levels.place(job));
    let mut cells: Vec<Place> = places.collect();
    cells.sort_unstable();
    cells.dedup();
    let row = |job: &&Job| {
        let place = levels.place(job)?;
        let usual = priors.get(&job.subject)?.mean();
        Some(Row {
            completion: job.completion,
            place,
            cell: cells.binary_search(&place).ok()?,
            deviation: job.value.ln() - usual,
            share: job.share.min(1.0),
            kept: terms.kept_per_month.powf(f64::from(job.months)),
            oddity: 1.0,
        })
    };
    (counted.iter().filter_map(row).collect(), cells)
}

/// What is moved from round to round.
struct Fit<'a> {
    /// Prior variances of the subjects.
    subjects: Vec<f64>,
    levels: &'a Levels,
    rows: Vec<Row>,
    cells: Vec<Place>,
    spread: Spread,
}

impl Fit<'_> {
    /// The posterior with weights and spread as they are.
    fn posterior(&self) -> Posterior {
        let empty = |place: &Place| Cell {
            place: *place,
            precision: 0.0,
            pull: 0.0,
        };
        let mut cells: Vec<Cell> = self.cells.iter().map(empty).collect();
        let variance = self.spread.job.powi(2);
        for row in &self.rows {
            if let Some(cell) = cells.get_mut(row.cell) {
                let precision = row.weight() / variance;
                cell.precision += precision;
                cell.pull += precision * row.deviation;
            }
        }
        let prior = Variances {
            subjects: &self.subjects,
            site: self.spread.site.powi(2),
            contractor: self.spread.contractor.powi(2),
        };
        let n = (self.levels.sites.len(), self.levels.contractors.len());
        Posterior::solve(prior, n, &cells)
    }

    /// Moves weights, and the spread where it is free, to what the posterior tells; how far they moved.
    fn step(&mut self, posterior: &Posterior, heavy_tails: bool, is_free: bool) -> f64 {
        let of_cells: Vec<(f64, f64)> = self.cells.iter().map(|at| posterior.of(*at)).collect();
        let variance = self.spread.job.powi(2);
        let (mut moved, mut squares, mut n) = (0.0_f64, 0.0, 0.0);
        for row in &mut self.rows {
            let (mean, spread) = of_cells.get(row.cell).copied().unwrap_or_default();
            let square = row.share * ((row.deviation - mean).powi(2) + spread);
            if heavy_tails {
                let oddity = (FREEDOM + 1.0) / (FREEDOM + square / variance);
                moved = moved.max((oddity - row.oddity).abs());
                row.oddity = oddity;
            }
            squares += row.kept * row.oddity * square;
            n += row.kept;
        }
        if is_free {
            let next = self.next_spread(posterior, (squares, n));
            let before = [self.spread.site, self.spread.contractor, self.spread.job];
            let after = [next.site, next.contractor, next.job];
            for (before, after) in before.iter().zip(after) {
                moved = moved.max((after - before).abs());
            }
            self.spread = next;
        }
        moved
    }

    /// The likeliest spread, given how far sites, contractors and jobs lie off.
    fn next_spread(&self, posterior: &Posterior, jobs: (f64, f64)) -> Spread {
        let sum = |n: usize, of: &dyn Fn(usize) -> (f64, f64)| {
            let square = |at| {
                let (mean, variance) = of(at);
                mean.powi(2) + variance
            };
            let n_levels = u32::try_from(n).unwrap_or(u32::MAX);
            ((0..n).map(square).sum(), f64::from(n_levels))
        };
        let (n_sites, n_contractors) = (self.levels.sites.len(), self.levels.contractors.len());
        let or_as_it_is = |n: usize, known: f64, of: &dyn Fn(usize) -> (f64, f64)| {
            if n < LEAST_LEVELS {
                known
            } else {
                likeliest(sum(n, of))
            }
        };
        let spread = self.spread;
        Spread {
            site: or_as_it_is(n_sites, spread.site, &|at| posterior.site(at)),
            contractor: or_as_it_is(n_contractors, spread.contractor, &|at| {
                posterior.contractor(at)
            }),
            job: likeliest(jobs),
        }
    }
}

/// The likeliest standard deviation of `n` deviations whose squares are expected to sum to `squares`.
///
/// Its prior is half-normal and its logarithm is what is likeliest: at 0 that has no density, so that a spread of nothing,
/// at which two odd jobs would have all others forgotten, is never the answer.
fn likeliest((squares, n): (f64, f64)) -> f64 {
    // The positive root of v² / s² + (n - 1) v / 2 - squares / 2 = 0, with s² twice the prior's variance.
    let half = (n - 1.0) / 2.0;
    let curve = 1.0 / (2.0 * USUAL_SPREAD.powi(2));
    let root = (half.powi(2) + 2.0 * curve * squares).sqrt();
    (squares / (half + root)).sqrt().max(LEAST_SPREAD)
}

/// What was left out, and what counts little for being odd, in the order of their completions.
fn set_aside(mut found: Vec<SetAside>, counted: &[&Job], rows: &[Row]) -> Vec<SetAside> {
    let odd = counted.iter().zip(rows);
    let odd = odd.filter(|(_job, row)| row.oddity < UNUSUAL);
    found.extend(odd.map(|(job, row)| SetAside::new(job, row.weight(), Reason::Unusual)));
    found.sort_by(|a, b| (a.completion, &a.subject).cmp(&(b.completion, &b.subject)));
    found
}
