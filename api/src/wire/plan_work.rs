//! The work of a plan on the wire: steps, labour, products, time line, money, and the basis of numbers.

use domain::plan::Work;
use serde::Serialize;
use utoipa::ToSchema;

use super::{
    acceptance::AcceptanceView,
    basis::BasisView,
    bay::{BayLayoutView, ShapeView},
    chemistry::ChemistryView,
    cost::CostView,
    outlook::OutlookView,
    quantity::{LabourView, PadView, ProductLineView, WaterView},
    step::StepView,
    time_line::TimeLineView,
};

/// What is done, with what, for how long and for how much.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct WorkView {
    /// The steps, in order.
    #[schema(max_items = 100)]
    steps: Vec<StepView>,
    /// Labour by activity.
    #[schema(max_items = 50)]
    labour: Vec<LabourView>,
    /// Products and the packs to order.
    #[schema(max_items = 50)]
    products: Vec<ProductLineView>,
    /// Clean water, and slurry to get rid of.
    water: WaterView,
    /// What the work does to water, air and drain.
    chemistry: ChemistryView,
    /// Pads.
    #[schema(max_items = 20)]
    pads: Vec<PadView>,
    /// When what may happen on the floor.
    time_line: TimeLineView,
    /// The shape of the floor; absent if the surface has no outline.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    shape: Option<ShapeView>,
    /// The bays in which the work is done: those before the first coat, those of the first and every other coat after
    /// it, and those of the coats between.
    #[schema(max_items = 3)]
    layouts: Vec<BayLayoutView>,
    /// What it costs.
    cost: CostView,
    /// How it may turn out; absent where it was made before that was told.
    #[schema(required = false)]
    outlook: OutlookView,
    /// When the floor may be handed over.
    acceptance: AcceptanceView,
    /// Why each number is what it is; numbers point here by id.
    #[schema(max_items = 500)]
    basis: Vec<BasisView>,
}

impl From<&Work> for WorkView {
    fn from(work: &Work) -> Self {
        let steps = work.steps.iter();
        Self {
            steps: steps
                .map(|step| StepView::new(step, &work.labour))
                .collect(),
            labour: work.labour.iter().map(Into::into).collect(),
            products: work.products.iter().map(Into::into).collect(),
            water: (&work.water).into(),
            chemistry: (&work.chemistry).into(),
            pads: work.pads.iter().map(Into::into).collect(),
            time_line: (&work.time_line).into(),
            shape: work.shape.as_ref().map(Into::into),
            layouts: work.layouts.iter().map(Into::into).collect(),
            cost: (&work.cost).into(),
            outlook: work.into(),
            acceptance: (&work.acceptance).into(),
            basis: work.basis.iter().map(Into::into).collect(),
        }
    }
}
