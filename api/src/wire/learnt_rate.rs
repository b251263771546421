//! What completed work tells of production rates, on the wire.

mod chart;

use domain::learning::SetAside;
use serde::Serialize;
use utoipa::ToSchema;

use super::number;
use crate::app::learning::LearntRate;

pub(crate) use chart::chart;

/// So many jobs that are not taken at their word are shown of a rate, the last that were recorded.
const MOST_SHOWN: usize = 50;

/// A production rate that work at a site has told, beside the usual one.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LearntRateView {
    /// The key of the activity.
    #[schema(max_length = 100)]
    activity: String,
    /// Which of its rates in the knowledge base it is held against, by name.
    #[schema(max_length = 200)]
    name: String,
    /// `m2` of floor or `m` of edge.
    #[schema(max_length = 2)]
    unit: String,
    /// The rate of the knowledge base, per operative and hour, before what slows it on a floor.
    #[schema(minimum = 0)]
    usual_per_h: f64,
    /// The slowest and the fastest that the knowledge base knows.
    #[schema(min_items = 2, max_items = 2)]
    usual_range: [f64; 2],
    /// The rate as jobs tell it: it is as likely too low as too high.
    #[schema(minimum = 0)]
    learnt_per_h: f64,
    /// Between which it lies in four cases of five.
    #[schema(min_items = 2, max_items = 2)]
    interval_80: [f64; 2],
    /// Between which four of five jobs to come lie.
    #[schema(min_items = 2, max_items = 2)]
    next_job_80: [f64; 2],
    /// Jobs that counted: of this activity, at this site, by the contractor if one was asked for.
    #[schema(minimum = 0)]
    n_jobs: usize,
    /// Jobs of this activity that counted anywhere.
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
    /// The rate that its hours come to.
    #[schema(minimum = 0)]
    per_h: f64,
    /// What it weighs, where an ordinary job weighs 1: 0 if it is left out.
    #[schema(minimum = 0)]
    weight: f64,
    /// `not_positive`, `out_of_range` (a slip of the pen, left out), `unusual` (it counts little) or `unknown_subject`.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    reason: &'static str,
}

impl From<&LearntRate> for LearntRateView {
    fn from(rate: &LearntRate) -> Self {
        let (row, figure) = (rate.row, &rate.figure);
        let [slowest, typical, fastest] = row.per_h;
        let per_h = |factor: f64| number::figure(typical * factor);
        let shown = |aside: &SetAside| SetAsideView {
            completion_id: aside.completion.to_string(),
            per_h: per_h(aside.value),
            weight: number::figure(aside.weight),
            reason: aside.reason.word(),
        };
        Self {
            activity: row.activity.clone(),
            name: row.name.clone(),
            unit: row.unit.clone(),
            usual_per_h: typical,
            usual_range: [slowest, fastest],
            learnt_per_h: per_h(figure.median()),
            interval_80: figure.interval_80().map(per_h),
            next_job_80: figure.next_job_80().map(per_h),
            n_jobs: figure.n_jobs,
            n_jobs_anywhere: figure.n_jobs_anywhere,
            weight: number::figure(figure.weight),
            from_prior: number::figure(figure.from_prior.min(1.0)),
            standing: rate.standing.word(),
            n_set_aside: rate.set_aside.len(),
            set_aside: rate
                .set_aside
                .iter()
                .rev()
                .take(MOST_SHOWN)
                .map(shown)
                .collect(),
        }
    }
}

/// A page of learnt rates.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LearntRatePage {
    /// The rates, in the order of the knowledge base.
    #[schema(max_items = 200)]
    items: Vec<LearntRateView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
