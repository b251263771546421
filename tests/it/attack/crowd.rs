//! Many rows, many connections, many records of one kind.

use std::time::{Duration, Instant};

use api::Config;
use serde_json::json;
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    raw::speak,
    read,
};
use tokio::{
    io::{AsyncReadExt as _, AsyncWriteExt as _, Interest},
    net::{TcpSocket, TcpStream},
};

/// Stands in every text of the other tenant, and nowhere else.
const MARK: &str = "ZZMARKZZ";

/// Registers so many marked surfaces, and says the id of their site.
async fn crowd(south: &Caller, n: usize) -> String {
    let site = with(build::site(), json!({ "name": MARK }));
    let site = south.post("/v1/sites", &site).await.must(201).id();
    let numbers: Vec<usize> = (0..n).collect();
    for part in numbers.chunks(1_000) {
        let item = |n: &usize| {
            let change = json!({
                "name": format!("{MARK} {n}"), "storey": MARK, "external": {"system": MARK, "id": n.to_string()},
            });
            with(build::surface(&site), change)
        };
        let items: Vec<_> = part.iter().map(item).collect();
        let batch = json!({"mode": "atomic", "items": items});
        let done = south.record("/v1/surfaces/batch", &batch).await;
        let _done = done.must(200);
    }
    site
}

/// Every answer to a caller, page by page, as text with its headers; and how many answers those were.
async fn everything(caller: &Caller, foreign: &str) -> (String, usize) {
    let (mut heard, mut n) = (String::new(), 0);
    for (verb, path, ..) in api::routes().filter(|(verb, ..)| *verb == "GET") {
        let path = path.split('{').next().unwrap_or_default().to_owned();
        // A path with a parameter is asked for what the other tenant owns.
        let is_whole = api::routes().any(|route| route.0 == verb && route.1 == path);
        let path = if is_whole {
            path
        } else {
            format!("{path}{foreign}")
        };
        for query in [
            "limit=200",
            "last_months=12&group_by=site,storey",
            "last_months=12&format=csv",
            "external_system=ZZMARKZZ&external_id=1",
        ] {
            let mut cursor = String::new();
            loop {
                let answer = caller.get(&format!("{path}?{query}{cursor}")).await;
                assert!(answer.status < 500, "{path}?{query}: {}", answer.text());
                n += 1;
                if query.contains(MARK) {
                    // What was asked for may be told back; what it names is not there.
                    let found = answer.json()["items"].as_array().map_or(0, Vec::len);
                    assert_eq!(found, 0, "{path}");
                    break;
                }
                heard.push_str(&answer.text());
                let headers = format!("{:?}", answer.headers);
                heard.push_str(&headers);
                match answer.json()["next_cursor"].as_str() {
                    Some(next) => cursor = format!("&cursor={next}"),
                    None => break,
                }
            }
        }
    }
    (heard, n)
}

#[tokio::test]
async fn s_006_of_ten_thousand_rows_of_another_tenant_no_trace_is_heard() {
    let app = TestApp::start().await;
    let (admin, south) = (app.admin(), app.admin_of(SOUTH));
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let _done = admin
        .record("/v1/completions", &build::completion(&surface))
        .await
        .must(201);
    let foreign = crowd(&south, 10_000).await;
    let begun = Instant::now();
    let (heard, n_answers) = everything(&admin, &foreign).await;
    let took = begun.elapsed();
    assert!(n_answers > 100);
    assert!(!heard.contains(MARK) && heard.contains(&site));
    assert!(took < Duration::from_mins(1), "{took:?}");
    // The control: its owner hears of it.
    let own = south.get("/v1/surfaces?limit=200").await.must(200).text();
    assert_eq!(own.matches(&format!("\"name\":\"{MARK} ")).count(), 200);
}

#[tokio::test]
async fn s_087_idle_connections_and_requests_in_one_write_keep_nobody_out() {
    let app = TestApp::start().await;
    let address = app.url().trim_start_matches("http://").to_owned();
    // As many as fit beside each other into the descriptors that a shell usually has.
    let mut idle = Vec::new();
    for _ in 0..300 {
        let mut stream = TcpStream::connect(&address).await.unwrap();
        stream
            .write_all(b"GET /livez HTTP/1.1\r\nHost: a\r\n\r\n")
            .await
            .unwrap();
        let mut answer = [0; 15];
        stream.read_exact(&mut answer).await.unwrap();
        assert_eq!(&answer, b"HTTP/1.1 200 OK");
        idle.push(stream);
    }
    let begun = Instant::now();
    let _served = app.admin().get("/v1/contractors").await.must(200);
    assert!(begun.elapsed() < Duration::from_secs(2));
    drop(idle);
    // A thousand in one write are answered in their order, each with its own id.
    let n = 1_000;
    let one = |n: usize| format!("GET /livez HTTP/1.1\r\nHost: a\r\nX-Request-Id: job-{n}\r\n\r\n");
    let all: String = (0..n).map(one).collect();
    let last = "GET /livez HTTP/1.1\r\nHost: a\r\nX-Request-Id: last\r\nConnection: close\r\n\r\n";
    let heard = speak(&app, &format!("{all}{last}"), None)
        .await
        .to_lowercase();
    let ids: Vec<&str> = heard
        .lines()
        .filter_map(|line| line.strip_prefix("x-request-id: "))
        .collect();
    let wanted: Vec<String> = (0..n).map(|n| format!("job-{n}")).collect();
    assert_eq!(ids.len(), n + 1);
    assert!(ids.iter().zip(&wanted).all(|(id, wanted)| id == wanted));
}

#[tokio::test]
async fn s_086_readers_that_do_not_read_hold_nobody_up() {
    let app = TestApp::start().await;
    let address = app.url().trim_start_matches("http://").to_owned();
    let ask = "GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n".repeat(10);
    let mut deaf = Vec::new();
    for _ in 0..30 {
        let mut stream = TcpStream::connect(&address).await.unwrap();
        stream.write_all(ask.as_bytes()).await.unwrap();
        deaf.push(stream);
    }
    // Until their buffers are full, their answers are worked on.
    let _first = app.admin().get("/v1/contractors").await.must(200);
    for _ in 0..20 {
        let begun = Instant::now();
        let _served = app.admin().get("/v1/contractors").await.must(200);
        assert!(begun.elapsed() < Duration::from_secs(2));
    }
    // The control: they have been answered, in part, and what they were sent waits for them.
    let mut first = deaf.remove(0);
    let mut answer = [0; 15];
    first.read_exact(&mut answer).await.unwrap();
    assert_eq!(&answer, b"HTTP/1.1 200 OK");
}

#[tokio::test]
async fn s_086_who_takes_nothing_of_an_answer_is_hung_up_on() {
    let stall = |config: &mut Config| config.http.deadlines.stall = Duration::from_millis(500);
    let app = TestApp::start_as(&[], stall).await;
    let address = app.url().trim_start_matches("http://").parse().unwrap();
    let socket = TcpSocket::new_v4().unwrap();
    // Less than an answer, so that the rest of it waits at the service.
    socket.set_recv_buffer_size(8 * 1024).unwrap();
    let mut stream = socket.connect(address).await.unwrap();
    let ask = "GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n".repeat(10);
    stream.write_all(ask.as_bytes()).await.unwrap();
    // Who is hung up on is told so when he next says something.
    let told = async {
        while stream.write_all(b"G").await.is_ok() {
            let error = stream.ready(Interest::ERROR);
            let _told_or_not = tokio::time::timeout(Duration::from_millis(200), error).await;
        }
    };
    let told = tokio::time::timeout(Duration::from_secs(20), told).await;
    assert!(told.is_ok(), "the connection is still there");
    // Somebody who reads is served meanwhile and after.
    let _served = app.admin().get("/v1/contractors").await.must(200);
}

#[tokio::test]
async fn s_091_a_tenant_has_two_hundred_enabled_sources_at_most() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let contractor = build::new_contractor(&admin).await;
    let body = json!({"contractor_id": contractor, "name": "Crew app"});
    let mut last = None;
    for _ in 0..200 {
        last = Some(admin.post("/v1/contractor-sources", &body).await.must(201));
    }
    let refused = admin.post("/v1/contractor-sources", &body).await;
    refused.problem(409, "state_conflict");
    // One that is disabled makes room, and another tenant has room of its own.
    let last = last.unwrap();
    let path = format!("/v1/contractor-sources/{}/disable", last.id());
    let disable = admin.call(reqwest::Method::POST, &path);
    let _disabled = disable.header("If-Match", "*").answer().await.must(200);
    let made = admin.post("/v1/contractor-sources", &body).await.must(201);
    assert!(read::text(&made.json(), "/secret").starts_with("whsec_"));
    let south = app.admin_of(SOUTH);
    let body = json!({"contractor_id": build::new_contractor(&south).await, "name": "Crew app"});
    let _made = south.post("/v1/contractor-sources", &body).await.must(201);
}
