//! The clinic: 269 rows of real handover data, from a batch to a cost report that is the sum of its parts.
//!
//! What must come out stands in `tests/clinic/README.md`; it was counted in the data itself, by another program.

use std::collections::BTreeSet;

use serde_json::Value;
use tests::{
    app::{NORTH, TestApp},
    clinic::{Assumptions, Planned, Room, Walk, read_rooms, walk},
    read, snapshot,
};

const ROOMS: &[u8] = include_bytes!("../clinic/rooms.csv");
const ASSUMPTIONS: &str = include_str!("../clinic/assumptions.json");

fn rooms() -> Vec<Room> {
    read_rooms(ROOMS).unwrap()
}

async fn bare_walk(app: &TestApp) -> Walk {
    walk(&app.admin(), &rooms(), None, &mut Vec::new())
        .await
        .unwrap()
}

async fn assumed_walk(app: &TestApp) -> (Walk, String) {
    let (assumptions, mut out) = (Assumptions::read(ASSUMPTIONS).unwrap(), Vec::new());
    let walked = walk(&app.admin(), &rooms(), Some(&assumptions), &mut out)
        .await
        .unwrap();
    (walked, String::from_utf8(out).unwrap())
}

/// Rows and area by outcome.
fn became(walk: &Walk, outcome: &str) -> (u64, f64) {
    let count = read::at(&walk.batch, "/counts")[outcome].as_u64().unwrap();
    (
        count,
        read::at(&walk.batch, "/areas_m2")[outcome]
            .as_f64()
            .unwrap(),
    )
}

fn verdicts(floors: &[Planned]) -> BTreeSet<&str> {
    floors
        .iter()
        .map(|floor| read::text(&floor.plan, "/verdict"))
        .collect()
}

#[test]
fn the_rows_are_those_of_the_handover_data() {
    let rooms = rooms();
    assert_eq!(rooms.len(), 269);
    let area: f64 = rooms.iter().map(|room| room.area_m2).sum();
    assert_eq!(format!("{area:.3}"), "6872.649");
    let names: BTreeSet<_> = rooms.iter().map(|room| &room.external).collect();
    assert_eq!(names.len(), 269);
}

#[tokio::test]
async fn every_row_of_the_clinic_becomes_what_it_is() {
    let app = TestApp::start().await;
    let walked = bare_walk(&app).await;
    assert_eq!(became(&walked, "created"), (161, 2_350.486));
    assert_eq!(became(&walked, "out_of_scope"), (94, 1_572.487));
    assert_eq!(became(&walked, "to_split"), (2, 322.035));
    assert_eq!(became(&walked, "needs_attention"), (12, 2_627.641));
    let by_finish = |word: &str| {
        let floors = walked
            .floors
            .iter()
            .filter(|floor| floor.room.finish == word);
        let area: f64 = floors.clone().map(|floor| floor.room.area_m2).sum();
        (floors.count(), format!("{area:.3}"))
    };
    assert_eq!(
        by_finish("VINYL COMPOSITION TILE"),
        (109, "1582.795".to_owned())
    );
    assert_eq!(by_finish("SHEET VINYL"), (27, "339.144".to_owned()));
    assert_eq!(by_finish("CERAMIC TILE"), (20, "147.393".to_owned()));
    assert_eq!(by_finish("CONCRETE"), (5, "281.154".to_owned()));
    let attention: BTreeSet<String> = rooms()
        .into_iter()
        .zip(read::list(&walked.batch, "/items"))
        .filter(|(_, item)| item["outcome"] == "needs_attention")
        .map(|(room, _)| room.number)
        .collect();
    let expected = [
        "1F01", "1F02", "2R01", "2R02", "3AC1", "3D01", "3R01", "3R02", "3R03", "3R04", "E1",
        "Site",
    ];
    assert_eq!(attention, expected.map(str::to_owned).into());
    for item in read::list(&walked.batch, "/items") {
        let needs_reason =
            ["to_split", "needs_attention", "out_of_scope"].contains(&read::text(item, "/outcome"));
        assert_eq!(
            needs_reason,
            !read::list(item, "/errors").is_empty(),
            "{item}"
        );
    }
}

#[tokio::test]
async fn a_missing_perimeter_of_the_clinic_is_a_finding_and_nothing_worse() {
    let app = TestApp::start().await;
    let walked = bare_walk(&app).await;
    for floor in &walked.floors {
        let surface = app
            .admin()
            .get(&format!("/v1/surfaces/{}", floor.surface_id))
            .await
            .must(200)
            .json();
        let findings = read::list(&surface, "/findings");
        let told = findings
            .iter()
            .find(|finding| finding["rule"] == "perimeter-missing");
        assert_eq!(
            told.is_some(),
            floor.room.perimeter_m.is_none(),
            "{surface:#}"
        );
        if let Some(told) = told {
            let used = (2.0 * floor.room.area_m2).sqrt() * 3.0;
            assert!(
                (read::number(told, "/perimeter_used_m") - used).abs() < 0.001,
                "{told}"
            );
        }
        assert_eq!(read::number(&surface, "/area_m2"), floor.room.area_m2);
    }
}

#[tokio::test]
async fn with_nothing_assumed_the_vinyl_floors_ask_for_the_year_and_the_film() {
    let app = TestApp::start().await;
    let walked = bare_walk(&app).await;
    let vinyl: Vec<Planned> = walked
        .floors
        .into_iter()
        .filter(|floor| floor.room.finish.contains("VINYL"))
        .collect();
    assert_eq!(vinyl.len(), 136);
    assert_eq!(verdicts(&vinyl), BTreeSet::from(["needs_information"]));
    for floor in &vinyl {
        let asked: BTreeSet<&str> = read::list(&floor.plan, "/questions")
            .iter()
            .map(|question| read::text(question, "/fact"))
            .collect();
        assert!(
            asked.contains("survey.built_year") && asked.contains("film.kind"),
            "{asked:?}"
        );
        assert!(floor.plan.get("work").is_none());
        assert!(!read::list(&floor.plan, "/meanwhile").is_empty());
    }
}

#[tokio::test]
async fn with_our_assumptions_every_hard_floor_is_planned_and_accounted_for() {
    let app = TestApp::start().await;
    let _bare = bare_walk(&app).await;
    let (walked, told) = assumed_walk(&app).await;
    assert_eq!(became(&walked, "updated"), (161, 2_350.486));
    assert_eq!(walked.floors.len(), 161);
    let allowed = BTreeSet::from(["allowed", "allowed_with_warnings"]);
    assert!(
        verdicts(&walked.floors).is_subset(&allowed),
        "{:?}",
        verdicts(&walked.floors)
    );
    let work = walked.work.unwrap();
    assert_eq!(read::number(&work.estimate, "/n_surfaces"), 161.0);
    assert_eq!(
        format!("{:.3}", read::number(&work.estimate, "/area_m2")),
        "2350.486"
    );
    for line in read::list(&work.estimate, "/products") {
        assert!(
            read::number(line, "/ordered_l") >= read::number(line, "/total_l"),
            "{line}"
        );
        assert!(!read::list(line, "/packs").is_empty(), "{line}");
    }
    assert!(read::cents(&work.estimate, "/cost/net") <= read::cents(&work.estimate, "/apart_net"));
    let n_first: usize = walked
        .floors
        .iter()
        .filter(|floor| floor.room.storey == "First Floor")
        .count();
    assert_eq!(work.completions.len(), n_first);
    let report: Value = serde_json::from_slice(&work.report).unwrap();
    let parts: i64 = work
        .completions
        .iter()
        .map(|one| read::cents(one, "/money/actual_net"))
        .sum();
    assert_eq!(read::cents(&report, "/totals/0/actual/net"), parts);
    assert_eq!(read::number(&report, "/totals/0/n_completions"), 103.0);
    for line in [
        "161    2350.486 m2  registered before, changed now",
        "to order:",
        "they are the sum of the completions",
    ] {
        assert!(told.contains(line), "{line} is not in:\n{told}");
    }
}

/// What is printed, and what is not printed as a number, against the same file on every database.
#[tokio::test]
async fn the_clinic_is_answered_the_same_on_every_database() {
    let app = TestApp::start().await;
    let (walked, told) = assumed_walk(&app).await;
    let work = walked.work.unwrap();
    let plans = walked.floors.iter().map(|floor| floor.plan.to_string());
    let answers = [
        ("batch", fingerprint([walked.batch.to_string()])),
        ("plans", fingerprint(plans)),
        ("estimate", fingerprint([work.estimate.to_string()])),
        (
            "completions",
            fingerprint(work.completions.iter().map(Value::to_string)),
        ),
        (
            "report",
            fingerprint([String::from_utf8(work.report).unwrap()]),
        ),
    ];
    let answers = answers.map(|(name, print)| format!("{name} {print:016x}\n"));
    snapshot::check(
        "clinic.txt",
        &format!("{told}\nFingerprints of the answers:\n{}", answers.concat()),
    );
}

/// FNV-1a, 64 bits: enough to tell a difference, and the same everywhere.
fn fingerprint(texts: impl IntoIterator<Item = String>) -> u64 {
    let bytes = texts.into_iter().flat_map(String::into_bytes);
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[tokio::test]
async fn the_clinic_walked_twice_changes_nothing() {
    let app = TestApp::start().await;
    let n_events = async || {
        let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
        let told = tx.outbox().list(10_000).await.unwrap();
        // What falls due is told by the clock and not by the walk.
        let told = told.iter().filter(|event| !event.kind.contains(".due."));
        told.count()
    };
    let bare = bare_walk(&app).await;
    let before = n_events().await;
    let again = bare_walk(&app).await;
    assert_eq!(became(&again, "unchanged"), (161, 2_350.486));
    assert_eq!((n_events().await, again.n_replayed), (before, 161));
    assert_eq!(again.floors.len(), bare.floors.len());
    let (walked, told) = assumed_walk(&app).await;
    let before = n_events().await;
    let (again, told_again) = assumed_walk(&app).await;
    assert_eq!(n_events().await, before);
    assert_eq!(became(&again, "unchanged"), (161, 2_350.486));
    let (work, work_again) = (walked.work.unwrap(), again.work.unwrap());
    assert_eq!(again.n_replayed, 161 + 1 + work.completions.len());
    assert_eq!(work_again.report, work.report);
    assert_eq!(work_again.estimate, work.estimate);
    assert_eq!(work_again.completions, work.completions);
    assert_eq!(told_again.replace("unchanged", "changed now"), told);
}
