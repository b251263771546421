//! What a cell of a report is made of: the parts of its variance, the rows that it stands among, and the completions behind it.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

use super::{costs, site, work};

/// Two floors of one site, with planned, unplanned, charged, corrected and void work in three months.
async fn estate(admin: &Caller) -> (String, String) {
    let site = site(admin, json!({"rate_card": build::golden_rate_card()})).await;
    let one = build::new_surface(admin, &build::surface(&site)).await;
    let change = json!({"storey": "3", "material": "vinyl_sheet"});
    let two = build::new_surface(admin, &with(build::surface(&site), change)).await;
    let plan = build::new_plan(admin, &build::plan(&one)).await.id();
    let crew = build::new_contractor(admin).await;
    let half = json!({"plan_id": plan, "area_m2": 120, "contractor_id": crew});
    work(admin, &one, "2026-02-10", half.clone()).await;
    let billed = json!({"charged": build::pounds("612.40")});
    work(admin, &one, "2026-02-11", with(half, billed)).await;
    work(
        admin,
        &two,
        "2026-04-11",
        json!({"process": "scrub_and_recoat"}),
    )
    .await;
    let wrong = work(admin, &two, "2026-04-12", json!({})).await;
    let path = format!("/v1/completions/{}/supersede", read::text(&wrong, "/id"));
    let right = with(build::completion(&two), json!({"area_m2": 30}));
    let _done = admin.record(&path, &right).await.must(201);
    let void = work(admin, &two, "2026-04-13", json!({})).await;
    let path = format!("/v1/completions/{}/void", read::text(&void, "/id"));
    let reason = json!({"reason": "Reported for the wrong night."});
    let _done = admin.record(&path, &reason).await.must(200);
    (site, crew)
}

const PARTS: [&str; 5] = [
    "price",
    "quantity",
    "productivity",
    "overheads",
    "unplanned",
];

#[tokio::test]
async fn the_parts_of_a_variance_add_up_to_it_in_every_row() {
    let app = TestApp::start().await;
    let admin = app.admin();
    estate(&admin).await;
    let mut told_apart = 0;
    for groups in [
        "month",
        "surface,month",
        "stage",
        "product_class",
        "contractor,process",
    ] {
        let told = costs(&admin, &format!("group_by={groups}")).await;
        let rows = read::list(&told, "/rows").iter();
        for row in rows.chain(read::list(&told, "/totals")) {
            if row["variance_net"] == Value::Null {
                assert_eq!(row["variance_parts"], Value::Null);
                continue;
            }
            let parts = PARTS.map(|part| read::cents(row, &format!("/variance_parts/{part}")));
            assert_eq!(
                parts.iter().sum::<i64>(),
                read::cents(row, "/variance_net"),
                "{row:#}"
            );
            let actual = read::cents(row, "/actual/net") - read::cents(row, "/planned/net");
            assert_eq!(read::cents(row, "/variance_net"), actual, "{row:#}");
            told_apart += 1;
        }
    }
    assert!(told_apart > 10, "{told_apart}");
}

/// Standard costing, as textbooks of cost accounting have it (from memory): hours beyond the plan at the planned rate.
#[tokio::test]
async fn hours_beyond_the_plan_count_at_the_planned_rate() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let card = with(build::golden_rate_card(), json!({"allowance_pct": 0}));
    let site = site(&admin, json!({"rate_card": card})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    work(&admin, &surface, "2026-04-10", json!({"plan_id": plan})).await;
    let told = costs(&admin, "group_by=stage").await;
    for stage in ["prepare", "protect"] {
        let row = read::find(&told, "/rows", "/stage", stage);
        let beyond = read::number(row, "/actual_hours") - read::number(row, "/planned_hours");
        let found = read::cents(row, "/variance_parts/productivity");
        let money = (beyond * 1_650.0).round();
        // Lines are rounded to the cent, one for each stage; hours are told to the third of a second.
        assert!(
            (f64::from(i32::try_from(found).unwrap()) - money).abs() <= 1.0,
            "{stage}: {found} for {money}"
        );
        assert!(beyond.abs() > 0.1, "{stage}");
    }
}

#[tokio::test]
async fn a_month_without_anything_is_a_row_of_zeros() {
    let app = TestApp::start().await;
    let admin = app.admin();
    estate(&admin).await;
    let months = async |query: &str| {
        let told = costs(&admin, query).await;
        read::list(&told, "/rows")
            .iter()
            .map(|row| {
                (
                    read::text(row, "/month").to_owned(),
                    read::number(row, "/n_completions"),
                )
            })
            .collect::<Vec<_>>()
    };
    let of = |month: &str, n: f64| (format!("2026-{month}"), n);
    let all = [
        of("01", 0.0),
        of("02", 2.0),
        of("03", 0.0),
        of("04", 1.0),
        of("05", 1.0),
        of("06", 0.0),
    ];
    assert_eq!(months("group_by=month").await, all);
    let full = [of("02", 2.0), of("04", 1.0), of("05", 1.0)];
    assert_eq!(months("group_by=month&skip_empty=true").await, full);
    let told = costs(&admin, "group_by=storey,quarter").await;
    let rows: Vec<_> = read::list(&told, "/rows")
        .iter()
        .map(|row| (read::text(row, "/storey"), read::text(row, "/quarter")))
        .collect();
    assert_eq!(
        rows,
        [
            ("2", "2026-Q1"),
            ("2", "2026-Q2"),
            ("3", "2026-Q1"),
            ("3", "2026-Q2")
        ]
    );
    let told = costs(&admin, "group_by=year").await;
    let year = &read::list(&told, "/rows")[0];
    assert_eq!(read::text(year, "/year"), "2026");
    // Half a year: what it cost comes twice in a whole one.
    let by_year = 2 * read::cents(year, "/actual/net");
    assert_eq!(read::number(year, "/floor_m2"), 480.0);
    let per_m2 = read::cents(year, "/actual_per_m2_year");
    assert!(
        (480 * per_m2 - by_year).abs() <= 240,
        "{per_m2} of {by_year}"
    );
}

#[tokio::test]
async fn the_first_rows_and_the_rest_add_up_to_the_total() {
    let app = TestApp::start().await;
    let admin = app.admin();
    estate(&admin).await;
    for by in ["actual_net", "area_m2", "variance_net", "voc_g"] {
        let told = costs(&admin, &format!("group_by=month,process&top=1&top_by={by}")).await;
        let rows = read::list(&told, "/rows");
        let is_other: Vec<_> = rows.iter().map(|row| row["is_other"].clone()).collect();
        assert_eq!(is_other, [json!(false), json!(true)], "{by}");
        assert_eq!(
            (rows[1].get("month"), &rows[1]["floor_m2"]),
            (None, &Value::Null)
        );
        let sum = |pointer| {
            rows.iter()
                .map(|row| read::cents(row, pointer))
                .sum::<i64>()
        };
        for pointer in ["/actual/net", "/actual/tax", "/committed/net"] {
            assert_eq!(
                sum(pointer),
                read::cents(&told["totals"][0], pointer),
                "{by}"
            );
        }
    }
    let path = "/v1/reports/costs?last_months=120&group_by=process&top=1&format=csv";
    let table = admin.get(path).await.must(200).text();
    assert!(table.starts_with("process,is_other,currency,"), "{table}");
}

/// The filters that ask for what stands behind a row.
fn cell(row: &Value) -> String {
    let told = row.as_object().unwrap();
    let mut filters = format!("currency={}", read::text(row, "/currency"));
    for name in [
        "surface_id",
        "contractor_id",
        "stage",
        "product_class",
        "process",
        "storey",
        "material",
    ] {
        if let Some(value) = told.get(name) {
            filters = format!("{filters}&{name}={}", value.as_str().unwrap_or("none"));
        }
    }
    match told.get("month").and_then(Value::as_str) {
        Some(month) => {
            let (year, n) = month.split_once('-').unwrap();
            let next: u32 = n.parse::<u32>().unwrap() + 1;
            format!("{filters}&from={month}&to={year}-{next:02}")
        }
        None => format!("{filters}&from=2026-01&to=2026-07"),
    }
}

#[tokio::test]
async fn the_completions_behind_a_cell_add_up_to_it() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (_, crew) = estate(&admin).await;
    let mut n_cells = 0;
    for groups in [
        "month",
        "surface,process",
        "stage",
        "product_class,stage",
        "contractor",
        "storey,material",
    ] {
        let told = costs(&admin, &format!("group_by={groups}&skip_empty=true")).await;
        for row in read::list(&told, "/rows") {
            let mut path = format!("/v1/reports/costs/completions?limit=1&{}", cell(row));
            let first = path.clone();
            let mut found: Vec<Value> = Vec::new();
            loop {
                let page = admin.get(&path).await.must(200).json();
                found.extend_from_slice(read::list(&page, "/items"));
                match page["next_cursor"].as_str() {
                    Some(cursor) => path = format!("{first}&cursor={cursor}"),
                    None => break,
                }
            }
            let n = read::number(row, "/n_completions");
            assert_eq!(f64::from(u32::try_from(found.len()).unwrap()), n, "{path}");
            for pointer in ["/actual/net", "/actual/tax"] {
                let sum: i64 = found.iter().map(|item| read::cents(item, pointer)).sum();
                assert_eq!(sum, read::cents(row, pointer), "{groups}: {path}");
            }
            let litres: f64 = found
                .iter()
                .map(|item| read::number(item, "/actual_l"))
                .sum();
            assert!(
                (litres - read::number(row, "/actual_l")).abs() < 1e-9,
                "{path}"
            );
            n_cells += 1;
        }
    }
    assert!(n_cells > 15, "{n_cells}");
    let path =
        format!("/v1/reports/costs/completions?last_months=12&contractor_id={crew}&stage=prepare");
    let page = admin.get(&path).await.must(200).json();
    for item in read::list(&page, "/items") {
        let id = read::text(item, "/completion_id");
        let _done = admin.get(&format!("/v1/completions/{id}")).await.must(200);
    }
    let too_long = "/v1/reports/costs/completions?from=2025-01&to=2026-07";
    admin
        .get(too_long)
        .await
        .problem(422, "parameter_out_of_range");
}

/// Ours: a floor that is stripped in two halves is done once; what goes beyond the whole floor within the days is done again.
#[tokio::test]
async fn what_is_done_again_too_soon_is_rework() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let half = json!({"area_m2": 120});
    for day in ["2026-01-20", "2026-01-21", "2026-02-05", "2026-04-20"] {
        work(&admin, &surface, day, half.clone()).await;
    }
    // Other work, and the same work whole after a long time.
    work(
        &admin,
        &surface,
        "2026-02-06",
        json!({"process": "scrub_and_recoat"}),
    )
    .await;
    work(&admin, &surface, "2026-05-10", json!({})).await;
    let told = async |query: &str| {
        let told = costs(&admin, query).await;
        let of = |row: &Value| {
            (
                read::number(row, "/rework_m2"),
                read::number(row, "/rework_share"),
            )
        };
        (
            read::list(&told, "/rows")
                .iter()
                .map(of)
                .collect::<Vec<_>>(),
            of(&told["totals"][0]),
        )
    };
    let (rows, total) = told("group_by=month&skip_empty=true&rework_days=30").await;
    // February: 120 of 360, for the floor was whole. May: 120 + 240 - 240 of 240.
    assert_eq!(
        rows,
        [(0.0, 0.0), (120.0, 0.3333), (0.0, 0.0), (120.0, 0.5)]
    );
    assert_eq!(total, (240.0, 0.25), "of 960");
    let (rows, total) = told("group_by=process,storey&rework_days=30").await;
    assert_eq!(rows.iter().map(|row| row.0).sum::<f64>(), total.0);
    let (_, total) = told("group_by=site&rework_days=7").await;
    assert_eq!(total, (0.0, 0.0), "nothing within a week");
    let path = "/v1/reports/costs?last_months=12&group_by=site&rework_days=30&format=csv";
    assert!(
        admin
            .get(path)
            .await
            .must(200)
            .text()
            .contains(",area_m2,rework_m2,rework_share,planned_net,")
    );
    assert_eq!(
        costs(&admin, "group_by=site").await["rows"][0].get("rework_m2"),
        None
    );
}
