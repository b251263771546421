//! Files that are made to cost more than their size tells, and files that came out of the register.

use std::fmt::Write as _;

use super::broken::{kind, model};
use crate::{
    handover::{
        Concern, ExternalName, Fate, Handover, MAX_FINISHES, Reason, Reconciled, RefusalKind,
        Registered, read_csv, reconcile,
    },
    knowledge::KnowledgeBase,
    quantity::Area,
};

/// A comb: each of its edges lies beside all others, so that each is held against all.
fn comb(n: usize) -> String {
    let teeth = 0..n / 2;
    let side = |x: f64, lift: f64, y: usize| {
        let shift = if y.is_multiple_of(2) { 0.0 } else { 0.5 };
        format!("({:?},{y}.{lift})", x + shift)
    };
    let left = teeth.clone().map(|y| side(0.0, 0.0, y));
    let right = teeth.rev().map(|y| side(100.0, 25.0, y));
    left.chain(right).collect::<Vec<_>>().join(",")
}

#[test]
fn spaces_that_share_one_large_drawing_are_measured_within_a_budget() {
    // A thousand points: 10⁶ pairs for each space, and 6·10⁷ for a file.
    let mut text = format!(
        "#50=IFCPRODUCTDEFINITIONSHAPE($,$,(#51));\n#51=IFCSHAPEREPRESENTATION($,'FootPrint','Curve',(#52));\n\
         #52=IFCGEOMETRICCURVESET((#53));\n#53=IFCINDEXEDPOLYCURVE(#54,$,.F.);\n#54=IFCCARTESIANPOINTLIST2D(({}));\n",
        comb(1_000)
    );
    for id in 1_000..1_400 {
        let _ = writeln!(
            text,
            "#{id}=IFCSPACE('s{id}',$,'{id}',$,$,$,#50,$,.ELEMENT.,$,$);"
        );
    }
    let found = model(&text).unwrap();
    let measured = found.spaces.iter().filter(|space| space.area.is_some());
    assert_eq!(measured.count(), 60);
    // The others say that they were not.
    let unread = found.spaces.iter().filter(|space| {
        let concerns = space.remarks.iter().map(|one| one.concern);
        concerns.into_iter().any(|one| one == Concern::ShapeUnread)
    });
    assert_eq!(unread.count(), found.spaces.len() - 60);
}

#[test]
fn no_model_has_more_storeys_than_spaces_may_be() {
    let mut text = String::new();
    for id in 1_000..22_000 {
        let _ = writeln!(text, "#{id}=IFCBUILDINGSTOREY('s{id}',$,'x{id}');");
    }
    assert_eq!(kind(&text), RefusalKind::TooLarge);
}

#[test]
fn what_is_noticed_of_a_space_is_bounded_and_keeps_what_blocks() {
    // A hundred sets that are not there, told of two thousand spaces.
    let mut text = String::new();
    let (mut spaces, mut sets) = (String::from("#5"), String::from("#900000"));
    for id in 1_000..3_000 {
        let _ = writeln!(
            text,
            "#{id}=IFCSPACE('s{id}',$,'{id}',$,$,$,$,$,.ELEMENT.,$,$);"
        );
        let _ = write!(spaces, ",#{id}");
    }
    for id in 900_001..900_100 {
        let _ = write!(sets, ",#{id}");
    }
    let _ = writeln!(
        text,
        "#30000=IFCRELDEFINESBYPROPERTIES('r',$,$,$,({spaces}),({sets}));"
    );
    let found = model(&text).unwrap();
    for space in &found.spaces {
        assert!(space.remarks.len() <= 30, "{}", space.remarks.len());
        let mut concerns = space.remarks.iter().map(|one| one.concern);
        assert!(concerns.any(|one| one == Concern::AreaMissing));
    }
}

const HEADER: &str =
    "surface_id,version,external_id,name,storey,area_m2,perimeter_m,material,finish\n";

fn table(rows: &str) -> Handover {
    read_csv(format!("{HEADER}{rows}").as_bytes()).unwrap()
}

fn judge(found: &Handover, registered: &[Registered]) -> Reconciled {
    reconcile(KnowledgeBase::builtin().unwrap(), &[], found, registered)
}

fn reasons(judged: &Reconciled, index: usize) -> Vec<&'static str> {
    judged.rows[index].why.iter().map(|why| why.code).collect()
}

#[test]
fn more_finishes_than_a_building_has_are_not_all_read() {
    let mut rows = String::new();
    for number in 0..=MAX_FINISHES {
        let _ = writeln!(rows, ",,r{number},Room {number},1,20,18,,Zorblite {number}");
    }
    rows.push_str(",,again,Room,1,20,18,,Zorblite 0\n");
    let judged = judge(&table(&rows), &[]);
    let told = |index: usize| judged.rows[index].why[0].detail.clone();
    assert!(told(0).contains("dictionary"));
    assert!(told(MAX_FINISHES).contains("more than 2000"));
    // What was read is known.
    assert_eq!(told(MAX_FINISHES + 1), told(0));
    assert_eq!(judged.counts.needs_attention, MAX_FINISHES + 2);
}

#[test]
fn a_row_of_the_register_is_its_surface_and_tells_its_material_by_key() {
    let found = table(
        "srf_1,3,'=x,'=Hall,1,20,18,linoleum,VCT\n\
         srf_2,no,x,Store,1,20,18,linoleum,\n\
         ,,R-3,Ward,1,20,18,no_such_material,VCT\n\
         ,,R-4,Ward 2,1,20,18,,VCT\n",
    );
    let [hall, store, ward, _] = &found.spaces[..] else {
        panic!("{found:?}")
    };
    assert_eq!((hall.name.as_str(), &hall.external), ("=Hall", &None));
    let surface = hall.surface.as_ref().unwrap();
    assert_eq!((surface.id.as_str(), surface.version), ("srf_1", Some(3)));
    assert_eq!(store.remarks[0].concern, Concern::NumberUnreadable);
    assert_eq!(ward.surface, None);
    let judged = judge(&found, &[]);
    // Nobody has told the judge of these surfaces: they are not made anew.
    assert_eq!(reasons(&judged, 0), [Reason::SurfaceUnknown.word()]);
    assert!(reasons(&judged, 1).contains(&Reason::SurfaceUnknown.word()));
    assert_eq!(reasons(&judged, 2), [Reason::MaterialUnknown.word()]);
    assert_eq!(judged.rows[3].fate, Fate::Created);
}

#[test]
fn what_is_registered_keeps_the_name_that_a_file_leaves_out() {
    let registered = Registered {
        external: ExternalName::of("csv", "R-1"),
        name: "n/a".to_owned(),
        storey: "-".to_owned(),
        material: "linoleum".to_owned(),
        area: Area::from_mm2(20_000_000),
        perimeter: None,
    };
    let judged = judge(
        &table(",,R-1,n/a,-,20,,linoleum,\n"),
        std::slice::from_ref(&registered),
    );
    assert_eq!(judged.rows[0].fate, Fate::Unchanged);
    assert_eq!(judged.rows[0].surface, Some(registered));
    // A new one has to have a name.
    let judged = judge(&table(",,R-2,n/a,1,20,,linoleum,\n"), &[]);
    assert_eq!(reasons(&judged, 0), [Concern::NameMissing.word()]);
}
