//! What sites have left over: registering, listing, changing, deleting, and what plans and estimates make of it.

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::{Answer, Caller},
    read,
};

/// The floor's own day in these tests: the clock stands at noon of the first of June 2026.
const TODAY: &str = "2026-06-01";

fn items(site: &str) -> String {
    format!("/v1/sites/{site}/stock-items")
}

async fn add(caller: &Caller, site: &str, change: Value) -> Answer {
    let body = with(build::stock_item(), change);
    caller.post(&items(site), &body).await.must(201)
}

/// The batches of a page.
async fn batches(caller: &Caller, path: &str) -> Vec<String> {
    let page = caller.get(path).await.must(200).json();
    let items = read::list(&page, "/items").iter();
    items
        .map(|item| read::text(item, "/batch").to_owned())
        .collect()
}

fn polish(products: &Value) -> &Value {
    read::find(products, "/products", "/class", "polish")
}

async fn delete(caller: &Caller, path: &str, version: &str) -> Answer {
    let call = caller.call(Method::DELETE, path);
    call.header("If-Match", version).answer().await
}

#[tokio::test]
async fn what_is_left_over_is_registered_read_changed_and_deleted() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let opened = json!({
        "opened": true, "opened_on": "2026-05-12", "open_keeps_days": 30, "left_l": 3.2, "expires_on": "2027-03-31"
    });
    let made = add(&admin, &site, opened).await;
    let path = made.header("Location").unwrap().to_owned();
    assert_eq!(path, format!("/v1/stock-items/{}", made.id()));
    let told = made.json();
    assert_eq!(
        (&told["left_l"], &told["site_id"]),
        (&json!(3.2), &json!(site))
    );
    // Thirty days from the day of opening come before the date on the label.
    assert_eq!(told["good_until"], "2026-06-11");
    let found = admin.get(&path).await.must(200);
    assert_eq!((found.etag(), &found.body), (made.etag(), &made.body));
    let changed = admin
        .patch(&path, &made.etag(), &json!({"left_l": 1.5}))
        .await
        .must(200);
    assert_eq!(
        (changed.etag().as_str(), &changed.json()["left_l"]),
        ("\"2.json\"", &json!(1.5))
    );
    let same = admin
        .patch(&path, "*", &json!({"left_l": 1.5}))
        .await
        .must(200);
    assert_eq!(same.etag(), changed.etag());
    let other = admin
        .patch(&path, "*", &json!({"product": "stripper_alkaline"}))
        .await;
    other.problem(422, "invalid_body");
    assert_eq!(
        other.faults(),
        [("#/product".to_owned(), "read_only".to_owned())]
    );
    delete(&admin, &path, "\"1.json\"")
        .await
        .problem(412, "stale_version");
    let bare = admin.call(Method::DELETE, &path).answer().await;
    bare.problem(428, "precondition_required");
    let gone = delete(&admin, &path, "\"2.json\"").await.must(204);
    assert!(gone.body.is_empty() && gone.header("Content-Type").is_none());
    admin.get(&path).await.problem(404, "not_found");
    delete(&admin, &path, "*").await.problem(404, "not_found");
    let tx = app.store().read(app.tenant("north")).await.unwrap();
    let events = tx.outbox().list(100).await.unwrap();
    let kinds: Vec<_> = events
        .iter()
        .filter(|event| event.subject == made.id())
        .map(|event| event.kind.as_str())
        .collect();
    let expected = ["registered", "changed", "deleted"];
    assert_eq!(
        kinds,
        expected.map(|what| format!("wearcourse.stock_item.{what}.v1"))
    );
}

#[tokio::test]
async fn every_fault_of_what_is_left_over_is_told_at_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let faults = async |body: Value| {
        let refused = admin.post(&items(&site), &body).await;
        refused.problem(422, "invalid_body");
        refused.faults()
    };
    let told = |list: &[(&str, &str)]| -> Vec<(String, String)> {
        let pair = |(place, code): &(&str, &str)| ((*place).to_owned(), (*code).to_owned());
        list.iter().map(pair).collect()
    };
    let form = json!({"left_l": 0, "expires_on": "soon", "shelf": "B4"});
    assert_eq!(
        faults(form).await,
        told(&[
            ("#/expires_on", "format"),
            ("#/expires_on", "pattern"),
            ("#/left_l", "minimum"),
            ("#/product", "required"),
            ("#/shelf", "unknown_member"),
        ])
    );
    let sealed =
        json!({"product": "no_such_polish", "pack_l": 5, "left_l": 12, "opened_on": "2026-06-02"});
    assert_eq!(
        faults(sealed).await,
        told(&[
            ("#/left_l", "not_whole_packs"),
            ("#/opened_on", "in_future"),
            ("#/opened_on", "not_opened"),
            ("#/product", "unknown_product"),
        ])
    );
    let open = json!({
        "product": "polish_emulsion", "pack_l": 5, "left_l": 5.001, "opened": true, "open_keeps_days": 30
    });
    assert_eq!(
        faults(open).await,
        told(&[
            ("#/left_l", "more_than_a_pack"),
            ("#/opened_on", "required")
        ])
    );
}

#[tokio::test]
async fn a_list_is_narrowed_by_product_and_date_and_paged_to_its_end() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    for (product, batch, expires) in [
        ("polish_emulsion", "A", json!("2026-08-31")),
        ("polish_emulsion", "B", json!("2027-01-31")),
        ("stripper_alkaline", "C", json!("2026-08-31")),
        ("polish_emulsion", "D", Value::Null),
    ] {
        let change = json!({"product": product, "batch": batch, "expires_on": expires});
        let _made = add(&admin, &site, change).await;
    }
    let path = items(&site);
    assert_eq!(batches(&admin, &path).await, ["A", "B", "C", "D"]);
    let narrowed = async |query: &str| batches(&admin, &format!("{path}?{query}")).await;
    assert_eq!(narrowed("product=polish_emulsion").await, ["A", "B", "D"]);
    assert_eq!(narrowed("expires_by=2026-08-31").await, ["A", "C"]);
    assert_eq!(narrowed("expires_by=2026-08-30").await, [""; 0]);
    assert_eq!(
        narrowed("product=polish_emulsion&expires_by=2099-12-31").await,
        ["A", "B"]
    );
    let page = admin.get(&format!("{path}?limit=3")).await.must(200).json();
    let cursor = read::text(&page, "/next_cursor").to_owned();
    assert_eq!(narrowed(&format!("limit=3&cursor={cursor}")).await, ["D"]);
    let bad = admin.get(&format!("{path}?expires_by=soon")).await;
    bad.problem(400, "invalid_parameter");
    let far = admin.get(&format!("{path}?expires_by=2400-01-01")).await;
    far.problem(422, "parameter_out_of_range");
    let south = app.admin_of(SOUTH);
    south.get(&path).await.problem(404, "not_found");
}

#[tokio::test]
async fn a_plan_uses_what_is_good_on_its_day_and_says_what_it_leaves_out_and_why() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let before = build::new_plan(&admin, &build::plan(&surface)).await.json();
    assert!(polish(&before["work"])["stock"].is_null());
    assert_eq!(before["planned_on"], TODAY);
    for change in [
        json!({"batch": "expired", "expires_on": "2026-05-31"}),
        json!({"batch": "today", "expires_on": TODAY, "left_l": 5, "pack_l": 5}),
        json!({"batch": "open too long", "opened": true, "opened_on": "2026-01-01", "open_keeps_days": 90, "left_l": 2}),
        json!({"batch": "elsewhere", "product": "stripper_alkaline", "expires_on": null}),
    ] {
        let _made = add(&admin, &site, change).await;
    }
    let after = build::new_plan(&admin, &build::plan(&surface)).await.json();
    let line = polish(&after["work"]);
    let list = |line: &Value, name: &str, member: &str| -> Vec<String> {
        let rows = read::list(&line["stock"], name).iter();
        rows.map(|row| read::text(row, member).to_owned()).collect()
    };
    assert_eq!(list(line, "/taken", "/batch"), ["today"]);
    assert_eq!(line["stock"]["taken_l"], 5.0);
    assert_eq!(
        list(line, "/not_counted", "/batch"),
        ["expired", "open too long"]
    );
    assert_eq!(
        list(line, "/not_counted", "/reason"),
        ["expired", "open_too_long"]
    );
    // What is bought holds what is needed and not taken; the rest of it is left, and is told with its value.
    let bare = polish(&before["work"]);
    assert_eq!(line["total_l"], bare["total_l"]);
    let left = read::number(line, "/ordered_l") + 5.0 - read::number(line, "/total_l");
    assert!(
        (read::number(line, "/surplus_l") - left).abs() < 0.001_5,
        "{line:#}"
    );
    assert!(read::number(line, "/ordered_l") < read::number(bare, "/ordered_l"));
    let net = |plan: &Value| -> f64 {
        read::text(&plan["work"], "/cost/net/amount")
            .parse()
            .unwrap()
    };
    assert!(net(&after) < net(&before));
    let basis = read::find(&after["work"], "/basis", "/id", "stock.polish_emulsion");
    assert_eq!(basis["result"], 5.0);
    // A day later nothing of it is good, and what is planned with says so.
    let tomorrow = with(build::plan(&surface), json!({"planned_on": "2026-06-02"}));
    let late = build::new_plan(&admin, &tomorrow).await.json();
    assert_eq!(late["planned_on"], "2026-06-02");
    assert_eq!(list(polish(&late["work"]), "/taken", "/batch"), [""; 0]);
    assert_eq!(polish(&late["work"])["price"], bare["price"]);
    let past = with(build::plan(&surface), json!({"planned_on": "2026-05-31"}));
    let past = admin.post("/v1/plans", &past).await;
    past.problem(422, "invalid_body");
    assert_eq!(
        past.faults(),
        [("#/planned_on".to_owned(), "in_past".to_owned())]
    );
}

#[tokio::test]
async fn an_estimate_uses_what_is_left_over_once_and_takes_nothing_of_it() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    for name in ["Corridor 1", "Corridor 2"] {
        let floor = with(build::surface(&site), json!({"name": name}));
        let _floor = build::new_surface(&admin, &floor).await;
    }
    let make = async || {
        let made = admin.post("/v1/estimates", &build::estimate(&site)).await;
        made.must(201).json()
    };
    let before = make().await;
    let item = add(
        &admin,
        &site,
        json!({"left_l": 15, "pack_l": 5, "expires_on": "2026-12-31"}),
    )
    .await;
    let after = make().await;
    let line = polish(&after);
    assert_eq!(line["stock"]["taken_l"], 15.0);
    let taken = &line["stock"]["taken"][0];
    assert_eq!(
        (&taken["stock_item_id"], &taken["left_l"]),
        (&json!(item.id()), &json!(0.0))
    );
    let net =
        |estimate: &Value| -> f64 { read::text(estimate, "/cost/net/amount").parse().unwrap() };
    assert!(net(&after) < net(&before));
    assert_eq!(after["apart_net"], before["apart_net"]);
    // It reads only: the same again counts on the same litres.
    let path = format!("/v1/stock-items/{}", item.id());
    assert_eq!(admin.get(&path).await.must(200).body, item.body);
    assert_eq!(polish(&make().await)["stock"], line["stock"]);
}

#[tokio::test]
async fn a_product_of_the_tenants_own_can_be_left_over_too() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let _made = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let own = json!({"product": "night_polish", "left_l": 10, "pack_l": 10});
    let _item = add(&admin, &site, own).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
    let line = polish(&plan["work"]);
    assert_eq!(line["product"]["key"], "night_polish");
    assert_eq!(line["stock"]["taken_l"], 10.0);
}
