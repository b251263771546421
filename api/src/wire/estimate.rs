//! Estimates on the wire.

use chrono::{DateTime, NaiveDate, Utc};
use domain::{
    estimate::pool::{Estimate, Planned, VerdictCount},
    id::{EstimateId, SiteId, SurfaceId},
    plan::Plan,
};
use infra::row::EstimateBrief;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    basis::BasisView,
    climate::ClimateRequest,
    cost::CostView,
    money::MoneyView,
    number,
    outlook::PooledOutlookView,
    plan::{RateCardRef, summary},
    quantity::{LabourView, PadView, ProductLineView, WaterView},
    time,
    wish::WishRequest,
};

/// An estimate to make over surfaces of one site, at once or in the background: those named, or all that match.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "site_id": "sit_01890a5d-ac96-774b-bcce-b302099a8057",
    "storey": "First Floor",
    "wish": {"goal": "restore"}
}))]
pub(crate) struct EstimateRequest {
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    pub(crate) site_id: String,
    /// The surfaces; without it all of the site that match `storey` and `materials`. At most 1,000 for an estimate that is
    /// answered at once, 10,000 for one that is made in the background.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 1, max_items = 10000)]
    pub(crate) surface_ids: Option<Vec<SurfaceIdText>>,
    /// Only surfaces of this storey.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 200)]
    pub(crate) storey: Option<String>,
    /// Only surfaces of these materials.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 1, max_items = 50)]
    pub(crate) materials: Option<Vec<MaterialKey>>,
    /// What is wished for each of them.
    pub(crate) wish: WishRequest,
    /// What is wished instead for surfaces of a material.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) wishes: Vec<MaterialWish>,
    /// The air over them, where it differs from the site's.
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

/// The id of a surface.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
pub(crate) struct SurfaceIdText(pub(crate) String);

/// The key of a material.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
pub(crate) struct MaterialKey(pub(crate) String);

/// A wish for surfaces of one material.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MaterialWish {
    /// The key of the material.
    #[schema(max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) material: String,
    /// What is wished for its surfaces.
    pub(crate) wish: WishRequest,
}

/// What the work on many surfaces needs and costs.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct EstimateView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^est_[0-9a-f-]{36}$")]
    id: String,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The day whose rates count and for which what is left over at the site was counted.
    #[schema(format = Date, max_length = 10)]
    planned_on: String,
    /// The edition of the knowledge base.
    #[schema(max_length = 40)]
    knowledge_version: String,
    /// The edition of the rate card.
    rate_card: RateCardRef,
    /// How many surfaces it covers.
    n_surfaces: usize,
    /// Their area in m².
    area_m2: f64,
    /// Surfaces by verdict; only allowed ones cost anything here.
    #[schema(max_items = 4)]
    verdicts: Vec<VerdictView>,
    /// The surfaces, each with its answer.
    #[schema(max_items = 1000)]
    surfaces: Vec<SurfaceAnswer>,
    /// Shifts of the crew, each set up and cleaned down once.
    n_shifts: i64,
    /// Hours of all operatives, set-up and allowance included.
    paid_h: f64,
    /// Labour by activity.
    #[schema(max_items = 100)]
    labour: Vec<LabourView>,
    /// Products and the packs to order, bought together after what is left over at the site is used.
    #[schema(max_items = 50)]
    products: Vec<ProductLineView>,
    /// Clean water and slurry.
    water: WaterView,
    /// Pads.
    #[schema(max_items = 20)]
    pads: Vec<PadView>,
    /// What it costs together.
    cost: CostView,
    /// What the plans would cost one by one, before tax and with nothing left over: the difference is packs, set-up and
    /// what is left over.
    apart_net: MoneyView,
    /// How it may turn out; absent where it was made before that was told.
    #[schema(required = false)]
    outlook: PooledOutlookView,
    /// Why each number is what it is.
    #[schema(max_items = 500)]
    basis: Vec<BasisView>,
}

/// Surfaces of one verdict.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct VerdictView {
    /// The verdict.
    #[schema(max_length = 30)]
    verdict: &'static str,
    /// How many surfaces.
    n_surfaces: i64,
    /// Their area in m².
    area_m2: f64,
}

/// The answer for one surface of an estimate.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct SurfaceAnswer {
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
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
    /// Price before tax if it were done alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    net: Option<MoneyView>,
}

/// What an estimate is shown with.
#[derive(Debug)]
pub(crate) struct EstimateHead<'a> {
    pub(crate) id: EstimateId,
    pub(crate) site_id: SiteId,
    pub(crate) planned_on: NaiveDate,
    pub(crate) knowledge_version: &'a str,
    pub(crate) rate_card: RateCardRef,
    pub(crate) now: DateTime<Utc>,
}

impl EstimateView {
    /// The answer for an estimate that was just made over plans, one a surface.
    pub(crate) fn new(
        head: EstimateHead<'_>,
        surfaces: &[(SurfaceId, Planned<'_>)],
        estimate: &Estimate,
    ) -> Self {
        let area: domain::quantity::Area = surfaces.iter().map(|(_, floor)| floor.area).sum();
        Self {
            id: head.id.to_string(),
            created_at: time::write(head.now),
            site_id: head.site_id.to_string(),
            planned_on: head.planned_on.to_string(),
            knowledge_version: head.knowledge_version.to_owned(),
            rate_card: head.rate_card,
            n_surfaces: surfaces.len(),
            area_m2: number::square_metres(area),
            verdicts: verdicts(estimate),
            surfaces: surfaces
                .iter()
                .map(|(id, floor)| answer(*id, floor.plan))
                .collect(),
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

/// Surfaces by verdict.
pub(super) fn verdicts(estimate: &Estimate) -> Vec<VerdictView> {
    let view = |count: &VerdictCount| VerdictView {
        verdict: count.verdict.word(),
        n_surfaces: count.n_surfaces,
        area_m2: number::square_metres(count.area),
    };
    estimate.verdicts.iter().map(view).collect()
}

fn answer(id: SurfaceId, plan: &Plan) -> SurfaceAnswer {
    SurfaceAnswer {
        surface_id: id.to_string(),
        verdict: plan.verdict.word(),
        process: plan.process.clone(),
        summary: summary(plan),
        asks: plan
            .questions
            .iter()
            .map(|question| question.fact.clone())
            .collect(),
        net: plan.work.as_ref().map(|work| work.cost.net.into()),
    }
}

/// An estimate as lists have it; the whole is read at its address.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EstimateBriefView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^est_[0-9a-f-]{36}$")]
    id: String,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The edition of the knowledge base.
    #[schema(max_length = 40)]
    knowledge_version: String,
    /// How many surfaces it covers.
    #[schema(minimum = 0, maximum = 1000)]
    n_surfaces: i64,
    /// Their area in m².
    area_m2: f64,
    /// What it costs together, before tax.
    net: MoneyView,
}

impl From<EstimateBrief> for EstimateBriefView {
    fn from(brief: EstimateBrief) -> Self {
        Self {
            id: brief.id.to_string(),
            created_at: time::write(brief.created_at),
            site_id: brief.site_id.to_string(),
            knowledge_version: brief.knowledge_version,
            n_surfaces: brief.n_surfaces,
            area_m2: number::square_metres(brief.area),
            net: brief.net.into(),
        }
    }
}

/// A page of estimates.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EstimatePage {
    /// The estimates in short, oldest first.
    #[schema(max_items = 200)]
    items: Vec<EstimateBriefView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
