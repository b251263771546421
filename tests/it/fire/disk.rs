//! What is answered is on disk: a layer below the service remembers of each file what was synced and forgets the rest.
//!
//! `tests/fire/disk.c` says what this stands for and what it does not. A server does its own syncing: there the service
//! sees to it that the server's settings make it sync, and refuses to start otherwise.

use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
};

use serde_json::json;
use sqlx::{Connection as _, SqliteConnection};
use tempfile::TempDir;
use tests::{app::NORTH, ground::Ground};

use super::{PROGRAM, size, tell};

/// Compiles the layer.
fn layer(directory: &Path) -> PathBuf {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("fire/disk.c");
    let library = directory.join("disk.so");
    let built = Command::new("cc")
        .args(["-shared", "-fPIC", "-O1", "-o"])
        .args([&library, &source])
        .status();
    assert!(built.unwrap().success(), "the C compiler made no library");
    library
}

/// How many contractors a database holds that is started from what was synced.
async fn n_after_power_cut(kept: &Path) -> i64 {
    let place = TempDir::new().unwrap();
    for file in fs::read_dir(kept).unwrap() {
        let file = file.unwrap();
        fs::copy(file.path(), place.path().join(file.file_name())).unwrap();
    }
    let url = format!(
        "sqlite://{}",
        place.path().join("wearcourse.sqlite").display()
    );
    let mut database = SqliteConnection::connect(&url).await.unwrap();
    let sql = "SELECT COUNT(*) FROM contractors";
    let n = sqlx::query_scalar(sql).fetch_one(&mut database).await;
    n.unwrap()
}

/// Writes so often, one after the other, and says how many answers came before what they answer was safe.
async fn n_unsafe(ground: &Ground, directory: &Path, lies: bool, n_writes: usize) -> usize {
    let (kept, library) = (directory.join(format!("kept-{lies}")), layer(directory));
    let database = PathBuf::from(ground.database_url().trim_start_matches("sqlite://"));
    fs::create_dir(&kept).unwrap();
    // What is there before was safe long ago.
    fs::copy(&database, kept.join(database.file_name().unwrap())).unwrap();
    let mut variables = vec![
        ("LD_PRELOAD", library.to_str().unwrap()),
        ("WEARCOURSE_TEST_DISK", kept.to_str().unwrap()),
    ];
    if lies {
        variables.push(("WEARCOURSE_TEST_DISK_LIES", "1"));
    }
    let process = ground.start(&variables).await;
    let admin = ground.caller(&process.url, NORTH);
    let (mut n_there, mut n_unsafe) = (n_after_power_cut(&kept).await, 0);
    for n in 0..n_writes {
        let body = json!({"name": format!("Crew {n}")});
        let _made = admin.post("/v1/contractors", &body).await.must(201);
        n_there += 1;
        n_unsafe += usize::from(n_after_power_cut(&kept).await < n_there);
    }
    n_unsafe
}

#[tokio::test]
async fn f_04_what_is_answered_outlives_a_power_cut_and_a_lying_disk_is_found_out() {
    let ground = Ground::new(PROGRAM).await;
    if ground.is_server() || cfg!(not(target_os = "linux")) {
        return;
    }
    let directory = TempDir::new().unwrap();
    let n = size(60, 1_000);
    assert_eq!(n_unsafe(&ground, directory.path(), false, n).await, 0);
    // The control: where nothing is synced, as with `synchronous = OFF`, every answer came too early.
    let control = size(10, 50);
    let found = n_unsafe(&ground, directory.path(), true, control).await;
    assert_eq!(found, control);
    tell(
        "F-04",
        &[("answers-cut-off", n), ("lost", 0), ("control-lost", found)],
    );
}
