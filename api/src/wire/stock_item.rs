//! What sites have left over of their products, on the wire.

mod used;

use chrono::{DateTime, NaiveDate, Utc};
use domain::{
    id::{SiteId, StockItemId},
    quantity::Volume,
    stock::{Opening, StockItem},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{number, patch::patch_of, time};
use crate::body::Faults;

pub(crate) use used::StockUseView;

/// Something that is left over of a product: sealed packs of one batch, or one pack that was opened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "product": "polish_emulsion", "pack_l": 5, "left_l": 3.2, "batch": "B 2207", "expires_on": "2027-03-31",
    "opened": true, "opened_on": "2026-05-12", "open_keeps_days": 180
}))]
pub(crate) struct StockItemRequest {
    /// The product: a key of the knowledge base's products or of your own. It cannot be changed.
    #[schema(min_length = 2, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) product: String,
    /// Undiluted product that is left, in litres, kept to the millilitre; whole packs where they are sealed.
    #[schema(minimum = 0.001, maximum = 100_000)]
    pub(crate) left_l: f64,
    /// The size of the pack in litres, as it was bought.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0.05, maximum = 1000)]
    pub(crate) pack_l: Option<f64>,
    /// The maker's number of the batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 100, pattern = r"\S")]
    pub(crate) batch: Option<String>,
    /// The last day on which it may be used, by its label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) expires_on: Option<NaiveDate>,
    /// Whether the pack was opened.
    #[serde(default)]
    #[schema(default = false)]
    pub(crate) opened: bool,
    /// The day on which it was opened; not after today.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) opened_on: Option<NaiveDate>,
    /// For how many days an open pack keeps, by its label: needs `opened_on` where it was opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 3650)]
    pub(crate) open_keeps_days: Option<u32>,
}

patch_of! {
    /// A change of what is left over.
    StockItemPatchRequest, StockItemRequest, {"left_l": 1.5}
}

impl StockItemRequest {
    /// What is left of it.
    fn left(&self) -> Volume {
        in_ml(self.left_l)
    }

    /// Notes what the schema cannot know; `today` is the day at the site.
    pub(crate) fn check(&self, today: NaiveDate, faults: &mut Faults) {
        let mut add =
            |place: &'static str, code, detail: &'static str| faults.push(place, code, detail);
        let left = self.left();
        if let Some(pack) = self.pack_l.map(in_ml).filter(|pack| *pack > Volume::ZERO) {
            if self.opened && left > pack {
                add(
                    "#/left_l",
                    "more_than_a_pack",
                    "An opened pack holds no more than its size.",
                );
            }
            if !self.opened && left.ul().checked_rem(pack.ul()) != Some(0) {
                add(
                    "#/left_l",
                    "not_whole_packs",
                    "Sealed packs are whole: a multiple of `pack_l`.",
                );
            }
        }
        if self.opened_on.is_some() && !self.opened {
            add(
                "#/opened_on",
                "not_opened",
                "Only an opened pack was opened on a day.",
            );
        }
        if self.opened && self.open_keeps_days.is_some() && self.opened_on.is_none() {
            add(
                "#/opened_on",
                "required",
                "Say when it was opened: an open pack keeps from that day on.",
            );
        }
        if self.opened_on.is_some_and(|day| day > today) {
            add(
                "#/opened_on",
                "in_future",
                "It cannot have been opened after today.",
            );
        }
    }

    /// It as planning needs it.
    pub(crate) fn item(&self, id: StockItemId) -> StockItem {
        StockItem {
            id,
            product: self.product.clone(),
            left: self.left(),
            batch: self.batch.clone(),
            expires_on: self.expires_on,
            opening: self.opened.then_some(Opening {
                on: self.opened_on,
                keeps_days: self.open_keeps_days,
            }),
        }
    }
}

/// Litres of a request to the millilitre; the schema keeps them far within the ledger.
fn in_ml(litres: f64) -> Volume {
    Volume::from_ml(domain::quantity::whole(litres * 1e3).unwrap_or(0))
}

/// Something that is left over of a product.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct StockItemView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^stk_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// The site that has it.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The product.
    #[schema(max_length = 60)]
    product: String,
    /// Undiluted product that is left, in litres.
    #[schema(minimum = 0)]
    left_l: f64,
    /// The size of the pack in litres.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    pack_l: Option<f64>,
    /// The maker's number of the batch.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100)]
    batch: Option<String>,
    /// The last day on which it may be used, by its label.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = Date, max_length = 10)]
    expires_on: Option<String>,
    /// Whether the pack was opened.
    opened: bool,
    /// The day on which it was opened.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = Date, max_length = 10)]
    opened_on: Option<String>,
    /// For how many days an open pack keeps.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    open_keeps_days: Option<u32>,
    /// The last day on which plans count it, from its date and its opening; absent where nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = Date, max_length = 10)]
    good_until: Option<String>,
    /// When it was registered.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

impl StockItemView {
    /// Something left over as its request says, in a version.
    pub(crate) fn new(
        (id, site, version): (StockItemId, SiteId, i64),
        request: &StockItemRequest,
        (created_at, updated_at): (DateTime<Utc>, DateTime<Utc>),
    ) -> Self {
        let item = request.item(id);
        let day = |day: NaiveDate| day.to_string();
        Self {
            id: id.to_string(),
            version,
            site_id: site.to_string(),
            product: request.product.clone(),
            left_l: number::litres(item.left),
            pack_l: request.pack_l.map(|litres| number::litres(in_ml(litres))),
            batch: request.batch.clone(),
            expires_on: request.expires_on.map(day),
            opened: request.opened,
            opened_on: request.opened_on.map(day),
            open_keeps_days: request.open_keeps_days,
            good_until: item.good_until().map(|(last, _)| day(last)),
            created_at: time::write(created_at),
            updated_at: time::write(updated_at),
        }
    }
}

/// A page of what is left over.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StockItemPage {
    /// What is left over, in the order of its registration.
    #[schema(max_items = 200)]
    items: Vec<StockItemView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
