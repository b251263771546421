//! Where events do not go. The gates themselves are tested beside their code; here they stand in the running service.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build, read,
    receiver::{Receiver, Reply},
};

use super::{Subscribed, app};

#[tokio::test]
async fn s_060_to_s_066_what_is_not_of_the_public_internet_is_refused_at_registration() {
    let app = TestApp::start_sending(&[("WEARCOURSE_PUBLIC_URL", "https://floors.example")]).await;
    let admin = app.admin();
    for (url, code) in [
        ("https://127.0.0.1/in", "address_not_public"),
        ("https://localhost./in", "address_not_public"),
        ("https://2130706433/in", "address_not_public"),
        (
            "https://169.254.169.254/latest/meta-data",
            "address_not_public",
        ),
        ("https://[::ffff:10.0.0.1]/in", "address_not_public"),
        ("https://metadata.google.internal/", "address_not_public"),
        ("http://hooks.fm.example/in", "scheme_not_allowed"),
        ("https://hooks.fm.example:5432/in", "port_not_allowed"),
        ("https://a:b@hooks.fm.example/in", "credentials_in_url"),
        ("https://hooks.fm.example\\@127.0.0.1/", "malformed_url"),
        ("https://floors.example/v1/inbound/x", "own_address"),
    ] {
        let body = json!({"name": "x", "url": url});
        let refused = admin.post("/v1/subscriptions", &body).await;
        refused.problem(422, "invalid_body");
        assert_eq!(
            refused.faults(),
            [("#/url".to_owned(), code.to_owned())],
            "{url}"
        );
    }
    let subscribed = Subscribed::to_contractors(&admin, "https://hooks.fm.example/in").await;
    let moved = subscribed
        .change(&admin, &json!({"url": "https://127.0.0.1/in"}))
        .await;
    moved.problem(422, "invalid_body");
}

/// What is shown of the attempt at a subscription's only delivery.
async fn attempt(app: &TestApp, subscribed: &Subscribed) -> Value {
    let admin = app.admin();
    let delivery = subscribed.tried(&admin, 1).await;
    let path = format!("/v1/deliveries/{}", read::text(&delivery, "/id"));
    admin.get(&path).await.must(200).json()["attempts"][0].clone()
}

#[tokio::test]
async fn s_073_whatever_keeps_a_receiver_from_answering_looks_the_same() {
    // Nobody listens there any more.
    let closed = std::net::TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let loose = app().await;
    let admin = loose.admin();
    let resets = Receiver::start();
    resets.always(Reply::Reset);
    let refused = Subscribed::to_contractors(&admin, &format!("http://{closed}/")).await;
    let reset = Subscribed::to_contractors(&admin, &resets.url).await;
    let unknown = Subscribed::to_contractors(&admin, "http://nowhere.invalid/").await;
    let _made = build::new_contractor(&admin).await;
    let mut attempts = Vec::new();
    for subscribed in [&refused, &reset, &unknown] {
        attempts.push(attempt(&loose, subscribed).await);
    }
    // And one that became private after it was registered: nobody hears of it there.
    let strict = TestApp::start_sending(&[]).await;
    let (admin, canary) = (strict.admin(), Receiver::start());
    let blocked = Subscribed::to_contractors(&admin, "https://hooks.fm.example/in").await;
    let private = canary.url.replace("http://", "https://");
    let sql = format!(
        "UPDATE subscriptions SET document = REPLACE(document, 'https://hooks.fm.example/in', '{private}')"
    );
    strict.execute(&sql).await.unwrap();
    assert_eq!(blocked.read(&admin).await["url"], private);
    let _made = build::new_contractor(&admin).await;
    attempts.push(attempt(&strict, &blocked).await);
    assert!(canary.messages().is_empty());
    assert_eq!(attempts[0]["outcome"], "unreached");
    for other in &attempts[1..] {
        assert_eq!(*other, attempts[0]);
    }
}

#[tokio::test]
async fn s_069_a_redirect_is_a_refusal_and_nobody_follows_it() {
    for status in [301, 302, 303, 307, 308] {
        let app = app().await;
        let (admin, receiver, canary) = (app.admin(), Receiver::start(), Receiver::start());
        receiver.always(Reply::with(status, "Location", &canary.url));
        let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
        let _made = build::new_contractor(&admin).await;
        let shown = attempt(&app, &subscribed).await;
        assert_eq!(
            (&shown["outcome"], &shown["http_status"]),
            (&json!("refused"), &json!(status))
        );
        assert!(canary.messages().is_empty());
    }
}

#[tokio::test]
async fn s_074_of_an_answer_without_end_the_beginning_is_read() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    receiver.always(Reply::Endless);
    let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let _made = build::new_contractor(&admin).await;
    let shown = attempt(&app, &subscribed).await;
    assert_eq!(
        (&shown["outcome"], &shown["http_status"]),
        (&json!("taken"), &json!(200))
    );
    assert_eq!(read::text(&shown, "/answer"), "x".repeat(1_000));
}
