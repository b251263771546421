//! Labour, litres, packs, water and pads on the wire.

use domain::{
    estimate::{
        labour::LabourLine,
        pads::PadLine,
        quantities::{ProductLine, WaterLine},
    },
    quantity::Volume,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{money::MoneyView, number, plan::Named, stock_item::StockUseView};

/// Labour of one activity.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct LabourView {
    /// The activity.
    activity: Named,
    /// prepare, protect or maintain.
    #[schema(max_length = 10)]
    stage: &'static str,
    /// Floor in m² or edge in m, once.
    #[schema(minimum = 0)]
    quantity: f64,
    /// `m2` or `m`.
    #[schema(max_length = 2)]
    unit: &'static str,
    /// How often it is worked: coats.
    #[schema(minimum = 1)]
    times: i64,
    /// Per operative and hour, after what slows it.
    #[schema(minimum = 0)]
    per_h: f64,
    /// Slowest and fastest of the table, after what slows it.
    #[schema(min_items = 2, max_items = 2)]
    per_h_range: Vec<f64>,
    /// Working time of all operatives together, in hours, filling included, without allowance.
    #[schema(minimum = 0)]
    hours: f64,
    /// How much of it is emptying and filling tanks or buckets on the way.
    #[schema(minimum = 0)]
    filling_h: f64,
    /// Where the reason stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&LabourLine> for LabourView {
    fn from(line: &LabourLine) -> Self {
        Self {
            activity: Named {
                key: line.activity.clone(),
                name: line.name.clone(),
            },
            stage: line.stage.word(),
            quantity: number::figure(line.quantity),
            unit: line.unit,
            times: line.times,
            per_h: number::figure(line.per_h),
            per_h_range: line
                .per_h_range
                .iter()
                .copied()
                .map(number::figure)
                .collect(),
            hours: number::hours(line.time),
            filling_h: number::hours(line.filling),
            basis: line.basis.clone(),
        }
    }
}

/// What is needed of one product and how it is bought.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ProductLineView {
    /// The product.
    product: Named,
    /// Its class.
    #[schema(max_length = 60)]
    class: String,
    /// The version of the tenant's own product whose figures count; absent for one of the knowledge base.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1)]
    product_version: Option<i64>,
    /// Working solution in L.
    #[schema(minimum = 0)]
    working_l: f64,
    /// Undiluted product in it, in L.
    #[schema(minimum = 0)]
    need_l: f64,
    /// Lost in tools, edges and corners, in L.
    #[schema(minimum = 0)]
    loss_l: f64,
    /// What must be at hand, in L.
    #[schema(minimum = 0)]
    total_l: f64,
    /// What of it is left over at the site, and what there is not counted; absent where nothing of the product is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    stock: Option<StockUseView>,
    /// The packs that hold the rest, at least cost.
    #[schema(max_items = 64)]
    packs: Vec<PackView>,
    /// What the packs hold, in L.
    #[schema(minimum = 0)]
    ordered_l: f64,
    /// What will be left in them, in L.
    #[schema(minimum = 0)]
    surplus_l: f64,
    /// What that is worth, by the litre in the pack with the best price; it is part of the price of whole packs.
    surplus_value: MoneyView,
    /// Whether packs are opened for this work and paid whole; else what is used is paid by the litre.
    whole_packs: bool,
    /// What is paid for it.
    price: MoneyView,
    /// Whether the prices are examples of the knowledge base: put your own into the rate card.
    example_price: bool,
    /// Where the reason stands.
    #[schema(max_length = 100)]
    basis: String,
}

/// Packs of one size.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct PackView {
    /// Size of one, in L.
    size_l: f64,
    /// How many.
    #[schema(minimum = 1)]
    count: i64,
    /// Price of one.
    each: MoneyView,
}

impl From<&ProductLine> for ProductLineView {
    fn from(line: &ProductLine) -> Self {
        Self {
            product: Named {
                key: line.product.clone(),
                name: line.name.clone(),
            },
            class: line.class.clone(),
            product_version: line.version,
            working_l: number::litres(line.working),
            need_l: number::litres(line.need),
            loss_l: number::litres(line.loss),
            total_l: number::litres(line.total),
            stock: StockUseView::of(&line.stock),
            packs: line
                .packs
                .iter()
                .map(|pack| PackView {
                    size_l: number::litres(Volume::from_ml(pack.size_ml)),
                    count: pack.count,
                    each: pack.price.into(),
                })
                .collect(),
            ordered_l: number::litres(line.ordered),
            surplus_l: number::litres(line.surplus),
            surplus_value: line.surplus_value.into(),
            whole_packs: line.whole,
            price: line.price.into(),
            example_price: line.example_price,
            basis: line.basis.clone(),
        }
    }
}

/// Clean water, and slurry to get rid of.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[expect(
    clippy::struct_field_names,
    reason = "the unit is part of a member's name"
)]
pub(crate) struct WaterView {
    /// Clean water for rinsing and mopping, in L.
    clean_l: f64,
    /// Water in diluted products, in L.
    dilution_l: f64,
    /// Slurry that is taken up, in L.
    slurry_l: f64,
}

impl From<&WaterLine> for WaterView {
    fn from(water: &WaterLine) -> Self {
        Self {
            clean_l: number::litres(water.clean),
            dilution_l: number::litres(water.dilution),
            slurry_l: number::litres(water.slurry),
        }
    }
}

/// Pads of one colour.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct PadView {
    /// The colour.
    #[schema(max_length = 20)]
    pad: String,
    /// How many must be at hand.
    #[schema(minimum = 0)]
    count: i64,
    /// What is paid for them: whole pads where they are opened for this work, else the share that is worn off.
    price: MoneyView,
    /// Where the reason stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&PadLine> for PadView {
    fn from(line: &PadLine) -> Self {
        Self {
            pad: line.pad.clone(),
            count: line.count,
            price: line.price.into(),
            basis: line.basis.clone(),
        }
    }
}
