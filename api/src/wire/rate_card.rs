//! Rate cards on the wire.

mod read;
mod view;

pub(crate) use view::{RateCardPage, RateCardView};

use chrono::NaiveDate;
use domain::{
    card::{RateCard, Share},
    money::Currency,
    quantity::float,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::money::MoneyRequest;
use crate::{body::Faults, problem::Problem};

/// The rates of a site. Amounts are in the site's currency and may have four digits behind the point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "valid_from": "2026-04-01",
    "labour_per_h": {"amount": "16.50", "currency": "GBP"},
    "allowance_pct": 10, "contingency_pct": 5, "overhead_pct": 12, "margin_pct": 10, "tax_pct": 20,
    "crew_size": 2, "setup_min": 30, "clean_down_min": 30,
    "waste_per_l": {"amount": "0.05", "currency": "GBP"},
    "machines": [{"machine": "rotary_43", "per_h": {"amount": "1.20", "currency": "GBP"}}],
}))]
pub(crate) struct RateCardRequest {
    /// The first day, at the site, on which the card is valid.
    #[schema(value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) valid_from: NaiveDate,
    /// An operative's hour.
    pub(crate) labour_per_h: MoneyRequest,
    /// Added to working time for rest, fatigue and delay, in %.
    #[schema(minimum = 0, maximum = 100)]
    pub(crate) allowance_pct: f64,
    /// Added to cost for what nobody foresees, in %.
    #[schema(minimum = 0, maximum = 100)]
    pub(crate) contingency_pct: f64,
    /// Added to cost for running the business, in %.
    #[schema(minimum = 0, maximum = 100)]
    pub(crate) overhead_pct: f64,
    /// Share of the price that is margin, in %.
    #[schema(minimum = 0, maximum = 90)]
    pub(crate) margin_pct: f64,
    /// Tax on the price, in %.
    #[schema(minimum = 0, maximum = 100)]
    pub(crate) tax_pct: f64,
    /// Operatives who work at the same time.
    #[schema(minimum = 1, maximum = 50)]
    pub(crate) crew_size: i64,
    /// Minutes to set up, once a job.
    #[schema(minimum = 0, maximum = 480)]
    pub(crate) setup_min: i64,
    /// Minutes to clean down, once a job.
    #[schema(minimum = 0, maximum = 480)]
    pub(crate) clean_down_min: i64,
    /// Getting rid of a litre of slurry; the knowledge base's without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) waste_per_l: Option<MoneyRequest>,
    /// Packs that products are bought in; a product that is not here has example packs.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub(crate) packs: Vec<PackRequest>,
    /// Prices of pads; a pad that is not here has an example price.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) consumables: Vec<ConsumableRequest>,
    /// Costs of machines; a machine that is not here has an example cost.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) machines: Vec<MachineRequest>,
    /// Production rates of the site's own, in place of those of the knowledge base.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub(crate) rates: Vec<RateRequest>,
}

/// A pack of a product and its price.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = RateCardPack)]
pub(crate) struct PackRequest {
    /// The key of the product.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) product: String,
    /// Its size in litres, kept to the millilitre.
    #[schema(minimum = 0.05, maximum = 1000)]
    pub(crate) size_l: f64,
    /// What it costs.
    pub(crate) price: MoneyRequest,
}

/// The price of a pad.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = RateCardConsumable)]
pub(crate) struct ConsumableRequest {
    /// The key of the pad, one of `pads` of `GET /v1/tools`; its other consumables have no price here.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) consumable: String,
    /// What it costs.
    pub(crate) price: MoneyRequest,
}

/// What a machine costs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = RateCardMachine)]
pub(crate) struct MachineRequest {
    /// The key of the machine.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) machine: String,
    /// Its hour.
    pub(crate) per_h: MoneyRequest,
}

/// How fast an activity is done at the site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = RateCardRate)]
pub(crate) struct RateRequest {
    /// The key of the activity; `GET /v1/activities` lists them with their usual rates.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) activity: String,
    /// m² of floor or m of edge per operative and hour, as the knowledge base has it.
    #[schema(minimum = 0.1, maximum = 100_000)]
    pub(crate) per_h: f64,
}

impl RateCardRequest {
    /// A card as it is kept and sent back: amounts with their digits, lists in order.
    pub(crate) fn new(valid_from: NaiveDate, card: &RateCard) -> Self {
        let packs = card.packs.iter().flat_map(|(product, packs)| {
            packs.iter().map(|pack| PackRequest {
                product: product.clone(),
                size_l: float(pack.size_ml) / 1e3,
                price: MoneyRequest::rate(pack.price),
            })
        });
        let consumables = card
            .consumables
            .iter()
            .map(|(key, price)| ConsumableRequest {
                consumable: key.clone(),
                price: MoneyRequest::rate(*price),
            });
        let machines = card.machines.iter().map(|(key, per_h)| MachineRequest {
            machine: key.clone(),
            per_h: MoneyRequest::rate(*per_h),
        });
        let rates = card.rates.iter().map(|(key, per_h)| RateRequest {
            activity: key.clone(),
            per_h: *per_h,
        });
        Self {
            valid_from,
            labour_per_h: MoneyRequest::rate(card.labour_per_h),
            allowance_pct: card.allowance.pct(),
            contingency_pct: card.contingency.pct(),
            overhead_pct: card.overhead.pct(),
            margin_pct: card.margin.pct(),
            tax_pct: card.tax.pct(),
            crew_size: card.crew_size,
            setup_min: card.setup_min,
            clean_down_min: card.clean_down_min,
            waste_per_l: Some(MoneyRequest::rate(card.waste_per_l)),
            packs: packs.collect(),
            consumables: consumables.collect(),
            machines: machines.collect(),
            rates: rates.collect(),
        }
    }

    /// The share that a percentage is, kept to a hundredth of a per cent.
    fn share(pct: f64) -> Share {
        Share::from_pct(pct).unwrap_or_default()
    }
}

/// A card as it is kept, and whether nobody has told it.
///
/// # Errors
/// `internal` for a card that cannot be written.
pub(crate) fn kept(card: &RateCardRequest, assumed: bool) -> Result<String, Problem> {
    #[derive(Serialize)]
    struct Kept<'a> {
        #[serde(flatten)]
        card: &'a RateCardRequest,
        assumed: bool,
    }
    super::document(&Kept { card, assumed })
}

/// Whether nobody has told the card that a stored document holds.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn is_assumed(document: &str) -> Result<bool, Problem> {
    #[derive(Deserialize)]
    struct Kept {
        #[serde(default)]
        assumed: bool,
    }
    super::stored::<Kept>(document).map(|kept| kept.assumed)
}

/// The card that a stored document holds.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn stored(document: &str, currency: Currency) -> Result<RateCard, Problem> {
    let request: RateCardRequest = super::stored(document)?;
    let assumed = is_assumed(document)?;
    let mut faults = Faults::new();
    let card = request.card(currency, "", &mut faults);
    let card = card.map(|card| RateCard { assumed, ..card });
    card.filter(|_| faults.finish().is_ok())
        .ok_or_else(|| Problem::internal(&Unreadable))
}

/// A stored rate card that breaks the rules of one.
#[derive(Debug, thiserror::Error)]
#[error("a stored rate card breaks the rules of a rate card")]
struct Unreadable;
