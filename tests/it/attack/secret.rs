//! Secrets where they do not belong: a canary for each kind, looked for in everything that the program writes and says.

use std::net::TcpListener;

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH},
    build,
    client::{Answer, Caller},
    ground::{Ground, completion, site},
    inbound::sign,
    read,
    receiver::{Receiver, Reply},
};

const PROGRAM: &str = env!("CARGO_BIN_EXE_service");

/// What is sent where a secret could be, and must be heard nowhere. Not those that are the configuration's own: they are
/// taken from it.
const CANARIES: [&str; 6] = [
    "canary-token-7f3a9c",
    "canary-basic-51be02",
    "canary-cookie-c0ffee",
    "canary-query-9d41aa",
    "canary-signature-e81200",
    "canary-body-44d0b7",
];

/// The parts of a token that nobody else may hear: all of it, and its signature.
fn parts(token: &str) -> [String; 2] {
    let (_, signature) = token.rsplit_once('.').unwrap();
    [token.to_owned(), signature.to_owned()]
}

/// Calls that fail in all ways in which a secret could slip out.
async fn failures(ground: &Ground, url: &str, source: &Value) -> Vec<Answer> {
    let stranger = ground.stranger(url);
    let mut answers = Vec::new();
    let call = |method: Method, path: &str| stranger.call(method, path);
    for authorization in [
        "Bearer canary-token-7f3a9c".to_owned(),
        "Bearer a.canary-token-7f3a9c.c".to_owned(),
        "Basic canary-basic-51be02".to_owned(),
        format!("Bearer {}x", ground.token(NORTH)),
    ] {
        let call = call(Method::GET, "/v1/sites").header("Authorization", &authorization);
        answers.push(call.answer().await);
    }
    let cookie = call(Method::GET, "/v1/sites").header("Cookie", "token=canary-cookie-c0ffee");
    answers.push(cookie.answer().await);
    for path in [
        "/v1/sites?access_token=canary-query-9d41aa",
        "/v1/shared-reports/canary-query-9d41aa",
    ] {
        answers.push(call(Method::GET, path).answer().await);
    }
    let address = read::text(source, "/address");
    let signed = call(Method::POST, address)
        .header("webhook-id", "evt-1")
        .header("webhook-timestamp", "1")
        .header("webhook-signature", "v1,canary-signature-e81200");
    answers.push(
        signed
            .json(&json!({"secret": "canary-body-44d0b7"}))
            .answer()
            .await,
    );
    answers
}

/// A source and a subscription, made, turned, used; and the secrets that were told for them.
async fn successes(ground: &Ground, admin: &Caller, receiver: &Receiver) -> (Value, Vec<String>) {
    let crew = build::new_contractor(admin).await;
    let body = json!({"contractor_id": crew, "name": "Crew app"});
    let source = admin
        .post("/v1/contractor-sources", &body)
        .await
        .must(201)
        .json();
    let body = json!({"name": "Works orders", "url": receiver.url});
    let subscription = admin
        .post("/v1/subscriptions", &body)
        .await
        .must(201)
        .json();
    let mut secrets = vec![
        read::text(&source, "/secret").to_owned(),
        read::text(&subscription, "/secret").to_owned(),
    ];
    let rotate = format!(
        "/v1/subscriptions/{}/rotate",
        read::text(&subscription, "/id")
    );
    let rotated = admin.record(&rotate, &json!({})).await.must(200).json();
    secrets.push(read::text(&rotated, "/secret").to_owned());
    let link = json!({"name": "Board", "query": "last_months=12"});
    let link = admin.post("/v1/report-links", &link).await.must(201).json();
    let address = read::text(&link, "/address").to_owned();
    let _shared = admin.get(&address).await.must(200);
    secrets.push(address.rsplit('/').next().unwrap().to_owned());
    let site = admin.post("/v1/sites", &site()).await.must(201).id();
    let surface = build::new_surface(admin, &build::surface(&site)).await;
    let event = json!({
        "type": "completion.reported", "timestamp": tests::ground::hours_ago(0).to_rfc3339(), "data": completion(&surface, "evt-7"),
    });
    let (event, now) = (event.to_string(), tests::ground::hours_ago(0));
    let signature = sign(&secrets[0], "evt-7", now, event.as_bytes());
    let call = ground
        .stranger(admin.base())
        .call(Method::POST, read::text(&source, "/address"));
    let taken = call
        .header("Content-Type", "application/json")
        .header("webhook-id", "evt-7")
        .header("webhook-timestamp", &now.timestamp().to_string())
        .header("webhook-signature", &signature)
        .bytes(event);
    let _taken = taken.answer().await.must(200);
    secrets.push(signature);
    let _messages = receiver.wait_for(1).await;
    (source, secrets)
}

/// Where each of these secrets is heard.
fn heard<'a>(secrets: &'a [String], places: &[(&str, String)]) -> Vec<(&'a str, String)> {
    let mut heard = Vec::new();
    for secret in secrets {
        let bare = secret.trim_start_matches("whsec_");
        for (place, text) in places {
            if let Some(at) = text.find(bare) {
                let around = text.get(at.saturating_sub(80)..at).unwrap_or_default();
                heard.push((secret.as_str(), format!("{place}: {around}")));
            }
        }
    }
    heard
}

#[tokio::test]
async fn s_124_no_secret_is_in_a_log_a_metric_an_error_an_event_or_the_trail() {
    let ground = Ground::new(PROGRAM).await;
    // The log tells all of ours that it can, and the metrics listen on a port that was free just now.
    let port = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let metrics = port.to_string();
    let variables = [
        (
            "WEARCOURSE_LOG",
            "debug,api=trace,infra=trace,sqlx=trace,sea_orm=trace",
        ),
        ("WEARCOURSE_METRICS_BIND", metrics.as_str()),
        ("WEARCOURSE_OUTBOUND", "on"),
        ("WEARCOURSE_OUTBOUND_INSECURE", "on"),
    ];
    let process = ground.start(&variables).await;
    let admin = ground.caller(&process.url, NORTH);
    let receiver = Receiver::start();
    receiver.next([Reply::Reset]);
    let (source, mut secrets) = successes(&ground, &admin, &receiver).await;
    let failures = failures(&ground, &process.url, &source).await;
    assert!(
        failures
            .iter()
            .all(|answer| [400, 401, 404].contains(&answer.status)),
        "{failures:?}"
    );
    secrets.extend(CANARIES.map(str::to_owned));
    for tenant in [NORTH, SOUTH] {
        secrets.extend(parts(&ground.token(tenant)));
    }
    secrets.extend(admin.token().map(parts).into_iter().flatten());
    let configured = ground.secrets();
    secrets.extend(configured.iter().map(|secret| (*secret).to_owned()));
    let started_wrong = ground.run_with(
        &["check-config"],
        &[
            ("WEARCOURSE_AUTH_PREVIOUS_SECRET", "canary-token-7f3a9c"),
            (
                "WEARCOURSE_DATABASE_URL",
                "mysql://u:canary-basic-51be02@h/d",
            ),
        ],
    );
    let scraped = ground
        .stranger(&format!("http://{metrics}"))
        .get("/metrics")
        .await
        .must(200);
    let trail = admin.get("/v1/audit?limit=200").await.must(200);
    let events: Vec<String> = receiver
        .messages()
        .iter()
        .map(|message| String::from_utf8_lossy(&message.body).into_owned())
        .collect();
    let answers: Vec<String> = failures
        .iter()
        .map(|answer| format!("{} {:?}", answer.text(), answer.headers))
        .collect();
    drop(process);
    let log = ground.log();
    assert!(log.len() > 30, "the log tells of everything");
    assert!(
        log.iter()
            .all(|line| serde_json::from_str::<Value>(line).is_ok_and(|line| line.is_object()))
    );
    let places = [
        ("log", log.join("\n")),
        ("start", format!("{started_wrong:?}")),
        ("metrics", scraped.text()),
        ("answers", answers.join("\n")),
        ("events", events.join("\n")),
        ("trail", trail.text()),
    ];
    let found = heard(&secrets, &places);
    assert!(found.is_empty(), "{found:#?}");
    // The control: what may be heard is found by the same search.
    let told = ["tester".to_owned(), "specversion".to_owned()];
    assert!(
        heard(&told[..1], &places[..1]).len() == 1 && heard(&told[1..], &places[4..5]).len() == 1
    );
}

#[tokio::test]
async fn s_123_whatever_callers_send_each_line_of_the_log_is_one_object_and_short() {
    let ground = Ground::new(PROGRAM).await;
    let process = ground.start(&[("WEARCOURSE_LOG", "debug")]).await;
    let admin = ground.caller(&process.url, NORTH);
    let long = "x".repeat(30_000);
    let hostile = ["a\u{1b}[31m", "\"}{\"level\":\"ERROR\"", "%0a{}", "\\u000a"];
    for text in hostile.iter().map(|text| (*text).to_owned()).chain([long]) {
        let visible: String = text.chars().filter(|c| !c.is_control()).collect();
        for name in [
            "User-Agent",
            "traceparent",
            "X-Request-Id",
            "X-Forwarded-For",
            "Accept",
            "Referer",
        ] {
            let call = admin
                .call(Method::GET, "/v1/contractors")
                .header(name, &visible);
            let _answered = call.answer().await;
        }
        let escaped = visible
            .bytes()
            .take(7_000)
            .map(|byte| format!("%{byte:02X}"));
        let query = escaped.collect::<Vec<String>>().concat();
        let _answered = admin.get(&format!("/v1/contractors/{query}")).await;
        let _answered = admin.get(&format!("/v1/{query}?a={query}")).await;
        let _answered = admin.post("/v1/contractors", &json!({"name": text})).await;
        let _answered = admin
            .post("/v1/contractors", &json!({ text.clone(): text }))
            .await;
    }
    let _last = admin.get("/livez").await.must(200);
    drop(process);
    let lines = ground.log();
    assert!(lines.len() > 50);
    for line in lines {
        let told: Value = serde_json::from_str(&line).unwrap();
        assert!(
            told["timestamp"].is_string() && told["level"].is_string(),
            "{line}"
        );
        assert!(line.len() < 8_192, "{} bytes: {:.300}", line.len(), line);
    }
}

/// Settings that would be unsafe where others reach the service: refused at start by name, or told in the log.
#[tokio::test]
async fn s_108_an_unsafe_setting_stops_the_start_or_is_warned_of() {
    let ground = Ground::new(PROGRAM).await;
    for (name, value) in [
        ("WEARCOURSE_PUBLIC_URL", "http://care.example"),
        ("WEARCOURSE_AUTH_SECRET", "changeme"),
        ("WEARCOURSE_SEAL_KEYS", "k1:AAAA"),
        ("WEARCOURSE_AUTH_ALGORITHM", "none"),
        ("WEARCOURSE_AUTH_JWKS_URL", "http://issuer.example/keys"),
        (
            "WEARCOURSE_DATABASE_URL",
            "postgres://u@db.example/d?sslmode=disable",
        ),
        ("WEARCOURSE_OUTBOUND_INSECURE", "yes"),
        ("WEARCOURSE_CORS", "*"),
        ("WEARCOURSE_ALLOW_INSECURE", "on"),
    ] {
        let told = ground.run_with(&["serve"], &[(name, value)]);
        assert_eq!(told.status.code(), Some(2), "{name}");
        let said = String::from_utf8_lossy(&told.stderr).into_owned();
        assert!(
            said.contains(name) && (value.len() < 5 || !said.contains(value)),
            "{name}: {said}"
        );
    }
    let unsafe_settings = [
        ("WEARCOURSE_OUTBOUND", "on"),
        ("WEARCOURSE_OUTBOUND_INSECURE", "on"),
    ];
    let process = ground.start(&unsafe_settings).await;
    let is_warned = || {
        ground
            .log()
            .iter()
            .any(|line| line.contains("WARN") && line.contains("WEARCOURSE_OUTBOUND_INSECURE"))
    };
    while !is_warned() {
        let _alive = ground.stranger(&process.url).get("/livez").await.must(200);
    }
    // The control: without it nothing is warned of.
    drop(process);
    let ground = Ground::new(PROGRAM).await;
    let process = ground.start(&[]).await;
    let _ready = ground.stranger(&process.url).get("/readyz").await.must(200);
    assert!(
        !ground
            .log()
            .iter()
            .any(|line| line.contains("WEARCOURSE_OUTBOUND_INSECURE"))
    );
}
