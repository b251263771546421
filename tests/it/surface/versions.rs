//! Changes of surfaces under the version that was read, one of several, or any.

use chrono::{SecondsFormat, TimeDelta};
use serde_json::{Value, json};
use tests::{app::TestApp, build};

#[tokio::test]
async fn a_change_goes_through_if_one_of_several_versions_is_the_one_that_is_there() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let id = build::new_surface(&admin, &build::surface(&site)).await;
    let path = format!("/v1/surfaces/{id}");
    let note = |text: &str| json!({"note": text});
    let stale = admin
        .patch(&path, "\"2.json\", \"3.json\"", &note("a"))
        .await;
    stale.problem(412, "stale_version");
    let weak = admin.patch(&path, "W/\"1.json\"", &note("a")).await;
    weak.problem(412, "stale_version");
    let done = admin
        .patch(&path, "\"7.json\", \"1.json\"", &note("a"))
        .await;
    assert_eq!(done.must(200).etag(), "\"2.json\"");
}

#[tokio::test]
async fn a_change_of_any_version_is_never_too_late() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let id = build::new_surface(&admin, &build::surface(&site)).await;
    let path = format!("/v1/surfaces/{id}");
    for round in 0..30 {
        let change = async |side: &str| {
            let body = json!({"storey": format!("{side}{round}")});
            admin.patch(&path, "*", &body).await.must(200)
        };
        tokio::join!(change("a"), change("b"));
    }
    let version = &admin.get(&path).await.must(200).json()["version"];
    assert_eq!(version, &json!(61));
}

/// A body without what is a version's own.
fn said(surface: &Value) -> Value {
    let mut said = surface.clone();
    for member in ["version", "updated_at"] {
        said.as_object_mut().unwrap().remove(member).unwrap();
    }
    said
}

#[tokio::test]
async fn a_surface_is_read_as_it_was_in_a_version_and_at_a_moment() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let id = build::new_surface(&admin, &build::surface(&site)).await;
    let path = format!("/v1/surfaces/{id}");
    let was = |query: String| {
        let (admin, path) = (admin.clone(), path.clone());
        async move { admin.get(&format!("{path}{query}")).await }
    };
    let mut versions = vec![admin.get(&path).await.must(200).json()];
    let mut moments = vec![app.now()];
    for change in [
        json!({"note": "By the door.", "storey": "First"}),
        json!({"note": null, "traffic": "light", "area_m2": 250}),
        json!({"storey": "Second", "access_windows": [{"days": ["saturday"], "from": "08:00", "to": "18:00"}]}),
    ] {
        app.clock().advance(TimeDelta::minutes(10));
        versions.push(admin.patch(&path, "*", &change).await.must(200).json());
        moments.push(app.now());
    }
    for (number, (version, moment)) in (1..).zip(versions.iter().zip(&moments)) {
        let then = was(format!("?version={number}")).await.must(200);
        assert_eq!(said(&then.json()), said(version), "version {number}");
        assert_eq!(then.etag(), format!("\"{number}.json\""));
        let later = *moment + TimeDelta::minutes(5);
        let later = later.to_rfc3339_opts(SecondsFormat::Secs, true);
        let then = was(format!("?at={later}")).await.must(200).json();
        assert_eq!(said(&then), said(version), "at {later}");
        assert_eq!(then["version"], number);
    }
    // Before it was registered there was none, and neither is there a version that is still to come.
    was("?at=2001-01-01T00:00:00Z".to_owned())
        .await
        .problem(404, "not_found");
    was("?version=5".to_owned()).await.problem(404, "not_found");
    was("?version=1&at=2026-01-01T00:00:00Z".to_owned())
        .await
        .problem(422, "parameter_out_of_range");
}
