//! Events on their way out, seen by those who receive them.

mod blocked;
mod log;
mod retry;

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build,
    client::{Answer, Caller},
    read,
    receiver::{Receiver, Reply},
};

/// A service that sends, also to this machine.
async fn app() -> TestApp {
    TestApp::start_sending(&[("WEARCOURSE_OUTBOUND_INSECURE", "on")]).await
}

/// A subscription with its secret.
#[derive(Debug)]
struct Subscribed {
    id: String,
    secret: String,
}

impl Subscribed {
    async fn new(admin: &Caller, url: &str, more: Value) -> Self {
        let body = build::with(json!({"name": "Works orders", "url": url}), more);
        let made = admin.post("/v1/subscriptions", &body).await.must(201);
        Self {
            id: made.id(),
            secret: read::text(&made.json(), "/secret").to_owned(),
        }
    }

    /// One that is told of contractors, which are the cheapest to make.
    async fn to_contractors(admin: &Caller, url: &str) -> Self {
        let types = json!({"event_types": ["wearcourse.contractor.registered.v1"]});
        Self::new(admin, url, types).await
    }

    fn path(&self) -> String {
        format!("/v1/subscriptions/{}", self.id)
    }

    async fn read(&self, admin: &Caller) -> Value {
        admin.get(&self.path()).await.must(200).json()
    }

    async fn change(&self, admin: &Caller, patch: &Value) -> Answer {
        admin.patch(&self.path(), "*", patch).await
    }

    /// Its deliveries, once they are as they should be.
    async fn deliveries(&self, admin: &Caller, is: impl Fn(&[Value]) -> bool) -> Vec<Value> {
        let path = format!("/v1/deliveries?limit=200&subscription_id={}", self.id);
        let mut items = Vec::new();
        for _ in 0..600 {
            let page = admin.get(&path).await.must(200).json();
            items = page["items"].as_array().unwrap().clone();
            if is(&items) {
                return items;
            }
            let _pause = tokio::time::timeout(
                std::time::Duration::from_millis(50),
                std::future::pending::<()>(),
            )
            .await;
        }
        panic!("{items:#?}");
    }

    /// Its only delivery, once it was tried `n` times and nobody tries it.
    async fn tried(&self, admin: &Caller, n: i64) -> Value {
        let items = self
            .deliveries(admin, |items| {
                items.len() == 1 && items[0]["n_attempts"] == n
            })
            .await;
        items[0].clone()
    }
}

/// Moves the clock to the moment at which a delivery is tried next.
fn wait_for(app: &TestApp, delivery: &Value) {
    app.clock().set(read::moment(delivery, "/next_attempt_at"));
}

async fn replay(admin: &Caller, delivery: &Value) -> Answer {
    let path = format!("/v1/deliveries/{}/replay", read::text(delivery, "/id"));
    admin.record(&path, &json!({})).await
}

// What a message is made of: Standard Webhooks 1.0 and CloudEvents 1.0.2, section 3.1 of the JSON format.
#[tokio::test]
async fn an_event_arrives_signed_and_says_where_the_rest_is() {
    let app = TestApp::start_sending(&[
        ("WEARCOURSE_OUTBOUND_INSECURE", "on"),
        ("WEARCOURSE_PUBLIC_URL", "https://floors.example"),
    ])
    .await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    let subscribed = Subscribed::new(&admin, &receiver.url, json!({})).await;
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await;
    let _estimate = admin
        .post("/v1/estimates", &build::estimate(&site))
        .await
        .must(201);
    let _done = admin
        .record("/v1/completions", &build::completion(&surface))
        .await
        .must(201);
    // The subscription itself, site, surface, plan, estimate, completion.
    let messages = receiver.wait_for(6).await;
    let documents = app.stranger().get("/openapi.json").await.must(200).json();
    for message in &messages {
        let event = message.event();
        assert!(message.is_signed_with(&subscribed.secret));
        assert_eq!(
            message.header("content-type"),
            "application/cloudevents+json"
        );
        assert_eq!(message.header("webhook-id"), event["id"]);
        let seconds = app.now().timestamp().to_string();
        assert_eq!(message.header("webhook-timestamp"), seconds);
        assert_eq!(event["specversion"], "1.0");
        assert_eq!(event["source"], "https://floors.example/v1");
        assert_eq!(event["subject"], event["data"]["id"]);
        assert!(message.body.len() < 2_000, "{}", message.body.len());
        let kind = event["type"].as_str().unwrap();
        let described = &documents["webhooks"][kind]["post"]["requestBody"]["content"];
        let schema = json!({
            "$ref": "#/wanted",
            "wanted": described["application/cloudevents+json"]["schema"],
            "components": documents["components"],
        });
        let options = jsonschema::draft202012::options().should_validate_formats(true);
        let faults: Vec<_> = options
            .build(&schema)
            .unwrap()
            .iter_errors(&event)
            .map(|fault| fault.to_string())
            .collect();
        assert!(faults.is_empty(), "{event:#}: {faults:?}");
        let path = event["data"]["href"]
            .as_str()
            .unwrap()
            .replace("https://floors.example", "");
        assert_eq!(
            admin.get(&path).await.must(200).json()["id"],
            event["data"]["id"]
        );
    }
    let of = |kind: &str| {
        let is = |event: &Value| event["type"] == format!("wearcourse.{kind}.v1");
        messages
            .iter()
            .map(tests::receiver::Message::event)
            .find(is)
            .unwrap()
    };
    let told = of("plan.proposed");
    assert_eq!(told["data"]["id"], plan.id());
    assert_eq!(told["data"]["net"], plan.json()["work"]["cost"]["net"]);
    assert_eq!(told["data"]["verdict"], plan.json()["verdict"]);
    assert_eq!(of("estimate.made")["data"]["n_surfaces"], 1);
    assert_eq!(of("completion.recorded")["data"]["surface_id"], surface);
}

#[tokio::test]
async fn f_30_what_was_refused_is_told_to_nobody_and_what_was_done_once() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    let _subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let mut made = Vec::new();
    for n in 0..20 {
        let body =
            json!({"name": "Crew", "external": {"system": "hr", "id": format!("{}", n / 2)}});
        let answer = admin.post("/v1/contractors", &body).await;
        if n % 2 == 0 {
            made.push(answer.must(201).id());
        } else {
            answer.problem(409, "already_exists");
        }
    }
    let mut told: Vec<_> = receiver
        .wait_for(10)
        .await
        .iter()
        .map(|m| m.event()["subject"].as_str().unwrap().to_owned())
        .collect();
    told.sort();
    made.sort();
    assert_eq!(told, made);
}

#[tokio::test]
async fn a_subscription_is_told_what_it_asked_for_and_of_its_own_tenant() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    let (one, other) = (build::new_site(&admin).await, build::new_site(&admin).await);
    let filter = json!({"site_ids": [one], "event_types": ["wearcourse.surface.registered.v1", "wearcourse.site.changed.v1"]});
    let subscribed = Subscribed::new(&admin, &receiver.url, filter).await;
    let wanted = build::new_surface(&admin, &build::surface(&one)).await;
    let _elsewhere = build::new_surface(&admin, &build::surface(&other)).await;
    let _of_no_site = build::new_contractor(&admin).await;
    let _another_type = build::new_plan(&admin, &build::plan(&wanted)).await;
    let south = app.admin_of(SOUTH);
    let _another_tenants = build::new_site(&south).await;
    let patched = admin
        .patch(&format!("/v1/sites/{one}"), "*", &json!({"name": "Last"}))
        .await;
    let _last = patched.must(200);
    let told: Vec<_> = receiver
        .wait_for(2)
        .await
        .iter()
        .map(tests::receiver::Message::event)
        .collect();
    let mut subjects: Vec<_> = told
        .iter()
        .map(|event| event["subject"].as_str().unwrap())
        .collect();
    subjects.sort_unstable();
    assert_eq!(subjects, [one.as_str(), wanted.as_str()]);
    // What happened before it was there, and what it did not ask for, made no delivery.
    assert_eq!(
        subscribed
            .deliveries(&admin, |items| items.len() == 2)
            .await
            .len(),
        2
    );
}

#[tokio::test]
async fn s_053_during_a_rotation_messages_carry_both_signatures() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    let old = Subscribed::to_contractors(&admin, &receiver.url).await;
    // Of the caller's own: the vector of the specification's own tests.
    let own = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
    let rotated = admin
        .record(&format!("{}/rotate", old.path()), &json!({"secret": own}))
        .await;
    assert_eq!(read::text(&rotated.must(200).json(), "/secret"), own);
    let _made = build::new_contractor(&admin).await;
    let both = receiver.wait_for(1).await.remove(0);
    assert!(both.is_signed_with(&old.secret) && both.is_signed_with(own));
    app.clock().advance(TimeDelta::hours(24));
    let admin = app.admin();
    let _made = build::new_contractor(&admin).await;
    let new = receiver.wait_for(2).await.remove(1);
    assert!(!new.is_signed_with(&old.secret) && new.is_signed_with(own));
    let short = json!({"secret": "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaS="});
    let refused = admin
        .record(&format!("{}/rotate", old.path()), &short)
        .await;
    refused.problem(422, "invalid_body");
}

#[tokio::test]
async fn s_091_a_tenant_has_fifty_subscriptions_at_most() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let body = json!({"name": "Works orders", "url": "https://hooks.fm.example/in"});
    let mut first = None;
    for _ in 0..50 {
        first.get_or_insert(admin.post("/v1/subscriptions", &body).await.must(201).id());
    }
    let refused = admin.post("/v1/subscriptions", &body).await;
    refused.problem(409, "state_conflict");
    let path = format!("/v1/subscriptions/{}", first.unwrap());
    let gone = admin
        .call(Method::DELETE, &path)
        .header("If-Match", "*")
        .answer()
        .await;
    let _gone = gone.must(204);
    let _room = admin.post("/v1/subscriptions", &body).await.must(201);
}

#[tokio::test]
async fn s_016_an_erased_tenant_is_told_nothing_more() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    receiver.always(Reply::status(500));
    let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let _made = build::new_contractor(&admin).await;
    let delivery = subscribed.tried(&admin, 1).await;
    app.erase_tenant(NORTH).await;
    wait_for(&app, &delivery);
    // Another tenant's event goes out meanwhile, so the courier has had its turn.
    let (south, others) = (app.admin_of(SOUTH), Receiver::start());
    let _theirs = Subscribed::to_contractors(&south, &others.url).await;
    let _made = build::new_contractor(&south).await;
    assert_eq!(
        (others.wait_for(1).await.len(), receiver.messages().len()),
        (1, 1)
    );
}
