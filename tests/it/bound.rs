//! Tokens that are bound to a contractor: only that contractor's work is reported, read, corrected, voided, listed and summed.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

/// What an issuer grants to contractors, and to whom costs are shown.
const SCOPES: &[&str] = &[
    "completions:read",
    "completions:write",
    "completions:review",
    "readings:read",
    "readings:write",
    "reports:read",
    "plans:read",
];

/// A floor on which two contractors work, and a caller who is bound to the first.
struct World {
    app: TestApp,
    admin: Caller,
    bound: Caller,
    own: String,
    other: String,
    surface: String,
}

impl World {
    async fn new() -> Self {
        let app = TestApp::start().await;
        let admin = app.admin();
        let site = build::new_site(&admin).await;
        let surface = build::new_surface(&admin, &build::surface(&site)).await;
        let own = build::new_contractor(&admin).await;
        let other = build::new_contractor(&admin).await;
        Self {
            bound: app.bound_to(&own, SCOPES),
            app,
            admin,
            own,
            other,
            surface,
        }
    }

    fn work(&self, change: Value) -> Value {
        with(build::completion(&self.surface), change)
    }

    /// Work of each contractor and of nobody, as the tenant's own people report it.
    async fn recorded(&self) -> [String; 3] {
        let by = |contractor: Value| self.work(json!({"contractor_id": contractor}));
        let record = async |body: Value| {
            let made = self.admin.record("/v1/completions", &body).await;
            made.must(201).id()
        };
        [
            record(by(json!(self.own))).await,
            record(by(json!(self.other))).await,
            record(by(Value::Null)).await,
        ]
    }
}

fn ids(page: &Value) -> Vec<&str> {
    let items = read::list(page, "/items").iter();
    items.map(|item| read::text(item, "/id")).collect()
}

#[tokio::test]
async fn a_bound_token_reports_for_its_contractor_and_for_no_other() {
    let world = World::new().await;
    let unnamed = world.work(json!({}));
    let made = world.bound.record("/v1/completions", &unnamed).await;
    let made = made.must(201).json();
    assert_eq!(made["contractor_id"], world.own.as_str());
    let named = world.work(json!({"contractor_id": world.own}));
    let _done = world
        .bound
        .record("/v1/completions", &named)
        .await
        .must(201);
    let told = async |contractor: &str| {
        let body = world.work(json!({"contractor_id": contractor, "process": "no_such_process"}));
        let refused = world.bound.record("/v1/completions", &body).await;
        refused.problem(422, "invalid_body")["errors"].clone()
    };
    // Another's is told like one that never was, and beside it whatever else is wrong.
    let foreign = told(&world.other).await;
    assert_eq!(
        foreign,
        told("con_01890a5d-ac96-774b-bcce-b302099a8057").await
    );
    let places: Vec<&str> = foreign
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| read::text(fault, "/pointer"))
        .collect();
    assert_eq!(places, ["#/contractor_id", "#/process"]);
    // A contractor of nobody's cannot report at all.
    let nobody = world
        .app
        .bound_to("con_01890a5d-ac96-774b-bcce-b302099a8057", SCOPES);
    let refused = nobody.record("/v1/completions", &unnamed).await;
    refused.problem(422, "invalid_body");
}

#[tokio::test]
async fn a_bound_token_finds_no_other_contractors_completions() {
    let world = World::new().await;
    let [own, foreign, nobodys] = world.recorded().await;
    let whole = world.work(json!({}));
    let said = json!({"deviation": "no_ph_reading", "reason": "Seen."});
    for (id, there) in [(&own, true), (&foreign, false), (&nobodys, false)] {
        let path = format!("/v1/completions/{id}");
        let read = world.bound.get(&path).await;
        if there {
            let _done = read.must(200);
            continue;
        }
        read.problem(404, "not_found");
        for (step, body) in [
            ("supersede", &whole),
            ("void", &json!({"reason": "Not done."})),
            ("acknowledge", &said),
        ] {
            let path = format!("{path}/{step}");
            let refused = world.bound.record(&path, body).await;
            refused.problem(404, "not_found");
        }
    }
    let listed = world.bound.get("/v1/completions").await.must(200).json();
    assert_eq!(ids(&listed), [own.as_str()]);
    let path = format!("/v1/completions?contractor_id={}", world.own);
    let listed = world.bound.get(&path).await.must(200).json();
    assert_eq!(ids(&listed), [own.as_str()]);
    let path = format!("/v1/completions?contractor_id={}", world.other);
    let listed = world.bound.get(&path).await.must(200).json();
    assert!(ids(&listed).is_empty(), "{listed:#}");
    // Its own it corrects and voids.
    let path = format!("/v1/completions/{own}/supersede");
    let new = world.bound.record(&path, &whole).await.must(201);
    assert_eq!(new.json()["contractor_id"], world.own.as_str());
    let path = format!("/v1/completions/{}/void", new.id());
    let reason = json!({"reason": "Not done."});
    let _done = world.bound.record(&path, &reason).await.must(200);
}

#[tokio::test]
async fn a_bound_tokens_cost_report_holds_its_contractors_work_alone() {
    let world = World::new().await;
    world.recorded().await;
    let path = "/v1/reports/costs?from=2026-01&to=2027-01&group_by=contractor";
    let all = world.admin.get(path).await.must(200).json();
    assert_eq!(read::list(&all, "/rows").len(), 3);
    let own = world.bound.get(path).await.must(200).json();
    let filtered = format!("{path}&contractor_id={}", world.own);
    let filtered = world.admin.get(&filtered).await.must(200).json();
    assert_eq!(own["rows"], filtered["rows"]);
    assert_eq!(own["totals"], filtered["totals"]);
    assert_eq!(read::list(&own, "/rows").len(), 1);
    let other = format!("{path}&contractor_id={}", world.other);
    let other = world.bound.get(&other).await.must(200).json();
    assert_eq!(read::list(&other, "/rows").len(), 0, "{other:#}");
}

#[tokio::test]
async fn a_bound_token_takes_and_finds_readings_of_its_contractors_work() {
    let world = World::new().await;
    let [own, foreign, _] = world.recorded().await;
    let of = |completion: Value| {
        let change = json!({"completion_id": completion});
        with(build::reading(&world.surface), change)
    };
    let mut made = Vec::new();
    for completion in [json!(own), json!(foreign), Value::Null] {
        let body = of(completion);
        made.push(
            world
                .admin
                .record("/v1/readings", &body)
                .await
                .must(201)
                .id(),
        );
    }
    let places = async |body: &Value, path: &str| {
        let refused = world.bound.record(path, body).await;
        let told = refused.problem(422, "invalid_body");
        let told = told["errors"].as_array().unwrap().iter();
        let told = told.map(|fault| {
            format!(
                "{} {}",
                read::text(fault, "/pointer"),
                read::text(fault, "/code")
            )
        });
        told.collect::<Vec<_>>()
    };
    let unknown = ["#/completion_id reference_not_found"];
    assert_eq!(places(&of(json!(foreign)), "/v1/readings").await, unknown);
    let unnamed = ["#/completion_id required"];
    assert_eq!(places(&of(Value::Null), "/v1/readings").await, unnamed);
    for id in &made[1..] {
        let path = format!("/v1/readings/{id}");
        world.bound.get(&path).await.problem(404, "not_found");
        let path = format!("{path}/supersede");
        let refused = world.bound.record(&path, &of(json!(own))).await;
        refused.problem(404, "not_found");
    }
    let path = format!("/v1/readings/{}", made[0]);
    let _done = world.bound.get(&path).await.must(200);
    let listed = world.bound.get("/v1/readings").await.must(200).json();
    assert_eq!(ids(&listed), [made[0].as_str()]);
    let taken = world.bound.record("/v1/readings", &of(json!(own))).await;
    let _done = taken.must(201);
    let path = format!("{path}/supersede");
    let corrected = world.bound.record(&path, &of(json!(own))).await;
    let _done = corrected.must(201);
}
