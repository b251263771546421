//! The main job from end to end: a site and its floor, a plan, an estimate, the work, its cost, a correction.
//!
//! Clock and ids are the same in every run, so the answers must be too: those on SQLite and those on PostgreSQL are
//! held against the same file.

use std::fmt::Write as _;

use serde_json::{Value, json};
use tests::{
    app::{NORTH, TestApp},
    build::{self, pounds, with},
    client::{Answer, Caller},
    read, snapshot,
};

/// Somebody who writes down what they ask and what they are answered.
struct Traveller {
    caller: Caller,
    diary: String,
}

impl Traveller {
    fn new(caller: Caller) -> Self {
        Self {
            caller,
            diary: String::new(),
        }
    }

    fn note(&mut self, request: &str, answer: &Answer) {
        let tag = answer.header("ETag").unwrap_or("no tag");
        let place = answer.header("Location").unwrap_or("no location");
        writeln!(self.diary, "{request}\n{} {tag} {place}", answer.status).unwrap();
        match answer.header("Content-Type") {
            Some("application/json") => writeln!(self.diary, "{:#}\n", answer.json()).unwrap(),
            _ => writeln!(self.diary, "{}\n", answer.text()).unwrap(),
        }
    }

    async fn post(&mut self, path: &str, body: &Value) -> Value {
        let answer = self.caller.record(path, body).await.must(201);
        self.note(&format!("POST {path}"), &answer);
        answer.json()
    }

    async fn get(&mut self, path: &str) -> Value {
        let answer = self.caller.get(path).await.must(200);
        self.note(&format!("GET {path}"), &answer);
        answer.json()
    }
}

fn id(record: &Value) -> &str {
    read::text(record, "/id")
}

/// Has the main job done and answers what was said on the way.
async fn travel(app: &TestApp) -> String {
    let mut way = Traveller::new(app.admin());
    let site = with(
        build::site(),
        json!({"rate_card": build::golden_rate_card()}),
    );
    let site = way.post("/v1/sites", &site).await;
    let contractor = way
        .post("/v1/contractors", &json!({"name": "Evening crew"}))
        .await;
    let surface = way.post("/v1/surfaces", &build::surface(id(&site))).await;
    let plan = way.post("/v1/plans", &build::plan(id(&surface))).await;
    let estimate = way.post("/v1/estimates", &build::estimate(id(&site))).await;
    let planned = read::cents(read::at(&plan, "/work"), "/cost/net");
    assert_eq!(read::cents(&estimate, "/apart_net"), planned);
    app.clock().advance(chrono::TimeDelta::days(1));
    way.caller = app.admin();
    let cited = json!({"plan_id": id(&plan), "contractor_id": id(&contractor)});
    let done = way
        .post(
            "/v1/completions",
            &with(build::completion(id(&surface)), cited.clone()),
        )
        .await;
    let report = "/v1/reports/costs?from=2026-05&to=2026-06&group_by=storey,process";
    let costs = way.get(report).await;
    assert_eq!(read::cents(&costs, "/rows/0/planned/net"), planned);
    assert_eq!(
        read::cents(&costs, "/rows/0/actual/net"),
        read::cents(&done, "/money/actual_net")
    );
    for line in read::list(&done, "/lines")
        .iter()
        .filter(|line| line["kind"] != "tax")
    {
        assert_eq!(line["actual"], line["computed"]);
    }
    let charged = with(cited, json!({"charged": pounds("801.50")}));
    let path = format!("/v1/completions/{}/supersede", id(&done));
    let corrected = way
        .post(&path, &with(build::completion(id(&surface)), charged))
        .await;
    assert_eq!(corrected["supersedes"], done["id"]);
    let costs = way.get(report).await;
    assert_eq!(read::cents(&costs, "/rows/0/actual/net"), 80_150);
    assert_eq!(read::cents(&costs, "/rows/0/planned/net"), planned);
    way.get(&format!("{report}&format=csv")).await;
    way.get(&format!("/v1/completions/{}", id(&done))).await;
    way.diary
}

#[tokio::test]
async fn the_journey_is_answered_the_same_on_every_database() {
    let app = TestApp::start().await;
    snapshot::check("journey.txt", &travel(&app).await);
}

#[tokio::test]
async fn each_step_of_the_journey_leaves_its_event() {
    let app = TestApp::start().await;
    let diary = travel(&app).await;
    let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
    let events = tx.outbox().list(100).await.unwrap();
    let kinds: Vec<&str> = events.iter().map(|event| event.kind.as_str()).collect();
    let expected = [
        "wearcourse.site.registered.v1",
        "wearcourse.contractor.registered.v1",
        "wearcourse.surface.registered.v1",
        "wearcourse.plan.proposed.v1",
        "wearcourse.estimate.made.v1",
        "wearcourse.completion.recorded.v1",
        "wearcourse.completion.recorded.v1",
        "wearcourse.completion.superseded.v1",
    ];
    assert_eq!(kinds, expected);
    for event in events {
        let payload: Value = serde_json::from_str(&event.payload).unwrap();
        assert_eq!(payload["type"], event.kind.as_str());
        assert_eq!(payload["id"], event.id.to_string());
        assert_eq!(payload["subject"], event.subject.as_str());
        assert_eq!(payload["data"]["id"], event.subject.as_str());
        assert!(diary.contains(&event.subject) && payload["data"].is_object());
    }
    let south = app.store().read(app.tenant("south")).await.unwrap();
    assert!(south.outbox().list(100).await.unwrap().is_empty());
}
