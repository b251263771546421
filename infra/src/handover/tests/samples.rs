//! Files of real buildings held to what other libraries read from them: openpyxl 3.1.5 and ifcopenshell 0.9.0.

use std::collections::BTreeMap;

use domain::{
    handover::{
        Concern, Fate, Format, FoundSpace, Handover, Place, Registered, SpaceKind, reconcile,
    },
    knowledge::KnowledgeBase,
    quantity::{Area, Length},
};

use crate::handover::read;

const CLINIC: &[u8] = include_bytes!("../../../../tests/handover/clinic-handover-cobie.xlsx");
const CLINIC_ROWS: &str = include_str!("../../../../tests/clinic/rooms.csv");
const DUPLEX: &[u8] = include_bytes!("../../../../tests/handover/duplex-handover-cobie.xlsx");
const DUPLEX_MODEL: &[u8] = include_bytes!("../../../../tests/handover/duplex-architecture.ifc");
const LARGE_MODEL: &[u8] = include_bytes!("../../../../tests/handover/large-building.ifc");
const MADE_MODEL: &[u8] = include_bytes!("../../../../tests/handover/spaces.ifc");

fn area_m2<'a>(spaces: impl IntoIterator<Item = &'a FoundSpace>) -> f64 {
    spaces
        .into_iter()
        .filter_map(|space| space.area)
        .sum::<Area>()
        .m2()
}

/// The edges that the file claims: those that were taken, and those that were told to be impossible.
fn edge_m<'a>(spaces: impl IntoIterator<Item = &'a FoundSpace>) -> f64 {
    let claimed = |space: &FoundSpace| space.perimeter.or_else(|| impossible(space));
    spaces.into_iter().filter_map(claimed).sum::<Length>().m()
}

/// The edge that a remark tells to be impossible.
fn impossible(space: &FoundSpace) -> Option<Length> {
    let told = space
        .remarks
        .iter()
        .find(|one| one.concern == Concern::PerimeterImpossible)?;
    let (_, figure) = told.detail.split_once(" says ")?;
    Length::from_m(figure.split_once(" m,")?.0.parse().ok()?)
}

/// Rooms, area and edge of the spaces by a key.
fn sums(
    found: &Handover,
    key: impl Fn(&FoundSpace) -> String,
) -> BTreeMap<String, (usize, f64, f64)> {
    let mut groups: BTreeMap<String, Vec<&FoundSpace>> = BTreeMap::new();
    for space in &found.spaces {
        groups.entry(key(space)).or_default().push(space);
    }
    let sum = |spaces: Vec<&FoundSpace>| {
        let (area, edge) = (
            area_m2(spaces.iter().copied()),
            edge_m(spaces.iter().copied()),
        );
        (spaces.len(), area, edge)
    };
    groups
        .into_iter()
        .map(|(key, spaces)| (key, sum(spaces)))
        .collect()
}

fn finish(space: &FoundSpace) -> String {
    space
        .finish
        .as_ref()
        .map_or_else(String::new, |finish| finish.text.to_uppercase())
}

fn expected(rows: &[(&str, usize, f64, f64)]) -> BTreeMap<String, (usize, f64, f64)> {
    rows.iter()
        .map(|(key, n, area, edge)| ((*key).to_owned(), (*n, *area, *edge)))
        .collect()
}

/// The finishes of the clinic: rooms, net m², m of edge.
const CLINIC_FINISHES: [(&str, usize, f64, f64); 7] = [
    ("", 12, 2_627.641, 611.752),
    ("VINYL COMPOSITION TILE", 109, 1_582.795, 1_734.053),
    ("CARPET", 94, 1_572.487, 1_595.589),
    ("SHEET VINYL", 27, 339.144, 367.957),
    ("VINYL COMPOSITION TILE/CARPET", 2, 322.035, 147.792),
    ("CONCRETE", 5, 281.154, 122.236),
    ("CERAMIC TILE", 20, 147.393, 234.159),
];

#[test]
fn the_clinics_workbook_tells_its_rooms_areas_edges_and_finishes() {
    let found = read(Format::Cobie, CLINIC).unwrap();
    assert_eq!(found.spaces.len(), 269);
    assert_eq!(found.storeys.len(), 5);
    assert_eq!(area_m2(&found.spaces), 6_872.649);
    assert_eq!(edge_m(&found.spaces), 4_813.538);
    assert_eq!(sums(&found, finish), expected(&CLINIC_FINISHES));
    // Seven edges are shorter than that of a circle of the same area: 4π·area > edge², by hand.
    let refused: Vec<&str> = found
        .spaces
        .iter()
        .filter(|space| space.perimeter.is_none() && impossible(space).is_some())
        .filter_map(|space| space.number.as_deref())
        .collect();
    assert_eq!(
        refused,
        ["1E17", "2A05", "2A06", "2A07", "2A08", "2A09", "2C06"]
    );
    let storeys = sums(&found, |space| space.storey.clone().unwrap());
    let storeys: Vec<_> = storeys
        .iter()
        .map(|(name, (n, area, _))| (name.as_str(), *n, *area))
        .collect();
    assert_eq!(
        storeys,
        [
            ("First Floor", 155, 2_685.802),
            ("Roof - Main", 6, 1_820.526),
            ("Second Floor", 107, 2_366.321),
            ("Site", 1, 0.0)
        ]
    );
    let bare = found.spaces.iter().filter(|space| space.finish.is_none());
    let mut bare: Vec<&str> = bare.filter_map(|space| space.number.as_deref()).collect();
    bare.sort_unstable();
    assert_eq!(
        bare.join(" "),
        "1F01 1F02 2R01 2R02 3AC1 3D01 3R01 3R02 3R03 3R04 E1 Site"
    );
    // 243 heights are numbers, 7 of them nothing.
    assert_eq!(
        found
            .spaces
            .iter()
            .filter(|space| space.height.is_some())
            .count(),
        236
    );
    let n_roof = found
        .spaces
        .iter()
        .filter(|space| space.kind == SpaceKind::Roof)
        .count();
    let n_site = found
        .spaces
        .iter()
        .filter(|space| space.kind == SpaceKind::Site)
        .count();
    assert_eq!((n_roof, n_site), (6, 1));
    // The facility says millimetres, the rows metres.
    assert!(
        found
            .remarks
            .iter()
            .any(|one| one.concern == Concern::UnitDiffers && one.detail.contains("260"))
    );
    let first = &found.spaces[0];
    assert_eq!(first.title(), "1A01 PATIENT ADMIN. RECEPT.");
    assert_eq!(
        first.place,
        Place::Row {
            sheet: "Space",
            row: 2
        }
    );
    assert_eq!(
        first.external.as_ref().unwrap().id,
        "0ztdC3L1HAzhbhMHypqcZz"
    );
    assert_eq!(first.height, Some(Length::from_mm(2_700)));
}

#[test]
fn every_room_of_the_clinic_has_one_fate_and_a_second_import_changes_nothing() {
    let base = KnowledgeBase::builtin().unwrap();
    let found = read(Format::Cobie, CLINIC).unwrap();
    let first = reconcile(base, &[], &found, &[]);
    let counts = first.counts;
    // Hard finishes 161, carpet 94; roofs and the site are out of scope too. What is left is mixed or has no finish.
    assert_eq!(
        (counts.created, counts.updated, counts.unchanged),
        (161, 0, 0)
    );
    assert_eq!(
        (counts.out_of_scope, counts.needs_attention, counts.total),
        (94 + 7, 7, 269)
    );
    let registered: Vec<Registered> = first
        .rows
        .iter()
        .filter_map(|row| row.surface.clone())
        .collect();
    assert_eq!(
        registered.iter().map(|row| row.area).sum::<Area>().m2(),
        2_350.486
    );
    let again = reconcile(base, &[], &found, &registered).counts;
    assert_eq!((again.created, again.updated, again.unchanged), (0, 0, 161));
    let why: Vec<&str> = first
        .rows
        .iter()
        .filter(|row| row.fate == Fate::NeedsAttention)
        .flat_map(|row| row.why.iter().map(|why| why.code))
        .collect();
    assert_eq!(
        why.iter().filter(|code| **code == "finish_mixed").count(),
        2
    );
    assert_eq!(
        why.iter()
            .filter(|code| **code == "finish_not_told")
            .count(),
        5
    );
}

#[test]
fn the_clinics_table_tells_what_its_workbook_tells() {
    let found = read(Format::Csv, CLINIC_ROWS.as_bytes()).unwrap();
    assert_eq!(found.spaces.len(), 269);
    assert_eq!(area_m2(&found.spaces), 6_872.649);
    assert_eq!(sums(&found, finish), expected(&CLINIC_FINISHES));
    let book = read(Format::Cobie, CLINIC).unwrap();
    for (row, space) in found.spaces.iter().zip(&book.spaces) {
        assert_eq!(
            (row.title(), row.area, row.perimeter),
            (space.title(), space.area, space.perimeter)
        );
    }
}

#[test]
fn the_duplex_workbook_and_its_model_tell_the_same_rooms() {
    let book = read(Format::Cobie, DUPLEX).unwrap();
    assert_eq!((book.spaces.len(), book.storeys.len()), (22, 4));
    assert_eq!(area_m2(&book.spaces), 422.047);
    assert_eq!(edge_m(&book.spaces), 361.682);
    let storeys = sums(&book, |space| space.storey.clone().unwrap());
    let storeys: Vec<_> = storeys
        .iter()
        .map(|(name, (n, area, _))| (name.as_str(), *n, *area))
        .collect();
    assert_eq!(
        storeys,
        [
            ("Level 1", 11, 141.792),
            ("Level 2", 10, 134.533),
            ("Roof", 1, 145.722)
        ]
    );
    assert!(
        book.spaces
            .iter()
            .all(|space| space.height.is_none() && space.finish.is_none())
    );

    let model = read(Format::Ifc, DUPLEX_MODEL).unwrap();
    assert_eq!((model.spaces.len(), model.storeys.len()), (21, 4));
    assert!(
        (area_m2(&model.spaces) - 422.046_566_4).abs() < 2e-5,
        "{}",
        area_m2(&model.spaces)
    );
    for space in &model.spaces {
        let same =
            |other: &&FoundSpace| other.external == space.external && other.number == space.number;
        let other = book.spaces.iter().find(same).unwrap();
        let apart = (space.area.unwrap().m2() - other.area.unwrap().m2()).abs();
        assert!(apart <= 0.0006, "{} {apart}", space.title());
        let apart = (space.perimeter.unwrap().m() - other.perimeter.unwrap().m()).abs();
        assert!(apart <= 0.0006, "{} {apart}", space.title());
        assert_eq!(space.storey, other.storey);
        // Every finish of the model repeats its own name.
        assert_eq!(space.finish, None);
        assert!(
            space
                .remarks
                .iter()
                .any(|one| one.concern == Concern::FinishPlaceholder)
        );
    }
}

#[test]
fn a_model_in_millimetres_with_perimeters_in_feet_is_read_in_metres() {
    let found = read(Format::Ifc, LARGE_MODEL).unwrap();
    assert_eq!((found.spaces.len(), found.storeys.len()), (8, 2));
    let areas: Vec<f64> = found
        .spaces
        .iter()
        .map(|space| space.area.unwrap().m2())
        .collect();
    assert_eq!(
        areas,
        [49.92, 39.78, 33.18, 26.86, 49.92, 39.78, 33.18, 26.86]
    );
    let edges: Vec<f64> = found
        .spaces
        .iter()
        .map(|space| space.perimeter.unwrap().m())
        .collect();
    assert_eq!(edges, [28.4, 25.8, 24.2, 22.6, 28.4, 25.8, 24.2, 22.6]);
    let titles: Vec<String> = found.spaces.iter().map(FoundSpace::title).collect();
    assert_eq!(titles[0], "1 Room");
    for space in &found.spaces {
        assert_eq!(space.storey.as_deref(), Some("Level 1"));
        let feet = |one: &&domain::handover::Remark| one.concern == Concern::PerimeterImpossible;
        let told = space.remarks.iter().find(feet).unwrap();
        assert!(told.detail.contains("may be in feet"), "{}", told.detail);
        assert!(
            space.remarks.iter().all(|one| !one.concern.blocks()),
            "{:?}",
            space.remarks
        );
    }
}

#[test]
fn a_model_in_feet_is_read_by_quantities_footprints_and_coverings() {
    // Figures by hand, by the international foot: 200 ft² = 18.580608 m², 60 ft = 18.288 m, 8 ft = 2.4384 m.
    let found = read(Format::Ifc, MADE_MODEL).unwrap();
    assert_eq!(found.facility.as_deref(), Some("Demo house"));
    let told: Vec<_> = found
        .spaces
        .iter()
        .map(|space| {
            (
                space.title(),
                space.area.map(Area::mm2),
                space.perimeter.map(Length::mm),
                finish(space),
            )
        })
        .collect();
    let row =
        |title: &str, area, edge, finish: &str| (title.to_owned(), area, edge, finish.to_owned());
    assert_eq!(
        told,
        [
            row("101 Küche", Some(18_580_608), Some(18_288), "SHEET VINYL"),
            // 75 ft² with an edge of 40 ft.
            row("102 Store; west", Some(6_967_728), Some(12_192), "LINOLEUM"),
            row("103 Office", Some(12_500_000), None, "CARPET"),
            // 196 ft² with edges of 60 ft and 8 ft.
            row("104 Hall", Some(18_208_996), Some(20_726), ""),
            row("105 Terrace", None, None, ""),
        ]
    );
    assert!(
        found
            .spaces
            .iter()
            .all(|space| space.storey.as_deref() == Some("Erdgeschoß"))
    );
    assert_eq!(found.spaces[0].height, Some(Length::from_mm(2_438)));
    let fates = reconcile(KnowledgeBase::builtin().unwrap(), &[], &found, &[]);
    let fates: Vec<(&str, Vec<&str>)> = fates
        .rows
        .iter()
        .map(|row| {
            (
                row.fate.word(),
                row.why.iter().map(|why| why.code).collect(),
            )
        })
        .collect();
    assert_eq!(
        fates,
        [
            ("created", vec![]),
            ("created", vec![]),
            ("needs_attention", vec!["finishes_differ"]),
            ("needs_attention", vec!["finish_not_told"]),
            ("out_of_scope", vec!["not_a_floor"]),
        ]
    );
}
