//! Cost reports: sums of completions, never of two currencies, and safe to open in a spreadsheet.

mod cell;
mod pull;

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

async fn site(admin: &Caller, change: Value) -> String {
    admin
        .post("/v1/sites", &with(build::site(), change))
        .await
        .must(201)
        .id()
}

async fn work(admin: &Caller, surface: &str, day: &str, change: Value) -> Value {
    let body = with(
        build::completion(surface),
        json!({
            "started_at": format!("{day}T20:00:00Z"), "finished_at": format!("{day}T23:30:00Z"),
        }),
    );
    admin
        .record("/v1/completions", &with(body, change))
        .await
        .must(201)
        .json()
}

async fn costs(admin: &Caller, query: &str) -> Value {
    let path = format!("/v1/reports/costs?from=2026-01&to=2026-07&{query}");
    admin.get(&path).await.must(200).json()
}

fn net(records: &[&Value]) -> i64 {
    records
        .iter()
        .map(|record| read::cents(record, "/money/actual_net"))
        .sum()
}

#[tokio::test]
async fn a_report_is_the_sum_of_its_completions_in_every_grouping() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let one = build::new_surface(&admin, &build::surface(&site)).await;
    let change = json!({"storey": "3", "material": "vinyl_sheet"});
    let two = build::new_surface(&admin, &with(build::surface(&site), change)).await;
    let plan = build::new_plan(&admin, &build::plan(&one)).await.id();
    let a = work(&admin, &one, "2026-04-10", json!({"plan_id": plan})).await;
    let b = work(&admin, &one, "2026-05-10", json!({"area_m2": 100})).await;
    let c = work(
        &admin,
        &two,
        "2026-05-11",
        json!({"process": "scrub_and_recoat"}),
    )
    .await;
    for groups in [
        "site",
        "storey",
        "material",
        "process",
        "month",
        "storey,month",
        "surface,contractor",
        "site,storey,material,process,month",
    ] {
        let told = costs(&admin, &format!("group_by={groups}")).await;
        let rows = read::list(&told, "/rows");
        let sum: i64 = rows.iter().map(|row| read::cents(row, "/actual/net")).sum();
        assert_eq!(sum, net(&[&a, &b, &c]), "{groups}");
        assert_eq!(read::cents(&told, "/totals/0/actual/net"), sum, "{groups}");
        let area: f64 = rows.iter().map(|row| read::number(row, "/area_m2")).sum();
        assert_eq!(area, 580.0, "{groups}");
        assert_eq!(read::number(&told, "/totals/0/n_completions"), 3.0);
        assert_eq!(read::number(&told, "/totals/0/n_unplanned"), 2.0);
    }
    let by_month = costs(&admin, "group_by=month").await;
    let row = |month: &str| read::find(&by_month, "/rows", "/month", month);
    assert_eq!(read::cents(row("2026-04"), "/actual/net"), net(&[&a]));
    assert_eq!(read::cents(row("2026-05"), "/actual/net"), net(&[&b, &c]));
    let planned = read::cents(&a, "/money/planned_net");
    assert_eq!(read::cents(row("2026-04"), "/planned/net"), planned);
    assert_eq!(
        read::cents(row("2026-04"), "/variance_net"),
        net(&[&a]) - planned
    );
    assert_eq!(row("2026-05")["planned"], Value::Null);
    assert_eq!(read::number(row("2026-05"), "/actual_hours"), 45.5);
    assert_eq!(read::number(row("2026-05"), "/actual_l"), 71.4);
}

#[tokio::test]
async fn months_are_those_of_the_site_and_the_last_is_not_part_of_the_report() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let at = |from: &str, to: &str| json!({"started_at": from, "finished_at": to});
    work(
        &admin,
        &surface,
        "2026-03-31",
        at("2026-03-31T23:30:00Z", "2026-04-01T03:00:00Z"),
    )
    .await;
    let months = async |from: &str, to: &str| {
        let path = format!("/v1/reports/costs?from={from}&to={to}&group_by=month");
        let told = admin.get(&path).await.must(200).json();
        read::list(&told, "/rows")
            .iter()
            .map(|row| read::text(row, "/month").to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(months("2026-03", "2026-04").await, [""; 0]);
    assert_eq!(months("2026-04", "2026-05").await, ["2026-04"]);
}

#[tokio::test]
async fn two_currencies_are_never_added_and_another_tenants_money_is_not_there() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let mut sums = Vec::new();
    for currency in ["EUR", "GBP", "JPY"] {
        let site = site(&admin, json!({"currency": currency, "rate_card": null})).await;
        let surface = build::new_surface(&admin, &build::surface(&site)).await;
        let done = work(&admin, &surface, "2026-05-10", json!({})).await;
        sums.push((currency.to_owned(), done["money"]["actual_net"].clone()));
    }
    let told = costs(&admin, "group_by=month").await;
    let totals: Vec<(String, Value)> = read::list(&told, "/totals")
        .iter()
        .map(|total| {
            (
                read::text(total, "/currency").to_owned(),
                total["actual"]["net"].clone(),
            )
        })
        .collect();
    assert_eq!(totals, sums);
    let full = |row: &&Value| read::number(row, "/n_completions") > 0.0;
    assert_eq!(read::list(&told, "/rows").iter().filter(full).count(), 3);
    assert_eq!(
        read::list(&told, "/rows").len(),
        18,
        "each currency has its empty months"
    );
    let souths = costs(&app.admin_of(SOUTH), "group_by=month").await;
    assert_eq!(
        (&souths["rows"], &souths["totals"]),
        (&json!([]), &json!([]))
    );
}

#[tokio::test]
async fn what_was_corrected_counts_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let first = work(&admin, &surface, "2026-05-10", json!({})).await;
    let path = format!("/v1/completions/{}/supersede", read::text(&first, "/id"));
    let body = with(
        build::completion(&surface),
        json!({"labour": [{"stage": "prepare", "hours": 1}]}),
    );
    let second = admin.record(&path, &body).await.must(201).json();
    let told = costs(&admin, &format!("group_by=site&site_id={site}")).await;
    assert_eq!(read::number(&told, "/rows/0/n_completions"), 1.0);
    assert_eq!(read::cents(&told, "/rows/0/actual/net"), net(&[&second]));
}

#[tokio::test]
async fn s_112_a_table_of_costs_holds_no_formula() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let storeys = ["=1+1", "+1", "-1", "@SUM(A1)", "a\"b,c\nd", "Ground"];
    let site = site(&admin, json!({"name": "=HYPERLINK(\"x\")"})).await;
    for storey in storeys {
        let body = with(build::surface(&site), json!({"storey": storey}));
        let answer = admin.post("/v1/surfaces", &body).await;
        // A storey is one line; a name with a line break in it is refused.
        if storey.contains('\n') {
            answer.problem(422, "invalid_body");
        } else {
            work(&admin, &answer.must(201).id(), "2026-05-10", json!({})).await;
        }
    }
    let path = "/v1/reports/costs?from=2026-05&to=2026-06&group_by=site,storey&format=csv";
    let table = admin.get(path).await.must(200);
    assert!(
        table
            .header("Content-Type")
            .unwrap()
            .starts_with("text/csv")
    );
    let disposition = table.header("Content-Disposition").unwrap();
    assert!(disposition.starts_with("attachment"), "{disposition}");
    let mut reader = csv::Reader::from_reader(table.body.as_slice());
    let header = reader.headers().unwrap().clone();
    let columns: Vec<&str> = header.iter().take(4).collect();
    assert_eq!(columns, ["site_id", "site_name", "storey", "currency"]);
    let mut n = 0;
    for row in reader.records() {
        let row = row.unwrap();
        for cell in &row {
            let is_number = cell.parse::<f64>().is_ok();
            assert!(
                is_number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                "{cell}"
            );
        }
        n += 1;
    }
    assert_eq!(n, 5);
}

#[tokio::test]
async fn a_report_is_json_or_csv_as_the_caller_accepts() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let get = async |accept: &str| {
        let call = admin.call(Method::GET, "/v1/reports/costs?from=2026-05&to=2026-06");
        call.header("Accept", accept).answer().await
    };
    for (accept, media) in [
        ("application/json", "application/json"),
        ("*/*", "application/json"),
        ("text/csv", "text/csv"),
        ("text/csv;q=0.5, application/json", "application/json"),
        ("application/json;q=0.1, text/csv", "text/csv"),
    ] {
        let answer = get(accept).await.must(200);
        assert!(
            answer.header("Content-Type").unwrap().starts_with(media),
            "{accept}"
        );
    }
    get("application/pdf").await.problem(406, "not_acceptable");
}

#[tokio::test]
async fn a_report_that_cannot_be_made_is_refused_with_every_reason() {
    let app = TestApp::start().await;
    let admin = app.admin();
    for (query, places) in [
        ("", vec!["from", "to"]),
        ("from=2026-05&to=2026-05", vec!["to"]),
        ("from=2026-13&to=x", vec!["from", "to"]),
        ("from=2016-01&to=2026-02", vec!["to"]),
        (
            "from=2026-01&to=2026-02&group_by=weekday&format=pdf",
            vec!["format", "group_by"],
        ),
    ] {
        let refused = admin.get(&format!("/v1/reports/costs?{query}")).await;
        refused.problem(422, "parameter_out_of_range");
        let found: Vec<String> = refused
            .faults()
            .into_iter()
            .map(|(place, _)| place)
            .collect();
        assert_eq!(found, places, "{query}");
    }
    admin
        .get("/v1/reports/costs?from=2026-01&to=2026-02&site_id=7")
        .await
        .problem(400, "invalid_parameter");
}

/// The committed sums of a report, before tax and the tax, in cents.
fn committed(sums: &Value) -> (i64, i64) {
    (
        read::cents(sums, "/committed/net"),
        read::cents(sums, "/committed/tax"),
    )
}

#[tokio::test]
async fn what_is_accepted_and_not_done_is_committed() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
    let id = read::text(&plan, "/id");
    let whole = (
        read::cents(&plan["work"], "/cost/net"),
        read::cents(&plan["work"], "/cost/tax"),
    );
    let report = async |query: &str| {
        let path = format!("/v1/reports/costs?from=2026-01&to=2027-01&{query}");
        admin.get(&path).await.must(200).json()
    };
    assert_eq!(report("group_by=month").await["rows"], json!([]));
    let accept = admin.call(Method::POST, &format!("/v1/plans/{id}/accept"));
    let accepted = accept.header("If-Match", "*").answer().await.must(200);
    assert_eq!(read::text(&accepted.json(), "/status"), "accepted");
    for groups in [
        "month",
        "site,surface",
        "stage",
        "product_class",
        "contractor,process",
    ] {
        let told = report(&format!("group_by={groups}")).await;
        let rows = read::list(&told, "/rows");
        let sums = rows.iter().map(committed);
        let sum = sums.fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        assert_eq!(sum, whole, "{groups}");
        assert_eq!(committed(&told["totals"][0]), whole, "{groups}");
        assert_eq!(rows[0]["planned"], Value::Null, "{groups}");
    }
    let half = json!({"plan_id": id, "area_m2": 120});
    let half = work(&admin, &surface, "2026-05-10", half).await;
    let told = report("group_by=site").await;
    let left = whole.0 - read::cents(&half, "/money/planned_net");
    assert_eq!(read::cents(&told, "/totals/0/committed/net"), left);
    assert_eq!(read::cents(&told, "/totals/0/planned/net") + left, whole.0);
    work(
        &admin,
        &surface,
        "2026-05-11",
        json!({"plan_id": id, "area_m2": 120}),
    )
    .await;
    let told = report("group_by=site").await;
    assert_eq!(committed(&told["totals"][0]), (0, 0));
}

#[tokio::test]
async fn work_is_told_apart_by_stage_product_and_contractor_and_its_area_counts_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let crew = build::new_contractor(&admin).await;
    let done = work(
        &admin,
        &surface,
        "2026-05-10",
        json!({"contractor_id": crew}),
    )
    .await;
    let other = json!({"process": "scrub_and_recoat"});
    let other = work(&admin, &surface, "2026-05-11", other).await;
    for groups in ["stage", "product_class", "stage,product_class,contractor"] {
        let told = costs(&admin, &format!("group_by={groups}")).await;
        let rows = read::list(&told, "/rows");
        let sum: i64 = rows.iter().map(|row| read::cents(row, "/actual/net")).sum();
        assert_eq!(sum, net(&[&done, &other]), "{groups}");
        assert_eq!(read::number(&told, "/totals/0/area_m2"), 480.0, "{groups}");
        assert_eq!(read::number(&told, "/totals/0/n_completions"), 2.0);
    }
    let stages = costs(&admin, "group_by=stage").await;
    let prepare = read::find(&stages, "/rows", "/stage", "prepare");
    assert_eq!(read::number(prepare, "/area_m2"), 480.0);
    assert_eq!(read::number(prepare, "/actual_hours"), 28.5);
    let crews = costs(&admin, "group_by=contractor,surface").await;
    let row = read::find(&crews, "/rows", "/contractor_id", &crew);
    assert_eq!(read::text(row, "/contractor_name"), "Evening crew");
    assert_eq!(read::text(row, "/surface_id"), surface);
    assert_eq!(read::text(row, "/surface_name"), "Corridor 2.104");
    for (filter, of) in [
        (format!("contractor_id={crew}"), vec![&done]),
        ("process=scrub_and_recoat".to_owned(), vec![&other]),
        (
            "material=vinyl_composition_tile".to_owned(),
            vec![&done, &other],
        ),
    ] {
        let told = costs(&admin, &filter).await;
        assert_eq!(
            read::cents(&told, "/totals/0/actual/net"),
            net(&of),
            "{filter}"
        );
    }
    assert_eq!(costs(&admin, "material=marble").await["rows"], json!([]));
}
