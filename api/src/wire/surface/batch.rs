//! Batches of surfaces on the wire.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::{
    ToSchema,
    openapi::{
        Object, ObjectBuilder, RefOr,
        schema::{Schema, Type},
    },
};

use super::{
    FindingView, SurfaceRequest,
    access::{AccessWindow, ReplacedBy, Services},
    film::SurveyedFilm,
    maker::MakerInstruction,
    members::{surface, with_members_of},
    room::RoomOver,
};
use crate::{
    body::Fault,
    wire::{
        external::External,
        outline::{Door, Ring},
        patch,
        words::{
            Asbestos, Consent, Joints, Lead, MoistureMethod, Obstruction, Profile, Residue, Soil,
            Space, Traffic, Ventilation, Zone,
        },
    },
};

/// What happens to a batch if some of its items cannot be stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(as = BatchMode)]
pub(crate) enum Mode {
    /// Nothing is stored.
    #[default]
    Atomic,
    /// The others are stored.
    Partial,
}

/// What a batch may be sent as.
#[derive(Debug, Clone, ToSchema)]
#[serde(untagged)]
#[schema(as = SurfaceBatchBodyRequest, example = json!({"mode": "partial", "merge": true, "items": [
    {"external": {"system": "building-register", "id": "3.012"}, "area_m2": 39.1, "note": null},
]}))]
#[expect(
    dead_code,
    reason = "it describes the alternatives; `SurfaceBatch` is what was read"
)]
pub(crate) enum BatchBody {
    /// Surfaces that are said whole.
    Whole(SurfaceBatchRequest),
    /// Surfaces of which some members are said.
    Merge(SurfaceMergeBatchRequest),
}

/// Surfaces to register or, if their external name is known already, to bring up to date; each is said whole.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"mode": "partial", "items": [{
    "site_id": "sit_0193e8a0-0000-7000-8000-000000000001", "name": "Ward 3", "storey": "3",
    "finish": "SHEET VINYL", "area_m2": 38.5, "perimeter_m": 25.2,
    "external": {"system": "building-register", "id": "3.012"},
}]}))]
pub(crate) struct SurfaceBatchRequest {
    /// What happens if some items cannot be stored; `atomic` without it.
    #[serde(default)]
    pub(crate) mode: Mode,
    /// `false`, or left out: what an item leaves out is not said any more.
    #[serde(default)]
    #[schema(schema_with = is_false)]
    pub(crate) merge: bool,
    /// The surfaces; each replaces all that was said of the one with its external name.
    #[schema(min_items = 1, max_items = 1000)]
    pub(crate) items: Vec<SurfaceItem>,
}

/// Surfaces to register or to change in some members, each known by its external name.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"mode": "partial", "merge": true, "items": [
    {"external": {"system": "building-register", "id": "3.012"}, "area_m2": 39.1, "note": null},
]}))]
pub(crate) struct SurfaceMergeBatchRequest {
    /// What happens if some items cannot be stored; `atomic` without it.
    #[serde(default)]
    pub(crate) mode: Mode,
    /// `true`: each item is a JSON Merge Patch (RFC 7396) of the surface with its external name.
    #[schema(schema_with = is_true)]
    pub(crate) merge: bool,
    /// The changes; one whose external name is not known registers a surface, and must say what that takes.
    #[schema(min_items = 1, max_items = 1000, value_type = Vec<SurfaceItemPatch>)]
    pub(crate) items: Vec<Value>,
}

fn is_true() -> Object {
    only(true)
}

fn is_false() -> Object {
    only(false)
}

fn only(value: bool) -> Object {
    let kind = ObjectBuilder::new().schema_type(Type::Boolean);
    kind.enum_values(Some([value])).build()
}

/// A change of a surface that is known by its external name.
#[derive(Debug)]
pub(crate) struct SurfaceItemPatch;

impl utoipa::PartialSchema for SurfaceItemPatch {
    fn schema() -> RefOr<Schema> {
        let example = json!({
            "external": {"system": "building-register", "id": "3.012"}, "area_m2": 39.1, "note": null,
        });
        let mut schema = patch::schema_for::<SurfaceItem>(example);
        if let RefOr::T(Schema::Object(members)) = &mut schema {
            members.required.push("external".to_owned());
        }
        schema
    }
}

impl ToSchema for SurfaceItemPatch {
    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        SurfaceItem::schemas(schemas);
    }
}

/// A batch as it was read.
#[derive(Debug, Clone)]
pub(crate) enum SurfaceBatch {
    /// Surfaces that are said whole.
    Whole(SurfaceBatchRequest),
    /// Surfaces of which some members are said.
    Merge(SurfaceMergeBatchRequest),
}

impl SurfaceBatch {
    /// What happens if some items cannot be stored.
    pub(crate) const fn mode(&self) -> Mode {
        match self {
            Self::Whole(batch) => batch.mode,
            Self::Merge(batch) => batch.mode,
        }
    }
}

surface! {
    /// A surface of a batch, known by its external name.
    #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
    #[serde(deny_unknown_fields)]
    SurfaceItem {
        /// The key of its material; `GET /v1/materials` lists them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, max_length = 60)]
        pub(crate) material: Option<String>,
        /// Its finish in the words of building data, in place of `material`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, max_length = 200)]
        pub(crate) finish: Option<String>,
        /// Its area in m², kept to the mm²; one below 0.01 needs attention. Needed unless there is an outline, and then
        /// within 2 % of its area.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, minimum = 0, maximum = 1_000_000)]
        pub(crate) area_m2: Option<f64>,
        /// Its name in another system: the surface with this name is created or replaced.
        pub(crate) external: External,
        /// The version that must be there for the item to be stored.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, minimum = 1)]
        pub(crate) if_version: Option<i64>,
    }
}

impl SurfaceItem {
    /// The surface as a request of its own would say it.
    pub(crate) fn into_request(self) -> SurfaceRequest {
        with_members_of!(self => SurfaceRequest {
            material: self.material,
            finish: self.finish,
            area_m2: self.area_m2,
            external: Some(self.external),
        })
    }
}

/// What became of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(as = BatchOutcome)]
pub(crate) enum Outcome {
    /// It is registered.
    Created,
    /// It was there and says something else now.
    Updated,
    /// It was there and said the same.
    Unchanged,
    /// It is a soft floor; not stored.
    OutOfScope,
    /// It has several coverings and must be split into one surface for each; not stored.
    ToSplit,
    /// It cannot be stored as it is; see its errors.
    NeedsAttention,
}

/// What became of a batch.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct SurfaceBatchView {
    /// How many items had which outcome.
    pub(crate) counts: CountsView,
    /// The area of the items with each outcome, in m².
    pub(crate) areas_m2: AreasView,
    /// The items, in the order of the request.
    #[schema(max_items = 1000)]
    pub(crate) items: Vec<ItemView>,
}

/// Declares a struct with one member for each outcome.
macro_rules! by_outcome {
    ($(#[$meta:meta])* $name:ident, $type:ty) => {
        #[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, ToSchema)]
        $(#[$meta])*
        pub(crate) struct $name {
            /// Registered.
            #[schema(minimum = 0)]
            pub(crate) created: $type,
            /// Changed.
            #[schema(minimum = 0)]
            pub(crate) updated: $type,
            /// As they were.
            #[schema(minimum = 0)]
            pub(crate) unchanged: $type,
            /// Soft floors.
            #[schema(minimum = 0)]
            pub(crate) out_of_scope: $type,
            /// Several coverings in one.
            #[schema(minimum = 0)]
            pub(crate) to_split: $type,
            /// Not fit to be stored.
            #[schema(minimum = 0)]
            pub(crate) needs_attention: $type,
        }
    };
}

by_outcome! {
    /// Items by outcome.
    #[schema(as = BatchCountsView)]
    CountsView, u32
}
by_outcome! {
    /// Area by outcome, in m².
    #[schema(as = BatchAreasView)]
    AreasView, f64
}

/// What became of one item.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = BatchItemView)]
pub(crate) struct ItemView {
    /// Its place in the request, from 0.
    #[schema(minimum = 0, maximum = 999)]
    pub(crate) index: usize,
    /// What became of it.
    pub(crate) outcome: Outcome,
    /// Its name in the other system.
    pub(crate) external: External,
    /// The surface, if there is one with this name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: Option<String>,
    /// The surface's version now.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1)]
    pub(crate) version: Option<i64>,
    /// What was noticed about a stored surface.
    #[schema(max_items = 20)]
    pub(crate) findings: Vec<FindingView>,
    /// Why it was not stored, and what to do about it.
    #[schema(max_items = 20)]
    pub(crate) errors: Vec<Fault>,
}
