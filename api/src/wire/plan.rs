//! Plans on the wire: the request and the answer.

mod answer_at;
mod brief;
mod life;
mod parts;
mod reporting;

use chrono::{DateTime, NaiveDate, Utc};
use domain::{
    card::RateCard,
    film::State,
    id::{PlanId, SiteId, SurfaceId},
    plan::{Plan, ProcessRef, Verdict},
    quantity::Labour,
};
use infra::row::RateCardRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub(crate) use brief::PlanBriefView;
pub(crate) use life::as_it_stands;
pub(crate) use parts::{CandidateView, FindingView, Named, QuestionView, ReferralView};
pub(crate) use reporting::{Example, ReportingAddress, ReportingView};

use super::{
    basis::CautionView, climate::ClimateRequest, film::FilmStateView,
    knowledge::IdentificationTestView, plan_work::WorkView, time, window::WindowFitView,
    wish::WishRequest,
};

/// A plan to make for one surface.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "surface_id": "srf_01890a5d-ac96-774b-bcce-b302099a8057",
    "wish": {"goal": "restore", "limits": {"window_min": 480}}
}))]
pub(crate) struct PlanRequest {
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// What is wished for it.
    pub(crate) wish: WishRequest,
    /// The air over it, where it differs from the site's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) climate: Option<ClimateRequest>,
    /// The day on which the work begins, by the site's clock: the edition of the rate card counts that is valid on that
    /// day, and what is left over at the site if it is good then. Today if left out. The film, what is not rinsed off and the
    /// knowledge base are those of the moment of asking.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) planned_on: Option<NaiveDate>,
}

/// An edition of a rate card.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct RateCardRef {
    /// Its id.
    #[schema(max_length = 40, pattern = "^rtc_[0-9a-f-]{36}$")]
    pub(crate) id: String,
    /// Its number, from 1.
    #[schema(minimum = 1)]
    pub(crate) number: i64,
    /// Whether nobody has told these rates: they are the examples of the knowledge base.
    pub(crate) assumed: bool,
}

impl RateCardRef {
    /// The edition of a row, which holds this card.
    pub(crate) fn new(row: &RateCardRow, card: &RateCard) -> Self {
        Self {
            id: row.id.to_string(),
            number: row.number,
            assumed: card.assumed,
        }
    }
}

/// The plan for one surface, with the reason for each number.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct PlanView<'a> {
    /// Its id.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change of its status, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// Where it stands.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    #[serde(flatten)]
    answer: &'a PlanPreviewView,
}

/// What is said of a wish for one surface: a plan without what makes it a record.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct PlanPreviewView {
    /// The site of its surface.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// Its surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// The version of the surface that it was made from.
    #[schema(minimum = 1)]
    surface_version: i64,
    /// The day whose rates count and for which what is left over at the site was counted.
    #[schema(format = Date, max_length = 10)]
    planned_on: String,
    /// The edition of the knowledge base.
    #[schema(max_length = 40)]
    knowledge_version: String,
    /// The edition of the rate card.
    rate_card: RateCardRef,
    /// What was wished.
    wish: WishRequest,
    /// The air that it was made for.
    climate: ClimateRequest,
    /// The film that it was made for: what lay on the floor at that moment by all that was told and done.
    film: FilmStateView,
    /// What is said of the wish: allowed, allowed_with_warnings, needs_information or refused.
    #[schema(max_length = 30, pattern = "^[a-z_]+$")]
    verdict: &'static str,
    /// The answer in one sentence.
    #[schema(max_length = 2000)]
    summary: String,
    /// The process that the verdict is about.
    process: Named,
    /// The rules that fired for it, hardest first.
    #[schema(max_items = 200)]
    findings: Vec<FindingView>,
    /// What must be known before there is an answer.
    #[schema(max_items = 50)]
    questions: Vec<QuestionView>,
    /// What would narrow the cost and changes nothing else.
    #[schema(max_items = 50)]
    open_questions: Vec<QuestionView>,
    /// Field tests that would tell what nobody knows of this floor or what lies on it.
    #[schema(max_items = 50)]
    identification: Vec<IdentificationTestView>,
    /// Processes that are right whatever the answers are.
    #[schema(max_items = 50)]
    meanwhile: Vec<String>,
    /// Processes that could be done in place of a refused one.
    #[schema(max_items = 50)]
    instead: Vec<String>,
    /// Who takes over, where a licensed or specialist trade must.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    referral: Option<ReferralView>,
    /// All processes that were considered for the wish, best first.
    #[schema(max_items = 50)]
    candidates: Vec<CandidateView>,
    /// What decided between those that are right and allowed, first things first.
    #[schema(max_items = 8)]
    priorities: Vec<&'static str>,
    /// Whether the work fits the access window, and what would make it fit. Absent without a window, where a fact is
    /// missing, and where the plan is refused for another reason than a part that is longer than the window.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    window: Option<WindowFitView>,
    /// What to mind, worst harm first: in the work, or on the floor as it is where the verdict allows none.
    #[schema(max_items = 50)]
    cautions: Vec<CautionView>,
    /// The work; there exactly where the verdict allows it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    work: Option<WorkView>,
}

/// What an answer is shown with, beside the plan itself.
#[derive(Debug)]
pub(crate) struct PlanHead<'a> {
    pub(crate) site_id: SiteId,
    pub(crate) surface_id: SurfaceId,
    pub(crate) surface_version: i64,
    pub(crate) planned_on: NaiveDate,
    pub(crate) knowledge_version: &'a str,
    pub(crate) rate_card: RateCardRef,
    pub(crate) wish: &'a WishRequest,
    pub(crate) climate: ClimateRequest,
    pub(crate) film: &'a State,
}

impl<'a> PlanView<'a> {
    /// The answer for a plan that was just made.
    pub(crate) fn new(id: PlanId, now: DateTime<Utc>, answer: &'a PlanPreviewView) -> Self {
        Self {
            id: id.to_string(),
            version: life::FIRST_VERSION,
            status: life::FIRST_STATUS.as_str(),
            created_at: time::write(now),
            answer,
        }
    }
}

impl PlanPreviewView {
    /// The answer to a wish.
    pub(crate) fn new(head: PlanHead<'_>, plan: &Plan) -> Self {
        Self {
            site_id: head.site_id.to_string(),
            surface_id: head.surface_id.to_string(),
            surface_version: head.surface_version,
            planned_on: head.planned_on.to_string(),
            knowledge_version: head.knowledge_version.to_owned(),
            rate_card: head.rate_card,
            wish: head.wish.clone(),
            climate: head.climate,
            film: head.film.into(),
            verdict: plan.verdict.word(),
            summary: summary(plan),
            process: Named {
                key: plan.process.clone(),
                name: plan.process_name.clone(),
            },
            findings: plan.findings.iter().map(Into::into).collect(),
            questions: plan.questions.iter().map(Into::into).collect(),
            open_questions: plan.open_questions.iter().map(Into::into).collect(),
            identification: plan.identification.iter().map(Into::into).collect(),
            meanwhile: keys(&plan.meanwhile),
            instead: keys(&plan.instead),
            referral: plan.referral.as_ref().map(Into::into),
            candidates: plan.candidates.iter().map(Into::into).collect(),
            priorities: plan.priorities.iter().map(|one| one.word()).collect(),
            window: plan.window.as_ref().map(Into::into),
            cautions: plan.cautions.iter().map(Into::into).collect(),
            work: plan.work.as_ref().map(Into::into),
        }
    }
}

fn keys(processes: &[ProcessRef]) -> Vec<String> {
    processes
        .iter()
        .map(|process| process.key.clone())
        .collect()
}

/// The answer in one sentence.
pub(crate) fn summary(plan: &Plan) -> String {
    let asked = plan.questions.len();
    match (&plan.work, plan.verdict) {
        (Some(work), _) => format!(
            "{}: {}; {:.1} h of labour, {} from closing to walking on it, {} before tax.",
            plan.process_name,
            plan.verdict.word().replace('_', " "),
            work.labour
                .iter()
                .map(|line| line.time)
                .sum::<Labour>()
                .hours(),
            elapsed(work.time_line.elapsed),
            work.cost.net,
        ),
        (None, Verdict::Refused) => {
            let why = plan
                .findings
                .first()
                .map_or("", |finding| finding.statement.as_str());
            format!("{}: refused. {why}", plan.process_name)
        }
        (None, _) if asked == 1 => {
            format!(
                "One fact is missing before there is an answer. {}",
                until(plan)
            )
        }
        (None, _) => format!(
            "{asked} facts are missing before there is an answer. {}",
            until(plan)
        ),
    }
}

/// What is right until the questions are answered.
fn until(plan: &Plan) -> String {
    let names: Vec<&str> = plan
        .meanwhile
        .iter()
        .map(|process| process.name.as_str())
        .collect();
    if names.is_empty() {
        "Until then nothing is done.".to_owned()
    } else {
        format!("Right until then: {}.", names.join(", ").to_lowercase())
    }
}

fn elapsed(time: Labour) -> String {
    let minutes = (time.minutes() - 1e-9).ceil();
    format!(
        "{:.0} h {:02.0} min",
        (minutes / 60.0).floor(),
        minutes % 60.0
    )
}

/// A page of plans.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlanPage {
    /// The plans in short, oldest first.
    #[schema(max_items = 200)]
    items: Vec<PlanBriefView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
