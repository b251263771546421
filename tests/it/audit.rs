//! The audit trail: one row for each thing that somebody did, and a chain that anybody can verify.

use futures_util::future::join_all;
use reqwest::Method;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build,
    client::Caller,
    inbound::{Sender, event},
    read,
};

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        write!(text, "{byte:02x}").unwrap();
        text
    })
}

async fn trail(caller: &Caller) -> Vec<Value> {
    let page = caller.get("/v1/audit?limit=200").await.must(200).json();
    assert_eq!(page["next_cursor"], Value::Null);
    page["items"].as_array().unwrap().clone()
}

/// Operation and resource of the last row.
async fn last(caller: &Caller) -> (usize, String, String, Value) {
    let rows = trail(caller).await;
    let row = rows.last().unwrap().clone();
    let text = |name: &str| row[name].as_str().unwrap().to_owned();
    (rows.len(), text("operation"), text("resource"), row.clone())
}

/// The hash of a row by the words of DEVELOPERS.md, written down a second time.
fn hash(app: &TestApp, before: &str, row: &Value) -> String {
    let mut bytes = b"wearcourse audit 1".to_vec();
    let mut add = |part: Option<&[u8]>| {
        let length = part.map_or(u64::MAX, |part| u64::try_from(part.len()).unwrap());
        bytes.extend(length.to_be_bytes());
        bytes.extend(part.unwrap_or_default());
    };
    let at = row["at"].as_str().unwrap();
    let at: chrono::DateTime<chrono::Utc> = at.parse().unwrap();
    add(Some(app.tenant(NORTH).uuid().as_bytes()));
    add(Some(before.as_bytes()));
    add(Some(&row["number"].as_i64().unwrap().to_be_bytes()));
    add(Some(&at.timestamp_millis().to_be_bytes()));
    let names = [
        "client",
        "subject",
        "before_hash",
        "after_hash",
        "operation",
        "resource",
    ];
    for name in names {
        add(row[name].as_str().map(str::as_bytes));
    }
    hex(&Sha256::digest(&bytes))
}

#[track_caller]
fn is_whole(app: &TestApp, rows: &[Value]) {
    let mut before = String::new();
    for (row, number) in rows.iter().zip(1..) {
        assert_eq!(row["number"], number);
        assert_eq!(row["hash"], hash(app, &before, row), "{row}");
        row["hash"].as_str().unwrap().clone_into(&mut before);
    }
}

#[tokio::test]
async fn s_131_what_is_done_is_written_down_once_and_what_is_refused_is_not() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let made = admin
        .post_keyed("/v1/sites", "k-1", &build::site())
        .await
        .must(201);
    let path = format!("/v1/sites/{}", made.id());
    let (n, operation, resource, row) = last(&admin).await;
    assert_eq!(
        (n, operation.as_str(), &resource),
        (1, "registerSite", &path)
    );
    assert_eq!(
        (&row["client"], &row["subject"]),
        (&json!("tests"), &json!("tester"))
    );
    assert_eq!(row["after_hash"], hex(&Sha256::digest(&made.body)));
    assert_eq!(row.get("before_hash"), None);
    // A repeat, and everything that is refused, does nothing.
    let _again = admin
        .post_keyed("/v1/sites", "k-1", &build::site())
        .await
        .must(201);
    let reader = app.as_(NORTH, &["sites:read", "audit:read"]);
    let tag = made.etag();
    let change = json!({"name": "Another"});
    admin
        .patch(&path, "\"9.json\"", &change)
        .await
        .problem(412, "stale_version");
    reader
        .patch(&path, &tag, &change)
        .await
        .problem(403, "insufficient_scope");
    app.admin_of(SOUTH)
        .patch(&path, "*", &change)
        .await
        .problem(404, "not_found");
    admin
        .post("/v1/sites", &json!({"name": ""}))
        .await
        .problem(422, "invalid_body");
    assert_eq!(trail(&admin).await.len(), 1);
    // A change says what was there before.
    let changed = admin.patch(&path, &tag, &change).await.must(200);
    let (n, operation, resource, row) = last(&admin).await;
    assert_eq!((n, operation.as_str(), &resource), (2, "changeSite", &path));
    assert_eq!(row["before_hash"], hex(&Sha256::digest(&made.body)));
    assert_eq!(row["after_hash"], hex(&Sha256::digest(&changed.body)));
    // A deletion leaves nothing behind.
    let items = format!("{path}/stock-items");
    let item = admin.post(&items, &build::stock_item()).await.must(201);
    let item_path = format!("/v1/stock-items/{}", item.id());
    let delete = admin
        .call(Method::DELETE, &item_path)
        .header("If-Match", "*");
    let _gone = delete.answer().await.must(204);
    let (n, operation, resource, row) = last(&admin).await;
    assert_eq!(
        (n, operation.as_str(), &resource),
        (4, "deleteStockItem", &item_path)
    );
    assert_eq!(row["before_hash"], hex(&Sha256::digest(&item.body)));
    assert_eq!(row.get("after_hash"), None);
    assert_eq!(
        trail(&app.admin_of(SOUTH)).await.len(),
        0,
        "others see none of it"
    );
    let found = admin
        .get(&format!("/v1/audit?resource={path}&operation=changeSite"))
        .await;
    assert_eq!(found.json()["items"].as_array().unwrap().len(), 1);
    is_whole(&app, &trail(&admin).await);
}

#[tokio::test]
async fn s_131_secrets_exports_and_what_contractors_send_are_written_down() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let contractor = build::new_contractor(&admin).await;
    let sender = Sender::new(&app, &admin, &contractor).await;
    let source = format!("/v1/contractor-sources/{}", sender.id);
    let (_, operation, resource, row) = last(&admin).await;
    assert_eq!(
        (operation.as_str(), &resource),
        ("makeContractorSource", &source)
    );
    assert_eq!(row.get("after_hash"), None, "not even the hash of a secret");
    let csv = "/v1/reports/costs?from=2026-05&to=2026-06&format=csv";
    let _table = admin.get(csv).await.must(200);
    let (n, operation, ..) = last(&admin).await;
    assert_eq!((n, operation.as_str()), (3, "reportCosts"));
    let _figures = admin
        .get("/v1/reports/costs?from=2026-05&to=2026-06")
        .await
        .must(200);
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let before = trail(&admin).await.len();
    let data = build::with(
        build::completion(&surface),
        json!({"external": {"system": "crew", "id": "1"}}),
    );
    let reported = event("completion.reported", 0, &data);
    for _ in 0..2 {
        let taken = sender.send(&app, "evt-1", &reported).await.must(200).json();
        let completion = format!("/v1/completions/{}", read::text(&taken, "/completion_id"));
        let (n, operation, resource, row) = last(&admin).await;
        assert_eq!((n, operation.as_str()), (before + 1, "takeEvent"));
        assert_eq!(resource, completion);
        assert_eq!(
            (&row["client"], &row["subject"]),
            (&json!(sender.id), &json!(contractor))
        );
    }
    let forged = sender
        .unsigned(&sender.path, &reported.to_string())
        .answer()
        .await;
    forged.problem(401, "not_proven");
    let rows = trail(&admin).await;
    assert_eq!(rows.len(), before + 1);
    is_whole(&app, &rows);
}

#[tokio::test]
async fn o_10_many_who_write_at_once_make_one_chain() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let writes = (0..24).map(|n| {
        let (admin, body) = (admin.clone(), json!({"name": format!("Crew {n}")}));
        async move { admin.post("/v1/contractors", &body).await.must(201) }
    });
    let _made = join_all(writes).await;
    let rows = trail(&admin).await;
    assert_eq!(rows.len(), 24);
    is_whole(&app, &rows);
    // The control: a row that is changed behind the service's back breaks it.
    let changed = "UPDATE audit SET subject = 'somebody else' WHERE number = 7";
    app.execute(changed).await.unwrap();
    let rows = trail(&admin).await;
    assert_ne!(
        rows[6]["hash"],
        hash(&app, rows[5]["hash"].as_str().unwrap(), &rows[6])
    );
}
