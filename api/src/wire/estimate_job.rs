//! Estimates that are made in the background, on the wire: the job, and the lines of its result.

use domain::{
    estimate::pool::Estimate,
    id::SurfaceId,
    plan::Plan,
    quantity::{Area, Labour},
};
use infra::row::{EstimateJobRow, JobStatus};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    cost::CostView,
    estimate::{VerdictView, verdicts},
    money::MoneyView,
    number,
    outlook::PooledOutlookView,
    plan::{RateCardRef, summary},
    quantity::{LabourView, PadView, ProductLineView, WaterView},
    time,
};
use crate::problem::{Code, Problem};

/// An estimate that is made in the background.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct EstimateJobView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^ejb_[0-9a-f-]{36}$")]
    id: String,
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// `queued`, `running`, `succeeded`, `failed` or `cancelled`.
    #[schema(max_length = 10)]
    status: &'static str,
    /// How far it is.
    progress: ProgressView,
    /// When it was asked for: its plans are made as of then.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When work on it began; after a crash it begins anew.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    started_at: Option<String>,
    /// When it came to its end; a week later it is forgotten.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    finished_at: Option<String>,
    /// Where its result is, once it has succeeded.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    result: Option<ResultRef>,
    /// Why it failed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    problem: Option<JobProblem>,
}

/// How far a job is.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ProgressView {
    /// Surfaces that are done.
    #[schema(minimum = 0)]
    done: i64,
    /// All of its surfaces.
    #[schema(minimum = 0)]
    total: i64,
}

/// Where a result is.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ResultRef {
    /// Its path.
    #[schema(max_length = 300)]
    href: String,
}

/// Why a job or a surface of it came to nothing.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct JobProblem {
    /// The kind of problem, as in problem answers.
    #[schema(max_length = 60)]
    pub(crate) code: String,
    /// What is special about it.
    #[schema(max_length = 2000)]
    pub(crate) detail: String,
}

impl From<&Problem> for JobProblem {
    fn from(problem: &Problem) -> Self {
        Self {
            code: problem.code().as_str().to_owned(),
            detail: problem.detail().to_owned(),
        }
    }
}

impl JobProblem {
    /// A problem of one surface.
    pub(crate) fn new(code: Code, detail: impl Into<String>) -> Self {
        Self {
            code: code.as_str().to_owned(),
            detail: detail.into(),
        }
    }
}

impl EstimateJobView {
    /// A job as it stands.
    ///
    /// # Errors
    /// `internal` for a problem that is not what was written.
    pub(crate) fn new(row: &EstimateJobRow) -> Result<Self, Problem> {
        let result = (row.status == JobStatus::Succeeded).then(|| ResultRef {
            href: format!("/v1/estimate-jobs/{}/result", row.id),
        });
        Ok(Self {
            id: row.id.to_string(),
            site_id: row.site_id.to_string(),
            status: row.status.as_str(),
            progress: ProgressView {
                done: row.n_done,
                total: row.n_total,
            },
            created_at: time::write(row.created_at),
            started_at: row.started_at.map(time::write),
            finished_at: row.finished_at.map(time::write),
            result,
            problem: row.problem.as_deref().map(super::stored).transpose()?,
        })
    }
}

/// A page of jobs.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EstimateJobPage {
    /// The jobs, oldest first.
    #[schema(max_items = 200)]
    items: Vec<EstimateJobView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// One line of a result: a surface with its answer or its problem, or, as the last line, what all of them come to.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[serde(tag = "line", rename_all = "snake_case")]
pub(crate) enum ResultLine {
    /// A surface that was planned.
    Surface(SurfaceLine),
    /// A surface that could not be planned.
    Problem(ProblemLine),
    /// The end: a result without this line was cut.
    Total(Box<TotalLine>),
}

/// A surface with its answer.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct SurfaceLine {
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// Its area in m².
    #[schema(minimum = 0)]
    area_m2: f64,
    /// The verdict.
    #[schema(max_length = 30)]
    verdict: &'static str,
    /// The process.
    #[schema(max_length = 60)]
    process: String,
    /// The answer in one sentence.
    #[schema(max_length = 2000)]
    summary: String,
    /// The facts that are asked for.
    #[schema(max_items = 50)]
    asks: Vec<String>,
    /// Working time of all operatives in hours, without set-up and allowance; this and all that follows only where the
    /// verdict allows the work.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    labour_h: Option<f64>,
    /// Litres of product at hand, losses included.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    products: Vec<LitresView>,
    /// Clean water and slurry.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    water: Option<WaterView>,
    /// Price before tax if it were done alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    net: Option<MoneyView>,
}

/// Litres of one product.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct LitresView {
    /// The product.
    #[schema(max_length = 60)]
    product: String,
    /// Litres of it, undiluted.
    #[schema(minimum = 0)]
    total_l: f64,
}

/// A surface that could not be planned.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ProblemLine {
    /// The surface, as it was named.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// Why not.
    pub(crate) problem: JobProblem,
}

/// What all surfaces come to.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct TotalLine {
    /// The job.
    #[schema(max_length = 40, pattern = "^ejb_[0-9a-f-]{36}$")]
    pub(crate) job_id: String,
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    pub(crate) site_id: String,
    /// The edition of the knowledge base.
    #[schema(max_length = 40)]
    pub(crate) knowledge_version: String,
    /// The edition of the rate card.
    pub(crate) rate_card: RateCardRef,
    /// The lines before this one: `n_planned` and `n_problems` together.
    #[schema(minimum = 0)]
    pub(crate) n_surfaces: i64,
    /// Surfaces that were planned: those of all verdicts together.
    #[schema(minimum = 0)]
    pub(crate) n_planned: i64,
    /// Surfaces that could not be planned.
    #[schema(minimum = 0)]
    pub(crate) n_problems: i64,
    /// Area of those that were planned, in m².
    #[schema(minimum = 0)]
    pub(crate) area_m2: f64,
    /// What they need and cost, bought together.
    #[serde(flatten)]
    pub(crate) pooled: PooledView,
}

/// What many surfaces need and cost, bought together.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct PooledView {
    /// Surfaces by verdict; only allowed ones cost anything here.
    #[schema(max_items = 4)]
    verdicts: Vec<VerdictView>,
    /// Shifts of the crew, each set up and cleaned down once.
    n_shifts: i64,
    /// Hours of all operatives, set-up and allowance included.
    paid_h: f64,
    /// Labour by activity.
    #[schema(max_items = 100)]
    labour: Vec<LabourView>,
    /// Products and the packs to order.
    #[schema(max_items = 50)]
    products: Vec<ProductLineView>,
    /// Clean water and slurry.
    water: WaterView,
    /// Pads.
    #[schema(max_items = 20)]
    pads: Vec<PadView>,
    /// What it costs together.
    cost: CostView,
    /// What the surfaces would cost one by one, before tax: the sum of `net` of their lines.
    apart_net: MoneyView,
    /// How it may turn out; absent where it was made before that was told.
    #[schema(required = false)]
    outlook: PooledOutlookView,
    /// Why each number is what it is.
    #[schema(max_items = 500)]
    basis: Vec<super::basis::BasisView>,
}

impl SurfaceLine {
    /// A surface with the plan that was made for it.
    pub(crate) fn new(id: SurfaceId, area: Area, plan: &Plan) -> Self {
        let work = plan.work.as_ref();
        let litres = |line: &domain::estimate::quantities::ProductLine| LitresView {
            product: line.product.clone(),
            total_l: number::litres(line.total),
        };
        let hours = |work: &domain::plan::Work| -> f64 {
            let time: Labour = work.labour.iter().map(|line| line.time).sum();
            number::hours(time)
        };
        Self {
            surface_id: id.to_string(),
            area_m2: number::square_metres(area),
            verdict: plan.verdict.word(),
            process: plan.process.clone(),
            summary: summary(plan),
            asks: plan
                .questions
                .iter()
                .map(|asked| asked.fact.clone())
                .collect(),
            labour_h: work.map(hours),
            products: work.map_or_else(Vec::new, |work| work.products.iter().map(litres).collect()),
            water: work.map(|work| (&work.water).into()),
            net: work.map(|work| work.cost.net.into()),
        }
    }
}

impl From<&Estimate> for PooledView {
    fn from(estimate: &Estimate) -> Self {
        Self {
            verdicts: verdicts(estimate),
            n_shifts: estimate.n_shifts,
            paid_h: number::hours(estimate.paid),
            labour: estimate.labour.iter().map(Into::into).collect(),
            products: estimate.products.iter().map(Into::into).collect(),
            water: (&estimate.water).into(),
            pads: estimate.pads.iter().map(Into::into).collect(),
            cost: (&estimate.cost).into(),
            apart_net: estimate.apart.into(),
            outlook: estimate.into(),
            basis: estimate.basis.iter().map(Into::into).collect(),
        }
    }
}
