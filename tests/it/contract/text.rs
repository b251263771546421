//! Hostile text and moments: kept as they are, or refused where they stand.

use serde_json::json;
use tests::{app::TestApp, build};

/// Text that some interpreter somewhere would take for more than text.
const HOSTILE: [&str; 14] = [
    "'",
    "\"",
    "--",
    "/*",
    "'; DROP TABLE sites; --",
    "' OR pg_sleep(5)--",
    "${7*7}",
    "{{7*7}}",
    "%s%n",
    "../../etc/passwd",
    "<script>alert(1)</script>",
    "\\",
    "a\\u0027b",
    "=1+1",
];

#[tokio::test]
async fn s_110_s_111_hostile_text_is_kept_as_it_is_and_changes_no_sum() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let mut reports = Vec::new();
    for (n, text) in HOSTILE.iter().enumerate() {
        let crew = json!({"name": text, "external": {"system": text, "id": format!("{text} {n}")}});
        let made = admin.post("/v1/contractors", &crew).await.must(201);
        let read = admin
            .get(&format!("/v1/contractors/{}", made.id()))
            .await
            .must(200);
        assert_eq!(
            (&read.json()["name"], &read.json()["external"]),
            (&json!(text), &crew["external"])
        );
        let site = admin
            .post(
                "/v1/sites",
                &build::with(build::site(), json!({"name": text})),
            )
            .await;
        let site = site.must(201).id();
        let storey = json!({"storey": text, "name": text});
        let surface = build::with(build::surface(&site), storey);
        let surface = build::new_surface(&admin, &surface).await;
        let _done = admin
            .record("/v1/completions", &build::completion(&surface))
            .await
            .must(201);
        let path =
            format!("/v1/reports/costs?from=2026-05&to=2026-06&group_by=storey&site_id={site}");
        let report = admin.get(&path).await.must(200).json();
        assert_eq!(report["rows"][0]["storey"], json!(text));
        reports.push(report["totals"].clone());
    }
    reports.dedup();
    assert_eq!(reports.len(), 1, "totals do not depend on names");
    // In filters and paths it finds nothing, and no error of ours.
    for text in HOSTILE {
        let text: Vec<String> = text.bytes().map(|byte| format!("%{byte:02X}")).collect();
        let text = text.concat();
        for path in [
            format!("/v1/contractors/{text}"),
            format!("/v1/rules?text={text}"),
            format!("/v1/sites?external_system={text}&external_id={text}"),
            format!("/v1/completions?site_id={text}"),
            format!("/v1/reports/costs?from=2026-05&to=2026-06&group_by={text}"),
            format!("/v1/audit?resource={text}"),
        ] {
            let answer = admin.get(&path).await;
            assert!(
                [200, 400, 404, 422].contains(&answer.status),
                "{path}: {}",
                answer.text()
            );
        }
    }
}

#[tokio::test]
async fn s_117_moments_and_days_that_are_none_are_refused() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    for bad in [
        "0000-01-01T00:00:00Z",
        "9999-12-31T23:59:60Z",
        "10000-01-01T00:00:00Z",
        "2026-02-30T00:00:00Z",
        "2026-05-11T20:00:00+14:01",
        "2026-05-11T24:00:00Z",
        "2026-05-11",
        "1778529600",
        "2026-05-11T20:00:00",
        "2026-06-02T13:00:01Z",
        "",
    ] {
        let done = build::with(build::completion(&surface), json!({"finished_at": bad}));
        let refused = admin.record("/v1/completions", &done).await;
        refused.problem(422, "invalid_body");
        assert!(
            refused
                .faults()
                .iter()
                .any(|(place, _)| place == "#/finished_at"),
            "{bad}: {}",
            refused.text()
        );
    }
    let number = build::with(
        build::completion(&surface),
        json!({"finished_at": 1_778_529_600}),
    );
    admin
        .record("/v1/completions", &number)
        .await
        .problem(422, "invalid_body");
    // An offset is another way of writing the same moment.
    let offset = json!({"started_at": "2026-05-12T04:00:00+14:00", "finished_at": "2026-05-11T22:00:00+00:00"});
    let done = build::with(build::completion(&surface), offset);
    let kept = admin
        .record("/v1/completions", &done)
        .await
        .must(201)
        .json();
    assert_eq!(kept["started_at"], "2026-05-11T14:00:00.000Z");
}
