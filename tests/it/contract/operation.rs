//! Every operation with what it takes to call it: a path with ids that exist and a body that is accepted.

use std::collections::BTreeMap;

use infra::{clock::Clock as _, testing::ManualClock};
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    build,
    client::{Call, Caller},
    inbound::{event, sign},
    read,
};

pub(super) use super::path::{nobodys_path, parameter, parameters};

/// One operation of the service.
pub(super) struct Operation {
    pub(super) verb: Method,
    /// With its parameters in braces.
    pub(super) path: String,
    pub(super) id: &'static str,
    /// None for public ones.
    pub(super) scope: Option<&'static str>,
}

impl Operation {
    /// How a failure names it.
    pub(super) fn place(&self) -> String {
        format!("{} {}", self.verb, self.path)
    }

    /// Whether it takes a body.
    pub(super) fn has_body(&self) -> bool {
        let body = !matches!(self.verb, Method::GET | Method::DELETE);
        body && !self.is_step()
            && !self.is_act()
            && !self.path.ends_with("/cancel")
            && !self.is_file()
    }

    /// Whether its body is a file that is not JSON.
    pub(super) fn is_file(&self) -> bool {
        self.id == "sendBuildingFile"
    }

    /// Whether it has something done with a record, without a body.
    fn is_act(&self) -> bool {
        self.path.ends_with("/ping")
            || self.path.ends_with("{delivery_id}/replay")
            || self.path.ends_with("{import_id}/apply")
    }

    /// Whether something is kept of it, so that its idempotency key counts.
    pub(super) fn is_write(&self) -> bool {
        self.verb != Method::GET && !self.path.ends_with("/preview")
    }

    /// Whether it changes a version that the caller must name.
    pub(super) fn is_change(&self) -> bool {
        matches!(self.verb, Method::PATCH | Method::DELETE) || self.is_step()
    }

    /// Whether it takes a record to its next status, without a body.
    pub(super) fn is_step(&self) -> bool {
        ["/accept", "/withdraw", "/disable", "/revoke"]
            .iter()
            .any(|end| self.path.ends_with(end))
    }
}

/// Every operation.
pub(super) fn all() -> Vec<Operation> {
    let operation =
        |(verb, path, id, scope): (&str, String, &'static str, Option<&'static str>)| Operation {
            verb: verb.parse().unwrap(),
            path,
            id,
            scope,
        };
    api::routes().map(operation).collect()
}

/// Every operation that needs a token.
pub(super) fn guarded() -> Vec<Operation> {
    all()
        .into_iter()
        .filter(|operation| operation.scope.is_some())
        .collect()
}

/// One record of each kind of one tenant.
pub(super) struct Estate {
    ids: BTreeMap<&'static str, String>,
}

impl Estate {
    /// Makes the records.
    pub(super) async fn new(caller: Caller) -> Self {
        let site = caller.post("/v1/sites", &build::site()).await.must(201);
        let rate_card = read::text(&site.json(), "/rate_card_id").to_owned();
        let site = site.id();
        let surface = build::new_surface(&caller, &surveyed(&site)).await;
        let plan = build::new_plan(&caller, &build::plan(&surface)).await.id();
        let asked = build::estimate(&site);
        let estimate = caller.post("/v1/estimates", &asked).await.must(201).id();
        let completion = record(&caller, &build::completion(&surface)).await;
        let voidable = record(&caller, &build::completion(&surface)).await;
        let expired = json!({"products": [{"product": "stripper_alkaline", "volume_l": 12.5, "expires_on": "2026-01-31"}]});
        let expired = build::with(build::completion(&surface), expired);
        let deviating = record(&caller, &expired).await;
        let contractor = build::new_contractor(&caller).await;
        let source = json!({"contractor_id": contractor, "name": "Crew app"});
        let mut sources = Vec::new();
        for _ in 0..2 {
            let made = caller.post("/v1/contractor-sources", &source).await;
            sources.push(made.must(201).json());
        }
        let text = |n: usize, pointer: &str| read::text(&sources[n], pointer).to_owned();
        let address = text(1, "/address");
        // A key of its own, so that no two tenants have the same.
        let key = format!(
            "polish_{}",
            site.trim_start_matches("sit_").replace('-', "_")
        );
        let product = build::with(build::product(), json!({"key": key}));
        let _made = caller.post("/v1/products", &product).await.must(201);
        let reading = build::reading(&surface);
        let measured = async || caller.post("/v1/readings", &reading).await.must(201).id();
        let observations = format!("/v1/surfaces/{surface}/observations");
        let seen = async || {
            let made = caller.record(&observations, &build::observation()).await;
            made.must(201).id()
        };
        let link = json!({"name": "Board", "query": "last_months=12"});
        let shared = caller.post("/v1/report-links", &link).await.must(201);
        let shared = text_of(&shared.json(), "/address");
        // Another, because the first is revoked in its turn.
        let link = caller.post("/v1/report-links", &link).await.must(201);
        let forms = format!("/v1/plans/{plan}/completion-links");
        let form = caller.post(&forms, &json!({})).await.must(201).id();
        let stock_items = format!("/v1/sites/{site}/stock-items");
        let stock_item = caller.post(&stock_items, &build::stock_item()).await;
        let budgets = format!("/v1/sites/{site}/budgets");
        let budget = caller.post(&budgets, &build::budget(2026)).await;
        let worked_on = worked_on(&caller, &site).await;
        let ids = [
            ("stock_item_id", stock_item.must(201).id()),
            ("budget_id", budget.must(201).id()),
            ("product", key),
            ("report_link_id", link.id()),
            ("completion_link_id", form),
            ("address", shared.replace("/v1/shared-reports/", "")),
            ("site_id", site),
            ("surface_id", surface),
            ("contractor_id", contractor),
            ("plan_id", plan),
            ("rate_card_id", rate_card),
            ("estimate_id", estimate),
            ("completion_id", completion),
            ("reading_id", measured().await),
            ("voidable_reading_id", measured().await),
            ("observation_id", seen().await),
            ("voidable_observation_id", seen().await),
            ("voidable_completion_id", voidable),
            ("deviating", deviating),
            ("source_id", text(0, "/id")),
            ("source", address.replace("/v1/inbound/", "")),
            ("secret", text(1, "/secret")),
        ];
        Self {
            ids: ids.into_iter().chain(worked_on).collect(),
        }
    }

    /// The id of a record, by the parameter that takes it.
    pub(super) fn id(&self, parameter: &str) -> &str {
        self.ids
            .get(parameter)
            .unwrap_or_else(|| panic!("no case for the path parameter {parameter}"))
    }

    /// The path with this estate's ids.
    pub(super) fn path(&self, operation: &Operation) -> String {
        self.fill(&operation.path)
    }

    /// A path with this estate's ids in the place of its parameters.
    pub(super) fn fill(&self, path: &str) -> String {
        let keys = [
            ("/v1/identification-tests/", "acid_drop"),
            ("/v1/materials/", "vinyl_sheet"),
            ("/v1/product-classes/", "stripper"),
            ("/v1/processes/", "dust_mop"),
            ("/v1/products/", self.id("product")),
            ("/v1/rules/", "seal-left-out"),
        ];
        let mut path = path.to_owned();
        while let Some((before, parameter)) = parameter(&path) {
            let key = keys.iter().find(|(start, _)| *start == before);
            let id = match (key, parameter) {
                (Some((_, key)), _) => key,
                (None, "code") => "not_found",
                (None, _) if path.ends_with("/void") => self.id(&format!("voidable_{parameter}")),
                (None, _) if path.ends_with("/acknowledge") => self.id("deviating"),
                (None, _) => self.id(parameter),
            };
            path = path.replace(&format!("{{{parameter}}}"), id);
        }
        path
    }

    /// A message of the contractor's own system, signed at the moment at which the clock of tests begins.
    fn signed(&self, caller: &Caller, operation: &Operation, path: &str) -> Call {
        let (body, at) = (
            self.body(operation).to_string(),
            ManualClock::default().now(),
        );
        let signature = sign(self.id("secret"), "evt-1", at, body.as_bytes());
        let call = caller.call(operation.verb.clone(), path);
        call.header("Content-Type", "application/json")
            .header("webhook-id", "evt-1")
            .header("webhook-timestamp", &at.timestamp().to_string())
            .header("webhook-signature", &signature)
            .bytes(body)
    }

    /// A body that the operation accepts from this estate's owner.
    pub(super) fn body(&self, operation: &Operation) -> Value {
        let surface = self.id("surface_id");
        match operation.place().as_str() {
            "POST /v1/contractors" => json!({"name": "Night crew"}),
            "POST /v1/contractor-sources" => {
                json!({"contractor_id": self.id("contractor_id"), "name": "Crew app"})
            }
            "POST /v1/contractor-sources/{source_id}/rotate"
            | "POST /v1/subscriptions/{subscription_id}/rotate" => json!({"overlap_h": 24}),
            "POST /v1/subscriptions" => subscription(),
            "POST /v1/subscriptions/{subscription_id}/replay" => {
                json!({"from": "2026-05-30T00:00:00Z", "to": "2026-06-01T00:00:00Z"})
            }
            _ if operation.path.ends_with("/void") => json!({"reason": "For the wrong floor."}),
            "POST /v1/completions/{completion_id}/acknowledge" => {
                json!({"deviation": "product_expired", "reason": "The maker confirmed the batch."})
            }
            "POST /v1/inbound/{source}" => {
                let name = json!({"external": {"system": "crew-app", "id": "88213"}});
                let data = build::with(build::completion(surface), name);
                event("completion.reported", 0, &data)
            }
            "POST /v1/inbound/{source}/batch" => {
                let reading = event("reading.taken", 0, &build::reading(surface));
                let name = json!({"external": {"system": "crew-app", "id": "88213"}, "reason": "Sent for the wrong night."});
                let void = event("completion.voided", 5, &name);
                let named = |event, id: &str| build::with(event, json!({"id": id}));
                json!({"events": [named(reading, "evt-2"), named(void, "evt-3")]})
            }
            "POST /v1/plans/{plan_id}/completion-links" => json!({"days": 14, "reports": 3}),
            "POST /v1/report-links" => {
                json!({"name": "Board", "query": "last_months=12&group_by=site,month&format=csv"})
            }
            "POST /v1/sites" => build::site(),
            "POST /v1/sites/{site_id}/rate-cards" => build::golden_rate_card(),
            "POST /v1/surfaces" => surveyed(self.id("site_id")),
            "POST /v1/surfaces/batch" => {
                let item = surveyed(self.id("site_id"));
                let external = json!({"external": {"system": "register", "id": "2.104"}});
                json!({"mode": "partial", "items": [build::with(item, external)]})
            }
            "POST /v1/plans" | "POST /v1/plans/preview" => build::plan(surface),
            "POST /v1/programmes/preview" => build::programme(self.id("site_id"), &[surface]),
            "POST /v1/readings" | "POST /v1/readings/{reading_id}/supersede" => {
                build::reading(surface)
            }
            "POST /v1/surfaces/{surface_id}/observations"
            | "POST /v1/observations/{observation_id}/supersede" => build::observation(),
            "POST /v1/estimates" | "POST /v1/estimate-jobs" => build::estimate(self.id("site_id")),
            "POST /v1/schedules" => {
                build::schedule(self.id("site_id"), self.id("scheduled_plan_id"))
            }
            "POST /v1/schedules/{schedule_id}/choose" => json!({"choice": 1}),
            "POST /v1/schedules/{schedule_id}/replan" => build::replan(),
            "POST /v1/completions" | "POST /v1/completions/{completion_id}/supersede" => {
                build::completion(surface)
            }
            "POST /v1/revocations" => {
                json!({"subject": "nobody-any-more", "reason": "No longer works here."})
            }
            "POST /v1/finish-synonyms" => json!({"finish": "RAISED ACCESS", "means": "mixed"}),
            "POST /v1/products" => build::product(),
            "POST /v1/sites/{site_id}/stock-items" => build::stock_item(),
            "POST /v1/sites/{site_id}/budgets" => build::budget(2027),
            "PATCH /v1/budgets/{budget_id}" => json!({"net": build::pounds("9000.00")}),
            "PATCH /v1/stock-items/{stock_item_id}" => json!({"left_l": 5}),
            "PATCH /v1/subscriptions/{subscription_id}"
            | "PATCH /v1/products/{key}"
            | "PATCH /v1/sites/{site_id}"
            | "PATCH /v1/surfaces/{surface_id}" => {
                json!({"name": "Another name"})
            }
            other => panic!("no body for {other}: add a case"),
        }
    }

    /// A call of the operation that is accepted, made by `caller`.
    pub(super) fn call(&self, caller: &Caller, operation: &Operation) -> Call {
        let query = match operation.path.as_str() {
            path if path.starts_with("/v1/reports/costs") => "?from=2026-01&to=2027-01".to_owned(),
            "/v1/imports" if operation.is_file() => format!("?site_id={}", self.id("site_id")),
            "/v1/rates/learnt" | "/v1/rates/learnt/chart" => {
                format!("?site_id={}", self.id("site_id"))
            }
            _ => String::new(),
        };
        let path = format!("{}{query}", self.path(operation));
        self.call_at(caller, operation, &path)
    }

    /// The same at another path.
    pub(super) fn call_at(&self, caller: &Caller, operation: &Operation, path: &str) -> Call {
        if operation.path.starts_with("/v1/inbound/") {
            return self.signed(caller, operation, path);
        }
        if operation.is_file() {
            return file(caller, path);
        }
        let body = operation.has_body().then(|| self.body(operation));
        send(caller, operation, path, body.as_ref())
    }
}

/// A file of a building with one room.
fn file(caller: &Caller, path: &str) -> Call {
    let call = caller.call(Method::POST, path);
    call.header("Content-Type", "text/csv").bytes(build::ROOMS)
}

/// What is worked on in the background, and what that takes.
async fn worked_on(caller: &Caller, site: &str) -> [(&'static str, String); 8] {
    let job = build::new_estimate_job(caller, &build::estimate(site)).await;
    let imported = build::new_import(caller, site).await;
    // Of its own, so that an estate may be made twice.
    let word = json!({"finish": site, "means": "vinyl_composition_tile"});
    let synonym = caller.post("/v1/finish-synonyms", &word).await;
    let gone = json!({"subject": "who-left", "reason": "No longer works here."});
    let revocation = caller.post("/v1/revocations", &gone).await;
    let (scheduled, schedule) = build::new_scheduled_plan(caller, site).await;
    let subscription = caller.post("/v1/subscriptions", &subscription()).await;
    let subscription = subscription.must(201).id();
    let ping = format!("/v1/subscriptions/{subscription}/ping");
    let delivery = caller.record(&ping, &json!({})).await.must(200).id();
    [
        ("estimate_job_id", job),
        ("import_id", imported),
        ("finish_synonym_id", synonym.must(201).id()),
        ("revocation_id", revocation.must(201).id()),
        ("schedule_id", schedule),
        ("scheduled_plan_id", scheduled),
        ("subscription_id", subscription),
        ("delivery_id", delivery),
    ]
}

/// What makes a subscription.
fn subscription() -> Value {
    json!({"name": "Works orders", "url": "https://hooks.fm.example/wearcourse"})
}

fn text_of(record: &Value, pointer: &str) -> String {
    read::text(record, pointer).to_owned()
}

/// A surface that was surveyed before the work that is reported of it.
fn surveyed(site: &str) -> Value {
    let seen = json!({"film": {"seen_at": "2026-05-04T09:00:00Z"}});
    build::with(build::surface(site), seen)
}

/// Records a completion and says its id.
async fn record(caller: &Caller, body: &Value) -> String {
    let done = caller.record("/v1/completions", body).await;
    done.must(201).id()
}

/// A call with what its kind needs: a body of its media type, `If-Match`; an idempotency key is the caller's to add.
pub(super) fn send(
    caller: &Caller,
    operation: &Operation,
    path: &str,
    body: Option<&Value>,
) -> Call {
    let call = caller.call(operation.verb.clone(), path);
    match body {
        Some(body) if operation.is_change() => call.header("If-Match", "*").merge_patch(body),
        Some(body) => call.json(body),
        None if operation.is_change() => call.header("If-Match", "*"),
        None => call,
    }
}
