//! What happened to a surface, in the order of happening.

use serde_json::json;
use tests::{app::NORTH, build, read};

use super::{Floor, STRIP};

/// What happened, page by page.
async fn told(floor: &Floor, query: &str) -> Vec<(String, String)> {
    let path = format!("/v1/surfaces/{}/history", floor.id);
    let (mut found, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = floor
            .admin
            .get(&format!("{path}?limit=2{query}{cursor}"))
            .await;
        let page = page.must(200).json();
        for item in read::list(&page, "/items") {
            let event = read::text(item, "/event").trim_start_matches("wearcourse.");
            found.push((event.to_owned(), read::text(item, "/statement").to_owned()));
        }
        match page["next_cursor"].as_str() {
            Some(next) => cursor = format!("&cursor={next}"),
            None => return found,
        }
    }
}

#[tokio::test]
async fn a_surfaces_history_tells_all_that_happened_when_it_happened() {
    let mut floor = Floor::with(json!({"kind": "polish", "coats": 6, "condition": "worn"})).await;
    floor.pass(1);
    let plan = build::new_plan(&floor.admin, &build::plan(&floor.id)).await;
    let accept = format!("/v1/plans/{}/accept", plan.id());
    let call = floor.admin.call(reqwest::Method::POST, &accept);
    let _done = call.header("If-Match", "*").answer().await.must(200);
    floor.pass(1);
    let done = floor.work(STRIP, json!({"plan_id": plan.id()})).await;
    floor.pass(1);
    let change = json!({"traffic": "light", "note": "Quiet now."});
    let path = format!("/v1/surfaces/{}", floor.id);
    let _done = floor.admin.patch(&path, "*", &change).await.must(200);
    // Told late: it was measured and seen before the work.
    let measured = build::with(build::reading(&floor.id), json!({"at": floor.day(-3)}));
    let reading = floor.admin.post("/v1/readings", &measured).await.must(201);
    let _done = floor.see(json!({"at": floor.day(-2)})).await.must(201);
    floor.pass(1);
    let better = build::with(measured, json!({"value": 9}));
    let supersede = format!("/v1/readings/{}/supersede", reading.id());
    let _done = floor.admin.record(&supersede, &better).await.must(201);
    let story = told(&floor, "").await;
    let kinds: Vec<&str> = story.iter().map(|(kind, _)| kind.as_str()).collect();
    assert_eq!(
        kinds,
        [
            "surface.registered.v1",
            "reading.taken.v1",
            "reading.taken.v1",
            "plan.proposed.v1",
            "plan.accepted.v1",
            "observation.recorded.v1",
            "completion.recorded.v1",
            "surface.changed.v1",
            "reading.superseded.v1",
        ]
    );
    let says = |at: usize| story[at].1.as_str();
    assert_eq!(
        says(0),
        "Registered: Corridor 2.104, vinyl composition tile, 240 m²."
    );
    assert_eq!(says(1), "Measured: surface_ph 7.4.");
    assert_eq!(says(5), "seen: polish, 5 coats of polish, sound.");
    assert_eq!(
        says(6),
        "Strip by machine and refinish, 4 coats of polish on 240 m²."
    );
    assert_eq!(says(7), "Changed: note, traffic.");
    let some = told(
        &floor,
        &format!("&from={}&to={}", floor.day(-3), floor.day(-1)),
    )
    .await;
    let kinds: Vec<&str> = some.iter().map(|(kind, _)| kind.as_str()).collect();
    assert_eq!(
        kinds,
        [
            "plan.proposed.v1",
            "plan.accepted.v1",
            "observation.recorded.v1",
            "completion.recorded.v1"
        ]
    );
    let subjects = subjects_of_events_that_went_out(&floor).await;
    assert!(subjects.contains(&read::text(&done.json(), "/id").to_owned()));
}

/// What the first page of the history is about; each item of it has the id of an event that went out.
async fn subjects_of_events_that_went_out(floor: &Floor) -> Vec<String> {
    let tx = floor.app.store().read(floor.app.tenant(NORTH)).await;
    let events = tx.unwrap().outbox().list(1_000).await.unwrap();
    let path = format!("/v1/surfaces/{}/history", floor.id);
    let page = floor.admin.get(&path).await.must(200).json();
    let items = read::list(&page, "/items").iter();
    let subjects = items.map(|item| {
        let id = read::text(item, "/id");
        let event = events.iter().find(|event| event.id.to_string() == id);
        assert_eq!(event.unwrap().subject, read::text(item, "/subject"));
        read::text(item, "/subject").to_owned()
    });
    subjects.collect()
}

#[tokio::test]
async fn a_batch_tells_of_each_surface_and_its_film() {
    let mut floor = Floor::with(json!({"kind": "bare"})).await;
    let site = floor.site.clone();
    let item = |film: serde_json::Value| {
        let item = build::with(
            build::surface(&site),
            json!({"external": {"system": "register", "id": "1"}}),
        );
        let mut item = build::with(item, json!({"film": null}));
        item["film"] = film;
        json!({"mode": "atomic", "items": [item]})
    };
    let polish = json!({"kind": "polish", "coats": 3});
    let made = floor
        .admin
        .record("/v1/surfaces/batch", &item(polish.clone()))
        .await;
    let made = made.must(200).json();
    let id = read::text(&made, "/items/0/surface_id").to_owned();
    let same = build::with(item(polish), json!({}));
    floor.pass(1);
    let _done = floor
        .admin
        .record("/v1/surfaces/batch", &same)
        .await
        .must(200);
    let _done = floor
        .admin
        .record("/v1/surfaces/batch", &item(json!({"kind": "seal"})))
        .await
        .must(200);
    let other = Floor { id, ..floor };
    let kinds: Vec<String> = told(&other, "")
        .await
        .into_iter()
        .map(|(kind, _)| kind)
        .collect();
    assert_eq!(kinds, ["surface.registered.v1", "surface.changed.v1"]);
    let film = other.state("").await;
    assert_eq!(
        (&film["kind"], &film["contradictions"][0]["code"]),
        (&json!("seal"), &json!("kind_differs"))
    );
}
