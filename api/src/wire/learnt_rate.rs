//! What completed work tells of production rates, coverage and dry times, on the wire.

mod chart;

use domain::learning::SetAside;
use serde::Serialize;
use utoipa::ToSchema;

use super::number;
use crate::app::learning::LearntLine;

pub(crate) use chart::chart;

/// So many jobs that are not taken at their word are shown of a figure, the last that were recorded.
const MOST_SHOWN: usize = 50;

/// A figure that work at a site has told, beside the usual one.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LearntFigureView {
    /// `rate` (how fast an activity goes), `coverage` (how far a litre goes) or `dry_time` (how long a film takes). More may come.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    kind: &'static str,
    /// The key of the activity, or of the class of product; `water` for the film of rinsing and mopping.
    #[schema(max_length = 100)]
    subject: String,
    /// Its name; of a rate, which of those in the knowledge base it is held against.
    #[schema(max_length = 200)]
    name: String,
    /// `m2/h` of floor or `m/h` of edge per operative; `times` what data sheet or drying model say.
    #[schema(max_length = 10)]
    unit: String,
    /// What is usual: of a rate, before what slows it on a floor.
    #[schema(minimum = 0)]
    usual: f64,
    /// The lowest and the highest that the knowledge base knows.
    #[schema(min_items = 2, max_items = 2)]
    usual_range: [f64; 2],
    /// The figure as jobs tell it: it is as likely too low as too high.
    #[schema(minimum = 0)]
    learnt: f64,
    /// Between which it lies in four cases of five.
    #[schema(min_items = 2, max_items = 2)]
    interval_80: [f64; 2],
    /// Between which four of five jobs to come lie.
    #[schema(min_items = 2, max_items = 2)]
    next_job_80: [f64; 2],
    /// Jobs that counted: of this figure, at this site, by the contractor if one was asked for.
    #[schema(minimum = 0)]
    n_jobs: usize,
    /// Jobs that counted of this figure anywhere.
    #[schema(minimum = 0)]
    n_jobs_anywhere: usize,
    /// What the jobs at this site weigh, where an ordinary one of today weighs 1: old, short and odd ones weigh less.
    #[schema(minimum = 0)]
    weight: f64,
    /// How much of what was uncertain without any job still is, as variance: 1 without jobs.
    #[schema(minimum = 0, maximum = 1)]
    from_prior: f64,
    /// Whether plans use it, or why not: `used`, `too_few_jobs`, `not_wanted` (the site says so) or `told_by_rate_card`.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    standing: &'static str,
    /// How many jobs were not taken at their word.
    #[schema(minimum = 0)]
    n_set_aside: usize,
    /// The last of them.
    #[schema(max_items = 50)]
    set_aside: Vec<SetAsideView>,
}

/// A job that was not taken at its word.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SetAsideView {
    /// The completion.
    #[schema(max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    completion_id: String,
    /// What it comes to.
    #[schema(minimum = 0)]
    figure: f64,
    /// What it weighs, where an ordinary job weighs 1: 0 if it is left out.
    #[schema(minimum = 0)]
    weight: f64,
    /// `not_positive`, `out_of_range` (a slip of the pen, left out), `unusual` (it counts little) or `unknown_subject`.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    reason: &'static str,
}

impl From<&LearntLine> for LearntFigureView {
    fn from(line: &LearntLine) -> Self {
        let (subject, figure) = (&line.subject, &line.figure);
        let [low, typical, high] = subject.usual;
        let shown = |multiple: f64| number::figure(typical * multiple);
        let aside = |aside: &SetAside| SetAsideView {
            completion_id: aside.completion.to_string(),
            figure: shown(aside.value),
            weight: number::figure(aside.weight),
            reason: aside.reason.word(),
        };
        Self {
            kind: subject.kind.word(),
            subject: subject.key.clone(),
            name: subject.name.clone(),
            unit: subject.unit.clone(),
            usual: typical,
            usual_range: [low, high],
            learnt: shown(figure.median()),
            interval_80: figure.interval_80().map(shown),
            next_job_80: figure.next_job_80().map(shown),
            n_jobs: figure.n_jobs,
            n_jobs_anywhere: figure.n_jobs_anywhere,
            weight: number::figure(figure.weight),
            from_prior: number::figure(figure.from_prior.min(1.0)),
            standing: line.standing.word(),
            n_set_aside: line.set_aside.len(),
            set_aside: line
                .set_aside
                .iter()
                .rev()
                .take(MOST_SHOWN)
                .map(aside)
                .collect(),
        }
    }
}

/// A page of learnt figures.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LearntFigurePage {
    /// The figures: rates, coverage, dry times, each in the order of the knowledge base.
    #[schema(max_items = 200)]
    items: Vec<LearntFigureView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
