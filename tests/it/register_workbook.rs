//! The register as a workbook: what goes out comes back and changes nothing, and the tables are those of the standard.

use std::io::{Cursor, Read as _};

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

use crate::register::{fate, fates, surfaces, unkind};

const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
const CLINIC: &[u8] = include_bytes!("../handover/clinic-handover-cobie.xlsx");

async fn exported(caller: &Caller, site: &str, query: &str) -> Vec<u8> {
    let path = format!("/v1/sites/{site}/surface-workbook{query}");
    let answer = caller.get(&path).await.must(200);
    assert_eq!(answer.header("Content-Type"), Some(WORKBOOK));
    let named = format!("attachment; filename=\"surfaces-{site}.xlsx\"");
    assert_eq!(answer.header("Content-Disposition"), Some(named.as_str()));
    answer.body
}

async fn sent_back(caller: &Caller, site: &str, book: Vec<u8>) -> Value {
    let query = format!("?site_id={site}&apply=true");
    let import = build::import(caller, &query, WORKBOOK, book).await;
    assert_eq!(import["status"], "succeeded", "{import:#}");
    import
}

/// A part of a workbook.
fn part(book: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(book)).unwrap();
    let mut text = String::new();
    let _read = archive
        .by_name(name)
        .unwrap()
        .read_to_string(&mut text)
        .unwrap();
    text
}

/// What stands between each opening and its end.
fn between<'t>(text: &'t str, open: &str, end: &str) -> Vec<&'t str> {
    let parts = text.split(open).skip(1);
    parts.map(|part| part.split(end).next().unwrap()).collect()
}

/// The texts that cells share, as they are written in XML.
fn shared(book: &[u8]) -> Vec<String> {
    let text = part(book, "xl/sharedStrings.xml");
    let told = |item: &str| {
        between(item, "<t", "</t>")
            .into_iter()
            .map(|part| part.split_once('>').map_or("", |(_, text)| text).to_owned())
            .collect()
    };
    between(&text, "<si>", "</si>")
        .into_iter()
        .map(told)
        .collect()
}

/// The cells of a sheet, row by row, by the name of the sheet; shared texts are put in their place.
fn rows(book: &[u8], sheet: &str) -> Vec<Vec<String>> {
    let list = part(book, "xl/workbook.xml");
    let tag = between(&list, "<sheet ", "/>")
        .into_iter()
        .find(|tag| tag.contains(&format!("name=\"{sheet}\"")))
        .unwrap();
    let id = between(tag, "r:id=\"", "\"")[0];
    let relations = part(book, "xl/_rels/workbook.xml.rels");
    let relation = between(&relations, "<Relationship ", "/>")
        .into_iter()
        .find(|tag| tag.contains(&format!("Id=\"{id}\"")))
        .unwrap();
    let target = between(relation, "Target=\"", "\"")[0];
    let (text, shared) = (part(book, &format!("xl/{target}")), shared(book));
    let cell = |cell: &str| {
        let value = between(cell, "<v>", "</v>")
            .first()
            .map_or("", |value| value)
            .to_owned();
        if cell.split('>').next().unwrap().contains("t=\"s\"") {
            shared[value.parse::<usize>().unwrap()].clone()
        } else {
            value
        }
    };
    between(&text, "<row ", "</row>")
        .into_iter()
        .map(|row| between(row, "<c ", "</c>").into_iter().map(cell).collect())
        .collect()
}

#[tokio::test]
async fn the_register_goes_out_as_a_workbook_and_comes_back_without_any_change() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let mut all = unkind(&site);
    // Twice the same name, the longest, one that stands for the grounds elsewhere, and one like a column.
    for name in [
        "No edge",
        "Site",
        "Description",
        "Description",
        &"x".repeat(200),
    ] {
        all.push(with(build::surface(&site), json!({"name": name})));
    }
    for surface in &all {
        let _made = admin.post("/v1/surfaces", surface).await.must(201);
    }
    let gone = json!({"name": "Gone", "retired_on": "2020-01-01"});
    let _gone = build::new_surface(&admin, &with(build::surface(&site), gone)).await;
    let before = surfaces(&admin, &site).await;

    let book = exported(&admin, &site, "").await;
    let spaces = rows(&book, "Space");
    assert_eq!(spaces.len(), all.len() + 1);
    assert_eq!(spaces[1][0], "=HYPERLINK(A1)");
    let import = sent_back(&admin, &site, book.clone()).await;
    let counts = &import["result"]["counts"];
    assert_eq!(counts["unchanged"], all.len(), "{import:#}");
    assert_eq!(counts["total"], all.len());
    assert_eq!(surfaces(&admin, &site).await, before);
    assert_eq!(rows(&exported(&admin, &site, "").await, "Space"), spaces);

    // Nothing in it is worked out, and every name of a space is there once.
    for n in 1..=5 {
        let sheet = part(&book, &format!("xl/worksheets/sheet{n}.xml"));
        assert!(
            !sheet.contains("<f>") && !sheet.contains("<f "),
            "sheet {n}"
        );
    }
    let names: std::collections::BTreeSet<String> =
        spaces.iter().map(|row| row[0].to_lowercase()).collect();
    assert_eq!(names.len(), spaces.len());
}

/// Sheets and columns are those of a workbook that another program wrote by the standard, and those of ours stand behind them.
#[tokio::test]
async fn the_tables_are_those_of_the_standard() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = json!({"name": "Hall", "area_m2": 19.767, "perimeter_m": 18.5, "film": {"kind": "polish", "coats": 4}});
    let id = build::new_surface(&admin, &with(build::surface(&site), surface)).await;
    let book = exported(&admin, &site, "").await;
    for sheet in ["Contact", "Facility", "Floor", "Space", "Attribute"] {
        let (ours, theirs) = (rows(&book, sheet), rows(CLINIC, sheet));
        let n = theirs[0].len();
        assert_eq!(ours[0][..n], theirs[0], "{sheet}");
        let own: &[&str] = if sheet == "Space" {
            &["SurfaceId", "SurfaceVersion"]
        } else {
            &[]
        };
        assert_eq!(ours[0][n..], *own, "{sheet}");
        assert!(ours.iter().all(|row| row.len() == ours[0].len()), "{sheet}");
    }
    let cell = |sheet: &str, row: usize, column: &str| {
        let rows = rows(&book, sheet);
        let at = rows[0].iter().position(|name| name == column).unwrap();
        rows[row][at].clone()
    };
    assert_eq!(cell("Facility", 1, "Name"), "North clinic");
    assert_eq!(
        (
            cell("Facility", 1, "LinearUnits"),
            cell("Facility", 1, "AreaUnits")
        ),
        ("meters".to_owned(), "squaremeters".to_owned())
    );
    assert_eq!(
        (cell("Space", 1, "NetArea"), cell("Space", 1, "SurfaceId")),
        ("19.767".to_owned(), id)
    );
    assert_eq!(cell("Floor", 1, "Name"), cell("Space", 1, "FloorName"));
    let told: Vec<(String, String, String)> = rows(&book, "Attribute")[1..]
        .iter()
        .map(|row| {
            assert_eq!((row[4].as_str(), row[5].as_str()), ("Space", "Hall"));
            (row[0].clone(), row[6].clone(), row[7].clone())
        })
        .collect();
    let expected = [
        ("FloorFinish", "vinyl_composition_tile", "n/a"),
        ("NetFloorArea", "19.767", "squaremeters"),
        ("Perimeter", "18.5", "meters"),
        ("FilmKind", "polish", "n/a"),
        ("FilmCoats", "4", "each"),
    ];
    assert_eq!(
        told,
        expected.map(|(name, value, unit)| (name.to_owned(), value.to_owned(), unit.to_owned()))
    );
}

/// The workbook with other texts among those that cells share.
fn edited(book: &[u8], changes: &[(&str, &str)]) -> Vec<u8> {
    let mut archive = zip::ZipArchive::new(Cursor::new(book)).unwrap();
    let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for index in 0..archive.len() {
        let mut entry = archive.by_index(index).unwrap();
        let name = entry.name().unwrap().into_owned();
        let mut content = String::new();
        let _read = entry.read_to_string(&mut content).unwrap();
        for (from, to) in changes {
            content = content.replace(from, to);
        }
        out.start_file(name, zip::write::SimpleFileOptions::default())
            .unwrap();
        std::io::Write::write_all(&mut out, content.as_bytes()).unwrap();
    }
    out.finish().unwrap().into_inner()
}

#[tokio::test]
async fn what_was_changed_in_a_workbook_is_taken_where_the_row_is_still_of_its_surface() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = |change| with(build::surface(&site), change);
    for (id, area) in [("A", 240.5), ("B", 250.5), ("C", 260.5)] {
        let named = json!({"name": id, "area_m2": area, "external": {"system": "fm", "id": format!("fm-{id}")}});
        let _made = admin.post("/v1/surfaces", &surface(named)).await.must(201);
    }
    let book = exported(&admin, &site, "").await;
    let rooms = rows(&book, "Space");
    let b = format!("/v1/surfaces/{}", rooms[2][13]);
    let _measured = admin
        .patch(&b, "*", &json!({"area_m2": 251}))
        .await
        .must(200);
    let changed = edited(
        &book,
        &[
            ("<v>240.5</v>", "<v>245.25</v>"),
            ("<v>250.5</v>", "<v>255</v>"),
            ("<v>260.5</v>", "<v>0</v>"),
            (">vinyl_composition_tile<", ">linoleum<"),
        ],
    );
    let import = sent_back(&admin, &site, changed.clone()).await;
    assert_eq!(
        fates(&admin, &import).await,
        [
            fate("updated", &[]),
            fate("needs_attention", &["changed_by_both"]),
            fate("needs_attention", &["area_zero"]),
        ]
    );
    let after = surfaces(&admin, &site).await;
    assert_eq!(
        (&after[0]["area_m2"], &after[0]["material"]),
        (&json!(245.25), &json!("linoleum"))
    );
    assert_eq!(after[1]["area_m2"], 251.0);
    assert_eq!(after[2]["area_m2"], 260.5);
    // Words of people are looked up in the dictionary of finishes, as in any building's file.
    let book = exported(&admin, &site, "").await;
    let import = sent_back(&admin, &site, edited(&book, &[(">linoleum<", ">VCT<")])).await;
    assert_eq!(fates(&admin, &import).await[0], fate("updated", &[]));
    assert_eq!(
        surfaces(&admin, &site).await[0]["material"],
        "vinyl_composition_tile"
    );
    // A version that is none is told and not passed over: the third row is the only one that is still of the first.
    let book = exported(&admin, &site, "").await;
    let import = sent_back(&admin, &site, edited(&book, &[(">1<", ">first<")])).await;
    let all = fates(&admin, &import).await;
    assert_eq!(
        all,
        [
            fate("unchanged", &[]),
            fate("unchanged", &[]),
            fate("needs_attention", &["number_unreadable"]),
        ]
    );
    // At another tenant's site the same workbook finds no surface.
    let south = app.admin_of(SOUTH);
    let theirs = build::new_site(&south).await;
    let import = sent_back(&south, &theirs, changed).await;
    let codes = fates(&south, &import).await;
    assert!(
        codes
            .iter()
            .all(|(_, codes)| codes.iter().any(|code| code == "surface_unknown")),
        "{codes:?}"
    );
    assert!(surfaces(&south, &theirs).await.is_empty());
}

#[tokio::test]
async fn a_large_register_is_a_workbook_that_is_read_back_and_one_storey_of_it_too() {
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
    let book = exported(&admin, &site, "").await;
    assert_eq!(rows(&book, "Space").len(), 1_901);
    assert_eq!(rows(&book, "Floor").len(), 4);
    let import = sent_back(&admin, &site, book).await;
    assert_eq!(import["result"]["counts"]["unchanged"], 1_900, "{import:#}");
    let second = rows(&exported(&admin, &site, "?storey=2").await, "Space");
    assert_eq!(second.len(), 634);
    assert_eq!(
        rows(&exported(&admin, &site, "?storey=9").await, "Space").len(),
        1
    );
    let trail = admin.get("/v1/audit?limit=200").await.must(200).json();
    let exports = read::list(&trail, "/items").iter();
    let exports = exports.filter(|row| row["operation"] == "exportSurfaceWorkbook");
    assert_eq!(exports.count(), 3);
}
