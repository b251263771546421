//! Reports that are not recorded, each with every reason.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
};

use super::Corridor;

#[tokio::test]
async fn every_fault_of_a_completion_is_told_at_once() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let refused = corridor.report(json!({
        "process": "no_such", "finished_at": "2026-05-11T20:00:00Z", "area_m2": 241,
        "labour": [{"stage": "prepare", "hours": 1}], "contractor_id": "con_0193e8a0-0000-7000-8000-00000000dead",
        "products": [{"product": "moonshine", "volume_l": 1}], "charged": {"amount": "1.005", "currency": "EUR"},
    })).await;
    refused.problem(422, "invalid_body");
    let faults = refused.faults();
    for place in [
        "#/process",
        "#/finished_at",
        "#/area_m2",
        "#/contractor_id",
        "#/products/0/product",
        "#/charged/currency",
    ] {
        assert!(
            faults.iter().any(|(found, _)| found == place),
            "{place}: {faults:?}"
        );
    }
    for (change, place) in [
        (
            json!({"labour": [{"stage": "sweep", "hours": 1}]}),
            "#/labour/0/stage",
        ),
        (
            json!({"labour": [{"stage": "prepare", "hours": -1}]}),
            "#/labour/0/hours",
        ),
        (json!({"surface_ph": 15}), "#/surface_ph"),
        (json!({"started_at": "2026-05-11"}), "#/started_at"),
        (
            json!({"started_at": "2026-06-03T00:00:00Z", "finished_at": "2026-06-03T01:00:00Z"}),
            "#/started_at",
        ),
        (
            json!({"finished_at": "2026-05-26T20:00:00Z"}),
            "#/finished_at",
        ),
        (json!({"operative_ref": ""}), "#/operative_ref"),
    ] {
        let refused = corridor.report(change.clone()).await;
        refused.problem(422, "invalid_body");
        assert!(
            refused.faults().iter().any(|(found, _)| found == place),
            "{change}: {}",
            refused.text()
        );
    }
}

#[tokio::test]
async fn a_plan_of_another_surface_is_flagged_and_one_without_work_refused() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let admin = &corridor.admin;
    let other = build::new_surface(admin, &build::surface(&corridor.site)).await;
    let plan = |id: &Value| json!({"plan_id": id});
    let of_other = build::new_plan(admin, &build::plan(&other)).await.json();
    let flagged = corridor
        .report(plan(&of_other["id"]))
        .await
        .must(201)
        .json();
    assert_eq!(flagged["deviations"][0]["code"], "other_surface");
    assert_eq!(flagged["planned_share"], 0.0, "nothing of it was done");
    let wish = json!({"goal": "restore", "process": "safety_floor_deep_clean", "limits": {"window_min": 15}});
    let workless = build::new_plan(
        admin,
        &json!({"surface_id": corridor.surface, "wish": wish}),
    )
    .await
    .json();
    assert!(workless.get("work").is_none(), "{workless:#}");
    let refused = corridor.report(plan(&workless["id"])).await;
    refused.problem(422, "invalid_body");
    let without_work = ("#/plan_id".to_owned(), "plan_without_work".to_owned());
    assert!(refused.faults().contains(&without_work));
    let refused = corridor
        .report(with(
            plan(&corridor.plan["id"]),
            json!({"process": "dust_mop"}),
        ))
        .await;
    refused.problem(422, "invalid_body");
    assert_eq!(
        refused.faults(),
        [("#/process".to_owned(), "process_of_plan_differs".to_owned())]
    );
}

#[tokio::test]
async fn s_003_what_another_tenant_owns_is_told_like_what_never_was() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let south = app.admin_of(SOUTH);
    let site = build::new_site(&south).await;
    let surface = build::new_surface(&south, &build::surface(&site)).await;
    let plan = build::new_plan(&south, &build::plan(&surface)).await.id();
    let contractor = build::new_contractor(&south).await;
    for (member, foreign) in [
        ("surface_id", surface),
        ("plan_id", plan),
        ("contractor_id", contractor),
    ] {
        let (prefix, _) = foreign.split_once('_').unwrap();
        let nobodys = format!("{prefix}_0193e8a0-0000-7000-8000-00000000dead");
        let foreign = corridor.report(json!({member: foreign})).await;
        let unknown = corridor.report(json!({member: nobodys})).await;
        foreign.problem(422, "invalid_body");
        assert_eq!(foreign.faults(), unknown.faults(), "{member}");
        assert!(
            foreign
                .faults()
                .iter()
                .any(|(_, code)| code == "reference_not_found"),
            "{}",
            foreign.text()
        );
    }
}

#[tokio::test]
async fn work_that_is_void_is_told_to_be_void_to_who_corrects_it() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let body = build::completion(&surface);
    let done = admin.record("/v1/completions", &body).await.must(201).id();
    let path = format!("/v1/completions/{done}");
    let reason = json!({"reason": "It was not done."});
    let voided = admin.record(&format!("{path}/void"), &reason).await;
    assert_eq!(voided.must(200).json()["status"], "voided");
    for (step, body) in [("supersede", &body), ("void", &reason)] {
        let refused = admin.record(&format!("{path}/{step}"), body).await;
        let told = refused.problem(409, "state_conflict");
        let detail = told["detail"].as_str().unwrap_or_default();
        assert!(detail.contains("void"), "{step}: {detail}");
    }
}
