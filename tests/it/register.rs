//! The register as a table: what goes out comes back and changes nothing, and of what somebody changed in it nothing is lost.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

const TABLE: &str = "text/csv";

async fn exported(caller: &Caller, site: &str, query: &str) -> String {
    let path = format!("/v1/sites/{site}/surface-table{query}");
    let answer = caller.get(&path).await.must(200);
    let kind = answer.header("Content-Type").unwrap().to_owned();
    assert_eq!(kind, "text/csv; charset=utf-8; header=present");
    answer.text()
}

fn records(table: &str) -> Vec<csv::StringRecord> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    reader.records().map(Result::unwrap).collect()
}

pub(crate) async fn surfaces(caller: &Caller, site: &str) -> Vec<Value> {
    let path = format!("/v1/surfaces?site_id={site}&limit=200");
    let page = caller.get(&path).await.must(200).json();
    read::list(&page, "/items").to_vec()
}

async fn sent_back(caller: &Caller, site: &str, table: impl Into<Vec<u8>>) -> Value {
    let query = format!("?site_id={site}&apply=true");
    let import = build::import(caller, &query, TABLE, table).await;
    assert_eq!(import["status"], "succeeded", "{import:#}");
    import
}

/// What became of each row: its outcome, and the codes of the reasons.
pub(crate) async fn fates(caller: &Caller, import: &Value) -> Vec<(String, Vec<String>)> {
    let path = format!("/v1/imports/{}/rows?limit=200", read::text(import, "/id"));
    let page = caller.get(&path).await.must(200).json();
    let fate = |row: &Value| {
        let reasons = read::list(row, "/reasons").iter();
        let codes = reasons.map(|why| read::text(why, "/code").to_owned());
        (read::text(row, "/outcome").to_owned(), codes.collect())
    };
    read::list(&page, "/items").iter().map(fate).collect()
}

pub(crate) fn fate(outcome: &str, reasons: &[&str]) -> (String, Vec<String>) {
    let reasons = reasons.iter().map(|code| (*code).to_owned());
    (outcome.to_owned(), reasons.collect())
}

/// Surfaces whose names and measures are unkind to tables.
pub(crate) fn unkind(site: &str) -> Vec<Value> {
    let outline = json!([[[0, 0], [6, 0], [6, 4], [0, 4]]]);
    let external = |system: &str, id: &str| json!({"external": {"system": system, "id": id}});
    let changes = [
        json!({"name": "=HYPERLINK(A1)", "storey": "-1"}),
        json!({"name": "'=quoted", "storey": "''+2"}),
        json!({"name": "  Two  blanks ", "storey": "Ground  floor"}),
        json!({"name": "n/a", "storey": "none"}),
        json!({"name": "Hall, \"east\"; A", "storey": "Größe"}),
        json!({"name": "No edge", "perimeter_m": null}),
        json!({"name": "Drawn", "outline": outline, "area_m2": null, "perimeter_m": null}),
        json!({"name": "Odd", "area_m2": 19.072_001, "perimeter_m": 17.333}),
        // An id of a model, in a system that a file would not name.
        external("cobie", "1xS3BCk291UvhgP2a6eflN"),
        external("ifc", "1xS3BCk291UvhgP2a6eflN"),
        external("=fm", "  =A  1 "),
        external("fm", "n/a"),
    ];
    let surface = |change| with(build::surface(site), change);
    changes.into_iter().map(surface).collect()
}

#[tokio::test]
async fn the_register_goes_out_as_a_table_and_comes_back_without_any_change() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    for surface in unkind(&site) {
        let _made = admin.post("/v1/surfaces", &surface).await.must(201);
    }
    let gone = with(
        build::surface(&site),
        json!({"name": "Gone", "retired_on": "2020-01-01"}),
    );
    let gone = build::new_surface(&admin, &gone).await;
    let ends = with(
        build::surface(&site),
        json!({"name": "Ends", "retired_on": "2099-01-01"}),
    );
    let ends = build::new_surface(&admin, &ends).await;
    let replaced = build::new_surface(&admin, &build::surface(&site)).await;
    let by = json!({"replaced_by": {"surface_id": ends, "on": "2020-01-01"}});
    let path = format!("/v1/surfaces/{replaced}");
    let _replaced = admin.patch(&path, "*", &by).await.must(200);
    let before = surfaces(&admin, &site).await;

    let table = exported(&admin, &site, "").await;
    let rows = records(&table);
    assert_eq!(rows.len(), before.len() - 2);
    assert!(!table.contains(&gone) && !table.contains(&replaced));
    assert!(table.contains(&ends));
    assert_eq!((&rows[0][4], &rows[0][5]), ("'=HYPERLINK(A1)", "'-1"));
    let is_formula = |cell: &str| cell.trim_start().starts_with(['=', '+', '-', '@']);
    assert!(rows.iter().flatten().all(|cell| !is_formula(cell)));

    let import = sent_back(&admin, &site, table.as_str()).await;
    let counts = &import["result"]["counts"];
    assert_eq!(counts["unchanged"], rows.len(), "{import:#}");
    assert_eq!(counts["total"], rows.len());
    // Not a version, not a moment, not a surface more.
    assert_eq!(surfaces(&admin, &site).await, before);
    assert_eq!(exported(&admin, &site, "").await, table);
}

#[tokio::test]
async fn what_was_changed_in_the_table_is_taken_where_the_row_is_still_of_its_surface() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let named = |id: &str| json!({"name": id, "external": {"system": "fm", "id": id}});
    let surface = |change| with(build::surface(&site), change);
    for id in ["A", "B", "C"] {
        let _made = admin
            .post("/v1/surfaces", &surface(named(id)))
            .await
            .must(201);
    }
    let _nameless = admin
        .post("/v1/surfaces", &surface(json!({"name": "D"})))
        .await
        .must(201);
    let other = build::new_site(&admin).await;
    let elsewhere = build::new_surface(&admin, &build::surface(&other)).await;
    let south = app.admin_of(SOUTH);
    let theirs = build::new_site(&south).await;
    let theirs = build::new_surface(&south, &build::surface(&theirs)).await;

    let mut lines: Vec<String> = exported(&admin, &site, "")
        .await
        .lines()
        .map(str::to_owned)
        .collect();
    let header = lines.remove(0);
    let b = records(&format!("{header}\r\n{}", lines[1]));
    let b = format!("/v1/surfaces/{}", &b[0][0]);
    let _measured = admin
        .patch(&b, "*", &json!({"area_m2": 250}))
        .await
        .must(200);
    let change = |line: &str| {
        line.replace(",240,", ",260,")
            .replace("vinyl_composition_tile", "linoleum")
    };
    let strange = |id: &str| format!("{id},1,,,E,2,240,76,linoleum");
    let table = [
        header,
        change(&lines[0]),
        change(&lines[1]),
        lines[2].clone(),
        lines[2].clone(),
        change(&lines[3]),
        strange(&elsewhere),
        strange(&theirs),
        strange("srf_x"),
    ];
    let import = sent_back(&admin, &site, table.join("\r\n")).await;
    assert_eq!(
        fates(&admin, &import).await,
        [
            fate("updated", &[]),
            fate("needs_attention", &["changed_by_both"]),
            fate("unchanged", &[]),
            fate("needs_attention", &["external_duplicate"]),
            fate("needs_attention", &["external_missing"]),
            fate("needs_attention", &["surface_unknown"]),
            fate("needs_attention", &["surface_unknown"]),
            fate("needs_attention", &["surface_unknown"]),
        ]
    );
    let after = surfaces(&admin, &site).await;
    let told = |row: &Value| (row["material"].clone(), row["area_m2"].clone());
    let tile = json!("vinyl_composition_tile");
    assert_eq!(told(&after[0]), (json!("linoleum"), json!(260.0)));
    assert_eq!(told(&after[1]), (tile.clone(), json!(250.0)));
    assert_eq!(told(&after[3]), (tile, json!(240.0)));
    assert_eq!(after.len(), 4);
    // What the survey says beside the table stays.
    assert_eq!(after[0]["film"]["coats"], 6);
    let foreign = south.get(&format!("/v1/surfaces/{theirs}")).await;
    assert_eq!(foreign.must(200).json()["version"], 1);
}

#[tokio::test]
async fn a_table_that_comes_back_does_not_stand_for_what_the_buildings_file_said() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let _first = sent_back(&admin, &site, build::ROOMS).await;
    let hall = surfaces(&admin, &site).await.remove(0);
    let path = format!("/v1/surfaces/{}", read::text(&hall, "/id"));
    let _put_right = admin
        .patch(&path, "*", &json!({"material": "linoleum"}))
        .await
        .must(200);
    let table = exported(&admin, &site, "").await;
    let _back = sent_back(&admin, &site, table).await;
    // The building's file says what it said before: that undoes nothing still.
    let import = sent_back(&admin, &site, build::ROOMS).await;
    assert_eq!(import["result"]["counts"]["unchanged"], 2, "{import:#}");
    assert_eq!(
        admin.get(&path).await.must(200).json()["material"],
        "linoleum"
    );
}

#[tokio::test]
async fn a_large_register_goes_out_page_by_page_and_by_storey() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    for part in [0..1_000, 1_000..1_900] {
        let item = |n: usize| {
            let change = json!({
                "name": format!("Room {n}"), "storey": (n % 3).to_string(),
                "external": {"system": "fm", "id": n.to_string()},
            });
            with(build::surface(&site), change)
        };
        let items: Vec<Value> = part.map(item).collect();
        let batch = json!({"mode": "atomic", "items": items});
        let _done = admin.record("/v1/surfaces/batch", &batch).await.must(200);
    }
    let rows = records(&exported(&admin, &site, "").await);
    let ids: std::collections::BTreeSet<&str> = rows.iter().map(|row| &row[3]).collect();
    assert_eq!((rows.len(), ids.len()), (1_900, 1_900));
    let second = records(&exported(&admin, &site, "?storey=2").await);
    assert_eq!(second.len(), 633);
    assert!(second.iter().all(|row| &row[5] == "2"));
    let none = exported(&admin, &site, "?storey=9").await;
    assert_eq!(none.lines().count(), 1);
    let trail = admin.get("/v1/audit?limit=200").await.must(200).json();
    let exports = read::list(&trail, "/items").iter();
    let exports = exports.filter(|row| row["operation"] == "exportSurfaceTable");
    assert_eq!(exports.count(), 3);
}

#[tokio::test]
async fn names_of_files_are_kept_in_the_form_that_lists_are_asked_in() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    // An O and the two dots above it, as some programs write an umlaut (Unicode NFD).
    let rows = "external_id,name,storey,area_m2,finish\r\nR-1,Bu\u{308}ro,O\u{308}st,20,VCT\r\n";
    let _import = sent_back(&admin, &site, rows).await;
    let path = format!("/v1/surfaces?site_id={site}&storey=%C3%96st");
    let page = admin.get(&path).await.must(200).json();
    assert_eq!(page["items"][0]["name"], "B\u{fc}ro");
}

#[tokio::test]
async fn a_row_that_has_lost_its_version_changes_nothing_and_says_so() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let named = with(
        build::surface(&site),
        json!({"external": {"system": "fm", "id": "A"}}),
    );
    let made = build::new_surface(&admin, &named).await;
    let table = exported(&admin, &site, "").await;
    let lost = table.replace(&format!("{made},1,"), &format!("{made},,"));
    assert_ne!(lost, table);
    let same = sent_back(&admin, &site, lost.as_str()).await;
    assert_eq!(fates(&admin, &same).await, [fate("unchanged", &[])]);
    let other = lost.replace(",240,", ",260,");
    let other = sent_back(&admin, &site, other).await;
    let attention = fate("needs_attention", &["changed_by_both"]);
    assert_eq!(fates(&admin, &other).await, [attention]);
    assert_eq!(surfaces(&admin, &site).await[0]["area_m2"], 240.0);
}
