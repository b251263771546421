//! Things to send, with sensible members; [`with`] changes or removes some of them.

use serde_json::{Value, json};

use crate::{
    client::{Answer, Caller},
    read,
};

/// A copy with members replaced and, where the change says null, removed; objects inside are merged (RFC 7396).
#[must_use]
pub fn with(mut whole: Value, change: Value) -> Value {
    merge(&mut whole, change);
    whole
}

fn merge(whole: &mut Value, change: Value) {
    let Value::Object(changes) = change else {
        *whole = change;
        return;
    };
    if !whole.is_object() {
        *whole = json!({});
    }
    let Some(members) = whole.as_object_mut() else {
        return;
    };
    for (name, value) in changes {
        if value.is_null() {
            members.remove(&name);
        } else {
            merge(members.entry(name).or_insert(Value::Null), value);
        }
    }
}

/// An amount of pounds.
#[must_use]
pub fn pounds(amount: &str) -> Value {
    json!({"amount": amount, "currency": "GBP"})
}

/// What may be spent in a year.
#[must_use]
pub fn budget(year: u16) -> Value {
    json!({"year": year, "net": pounds("8000.00")})
}

/// A site in Great Britain that has told its rates: those that the knowledge base takes where nobody has.
#[must_use]
pub fn site() -> Value {
    json!({
        "name": "North clinic", "country": "GB", "time_zone": "Europe/London", "currency": "GBP",
        "climate": {"air_c": 20, "humidity_pct": 50},
        "rate_card": {
            "valid_from": "2026-01-01", "labour_per_h": pounds("16.50"),
            "allowance_pct": 10, "contingency_pct": 5, "overhead_pct": 12, "margin_pct": 10, "tax_pct": 0,
            "crew_size": 2, "setup_min": 30, "clean_down_min": 30, "waste_per_l": pounds("0.05"),
        },
    })
}

/// The rates of the worked examples of the trade: 16.50 an hour, 5 L packs, nothing for machines and waste.
#[must_use]
pub fn golden_rate_card() -> Value {
    let machines = [
        "rotary_43",
        "wet_vacuum",
        "scrubber_dryer_43",
        "scrubber_dryer_50",
    ];
    let machines = machines.map(|key| json!({"machine": key, "per_h": pounds("0")}));
    json!({
        "valid_from": "2026-01-01",
        "labour_per_h": pounds("16.50"),
        "allowance_pct": 10, "contingency_pct": 0, "overhead_pct": 12, "margin_pct": 10, "tax_pct": 0,
        "crew_size": 2, "setup_min": 30, "clean_down_min": 30,
        "waste_per_l": pounds("0"),
        "packs": [
            {"product": "stripper_alkaline", "size_l": 5, "price": pounds("15.00")},
            {"product": "polish_emulsion", "size_l": 5, "price": pounds("21.00")},
        ],
        "consumables": [{"consumable": "black", "price": pounds("6.00")}],
        "machines": machines,
    })
}

/// A corridor of composition tile, 30 m by 8 m, under heavy traffic, its polish worn.
#[must_use]
pub fn surface(site_id: &str) -> Value {
    json!({
        "site_id": site_id, "name": "Corridor 2.104", "storey": "2", "material": "vinyl_composition_tile",
        "area_m2": 240, "perimeter_m": 76, "space": "corridor", "built_year": 2010, "traffic": "heavy",
        "soil": "normal", "obstruction": "light", "film": {"kind": "polish", "coats": 6, "condition": "worn"},
    })
}

/// A plan that restores a surface.
#[must_use]
pub fn plan(surface_id: &str) -> Value {
    json!({"surface_id": surface_id, "wish": {"goal": "restore"}})
}

/// Programmes of two years for surfaces of a site.
#[must_use]
pub fn programme(site_id: &str, surface_ids: &[&str]) -> Value {
    let surfaces = surface_ids.iter().map(|id| json!({"surface_id": id}));
    json!({"site_id": site_id, "surfaces": surfaces.collect::<Vec<_>>(), "months": 24})
}

/// An estimate that restores all surfaces of a site.
#[must_use]
pub fn estimate(site_id: &str) -> Value {
    json!({"site_id": site_id, "wish": {"goal": "restore"}})
}

/// Asks for an estimate in the background and waits until it is made; gives the job's id.
///
/// # Panics
/// If it comes to another end.
pub async fn new_estimate_job(caller: &Caller, body: &Value) -> String {
    let id = caller
        .record("/v1/estimate-jobs", body)
        .await
        .must(202)
        .id();
    let job = finished_job(caller, &id).await;
    assert_eq!(job.get("status"), Some(&"succeeded".into()), "{job:#}");
    id
}

/// A schedule of one plan by two operatives on week nights in June 2026, with as little search as may be.
#[must_use]
pub fn schedule(site_id: &str, plan_id: &str) -> Value {
    let nights = ["monday", "tuesday", "wednesday", "thursday", "friday"];
    let shifts = json!([{"days": nights, "from": "18:00", "to": "06:00"}]);
    json!({
        "site_id": site_id, "plans": [{"plan_id": plan_id}],
        "from": "2026-06-01T12:00:00Z", "to": "2026-06-15T12:00:00Z",
        "crews": [{"name": "Night crew", "operatives": 2, "shifts": shifts}], "schedules": 1,
    })
}

/// Asks for a schedule and waits until it has come to its end; gives it as it then stands.
///
/// # Panics
/// If it is not taken.
pub async fn new_schedule(caller: &Caller, body: &Value) -> Value {
    let id = caller.record("/v1/schedules", body).await.must(202).id();
    loop {
        let read = caller.get(&format!("/v1/schedules/{id}")).await.must(200);
        let told = read.json();
        if told.get("finished_at").is_some() {
            return told;
        }
        assert_eq!(read.header("Retry-After"), Some("1"));
    }
}

/// What becomes of a schedule: its first task does not begin in the first night.
#[must_use]
pub fn replan() -> Value {
    json!({"progress": [{"task": 1, "not_before": "2026-06-02T12:00:00Z"}], "schedules": 1})
}

/// A plan of a new surface, and a schedule of it that was chosen from and planned again: their ids.
///
/// # Panics
/// If they cannot be made.
pub async fn new_scheduled_plan(caller: &Caller, site_id: &str) -> (String, String) {
    let surface = new_surface(caller, &surface(site_id)).await;
    let plan = new_plan(caller, &plan(&surface)).await.id();
    let made = new_schedule(caller, &schedule(site_id, &plan)).await;
    let id = made.get("id").and_then(Value::as_str).unwrap_or_default();
    let path = format!("/v1/schedules/{id}");
    let choice = json!({"choice": 1});
    let _chosen = caller
        .record(&format!("{path}/choose"), &choice)
        .await
        .must(200);
    let _moved = caller
        .record(&format!("{path}/replan"), &replan())
        .await
        .must(200);
    (plan, id.to_owned())
}

/// Reads a job until it has come to its end.
///
/// # Panics
/// If it cannot be read.
pub async fn finished_job(caller: &Caller, id: &str) -> Value {
    finished(caller, &format!("/v1/estimate-jobs/{id}")).await
}

/// Reads what is worked on in the background until it has come to its end.
///
/// # Panics
/// If it cannot be read.
pub async fn finished(caller: &Caller, path: &str) -> Value {
    loop {
        let job = caller.get(path).await.must(200);
        let told = job.json();
        if told.get("finished_at").is_some() {
            return told;
        }
        assert_eq!(job.header("Retry-After"), Some("1"));
    }
}

/// A table of rooms, as a building is handed over: two hard floors, a carpet, and a finish that nobody knows.
pub const ROOMS: &str = "external_system,external_id,name,storey,area_m2,perimeter_m,finish\r\n\
    register,R-1,Hall,Ground,40.25,26,VCT\r\n\
    register,R-2,Ward,First,20,18,Sheet vinyl\r\n\
    register,R-3,Office,First,15,16,Carpet\r\n\
    register,R-4,Store,First,9,12,Zorblite 3000\r\n";

/// Sends [`ROOMS`] for a site as a dry run and waits until it is read; gives the import's id.
///
/// # Panics
/// If it comes to another end.
pub async fn new_import(caller: &Caller, site: &str) -> String {
    let query = format!("?site_id={site}");
    let read = import(caller, &query, "text/csv", ROOMS).await;
    assert_eq!(read.get("status"), Some(&"succeeded".into()), "{read:#}");
    read::text(&read, "/id").to_owned()
}

/// Sends a file of a building and waits until it is read; gives the import.
///
/// # Panics
/// If it is refused.
pub async fn import(
    caller: &Caller,
    query: &str,
    media_type: &str,
    content: impl Into<Vec<u8>>,
) -> Value {
    let sent = send_file(caller, query, media_type, content).await;
    finished(caller, &format!("/v1/imports/{}", sent.must(202).id())).await
}

/// Sends a file of a building.
pub async fn send_file(
    caller: &Caller,
    query: &str,
    media_type: &str,
    content: impl Into<Vec<u8>>,
) -> Answer {
    let call = caller.call(reqwest::Method::POST, &format!("/v1/imports{query}"));
    let call = call.header("Content-Type", media_type);
    let key = crate::client::fresh_key();
    let call = call.header("Idempotency-Key", &key);
    call.bytes(content).answer().await
}

/// A polish of a tenant's own, for composition tile.
#[must_use]
pub fn product() -> Value {
    json!({
        "key": "night_polish", "class": "polish", "name": "Hard-wearing emulsion polish",
        "suits": ["vinyl_composition_tile"],
        "coverage_first": {"none": 60, "low": 60, "medium": 40, "high": 30},
        "coverage_next": {"none": 60, "low": 60, "medium": 40, "high": 30},
        "water_share": 0.75, "coat_wait_min": 50, "foot_wait_min": 150, "ph_in_use": 8.2,
        "ppe": ["gloves"], "packs": [{"size_l": 10, "example_price": "48.00"}],
        "sheet": {"reference": "TDS 114", "edition": "2026-02"},
    })
}

/// Two sealed packs of polish that are left over.
#[must_use]
pub fn stock_item() -> Value {
    json!({
        "product": "polish_emulsion", "left_l": 10, "batch": "B 2207", "expires_on": "2027-03-31",
    })
}

/// A night's work of two operatives on a surface, without a plan.
#[must_use]
pub fn completion(surface_id: &str) -> Value {
    json!({
        "surface_id": surface_id, "process": "machine_strip_and_refinish",
        "started_at": "2026-05-11T20:00:00Z", "finished_at": "2026-05-12T10:00:00Z",
        "labour": [{"stage": "prepare", "hours": 14.25}, {"stage": "protect", "hours": 8.5}],
        "products": [
            {"product": "stripper_alkaline", "volume_l": 12.5, "stage": "prepare"},
            {"product": "polish_emulsion", "volume_l": 23.2, "stage": "protect"},
        ],
        "polish_coats": 4, "surface_ph": 7.6,
    })
}

/// A reading of the pH of a surface.
#[must_use]
pub fn reading(surface_id: &str) -> Value {
    json!({"surface_id": surface_id, "kind": "surface_ph", "value": 7.4, "at": "2026-05-12T09:30:00Z"})
}

/// What somebody saw of a surface's film.
#[must_use]
pub fn observation() -> Value {
    json!({
        "at": "2026-05-12T09:30:00Z", "origin": "seen",
        "film": {"kind": "polish", "coats": 5, "condition": "sound"},
    })
}

/// Registers a contractor and says its id.
pub async fn new_contractor(caller: &Caller) -> String {
    let body = json!({"name": "Evening crew"});
    caller.post("/v1/contractors", &body).await.must(201).id()
}

/// Registers a site and says its id.
pub async fn new_site(caller: &Caller) -> String {
    caller.post("/v1/sites", &site()).await.must(201).id()
}

/// Registers a surface and says its id.
pub async fn new_surface(caller: &Caller, body: &Value) -> String {
    caller.post("/v1/surfaces", body).await.must(201).id()
}

/// Has a plan made.
pub async fn new_plan(caller: &Caller, body: &Value) -> Answer {
    caller.post("/v1/plans", body).await.must(201)
}
