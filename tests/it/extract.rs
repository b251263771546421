//! The ledger as files: read back by a reader of Parquet they are the report, and what was cut off never looks whole.

use std::{
    collections::BTreeMap,
    fs::{self, File},
    path::{Path, PathBuf},
};

use parquet::{
    file::reader::{FileReader as _, SerializedFileReader},
    record::{Field, Row},
};
use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH},
    build::{self, with},
    client::Caller,
    ground::{self, Ground},
    read,
};

const PROGRAM: &str = env!("CARGO_BIN_EXE_service");
const MONTHS: [&str; 3] = ["2026-02", "2026-03", "2026-05"];

/// Work of three months on two floors: planned, charged, corrected and void.
async fn work(caller: &Caller) -> Vec<Value> {
    let site = caller.post("/v1/sites", &ground::site()).await.must(201);
    let site = site.id();
    let one = build::new_surface(caller, &build::surface(&site)).await;
    let change = json!({"storey": "3", "material": "vinyl_sheet"});
    let two = build::new_surface(caller, &with(build::surface(&site), change)).await;
    let plan = build::new_plan(caller, &build::plan(&one)).await.id();
    let crew = build::new_contractor(caller).await;
    let part = json!({"plan_id": plan, "area_m2": 120, "contractor_id": crew});
    let billed = with(part.clone(), json!({"charged": build::pounds("612.40")}));
    let mut done = Vec::new();
    for (surface, day, change) in [
        (&one, "2026-02-10", part),
        (&one, "2026-03-11", billed),
        (&two, "2026-03-12", json!({"process": "scrub_and_recoat"})),
        (&two, "2026-05-13", json!({})),
        (&two, "2026-05-14", json!({})),
    ] {
        let at = json!({
            "started_at": format!("{day}T20:00:00Z"), "finished_at": format!("{day}T23:30:00Z"),
        });
        let body = with(with(build::completion(surface), at), change);
        done.push(
            caller
                .record("/v1/completions", &body)
                .await
                .must(201)
                .json(),
        );
    }
    let path = format!("/v1/completions/{}/supersede", read::text(&done[2], "/id"));
    let at = json!({
        "started_at": "2026-03-12T20:00:00Z", "finished_at": "2026-03-12T23:00:00Z", "area_m2": 30,
    });
    let right = with(build::completion(&two), at);
    let _done = caller.record(&path, &right).await.must(201);
    void(caller, &done[4]).await;
    done
}

async fn void(caller: &Caller, completion: &Value) {
    let path = format!("/v1/completions/{}/void", read::text(completion, "/id"));
    let reason = json!({"reason": "Reported for the wrong night."});
    let _done = caller.record(&path, &reason).await.must(200);
}

fn extract(ground: &Ground, folder: &Path, more: &[&str]) -> Result<String, String> {
    let into = format!("file://{}", folder.display());
    let done = ground.run(&[&["extract", "--into", &into], more].concat());
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    if done.status.success() {
        return Ok(text(done.stdout));
    }
    Err(text(done.stderr))
}

/// Every file of a tenant's folder by its name, with what is in it.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let (mut found, mut waiting) = (BTreeMap::new(), vec![folder.to_owned()]);
    while let Some(directory) = waiting.pop() {
        for entry in fs::read_dir(&directory).unwrap() {
            let path: PathBuf = entry.unwrap().path();
            if path.is_dir() {
                waiting.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                found.insert(name, fs::read(path).unwrap());
            }
        }
    }
    found
}

/// Sums by month and what a column says, of a column of money in 1/10,000.
fn sums(folder: &Path, by: &str, of: &str) -> BTreeMap<(String, String), i64> {
    let mut sums = BTreeMap::new();
    for name in files(folder).into_keys() {
        let Some(name) = name.strip_suffix("part-0.parquet") else {
            continue;
        };
        let month = name.trim_matches('/').strip_prefix("month=").unwrap();
        let file = File::open(folder.join(name).join("part-0.parquet")).unwrap();
        for row in SerializedFileReader::new(file)
            .unwrap()
            .get_row_iter(None)
            .unwrap()
        {
            let row: Row = row.unwrap();
            let cell = |wanted: &str| {
                let found = row.get_column_iter().find(|(name, _)| *name == wanted);
                found.unwrap().1.clone()
            };
            let Field::Str(key) = cell(by) else {
                panic!("{by} is a text: {row}");
            };
            let amount = match cell(of) {
                Field::Decimal(amount) => {
                    assert_eq!((amount.precision(), amount.scale()), (18, 4));
                    i64::from_be_bytes(amount.data().try_into().unwrap())
                }
                Field::Null => continue,
                other => panic!("{of} is an amount: {other}"),
            };
            *sums.entry((month.to_owned(), key)).or_default() += amount;
        }
    }
    sums
}

/// The same by the report.
async fn report(
    caller: &Caller,
    by: &str,
    member: &str,
    at: &str,
) -> BTreeMap<(String, String), i64> {
    let path =
        format!("/v1/reports/costs?from=2026-01&to=2026-07&group_by=month,{by}&skip_empty=true");
    let told = caller.get(&path).await.must(200).json();
    let rows = read::list(&told, "/rows").iter();
    let rows = rows.filter(|row| row.pointer(at).is_some() && !row[member].is_null());
    let key = |row: &Value| {
        (
            read::text(row, "/month").to_owned(),
            row[member].as_str().unwrap().to_owned(),
        )
    };
    rows.map(|row| (key(row), read::cents(row, at) * 100))
        .collect()
}

async fn is_the_report(caller: &Caller, folder: &Path) {
    for (by, member) in [
        ("site", "site_id"),
        ("surface", "surface_id"),
        ("material", "material"),
        ("process", "process"),
    ] {
        for (column, at) in [
            ("actual_net", "/actual/net"),
            ("actual_tax", "/actual/tax"),
            ("planned_net", "/planned/net"),
            ("variance_price", "/variance_parts/price"),
            ("variance_productivity", "/variance_parts/productivity"),
            ("variance_overheads", "/variance_parts/overheads"),
        ] {
            let told = report(caller, by, member, at).await;
            assert!(!told.is_empty(), "{by} {at}");
            let mut found = sums(folder, member, column);
            // The report tells no variance where nothing was planned.
            found.retain(|key, _| told.contains_key(key) || column.starts_with("actual"));
            assert_eq!(found, told, "{column} by {by}");
        }
    }
}

fn manifest(folder: &Path) -> Value {
    serde_json::from_slice(&fs::read(folder.join("_manifest.json")).unwrap()).unwrap()
}

#[tokio::test]
async fn what_is_extracted_adds_up_to_the_report_and_is_replaced_month_by_month() {
    let ground = Ground::new(PROGRAM).await;
    let process = ground.start(&[]).await;
    let (north, south) = (
        ground.caller(&process.url, NORTH),
        ground.caller(&process.url, SOUTH),
    );
    let done = work(&north).await;
    work(&south).await;
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("tenant=north");
    let told = extract(&ground, place.path(), &["--all-tenants"]).unwrap();
    assert!(told.starts_with("north: 3 months, "), "{told}");
    is_the_report(&north, &folder).await;
    is_the_report(&south, &place.path().join("tenant=south")).await;
    let first = files(&folder);
    let mut names: Vec<String> = MONTHS
        .map(|month| format!("month={month}/part-0.parquet"))
        .into();
    names.extend(["_SUCCESS".to_owned(), "_manifest.json".to_owned()]);
    names.sort();
    assert_eq!(first.keys().cloned().collect::<Vec<_>>(), names);
    assert_eq!(
        manifest(&folder)["months"]["2026-02"]["n_bytes"],
        first["month=2026-02/part-0.parquet"].len()
    );

    // Nothing happened, so nothing is other than it was.
    extract(&ground, place.path(), &["--tenant", NORTH]).unwrap();
    let parts = |files: &BTreeMap<String, Vec<u8>>| {
        let mut files = files.clone();
        files.retain(|name, _| name.ends_with(".parquet"));
        files
    };
    assert_eq!(parts(&files(&folder)), parts(&first));

    // Work is taken back in two months; one of them is extracted, the other one not.
    void(&north, &done[0]).await;
    void(&north, &done[3]).await;
    let may = ["--tenant", NORTH, "--from", "2026-05", "--to", "2026-06"];
    extract(&ground, place.path(), &may).unwrap();
    let later = files(&folder);
    assert_eq!(
        later["month=2026-02/part-0.parquet"],
        first["month=2026-02/part-0.parquet"]
    );
    assert!(!later.contains_key("month=2026-05/part-0.parquet"));
    assert!(later.contains_key("_SUCCESS"));
    extract(&ground, place.path(), &["--tenant", NORTH]).unwrap();
    assert_eq!(parts(&files(&folder)).len(), 1);
    let trail = north
        .get("/v1/audit?operation=extractLedger")
        .await
        .must(200)
        .json();
    assert_eq!(read::list(&trail, "/items").len(), 4);
}

#[tokio::test]
async fn an_extract_that_was_cut_off_does_not_look_whole_until_all_of_it_is() {
    let ground = Ground::new(PROGRAM).await;
    let process = ground.start(&[]).await;
    let north = ground.caller(&process.url, NORTH);
    work(&north).await;
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("tenant=north");
    let all = ["--tenant", NORTH];
    extract(&ground, place.path(), &all).unwrap();
    // A file where the folder of March should be: the run ends there, as it would on a full disk.
    let obstacle = folder.join("month=2026-03");
    fs::remove_dir_all(&obstacle).unwrap();
    fs::write(&obstacle, "").unwrap();
    let error = extract(&ground, place.path(), &all).unwrap_err();
    assert!(error.contains("not whole for: north"), "{error}");
    assert!(!folder.join("_SUCCESS").exists());
    assert_eq!(
        manifest(&folder)["unfinished"],
        json!(["2026-02", "2026-03", "2026-05"])
    );
    fs::remove_file(&obstacle).unwrap();
    // Other months are written, and the folder is not whole for that.
    let may = ["--tenant", NORTH, "--from", "2026-05"];
    let error = extract(&ground, place.path(), &may).unwrap_err();
    assert!(error.contains("extract 2026-02, 2026-03 too"), "{error}");
    assert!(!folder.join("_SUCCESS").exists());
    extract(&ground, place.path(), &all).unwrap();
    assert!(folder.join("_SUCCESS").exists());
    is_the_report(&north, &folder).await;
    let none = extract(&ground, place.path(), &["--tenant", "nobody"]).unwrap_err();
    assert!(none.contains("there is no tenant `nobody`"), "{none}");
}
