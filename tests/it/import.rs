//! Files that are handed over with buildings: sent, tried, made true, sent again, refused.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build,
    client::Caller,
    read,
};

const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
const MODEL: &str = "application/x-step";
const TABLE: &str = "text/csv";

/// All spaces of an import, by its pages.
async fn rows(caller: &Caller, import: &Value, query: &str) -> Vec<Value> {
    let id = read::text(import, "/id");
    let mut all = Vec::new();
    let mut path = format!("/v1/imports/{id}/rows?limit=100{query}");
    loop {
        let page = caller.get(&path).await.must(200).json();
        all.extend(read::list(&page, "/items").to_vec());
        let Some(cursor) = page["next_cursor"].as_str() else {
            return all;
        };
        path = format!("/v1/imports/{id}/rows?limit=100{query}&cursor={cursor}");
    }
}

fn counts(import: &Value) -> Value {
    import["result"]["counts"].clone()
}

fn counted(created: i64, updated: i64, unchanged: i64, out: i64, attention: i64) -> Value {
    json!({
        "total": created + updated + unchanged + out + attention, "created": created, "updated": updated,
        "unchanged": unchanged, "out_of_scope": out, "needs_attention": attention,
    })
}

async fn surfaces(caller: &Caller, site: &str) -> Vec<Value> {
    let path = format!("/v1/surfaces?site_id={site}&limit=200");
    let page = caller.get(&path).await.must(200).json();
    read::list(&page, "/items").to_vec()
}

#[tokio::test]
async fn a_dry_run_registers_nothing_and_its_application_does_what_it_said() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let query = format!("?site_id={site}");
    let tried = build::import(&admin, &query, TABLE, build::ROOMS).await;
    assert_eq!(tried["status"], "succeeded", "{tried:#}");
    assert_eq!(tried["dry_run"], true);
    assert_eq!(counts(&tried), counted(2, 0, 0, 1, 1));
    assert!(surfaces(&admin, &site).await.is_empty());
    let said = rows(&admin, &tried, "").await;
    let told: Vec<_> = said
        .iter()
        .map(|row| (row["number"].as_i64().unwrap(), read::text(row, "/outcome")))
        .collect();
    let expected = [
        (1, "created"),
        (2, "created"),
        (3, "out_of_scope"),
        (4, "needs_attention"),
    ];
    assert_eq!(told, expected);
    assert_eq!(said[0]["finish"]["material"], "vinyl_composition_tile");
    assert_eq!(said[0]["finish"]["confidence_pct"], 100);
    assert_eq!(said[2]["reasons"][0]["code"], "soft_floor");
    assert_eq!(said[3]["reasons"][0]["code"], "finish_unknown");
    assert_eq!(said[3]["place"], "line 5");
    let waiting = rows(&admin, &tried, "&outcome=needs_attention").await;
    assert_eq!(waiting, said[3..]);

    let id = read::text(&tried, "/id");
    let path = format!("/v1/imports/{id}");
    let _queued = admin
        .record(&format!("{path}/apply"), &json!({}))
        .await
        .must(202);
    let applied = build::finished(&admin, &path).await;
    assert_eq!(applied["dry_run"], false, "{applied:#}");
    assert_eq!(counts(&applied), counts(&tried));
    let registered = surfaces(&admin, &site).await;
    let names: Vec<&str> = registered
        .iter()
        .map(|row| read::text(row, "/name"))
        .collect();
    assert_eq!(names, ["Hall", "Ward"]);
    assert_eq!(registered[0]["area_m2"], 40.25);
    assert_eq!(registered[0]["storey"], "Ground");
    let now = rows(&admin, &applied, "").await;
    assert_eq!(now[0]["surface_id"], registered[0]["id"]);
    let again = admin.record(&format!("{path}/apply"), &json!({})).await;
    again.problem(409, "state_conflict");
    // Sent once more, it changes nothing.
    let same = build::import(&admin, &format!("{query}&apply=true"), TABLE, build::ROOMS).await;
    assert_eq!(counts(&same), counted(0, 0, 2, 1, 1));
    assert_eq!(surfaces(&admin, &site).await, registered);
}

#[tokio::test]
async fn a_newer_file_changes_what_it_says_otherwise_and_undoes_nothing_that_was_put_right() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let query = format!("?site_id={site}&apply=true");
    let _first = build::import(&admin, &query, TABLE, build::ROOMS).await;
    let hall = surfaces(&admin, &site).await.remove(0);
    let path = format!("/v1/surfaces/{}", read::text(&hall, "/id"));
    // A test on the floor told another material, and somebody measured.
    let right = json!({"material": "linoleum", "traffic": "heavy"});
    let _put_right = admin.patch(&path, "*", &right).await.must(200);
    let extended = build::ROOMS.replace("Hall,Ground,40.25,26", "Hall (new),Ground,60,32");
    let newer = build::import(&admin, &query, TABLE, extended.as_str()).await;
    assert_eq!(counts(&newer), counted(0, 1, 1, 1, 1), "{newer:#}");
    let row = rows(&admin, &newer, "&outcome=updated").await.remove(0);
    assert_eq!(row["changes"], json!(["name", "size"]));
    assert_eq!(row["kept"], json!(["material"]));
    let hall = admin.get(&path).await.must(200).json();
    assert_eq!(hall["material"], "linoleum");
    assert_eq!(hall["traffic"], "heavy");
    assert_eq!(
        (&hall["name"], &hall["area_m2"]),
        (&json!("Hall (new)"), &json!(60.0))
    );
    // Both change the same: somebody has to decide.
    let measured = json!({"area_m2": 61.5, "perimeter_m": 33});
    let _measured = admin.patch(&path, "*", &measured).await.must(200);
    let third = build::ROOMS.replace("Hall,Ground,40.25,26", "Hall (new),Ground,70,34");
    let third = build::import(&admin, &query, TABLE, third.as_str()).await;
    assert_eq!(counts(&third), counted(0, 0, 1, 1, 2), "{third:#}");
    let row = rows(&admin, &third, "&outcome=needs_attention")
        .await
        .remove(0);
    assert_eq!(row["reasons"][0]["code"], "changed_by_both", "{row:#}");
    assert_eq!(admin.get(&path).await.must(200).json()["area_m2"], 61.5);
}

#[tokio::test]
async fn a_word_that_a_tenant_tells_is_read_from_then_on_in_its_own_files_only() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let word = json!({"finish": "zorblite  3000", "means": "epoxy_resin"});
    let refused = admin.post("/v1/finish-synonyms", &word).await;
    if refused.status != 201 {
        refused.problem(422, "invalid_body");
    }
    let word = json!({"finish": "zorblite  3000", "means": "linoleum"});
    let told = admin.post("/v1/finish-synonyms", &word).await.must(201);
    assert_eq!(told.json()["finish"], "ZORBLITE 3000");
    admin
        .post("/v1/finish-synonyms", &word)
        .await
        .problem(409, "already_exists");
    let site = build::new_site(&admin).await;
    let tried = build::import(&admin, &format!("?site_id={site}"), TABLE, build::ROOMS).await;
    assert_eq!(counts(&tried), counted(3, 0, 0, 1, 0));
    let row = rows(&admin, &tried, "").await.remove(3);
    assert_eq!(row["finish"]["material"], "linoleum");
    let south = app.admin_of(SOUTH);
    let theirs = build::new_site(&south).await;
    let tried = build::import(&south, &format!("?site_id={theirs}"), TABLE, build::ROOMS).await;
    assert_eq!(counts(&tried), counted(2, 0, 0, 1, 1));
    // Taken back, it is unknown again.
    let path = format!("/v1/finish-synonyms/{}", told.id());
    let deleted = admin.call(reqwest::Method::DELETE, &path);
    let _deleted = deleted
        .header("If-Match", &told.etag())
        .answer()
        .await
        .must(204);
    let tried = build::import(&admin, &format!("?site_id={site}"), TABLE, build::ROOMS).await;
    assert_eq!(counts(&tried), counted(2, 0, 0, 1, 1));
}

/// The clinic's figures were read with openpyxl 3.1.5: rooms and net m² of each finish.
#[tokio::test]
async fn the_clinics_workbook_becomes_its_hard_floors() {
    const FILE: &[u8] = include_bytes!("../handover/clinic-handover-cobie.xlsx");
    const HARD: [(&str, usize, f64); 4] = [
        ("VINYL COMPOSITION TILE", 109, 1_582.795),
        ("SHEET VINYL", 27, 339.144),
        ("CONCRETE", 5, 281.154),
        ("CERAMIC TILE", 20, 147.393),
    ];
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let query = format!("?site_id={site}&apply=true");
    let import = build::import(&admin, &query, WORKBOOK, FILE).await;
    assert_eq!(import["status"], "succeeded", "{import:#}");
    assert_eq!(import["result"]["counts"]["total"], 269);
    let all = rows(&admin, &import, "").await;
    assert_eq!(all.len(), 269);
    let outcome = |word: &str| all.iter().filter(|row| row["outcome"] == word).count();
    let told = &import["result"]["counts"];
    for word in [
        "created",
        "updated",
        "unchanged",
        "out_of_scope",
        "needs_attention",
    ] {
        assert_eq!(told[word], outcome(word), "{word}");
    }
    for (finish, n, m2) in HARD {
        let of: Vec<&Value> = all
            .iter()
            .filter(|row| {
                let text = row["finish"]["text"].as_str().unwrap_or_default();
                text.eq_ignore_ascii_case(finish)
            })
            .collect();
        let area: f64 = of.iter().filter_map(|row| row["area_m2"].as_f64()).sum();
        assert_eq!(of.len(), n, "{finish}");
        assert!((area - m2).abs() < 0.005, "{finish}: {area}");
    }
    // No carpet is lost in silence.
    assert!(outcome("out_of_scope") >= 94, "{told}");
    let report = admin
        .post(
            "/v1/estimates",
            &json!({"site_id": site, "wish": {"goal": "clean"}}),
        )
        .await
        .must(201)
        .json();
    let n = report["surfaces"].as_array().map_or(0, Vec::len);
    assert_eq!(n, outcome("created"), "{told}");
    let same = build::import(&admin, &query, WORKBOOK, FILE).await;
    assert_eq!(same["result"]["counts"]["unchanged"], outcome("created"));
    assert_eq!(same["result"]["counts"]["created"], 0);
}

#[tokio::test]
async fn models_and_outlines_are_read_too_and_a_model_finds_what_a_workbook_of_it_registered() {
    const BOOK: &[u8] = include_bytes!("../handover/duplex-handover-cobie.xlsx");
    const DUPLEX: &[u8] = include_bytes!("../handover/duplex-architecture.ifc");
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let query = format!("?site_id={site}&apply=true");
    let model = build::import(&admin, &query, MODEL, DUPLEX).await;
    assert_eq!(model["status"], "succeeded", "{model:#}");
    // 21 spaces: ifcopenshell 0.9.0.
    assert_eq!(model["result"]["counts"]["total"], 21);
    let book = build::import(&admin, &format!("?site_id={site}"), WORKBOOK, BOOK).await;
    assert_eq!(book["result"]["counts"]["created"], 0, "{book:#}");
    let drawn = json!({"type": "FeatureCollection", "features": [{
        "type": "Feature", "id": "R-9",
        "properties": {"external_system": "plan", "name": "Lobby", "storey": "Ground", "finish": "Terrazzo tile"},
        "geometry": {"type": "Polygon", "coordinates": [[[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]]},
    }]});
    let outline = build::import(&admin, &query, "application/geo+json", drawn.to_string()).await;
    assert_eq!(outline["status"], "succeeded", "{outline:#}");
    let row = rows(&admin, &outline, "").await.remove(0);
    if row["outcome"] == "created" {
        let path = format!("/v1/surfaces/{}", read::text(&row, "/surface_id"));
        let lobby = admin.get(&path).await.must(200).json();
        assert_eq!(lobby["area_m2"], 24.0);
        assert!(lobby["outline"].is_array());
    } else {
        assert_eq!(row["outcome"], "needs_attention", "{row:#}");
    }
}

#[tokio::test]
async fn s_092_a_table_that_cannot_be_read_is_refused_with_its_line_and_nothing_is_kept() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let query = format!("?site_id={site}&apply=true");
    let wide = "x,".repeat(10_000);
    let last_bad = format!("{}register,R-5,Hall\r\n", build::ROOMS);
    let many = format!(
        "external_id,name,storey,area_m2\r\n{}",
        "1,Hall,Ground,40\r\n".repeat(20_001)
    );
    let open = format!(
        "external_id,name,storey,area_m2\r\n\"{}",
        "x".repeat(1_000_000)
    );
    let utf_16: Vec<u8> = build::ROOMS
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    for (what, content) in [
        ("columns", wide.into_bytes()),
        ("last row", last_bad.into_bytes()),
        ("rows", many.into_bytes()),
        ("quote", open.into_bytes()),
        ("encoding", utf_16),
        ("nothing", Vec::new()),
    ] {
        let refused = build::send_file(&admin, &query, TABLE, content).await;
        refused.problem(422, "invalid_body");
        let told = refused.json();
        let detail = read::text(&told, "/errors/0/detail");
        assert!(
            detail.contains("line") || what == "encoding",
            "{what}: {detail}"
        );
    }
    assert!(surfaces(&admin, &site).await.is_empty());
    let page = admin.get("/v1/imports").await.must(200).json();
    assert_eq!(page["items"], json!([]));
}

#[tokio::test]
async fn s_093_what_is_not_a_file_of_a_building_is_refused_by_its_media_type() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let query = format!("?site_id={site}");
    for media_type in [
        "application/zip",
        "application/json",
        "multipart/form-data",
        "text/xml",
    ] {
        let refused = build::send_file(&admin, &query, media_type, "x").await;
        refused.problem(415, "unsupported_media_type");
        assert!(refused.header("Accept-Post").unwrap().contains("text/csv"));
    }
    // The others take no workbook.
    let call = admin.call(reqwest::Method::POST, "/v1/surfaces");
    let call = call.header("Content-Type", WORKBOOK).bytes("x");
    call.answer().await.problem(415, "unsupported_media_type");
}

#[tokio::test]
async fn a_site_must_be_there_and_the_tenants_own() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let theirs = build::new_site(&app.admin_of(SOUTH)).await;
    let send = async |query: &str| build::send_file(&admin, query, TABLE, build::ROOMS).await;
    send("").await.problem(400, "invalid_parameter");
    send("?site_id=srf_1")
        .await
        .problem(400, "invalid_parameter");
    let refused = send(&format!("?site_id={theirs}")).await;
    refused.problem(422, "parameter_out_of_range");
    let site = build::new_site(&admin).await;
    let id = build::new_import(&admin, &site).await;
    let south = app.admin_of(SOUTH);
    for path in [
        format!("/v1/imports/{id}"),
        format!("/v1/imports/{id}/rows"),
    ] {
        south.get(&path).await.problem(404, "not_found");
    }
}

#[tokio::test]
async fn a_file_for_one_site_says_nothing_of_what_another_has_by_the_same_names() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (here, there) = (build::new_site(&admin).await, build::new_site(&admin).await);
    let into = |site: &str| format!("?site_id={site}&apply=true");
    let _first = build::import(&admin, &into(&here), TABLE, build::ROOMS).await;
    let hall = surfaces(&admin, &here).await.remove(0);
    let path = format!("/v1/surfaces/{}", read::text(&hall, "/id"));
    let measured = json!({"area_m2": 41, "perimeter_m": 26});
    let _measured = admin.patch(&path, "*", &measured).await.must(200);
    // At the other site, with the size that was measured here.
    let file = build::ROOMS.replace("Hall,Ground,40.25,26", "Hall,Ground,41,26");
    let other = build::import(&admin, &into(&there), TABLE, file.as_str()).await;
    assert_eq!(counts(&other)["unchanged"], 0, "{other:#}");
    let why = rows(&admin, &other, "&outcome=needs_attention").await;
    assert!(!why.is_empty(), "{other:#}");
    assert!(surfaces(&admin, &there).await.is_empty());
    // The old file comes again: it repeats itself, and undoes nothing.
    let again = build::import(&admin, &into(&here), TABLE, build::ROOMS).await;
    assert_eq!(counts(&again)["updated"], 0, "{again:#}");
    assert_eq!(admin.get(&path).await.must(200).json()["area_m2"], 41.0);
}
