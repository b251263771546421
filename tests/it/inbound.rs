//! What contractors' own systems send: proven by its signature, taken once, in whatever order it comes.

mod forged;
mod order;
mod plan;

use futures_util::future::join_all;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::{Answer, Caller},
    inbound::{Sender, event},
    read,
};

/// A corridor, its plan, and a contractor whose own system reports.
struct Crew {
    app: TestApp,
    admin: Caller,
    surface: String,
    sender: Sender,
}

impl Crew {
    async fn new() -> Self {
        let app = TestApp::start().await;
        let admin = app.admin();
        let site = build::new_site(&admin).await;
        let surface = build::new_surface(&admin, &build::surface(&site)).await;
        let sender = Sender::new(&app, &admin, &build::new_contractor(&admin).await).await;
        Self {
            app,
            admin,
            surface,
            sender,
        }
    }

    /// A report of a night's work under a name of the contractor's own.
    fn report(&self, name: &str, change: Value) -> Value {
        let named = json!({"external": {"system": "crew-app", "id": name}});
        with(with(build::completion(&self.surface), named), change)
    }

    async fn send(&self, id: &str, event: &Value) -> Answer {
        self.sender.send(&self.app, id, event).await
    }

    /// The completions that count.
    async fn counting(&self) -> Vec<Value> {
        self.list("").await
    }

    /// All completions.
    async fn all(&self) -> Vec<Value> {
        self.list("&include_superseded=true").await
    }

    async fn list(&self, more: &str) -> Vec<Value> {
        let path = format!("/v1/completions?limit=200{more}");
        let page = self.admin.get(&path).await.must(200).json();
        assert_eq!(
            page["next_cursor"],
            Value::Null,
            "the page is not all there is"
        );
        page["items"].as_array().unwrap().clone()
    }
}

fn completion_of(answer: &Answer) -> String {
    read::text(&answer.json(), "/completion_id").to_owned()
}

#[tokio::test]
async fn s_040_what_the_reference_library_signed_is_taken() {
    let crew = Crew::new().await;
    let reported = event("completion.reported", 0, &crew.report("88213", json!({})));
    let answer = crew.send("evt-1", &reported).await.must(200);
    assert_eq!(answer.json()["outcome"], "recorded");
    let path = format!("/v1/completions/{}", completion_of(&answer));
    let kept = crew.admin.get(&path).await.must(200).json();
    assert_eq!(kept["contractor_id"], crew.sender.contractor, "filled in");
    assert_eq!(kept["external"]["id"], "88213");
    let reading = event("reading.taken", 0, &build::reading(&crew.surface));
    let answer = crew.send("evt-2", &reading).await.must(200).json();
    let path = format!("/v1/readings/{}", read::text(&answer, "/reading_id"));
    assert_eq!(crew.admin.get(&path).await.must(200).json()["value"], 7.4);
}

#[tokio::test]
async fn s_046_thirty_two_deliveries_at_once_have_one_effect() {
    let crew = Crew::new().await;
    let reported = event("completion.reported", 0, &crew.report("88213", json!({})));
    let answers = join_all((0..32).map(|_| crew.send("evt-1", &reported))).await;
    let good: Vec<&Answer> = answers.iter().filter(|a| a.status == 200).collect();
    let first: Vec<&&Answer> = good
        .iter()
        .filter(|a| a.header("Idempotent-Replayed").is_none())
        .collect();
    assert_eq!(first.len(), 1);
    for answer in &answers {
        if answer.status == 200 {
            assert_eq!(answer.body, first[0].body);
        } else {
            answer.problem(409, "idempotency_in_flight");
        }
    }
    assert_eq!(crew.all().await.len(), 1);
    let again = crew.send("evt-1", &reported).await.must(200);
    assert_eq!(again.body, first[0].body);
    assert_eq!(crew.all().await.len(), 1);
}

#[tokio::test]
async fn s_047_an_id_with_another_event_is_refused_and_the_first_stands() {
    let crew = Crew::new().await;
    let reported = |name| event("completion.reported", 0, &crew.report(name, json!({})));
    let first = crew.send("evt-1", &reported("88213")).await.must(200);
    let other = crew.send("evt-1", &reported("88214")).await;
    other.problem(409, "webhook_id_reused");
    assert_eq!(crew.all().await.len(), 1);
    // The same event in another spelling is the same event.
    let mut spaced = serde_json::to_string_pretty(&reported("88213")).unwrap();
    spaced.push('\n');
    let call = (crew.sender).message(&crew.sender.path, "evt-1", crew.app.now(), &spaced);
    assert_eq!(call.answer().await.must(200).body, first.body);
}

#[tokio::test]
async fn s_048_the_same_id_from_another_source_is_another_event() {
    let crew = Crew::new().await;
    let other = Sender::new(&crew.app, &crew.admin, &crew.sender.contractor).await;
    let reading = event("reading.taken", 0, &build::reading(&crew.surface));
    let ids = [
        crew.send("evt-1", &reading).await.must(200).json(),
        other
            .send(&crew.app, "evt-1", &reading)
            .await
            .must(200)
            .json(),
    ];
    assert_ne!(ids[0]["reading_id"], ids[1]["reading_id"]);
}

#[tokio::test]
async fn s_050_what_is_signed_and_wrong_is_told_with_its_place_and_not_kept() {
    let crew = Crew::new().await;
    let south = crew.app.admin_of(SOUTH);
    let site = build::new_site(&south).await;
    let surface = build::new_surface(&south, &build::surface(&site)).await;
    let plan = build::new_plan(&south, &build::plan(&surface)).await.id();
    let raw = |body: &str| {
        crew.sender
            .message(&crew.sender.path, "evt-1", crew.app.now(), body)
            .answer()
    };
    raw("{").await.problem(400, "malformed_json");
    raw(r#"{"type": 1, "type": 2}"#)
        .await
        .problem(400, "duplicate_member");
    let refused = async |event: Value| {
        let answer = crew.send("evt-1", &event).await;
        answer.problem(422, "invalid_body");
        answer
            .faults()
            .into_iter()
            .map(|(place, _)| place)
            .collect::<Vec<_>>()
    };
    let told = refused(json!({"type": "job.done", "timestamp": "yesterday", "data": []})).await;
    assert_eq!(told, ["#/data", "#/timestamp", "#/type"]);
    let wrong = json!({"surface_id": 7, "labour": [{"stage": "prepare", "hours": "six"}]});
    let told = refused(event("completion.reported", 0, &crew.report("1", wrong))).await;
    assert_eq!(told, ["#/data/labour/0/hours", "#/data/surface_id"]);
    let foreign = crew.report("1", json!({"plan_id": plan}));
    let told = refused(event("completion.reported", 0, &foreign)).await;
    assert_eq!(told, ["#/data/plan_id"]);
    let nameless = crew.report("1", json!({"external": null}));
    let told = refused(event("completion.reported", 0, &nameless)).await;
    assert_eq!(told, ["#/data/external"]);
    let mut ahead = event("completion.reported", 0, &crew.report("1", json!({})));
    ahead["timestamp"] = "2026-06-03T12:00:00Z".into();
    assert_eq!(refused(ahead).await, ["#/timestamp"]);
    assert!(crew.all().await.is_empty());
    // Its id is free: nothing was kept of it.
    let good = event("completion.reported", 0, &crew.report("1", json!({})));
    let _done = crew.send("evt-1", &good).await.must(200);
}

#[tokio::test]
async fn members_that_nobody_knows_are_passed_over() {
    let crew = Crew::new().await;
    let more = json!({
        "job_sheet": {"lines": [1, 2]}, "labour": [{"stage": "prepare", "hours": 3, "crew": "B"}],
        "external": {"system": "crew-app", "id": "88213", "href": "x"},
    });
    let mut reported = event("completion.reported", 0, &crew.report("88213", more));
    reported["trace"] = "abc".into();
    let answer = crew.send("evt-1", &reported).await.must(200);
    let path = format!("/v1/completions/{}", completion_of(&answer));
    let kept = crew.admin.get(&path).await.must(200).json();
    assert_eq!(kept["labour"][0]["hours"], 3.0);
    assert!(kept.get("job_sheet").is_none());
}

#[tokio::test]
async fn a_source_reports_for_its_own_contractor_only() {
    let crew = Crew::new().await;
    let other = build::new_contractor(&crew.admin).await;
    let foreign = crew.report("1", json!({"contractor_id": other}));
    let refused = crew
        .send("evt-1", &event("completion.reported", 0, &foreign))
        .await;
    refused.problem(422, "invalid_body");
    let fault = (
        "#/data/contractor_id".to_owned(),
        "other_contractor".to_owned(),
    );
    assert_eq!(refused.faults(), [fault]);
    // What another contractor reported under a name is neither corrected nor voided by this one.
    let theirs = crew.report("1", json!({"contractor_id": other}));
    let theirs = crew
        .admin
        .record("/v1/completions", &theirs)
        .await
        .must(201);
    let mine = crew.report("1", json!({"note": "mine"}));
    let refused = crew
        .send("evt-2", &event("completion.corrected", 1, &mine))
        .await;
    refused.problem(409, "already_exists");
    let name = json!({"external": {"system": "crew-app", "id": "1"}});
    let voided = crew
        .send("evt-3", &event("completion.voided", 2, &name))
        .await;
    assert_eq!(voided.must(200).json().get("completion_id"), None);
    let path = format!("/v1/completions/{}", theirs.id());
    assert_eq!(
        crew.admin.get(&path).await.must(200).json()["status"],
        "recorded"
    );
}

#[tokio::test]
async fn a_message_of_many_events_says_what_became_of_each() {
    let crew = Crew::new().await;
    let named = |event: Value, id: &str| with(event, json!({"id": id}));
    let reported = |name: &str| event("completion.reported", 0, &crew.report(name, json!({})));
    let events = [
        named(reported("1"), "evt-1"),
        named(reported("1"), "evt-2"),
        json!({"id": "evt.3"}),
        named(event("completion.reported", 0, &json!({})), "evt-4"),
        named(reported("2"), "evt-5"),
    ];
    let told = crew
        .sender
        .send_all(&crew.app, &events)
        .await
        .must(200)
        .json();
    let outcomes: Vec<&str> = (0..5)
        .map(|n| read::text(&told, &format!("/items/{n}/outcome")))
        .collect();
    assert_eq!(
        outcomes,
        ["recorded", "refused", "refused", "refused", "recorded"]
    );
    assert_eq!(told["items"][1]["code"], "already_exists");
    assert_eq!(told["items"][2]["errors"][0]["pointer"], "#/events/2/id");
    assert_eq!(
        told["items"][3]["errors"][0]["pointer"],
        "#/events/3/data/surface_id"
    );
    let again = crew.sender.send_all(&crew.app, &events).await.must(200);
    assert_eq!(again.json(), told, "each is known by its own id");
    // By itself, with the same id, an event of a batch is the same event.
    let alone = crew.send("evt-5", &reported("2")).await.must(200).json();
    assert_eq!(alone["completion_id"], told["items"][4]["completion_id"]);
    assert_eq!(crew.all().await.len(), 2);
    let many = vec![json!({}); 1_001];
    let refused = crew.sender.send_all(&crew.app, &many).await;
    refused.problem(422, "invalid_body");
}

#[tokio::test]
async fn a_thousand_readings_fit_into_one_message() {
    let crew = Crew::new().await;
    let reading = event("reading.taken", 0, &build::reading(&crew.surface));
    let events: Vec<Value> = (0..1_000)
        .map(|n| with(reading.clone(), json!({"id": format!("evt-{n}")})))
        .collect();
    // What a slow machine has no time for is told so, and taken when the whole message comes again.
    for _ in 0..20 {
        let told = crew.sender.send_all(&crew.app, &events).await;
        let told = told.must(200).json();
        let items = told["items"].as_array().unwrap();
        assert_eq!(items.len(), 1_000);
        let left: Vec<&Value> = items
            .iter()
            .filter(|item| item["outcome"] != "recorded")
            .collect();
        if left.is_empty() {
            return;
        }
        assert!(left.iter().all(|item| item["code"] == "timed_out"));
    }
    panic!("twenty messages were not enough for a thousand readings");
}

#[tokio::test]
async fn an_event_that_is_tried_out_is_judged_and_leaves_nothing() {
    let crew = Crew::new().await;
    let told = event("completion.reported", 0, &crew.report("1", json!({})));
    let dry = format!("{}?dry_run=true", crew.sender.path);
    let send = async |path: &str, event: &Value| {
        let body = event.to_string();
        let message = crew.sender.message(path, "evt-1", crew.app.now(), &body);
        message.answer().await
    };
    for _ in 0..2 {
        let tried = send(&dry, &told).await.must(200).json();
        assert_eq!(
            (&tried["outcome"], &tried["dry_run"]),
            (&json!("recorded"), &json!(true))
        );
    }
    assert_eq!(crew.all().await.len(), 0);
    let wrong = with(
        told.clone(),
        json!({"data": {"finished_at": "2026-05-01T00:00:00Z"}}),
    );
    let refused = send(&dry, &wrong).await;
    refused.problem(422, "invalid_body");
    let body = told.to_string();
    let unsigned = crew.sender.unsigned(&dry, &body).answer().await;
    unsigned.problem(401, "not_proven");
    // The id was not used up.
    let taken = send(&crew.sender.path, &told).await.must(200).json();
    assert!(taken.get("dry_run").is_none());
    assert_eq!(crew.all().await.len(), 1);
}
