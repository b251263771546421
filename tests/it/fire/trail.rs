//! How long it is kept who did what: the trail is cut off by its owner, says so itself, and still shows what was changed.

use std::process::{Command, Output};

use serde_json::json;
use tests::{
    app::{NORTH, TestApp},
    ground::hours_ago,
};

use super::PROGRAM;

/// Runs the program on an app's database, as its owner.
fn run(app: &TestApp, arguments: [&str; 2], days: Option<&str>) -> Output {
    let database = app.database();
    let mut command = Command::new(PROGRAM);
    command
        .env_clear()
        .args(["audit", arguments[0], arguments[1]]);
    command.env("WEARCOURSE_DATABASE_URL", &database.url);
    if let Some(owner) = &database.owner_url {
        command.env("WEARCOURSE_DATABASE_OWNER_URL", owner);
    }
    if let Some(days) = days {
        command.env("WEARCOURSE_AUDIT_DAYS", days);
    }
    command.output().unwrap()
}

#[tokio::test]
async fn o_12_a_trail_is_cut_off_at_its_age_and_verifies_from_there() {
    let app = TestApp::start().await;
    // Twenty rows of long ago and ten of today, by the clock that the program has.
    for (moment, n_rows) in [(hours_ago(24 * 2_000), 20), (hours_ago(0), 10)] {
        app.clock().set(moment);
        let admin = app.admin();
        for n in 0..n_rows {
            let body = json!({"name": format!("Crew {n}")});
            let _made = admin.post("/v1/contractors", &body).await.must(201);
        }
    }
    let prune = |days| run(&app, ["prune", NORTH], days);
    let verify = || run(&app, ["verify", NORTH], None).status.success();
    let count = async |rows: &str| {
        app.ask(&format!("SELECT CAST(COUNT(*) AS text) FROM {rows}"))
            .await
    };
    // Nothing is old enough, and without a limit nothing is forgotten.
    assert!(prune(Some("3000")).status.success());
    assert_eq!(prune(None).status.code(), Some(2));
    assert_eq!(count("audit").await, "30");
    let done = prune(Some("90"));
    assert!(done.status.success(), "{done:?}");
    assert_eq!(count("audit WHERE number <= 20").await, "0");
    assert_eq!(count("audit").await, "11");
    assert!(verify(), "what is left verifies");
    // It goes on behind the cut.
    let _made = app
        .admin()
        .post("/v1/contractors", &json!({"name": "Crew"}))
        .await
        .must(201);
    assert!(verify());
    // The control: rows that are gone without the trail's saying so, and a cut that was changed, are found.
    let restore = "UPDATE audit SET operation = 'cutAudit' WHERE operation = 'nothing'";
    app.execute("UPDATE audit SET operation = 'nothing' WHERE operation = 'cutAudit'")
        .await
        .unwrap();
    assert!(!verify());
    app.execute(restore).await.unwrap();
    assert!(verify());
    app.execute("DELETE FROM audit WHERE number = 21")
        .await
        .unwrap();
    assert!(!verify());
}
