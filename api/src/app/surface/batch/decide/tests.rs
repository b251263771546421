//! Batches decided: what is created, replaced, left alone and refused.

use chrono::{DateTime, Utc};
use domain::{
    id::{SiteId, SurfaceId},
    knowledge::KnowledgeBase,
};
use infra::row::SurfaceRow;
use uuid::Uuid;

use super::{
    super::asked::{ask, externals},
    Decision, Places, Succession, decide,
};
use crate::wire::{
    self,
    surface::{
        Mode, Outcome, SurfaceBatch, SurfaceBatchRequest, SurfaceHead, SurfaceItem, SurfaceView,
    },
};

fn site(n: u128) -> SiteId {
    SiteId::from_uuid(Uuid::from_u128(n))
}

/// An item at the first site, named `name`.
fn item(name: &str, members: &str) -> SurfaceItem {
    let json = format!(
        r#"{{"site_id":"{}","name":"a","storey":"1","external":{{"system":"reg","id":"{name}"}},{members}}}"#,
        site(1)
    );
    wire::stored(&json).unwrap()
}

/// The surface that an item made, in a version.
fn stored(item: SurfaceItem, version: i64) -> SurfaceRow {
    let at: DateTime<Utc> = "2026-01-01T00:00:00Z".parse().unwrap();
    let head = SurfaceHead {
        id: SurfaceId::from_uuid(Uuid::from_u128(7)),
        version,
        created_at: at,
        updated_at: at,
    };
    let request = item.into_request().kept();
    let survey = request.survey("vinyl_sheet", None);
    let external = request.external.as_ref().map(Into::into);
    let view = SurfaceView::new(&head, request, &survey, Vec::new());
    SurfaceRow {
        id: head.id,
        site_id: site(1),
        version,
        name: "a".to_owned(),
        storey: "1".to_owned(),
        material: survey.material,
        area: survey.area,
        perimeter: survey.perimeter,
        external,
        document: wire::document(&view).unwrap(),
        created_at: at,
        updated_at: at,
    }
}

fn told(items: &[SurfaceItem], found: &[SurfaceRow]) -> Vec<(Outcome, Vec<&'static str>)> {
    let base = KnowledgeBase::builtin().unwrap();
    let sites = Places::of([site(1), site(2)]);
    let now: DateTime<Utc> = "2026-01-02T00:00:00Z".parse().unwrap();
    let batch = SurfaceBatch::Whole(SurfaceBatchRequest {
        mode: Mode::Partial,
        merge: false,
        items: items.to_vec(),
    });
    let names = externals(&batch).unwrap();
    let asked = ask(batch, names, found, now).unwrap();
    let successors = &mut Succession::default();
    let decisions = decide(base.into(), &asked, (&sites, successors), now);
    let codes = |decision: &Decision<'_>| decision.faults().iter().map(|f| f.code).collect();
    decisions.iter().map(|d| (d.outcome(), codes(d))).collect()
}

const VINYL: &str = r#""material":"vinyl_sheet","area_m2":240,"perimeter_m":126"#;

#[test]
fn an_item_creates_replaces_or_leaves_alone() {
    let found = [stored(item("a", VINYL), 3)];
    let same_to_the_ledger =
        r#""material":"vinyl_sheet","area_m2":240.0000000001,"perimeter_m":126.00001"#;
    let cases = [
        (item("b", VINYL), Outcome::Created),
        (item("a", VINYL), Outcome::Unchanged),
        (item("a", same_to_the_ledger), Outcome::Unchanged),
        (item("a", &VINYL.replace("240", "241")), Outcome::Updated),
        (
            item("a", &format!(r#"{VINYL},"note":"x""#)),
            Outcome::Updated,
        ),
        (
            item(
                "a",
                r#""finish":"SHEET VINYL","area_m2":240,"perimeter_m":126"#,
            ),
            Outcome::Updated,
        ),
    ];
    for (item, outcome) in cases {
        let shown = format!("{item:?}");
        assert_eq!(told(&[item], &found), [(outcome, vec![])], "{shown}");
    }
}

#[test]
fn each_item_that_cannot_be_stored_says_why_and_spoils_no_other() {
    let elsewhere = |name: &str, n| {
        let mut item = item(name, VINYL);
        item.site_id = site(n).to_string();
        item
    };
    let items = [
        item("new", VINYL),
        item("new", VINYL),
        item("soft", r#""finish":"CARPET","area_m2":10"#),
        item("soft", r#""finish":"CARPET","area_m2":10"#),
        item(
            "mixed",
            r#""finish":"VINYL COMPOSITION TILE/CARPET","area_m2":10"#,
        ),
        item("none", r#""area_m2":0"#),
        item("word", r#""finish":"VINYL","area_m2":1"#),
        elsewhere("nowhere", 9),
        elsewhere("a", 2),
        item("late", &format!(r#"{VINYL},"if_version":1"#)),
    ];
    let attention = |codes: &[&'static str]| (Outcome::NeedsAttention, codes.to_vec());
    let expected = [
        (Outcome::Created, vec![]),
        attention(&["duplicate"]),
        (Outcome::OutOfScope, vec!["out_of_scope"]),
        (Outcome::OutOfScope, vec!["out_of_scope"]),
        (Outcome::ToSplit, vec!["mixed"]),
        attention(&["finish_missing", "area_too_small"]),
        attention(&["unknown_finish"]),
        attention(&["unknown_site"]),
        attention(&["read_only"]),
        attention(&["stale_version"]),
    ];
    assert_eq!(told(&items, &[stored(item("a", VINYL), 3)]), expected);
}

#[test]
fn an_expected_version_must_be_the_one_that_is_there() {
    let found = [stored(item("a", VINYL), 3)];
    let expecting = |version: i64| item("a", &format!(r#"{VINYL},"if_version":{version}"#));
    assert_eq!(told(&[expecting(3)], &found)[0].0, Outcome::Unchanged);
    assert_eq!(told(&[expecting(2)], &found)[0].1, ["stale_version"]);
}

#[test]
fn external_names_are_compared_byte_by_byte() {
    let found = [stored(item("e\u{301}", VINYL), 1)];
    let items = [
        item("\u{e9}", VINYL),
        item("E\u{301}", VINYL),
        item("e\u{301}", VINYL),
    ];
    let outcomes: Vec<_> = told(&items, &found).into_iter().map(|(o, _)| o).collect();
    assert_eq!(
        outcomes,
        [Outcome::Created, Outcome::Created, Outcome::Unchanged]
    );
}
