//! What cannot be observed, and moments that cannot be asked for.

use serde_json::{Value, json};
use tests::build;

use super::Floor;

#[tokio::test]
async fn an_observation_that_cannot_be_is_refused_with_every_fault() {
    let floor = Floor::with(json!({"kind": "bare"})).await;
    let refused = async |change: Value, faults: &[(&str, &str)]| {
        let answer = floor.see(change).await;
        answer.problem(422, "invalid_body");
        let expected: Vec<_> = faults
            .iter()
            .map(|(place, code)| ((*place).to_owned(), (*code).to_owned()))
            .collect();
        assert_eq!(answer.faults(), expected, "{}", answer.text());
    };
    refused(
        json!({"at": floor.day(2), "last_stripped_on": "2026-06-05", "seal_coats": 1}),
        &[
            ("#/at", "in_future"),
            ("#/last_stripped_on", "after_observation"),
            ("#/seal_coats", "contradicts_kind"),
        ],
    )
    .await;
    refused(
        json!({"at": "1999-12-31T23:59:59Z", "film": {"kind": "bare", "coats": 3, "condition": null}}),
        &[("#/at", "too_early"), ("#/film/coats", "contradicts_kind")],
    )
    .await;
    refused(
        json!({"film": {"kind": "unknown", "coats": null, "condition": null}}),
        &[("#/film", "nothing_said")],
    )
    .await;
    let closed = json!({"origin": "survey", "film": {"coats": 51}, "seen_by": "x"});
    let answer = floor.see(closed).await;
    answer.problem(422, "invalid_body");
    assert_eq!(answer.faults().len(), 3, "{}", answer.text());
}

#[tokio::test]
async fn a_moment_that_cannot_be_asked_for_is_refused() {
    let floor = Floor::with(json!({"kind": "bare"})).await;
    let ask = async |what: &str| {
        let path = format!("/v1/surfaces/{}/{what}", floor.id);
        floor.admin.get(&path).await
    };
    let far = floor.day(3_661);
    ask(&format!("state?at={far}"))
        .await
        .problem(422, "parameter_out_of_range");
    ask("state?at=1999-12-31T00:00:00Z")
        .await
        .problem(422, "parameter_out_of_range");
    ask("state?at=yesterday")
        .await
        .problem(400, "invalid_parameter");
    ask("state?on=2026-01-01")
        .await
        .problem(400, "unknown_parameter");
    ask("history?from=2026-06-01")
        .await
        .problem(400, "invalid_parameter");
    ask("history?cursor=abc").await.problem(400, "bad_cursor");
    // A cursor is good for its own list only.
    let first = ask("history?limit=1").await.must(200).json();
    assert_eq!(first["next_cursor"], Value::Null);
    let measured = build::reading(&floor.id);
    let _done = floor.admin.post("/v1/readings", &measured).await.must(201);
    let first = ask("history?limit=1").await.must(200).json();
    let cursor = first["next_cursor"].as_str().unwrap().to_owned();
    let _done = ask(&format!("history?limit=1&cursor={cursor}"))
        .await
        .must(200);
    ask(&format!("history?from={}&cursor={cursor}", floor.day(-99)))
        .await
        .problem(400, "bad_cursor");
    ask(&format!("observations?cursor={cursor}"))
        .await
        .problem(400, "bad_cursor");
}
