//! The largest file and the largest workbook: read, registered, exported and read again by a process of its own, in as much
//! memory as is told; and what is one beyond.

use std::{fs, io::Write as _};

use serde_json::{Value, json};
use tests::{
    app::NORTH,
    build::{self, with},
    ground::{self, Ground, Process},
    read,
};
use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

use super::{PROGRAM, size, tell};

const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
/// The most spaces of a file, and the most surfaces of a workbook.
const MOST: usize = 20_000;
/// How much memory a process may take at most for all of it, in MiB; a quarter above what was measured.
const MOST_MIB: usize = 512;

/// A COBie workbook of so many rooms.
fn workbook(n: usize) -> Vec<u8> {
    let cell = |text: &str| format!("<c t=\"inlineStr\"><is><t>{text}</t></is></c>");
    let row = |cells: &[&str]| {
        let cells: Vec<String> = cells.iter().map(|text| cell(text)).collect();
        format!("<row>{}</row>", cells.concat())
    };
    let mut spaces = row(&[
        "Name",
        "FloorName",
        "Description",
        "ExtSystem",
        "ExtIdentifier",
        "NetArea",
    ]);
    let mut finishes = row(&["Name", "SheetName", "RowName", "Value", "Unit"]);
    for room in 1..=n {
        let (name, id) = (
            format!("{room:05}"),
            format!("id-{}", room * 7_919 % 1_000_003),
        );
        let area = (9 + room % 37).to_string();
        spaces += &row(&[&name, "Ground", "Room", "fm", &id, &area]);
        finishes += &row(&["FloorMaterial", "Space", &name, "VCT", "n/a"]);
    }
    let facility =
        row(&["Name", "LinearUnits", "AreaUnits"]) + &row(&["Demo", "meters", "square meters"]);
    let sheets = [
        ("Facility", facility),
        ("Space", spaces),
        ("Attribute", finishes),
    ];
    let mut zip = ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    let mut put = |name: &str, text: &str| {
        zip.start_file(name, options).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    };
    let named = sheets.iter().enumerate();
    let list = named.map(|(n, (name, _))| format!("<sheet name=\"{name}\" r:id=\"r{n}\"/>"));
    let list: String = list.collect();
    put(
        "xl/workbook.xml",
        &format!("<workbook><sheets>{list}</sheets></workbook>"),
    );
    let links = (0..sheets.len())
        .map(|n| format!("<Relationship Id=\"r{n}\" Target=\"worksheets/s{n}.xml\"/>"));
    let links: String = links.collect();
    put(
        "xl/_rels/workbook.xml.rels",
        &format!("<Relationships>{links}</Relationships>"),
    );
    for (n, (_, rows)) in sheets.iter().enumerate() {
        let sheet = format!("<worksheet><sheetData>{rows}</sheetData></worksheet>");
        put(&format!("xl/worksheets/s{n}.xml"), &sheet);
    }
    zip.finish().unwrap().into_inner()
}

/// The most memory that a process has held at a time, in MiB, where the system tells.
fn peak_mib(process: &Process) -> Option<usize> {
    let status = fs::read_to_string(format!("/proc/{}/status", process.id())).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kib: usize = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1_024)
}

fn counts(import: &Value) -> [i64; 3] {
    ["total", "created", "unchanged"].map(|name| {
        let found = import["result"]["counts"][name].as_i64();
        found.unwrap_or_else(|| panic!("{import:#}"))
    })
}

#[tokio::test]
async fn the_largest_workbook_is_read_exported_and_read_again_in_bounded_memory() {
    let n = size(1_500, MOST);
    let n_rooms = i64::try_from(n).unwrap();
    let ground = Ground::new(PROGRAM).await;
    let process = ground.start(&[]).await;
    let admin = ground.caller(&process.url, NORTH);
    let site = admin
        .post("/v1/sites", &ground::site())
        .await
        .must(201)
        .id();
    let query = format!("?site_id={site}&apply=true");
    // One more than is read is refused with its place, and nothing is kept of it.
    let beyond = build::send_file(&admin, &query, WORKBOOK, workbook(MOST + 1)).await;
    let problem = beyond.problem(422, "invalid_body");
    let fault = &problem["errors"][0];
    assert_eq!(fault["code"], "too_large", "{problem:#}");
    let place = "sheet Space, row 20002: ";
    let detail = read::text(fault, "/detail");
    assert!(detail.starts_with(place), "{detail}");
    let none = admin.get("/v1/imports").await.must(200).json();
    assert_eq!(none["items"], json!([]));

    let first = build::import(&admin, &query, WORKBOOK, workbook(n)).await;
    assert_eq!(counts(&first), [n_rooms, n_rooms, 0]);
    let path = format!("/v1/sites/{site}/surface-workbook");
    let book = admin.get(&path).await.must(200).body;
    let again = build::import(&admin, &query, WORKBOOK, book.clone()).await;
    assert_eq!(counts(&again), [n_rooms, 0, n_rooms]);
    if n == MOST {
        let more = with(
            build::surface(&site),
            json!({"name": "One more", "storey": "First"}),
        );
        let _more = admin.post("/v1/surfaces", &more).await.must(201);
        let refused = admin.get(&path).await;
        let problem = refused.problem(422, "parameter_out_of_range");
        assert_eq!(problem["errors"][0]["code"], "too_many_rows");
        let _part = admin.get(&format!("{path}?storey=First")).await.must(200);
        // The table has no such limit: it goes out page by page.
        let table = admin.get(&format!("/v1/sites/{site}/surface-table")).await;
        assert_eq!(table.must(200).text().lines().count(), n + 2);
    }
    if let Some(peak) = peak_mib(&process) {
        let figures = [
            ("spaces", n),
            ("book_kib", book.len() / 1_024),
            ("peak_mib", peak),
        ];
        tell("largest workbook", &figures);
        assert!(peak <= MOST_MIB, "{peak} MiB");
    }
}
