//! Where and how the work of a plan is reported, on the wire.

use chrono::{DateTime, Utc};
use domain::{
    id::{PlanId, SurfaceId},
    quantity::{Labour, Volume},
};
use infra::row::ContractorSourceRow;
use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;

use crate::{
    call,
    wire::{number, time},
};

/// Where a contractor's own system reports.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportingAddress {
    /// Whose it is.
    #[schema(max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    contractor_id: String,
    /// The source that signs.
    #[schema(max_length = 40, pattern = "^src_[0-9a-f-]{36}$")]
    source_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    name: String,
    /// Where it sends its events.
    #[schema(max_length = 2000)]
    address: String,
}

impl ReportingAddress {
    /// The address of a source; `path` is its path.
    pub(crate) fn new(row: &ContractorSourceRow, path: &str) -> Self {
        Self {
            contractor_id: row.contractor_id.to_string(),
            source_id: row.id.to_string(),
            name: row.name.clone(),
            address: call::absolute(path),
        }
    }
}

/// Where and how the work of a plan is reported by a contractor's own system.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportingView {
    /// The plan.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    plan_id: String,
    /// The addresses, each for its own contractor; none if no contractor has a source.
    #[schema(max_items = 100)]
    addresses: Vec<ReportingAddress>,
    /// An event as the contractor's system would send it had all gone by the plan; its signature goes into the headers. The
    /// name of the report (`external`) is the contractor's to choose.
    #[schema(value_type = Object)]
    example: Value,
}

/// The work of a plan, had all gone by it.
#[derive(Debug)]
pub(crate) struct Example<'a> {
    pub(crate) surface_id: SurfaceId,
    pub(crate) plan_id: PlanId,
    /// When it is told.
    pub(crate) at: DateTime<Utc>,
    pub(crate) started_at: DateTime<Utc>,
    pub(crate) finished_at: DateTime<Utc>,
    /// By stage.
    pub(crate) labour: Vec<(&'a str, Labour)>,
    /// By key.
    pub(crate) products: Vec<(&'a str, Volume)>,
    pub(crate) seal_coats: i64,
    pub(crate) polish_coats: i64,
}

impl ReportingView {
    /// Where the work of a plan is reported, and how.
    pub(crate) fn new(addresses: Vec<ReportingAddress>, example: &Example<'_>) -> Self {
        Self {
            plan_id: example.plan_id.to_string(),
            addresses,
            example: json!({
                "type": "completion.reported",
                "timestamp": time::write(example.at),
                "data": data(example),
            }),
        }
    }
}

fn data(example: &Example<'_>) -> Value {
    let labour = example.labour.iter();
    let labour = labour.map(|(stage, time)| json!({"stage": stage, "hours": number::hours(*time)}));
    let products = example.products.iter().map(|(key, volume)| {
        json!({"product": key, "volume_l": number::litres(*volume), "batch": "as printed on the can"})
    });
    let mut data = json!({
        "surface_id": example.surface_id.to_string(),
        "plan_id": example.plan_id.to_string(),
        "started_at": time::write(example.started_at),
        "finished_at": time::write(example.finished_at),
        "labour": labour.collect::<Vec<_>>(),
        "products": products.collect::<Vec<_>>(),
        "external": {"system": "crew-app", "id": format!("job of {}", example.plan_id)},
    });
    let coats = [
        ("seal_coats", example.seal_coats),
        ("polish_coats", example.polish_coats),
    ];
    for (name, coats) in coats.into_iter().filter(|(_, coats)| *coats > 0) {
        if let Some(members) = data.as_object_mut() {
            members.insert(name.to_owned(), coats.into());
        }
    }
    data
}
