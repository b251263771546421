//! The log of deliveries, and trying a subscription out.

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, TestApp},
    build, read,
    receiver::{Receiver, Reply},
};

use super::{Subscribed, app};

#[tokio::test]
async fn a_ping_goes_to_one_subscription_whatever_it_asks_for() {
    let app = app().await;
    let (admin, receiver, other) = (app.admin(), Receiver::start(), Receiver::start());
    receiver.next([Reply::Answer(
        202,
        String::new(),
        "noted\u{7}, \u{202e}thanks".to_owned(),
    )]);
    let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let _all = Subscribed::new(&admin, &other.url, json!({})).await;
    let ping = format!("{}/ping", subscribed.path());
    let call = || {
        admin
            .call(Method::POST, &ping)
            .header("Idempotency-Key", "once")
    };
    let first = call().answer().await.must(200);
    let again = call().answer().await.must(200);
    assert_eq!(
        (again.header("Idempotent-Replayed"), &again.body),
        (Some("true"), &first.body)
    );
    let message = receiver.wait_for(1).await.remove(0);
    assert_eq!(message.event()["type"], "wearcourse.subscription.pinged.v1");
    let done = subscribed
        .deliveries(&admin, |items| items[0]["status"] == "delivered")
        .await;
    assert_eq!((done.len(), &done[0]["id"]), (1, &first.json()["id"]));
    let whole = admin
        .get(&format!("/v1/deliveries/{}", first.id()))
        .await
        .must(200)
        .json();
    let attempt = &whole["attempts"][0];
    assert_eq!(
        (&attempt["http_status"], &attempt["answer"]),
        (&json!(202), &json!("noted, thanks"))
    );
    let bare = admin.call(Method::POST, &ping).answer().await;
    bare.problem(400, "idempotency_key_required");
    // The other one is told of its own making and of nothing else.
    let told: Vec<_> = other
        .wait_for(1)
        .await
        .iter()
        .map(|m| m.event()["type"].clone())
        .collect();
    assert!(
        !told.contains(&json!("wearcourse.subscription.pinged.v1")),
        "{told:?}"
    );
}

#[tokio::test]
async fn the_log_is_found_by_subscription_event_and_status() {
    let app = app().await;
    let (admin, one, two) = (app.admin(), Receiver::start(), Receiver::start());
    two.always(Reply::status(410));
    let taken = Subscribed::to_contractors(&admin, &one.url).await;
    let refused = Subscribed::to_contractors(&admin, &two.url).await;
    let _made = build::new_contractor(&admin).await;
    let delivered = taken
        .deliveries(&admin, |items| {
            items.len() == 1 && items[0]["status"] == "delivered"
        })
        .await;
    let _dead = refused
        .deliveries(&admin, |items| {
            items.len() == 1 && items[0]["status"] == "dead"
        })
        .await;
    let find = async |query: &str| {
        let page = admin
            .get(&format!("/v1/deliveries?{query}"))
            .await
            .must(200)
            .json();
        page["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|item| read::text(item, "/subscription_id").to_owned())
            .collect::<Vec<_>>()
    };
    let event = read::text(&delivered[0], "/event_id");
    assert_eq!(find(&format!("event_id={event}")).await.len(), 2);
    assert_eq!(find("status=dead").await, std::slice::from_ref(&refused.id));
    assert_eq!(
        find("status=delivered").await,
        std::slice::from_ref(&taken.id)
    );
    assert!(find("status=pending").await.is_empty());
    let first = admin.get("/v1/deliveries?limit=1").await.must(200).json();
    let next = read::text(&first, "/next_cursor").to_owned();
    assert_eq!(find(&format!("limit=1&cursor={next}")).await.len(), 1);
    for (query, status, code) in [
        ("status=lost", 422, "parameter_out_of_range"),
        ("event_id=x", 400, "invalid_parameter"),
        ("state=dead", 400, "unknown_parameter"),
    ] {
        admin
            .get(&format!("/v1/deliveries?{query}"))
            .await
            .problem(status, code);
    }
    let reader = app.as_(NORTH, &["subscriptions:read"]);
    let path = format!("/v1/deliveries/{}/replay", read::text(&delivered[0], "/id"));
    reader
        .record(&path, &json!({}))
        .await
        .problem(403, "insufficient_scope");
}

#[tokio::test]
async fn a_span_to_replay_lies_in_the_past() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let subscribed = Subscribed::to_contractors(&admin, "https://hooks.fm.example/in").await;
    let path = format!("{}/replay", subscribed.path());
    for span in [
        json!({"from": "2026-06-02T00:00:00Z"}),
        json!({"from": "2026-05-31T00:00:00Z", "to": "2026-05-31T00:00:00Z"}),
    ] {
        let refused = admin.record(&path, &span).await;
        refused.problem(422, "invalid_body");
        assert_eq!(
            refused.faults(),
            [("#/from".to_owned(), "out_of_range".to_owned())]
        );
    }
    let refused = admin
        .record(&path, &json!({"to": "soon", "all": true}))
        .await;
    assert_eq!(refused.faults().len(), 3);
}

#[tokio::test]
async fn s_054_the_secret_of_a_subscription_is_told_once_and_kept_sealed() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let subscribed = Subscribed::to_contractors(&admin, "https://hooks.fm.example/in").await;
    let secret = subscribed.secret.trim_start_matches("whsec_");
    let hex = secret
        .bytes()
        .fold(String::new(), |hex, byte| format!("{hex}{byte:02x}"));
    let shown = [
        subscribed.read(&admin).await,
        admin.get("/v1/subscriptions").await.must(200).json(),
    ];
    for shown in shown.map(|value| value.to_string()) {
        assert!(
            shown.contains(&subscribed.id) && !shown.contains(secret) && !shown.contains("whsec_")
        );
    }
    let is_in = async |table: &str, column: &str, text: &str| {
        let cast = format!("CAST({column} AS TEXT)");
        let sql = format!(
            "UPDATE {table} SET tenant_id = CASE WHEN {cast} LIKE '%{text}%' OR {cast} LIKE '%{hex}%' THEN NULL ELSE tenant_id END"
        );
        app.execute(&sql).await.is_err()
    };
    for (table, column) in [
        ("subscriptions", "secret"),
        ("subscriptions", "document"),
        ("outbox", "payload"),
    ] {
        assert!(!is_in(table, column, secret).await, "{table}.{column}");
    }
    assert!(
        is_in("subscriptions", "document", "hooks.fm.example").await,
        "what is there is found"
    );
}

#[tokio::test]
async fn every_fault_of_a_subscription_is_told_at_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let form =
        json!({"name": " ", "url": "", "event_types": ["wearcourse.floor.fell.v1"], "headers": {}});
    let refused = admin.post("/v1/subscriptions", &form).await;
    refused.problem(422, "invalid_body");
    let places: Vec<String> = refused
        .faults()
        .into_iter()
        .map(|(place, _)| place)
        .collect();
    for place in ["#/name", "#/url", "#/event_types/0", "#/headers"] {
        assert!(
            places.iter().any(|found| found == place),
            "{place}: {places:?}"
        );
    }
    let souths = build::new_site(&app.admin_of("south")).await;
    let meaning = json!({"name": "x", "url": "https://10.0.0.1/", "site_ids": [souths, "x"], "secret": "c2hvcnQgYnV0IGxvbmcgZW5vdWdoIT8h"});
    let refused = admin.post("/v1/subscriptions", &meaning).await;
    let expected = [
        ("#/site_ids/0", "reference_not_found"),
        ("#/site_ids/1", "reference_not_found"),
        ("#/url", "address_not_public"),
    ];
    assert_eq!(
        refused.faults(),
        expected.map(|(place, code)| (place.to_owned(), code.to_owned()))
    );
    let subscribed = Subscribed::to_contractors(&admin, "https://hooks.fm.example/in").await;
    let secret = subscribed
        .change(
            &admin,
            &json!({"secret": "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"}),
        )
        .await;
    assert_eq!(
        secret.faults(),
        [("#/secret".to_owned(), "read_only".to_owned())]
    );
    let same = subscribed
        .change(&admin, &json!({"name": "Works orders"}))
        .await
        .must(200)
        .json();
    assert_eq!(
        (&same["version"], &same["secret"]),
        (&json!(1), &Value::Null)
    );
}
