//! No writer overwrites what another has written: of two that change the same version at once, one is told so.

use futures_util::future::join;
use reqwest::Method;
use serde_json::json;
use tests::{
    app::TestApp,
    build,
    client::{Answer, Caller},
    read,
};

use super::operation::{Estate, Operation, guarded};

/// How often two writers meet on each operation that may be done again and again, and on each that may be done once.
const ROUNDS: usize = 40;
const ROUNDS_ON_NEW: usize = 6;

/// Where a new record is that the operation may be done with: it is done once.
async fn new_record(estate: &Estate, admin: &Caller, operation: &Operation) -> String {
    let made = match operation.id {
        "acceptPlan" | "withdrawPlan" => {
            let plan = build::plan(estate.id("surface_id"));
            build::new_plan(admin, &plan).await
        }
        "disableContractorSource" => {
            let source = json!({"contractor_id": estate.id("contractor_id"), "name": "Crew app"});
            admin.post("/v1/contractor-sources", &source).await
        }
        "revokeReportLink" => {
            let link = json!({"name": "Board", "query": "last_months=12"});
            admin.post("/v1/report-links", &link).await
        }
        "revokeCompletionLink" => {
            let path = format!("/v1/plans/{}/completion-links", estate.id("plan_id"));
            admin.post(&path, &json!({})).await
        }
        "deleteFinishSynonym" => {
            let word = json!({"finish": tests::client::fresh_key(), "means": "soft"});
            admin.post("/v1/finish-synonyms", &word).await
        }
        "deleteStockItem" => {
            let path = format!("/v1/sites/{}/stock-items", estate.id("site_id"));
            admin.post(&path, &build::stock_item()).await
        }
        "deleteSubscription" => {
            let body =
                json!({"name": "Works orders", "url": "https://hooks.fm.example/wearcourse"});
            admin.post("/v1/subscriptions", &body).await
        }
        other => panic!("no record for {other}: add a case"),
    };
    let id = made.must(201).id();
    let (before, _) = operation.path.split_once('{').unwrap();
    format!("{before}{id}")
}

/// Two who have read the same version change it at once, each in his own way.
async fn meet(admin: &Caller, operation: &Operation, record: &str, turn: usize) -> [Answer; 2] {
    let tag = admin.get(record).await.must(200).etag();
    let path = match operation.path.rsplit_once('}') {
        Some((_, rest)) => format!("{record}{rest}"),
        None => record.to_owned(),
    };
    let call = |writer: usize| {
        let call = admin.call(operation.verb.clone(), &path);
        let call = call.header("If-Match", &tag);
        match operation.id {
            "changeStockItem" => call.merge_patch(&json!({"left_l": turn * 2 + writer + 1})),
            "changeBudget" => {
                let net = json!({"amount": format!("{turn}00{writer}.00"), "currency": "GBP"});
                call.merge_patch(&json!({ "net": net }))
            }
            _ if operation.verb == Method::PATCH => {
                call.merge_patch(&json!({"name": format!("Name {turn} of writer {writer}")}))
            }
            _ => call,
        }
    };
    let (one, two) = join(call(0).answer(), call(1).answer()).await;
    [one, two]
}

#[tokio::test]
async fn f_50_of_two_who_change_the_same_version_at_once_one_is_told_so() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    let changes = guarded().into_iter().filter(Operation::is_change);
    let mut n_rounds = 0;
    for operation in changes {
        let is_repeatable = operation.verb == Method::PATCH;
        let mut record = estate.path(&operation);
        let first = admin.get(&record).await;
        let version = |answer: &Answer| read::number(&answer.json(), "/version");
        let rounds = if is_repeatable { ROUNDS } else { ROUNDS_ON_NEW };
        for turn in 0..rounds {
            if !is_repeatable {
                record = new_record(&estate, &admin, &operation).await;
            }
            let place = operation.place();
            // Who names no version changes nothing.
            let blind = admin.call(operation.verb.clone(), &record);
            if is_repeatable {
                let blind = blind.merge_patch(&json!({})).answer().await;
                blind.problem(428, "precondition_required");
            }
            let answers = meet(&admin, &operation, &record, turn).await;
            let won = answers
                .iter()
                .filter(|one| (200..300).contains(&one.status));
            assert_eq!(won.count(), 1, "{place}: {answers:?}");
            // What was deleted is not there in any version.
            let told = |one: &&Answer| {
                one.status == 412 || one.status == 404 && operation.verb == Method::DELETE
            };
            assert_eq!(
                answers.iter().filter(told).count(),
                1,
                "{place}: {answers:?}"
            );
            n_rounds += 1;
        }
        if is_repeatable {
            let last = admin.get(&record).await.must(200);
            let n_changes = version(&last) - version(&first);
            // The control: had one change been lost, or had both been made, the version would say so.
            assert_eq!(
                n_changes,
                f64::from(u32::try_from(rounds).unwrap()),
                "{}",
                operation.place()
            );
        }
    }
    crate::fire::tell("F-50", &[("rounds", n_rounds), ("lost", 0)]);
}
