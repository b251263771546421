//! Lists that are narrowed, turned round, and read again for what changed.

use chrono::{SecondsFormat, TimeDelta};
use serde_json::json;
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

async fn ids(caller: &Caller, path: &str) -> Vec<String> {
    let page = caller.get(path).await.must(200).json();
    let items = read::list(&page, "/items").iter();
    items
        .map(|item| read::text(item, "/id").to_owned())
        .collect()
}

/// All pages of one item each.
async fn walked(caller: &Caller, path: &str) -> Vec<String> {
    let (mut seen, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = caller
            .get(&format!("{path}&limit=1{cursor}"))
            .await
            .must(200)
            .json();
        let items = read::list(&page, "/items").iter();
        seen.extend(items.map(|item| read::text(item, "/id").to_owned()));
        match page["next_cursor"].as_str() {
            Some(next) => cursor = format!("&cursor={next}"),
            None => return seen,
        }
    }
}

#[tokio::test]
async fn lists_are_read_newest_first_and_by_what_changed() {
    let app = TestApp::start().await;
    let site = build::new_site(&app.admin()).await;
    let mut surfaces = Vec::new();
    for _ in 0..3 {
        app.clock().advance(TimeDelta::minutes(1));
        surfaces.push(build::new_surface(&app.admin(), &build::surface(&site)).await);
    }
    let admin = app.admin();
    let reversed: Vec<String> = surfaces.iter().rev().cloned().collect();
    assert_eq!(
        walked(&admin, "/v1/surfaces?order=-created_at").await,
        reversed
    );
    assert_eq!(
        walked(&admin, "/v1/surfaces?order=created_at").await,
        surfaces
    );
    app.clock().advance(TimeDelta::minutes(1));
    let since = app.now().to_rfc3339_opts(SecondsFormat::Millis, true);
    let changed = format!("/v1/surfaces?updated_since={since}");
    assert_eq!(ids(&admin, &changed).await, [""; 0]);
    let note = json!({"note": "x"});
    for id in [&surfaces[2], &surfaces[0]] {
        app.clock().advance(TimeDelta::minutes(1));
        let _done = admin
            .patch(&format!("/v1/surfaces/{id}"), "*", &note)
            .await
            .must(200);
    }
    let expected = [surfaces[2].clone(), surfaces[0].clone()];
    assert_eq!(walked(&admin, &changed).await, expected);
    let both = admin.get(&format!("{changed}&order=-created_at")).await;
    both.problem(422, "parameter_out_of_range");
    let wrong = admin.get("/v1/surfaces?order=name").await;
    wrong.problem(422, "parameter_out_of_range");
    // A cursor is good for one order.
    let page = admin.get("/v1/surfaces?limit=1").await.must(200).json();
    let cursor = read::text(&page, "/next_cursor");
    let other = admin
        .get(&format!(
            "/v1/surfaces?limit=1&order=-created_at&cursor={cursor}"
        ))
        .await;
    other.problem(400, "bad_cursor");
}

#[tokio::test]
async fn what_is_said_of_a_record_later_counts_as_a_change() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    let body = build::completion(&surface);
    let done = admin.record("/v1/completions", &body).await.must(201).id();
    let reading = admin
        .post("/v1/readings", &build::reading(&surface))
        .await
        .must(201)
        .id();
    app.clock().advance(TimeDelta::minutes(1));
    let since = app.now().to_rfc3339_opts(SecondsFormat::Millis, true);
    let changed = |kind: &str| format!("/v1/{kind}?updated_since={since}");
    for kind in ["plans", "completions", "readings", "sites"] {
        assert_eq!(ids(&admin, &changed(kind)).await, [""; 0], "{kind}");
    }
    let accept = admin.call(reqwest::Method::POST, &format!("/v1/plans/{plan}/accept"));
    let _accepted = accept.header("If-Match", "*").answer().await.must(200);
    assert_eq!(ids(&admin, &changed("plans")).await, [plan]);
    let void = json!({"reason": "Reported for the wrong night."});
    let _void = admin
        .record(&format!("/v1/completions/{done}/void"), &void)
        .await
        .must(200);
    let all = format!("{}&include_superseded=true", changed("completions"));
    assert_eq!(ids(&admin, &all).await, [done]);
    let right = with(build::reading(&surface), json!({"value": 7.5}));
    let path = format!("/v1/readings/{reading}/supersede");
    let new = admin.record(&path, &right).await.must(201).id();
    let mut both = ids(
        &admin,
        &format!("{}&include_superseded=true", changed("readings")),
    )
    .await;
    both.sort();
    let mut expected = [reading, new];
    expected.sort();
    assert_eq!(both, expected);
    let _renamed = admin
        .patch(&format!("/v1/sites/{site}"), "*", &json!({"name": "x"}))
        .await
        .must(200);
    assert_eq!(ids(&admin, &changed("sites")).await, [site]);
}

#[tokio::test]
async fn plans_are_found_by_what_is_left_of_them_and_what_they_say() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let other = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
    let id = read::text(&plan, "/id").to_owned();
    let clean = json!({"surface_id": other, "wish": {"goal": "clean"}, "planned_on": "2026-07-01"});
    let clean = build::new_plan(&admin, &clean).await.json();
    let clean_id = read::text(&clean, "/id").to_owned();
    assert_eq!(ids(&admin, "/v1/plans?open=true").await, [""; 0]);
    let accept = admin.call(reqwest::Method::POST, &format!("/v1/plans/{id}/accept"));
    let _accepted = accept.header("If-Match", "*").answer().await.must(200);
    let process = read::text(&plan, "/process/key");
    let verdict = read::text(&plan, "/verdict");
    for query in [
        "open=true".to_owned(),
        "goal=restore".to_owned(),
        format!("process={process}"),
        "planned_on=2026-06-01".to_owned(),
        format!("goal=restore&verdict={verdict}&open=true"),
    ] {
        assert_eq!(
            ids(&admin, &format!("/v1/plans?{query}")).await,
            std::slice::from_ref(&id),
            "{query}"
        );
    }
    assert_eq!(
        ids(&admin, "/v1/plans?planned_on=2026-07-01").await,
        [clean_id]
    );
    let work = |area: f64| {
        let cites = json!({
            "plan_id": id, "area_m2": area, "process": null,
            "started_at": "2026-06-01T13:00:00Z", "finished_at": "2026-06-01T23:00:00Z",
        });
        with(build::completion(&surface), cites)
    };
    let _half = admin
        .record("/v1/completions", &work(120.0))
        .await
        .must(201);
    let page = admin.get("/v1/plans?open=true").await.must(200).json();
    assert_eq!(read::number(&page, "/items/0/share_left"), 0.5);
    let rest = admin
        .record("/v1/completions", &work(120.0))
        .await
        .must(201)
        .id();
    assert_eq!(ids(&admin, "/v1/plans?open=true").await, [""; 0]);
    let void = json!({"reason": "Reported for the wrong night."});
    let _void = admin
        .record(&format!("/v1/completions/{rest}/void"), &void)
        .await
        .must(200);
    assert_eq!(ids(&admin, "/v1/plans?open=true").await, [id]);
}

#[tokio::test]
async fn completions_are_found_by_their_deviations_until_each_is_acknowledged() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plain = admin
        .record("/v1/completions", &build::completion(&surface))
        .await
        .must(201);
    assert_eq!(plain.json()["deviations"], json!([]));
    let expired = json!({"products": [{"product": "stripper_alkaline", "volume_l": 12.5, "expires_on": "2026-01-31"}]});
    let expired = with(build::completion(&surface), expired);
    let id = admin
        .record("/v1/completions", &expired)
        .await
        .must(201)
        .id();
    let found = async |query: &str| ids(&admin, &format!("/v1/completions?{query}")).await;
    for query in [
        "deviation=any",
        "deviation=open",
        "deviation=product_expired",
        "deviation=open&unplanned=true",
    ] {
        assert_eq!(found(query).await, std::slice::from_ref(&id), "{query}");
    }
    // An underscore stands for itself.
    assert_eq!(found("deviation=product_expire_").await, [""; 0]);
    assert_eq!(found("deviation=other_product").await, [""; 0]);
    let body = json!({"deviation": "product_expired", "reason": "The maker confirmed the batch."});
    let _seen = admin
        .record(&format!("/v1/completions/{id}/acknowledge"), &body)
        .await
        .must(200);
    assert_eq!(found("deviation=open").await, [""; 0]);
    assert_eq!(found("deviation=any").await, std::slice::from_ref(&id));
    let void = json!({"reason": "Reported for the wrong night."});
    let _void = admin
        .record(&format!("/v1/completions/{id}/void"), &void)
        .await
        .must(200);
    assert_eq!(found("status=voided").await, [id]);
    assert_eq!(found("process=polish").await, [""; 0]);
    let bad = admin.get("/v1/completions?deviation=Any").await;
    bad.problem(400, "invalid_parameter");
}
