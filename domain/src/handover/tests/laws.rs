//! What becomes of spaces: each has one fate, counts add up, and a file that is read again changes nothing.

use proptest::{collection::vec, option, prelude::*};

use crate::{
    handover::{
        ExternalName, Fate, FoundFinish, FoundSpace, Handover, Place, Reconciled, Registered,
        SpaceKind, Synonym, reconcile, settle,
    },
    knowledge::KnowledgeBase,
    quantity::{Area, Length},
};

fn spaces() -> impl Strategy<Value = Handover> {
    let finish = prop_oneof![
        Just("VCT"),
        Just("Sheet vinyl"),
        Just("CARPET"),
        Just("VCT/CARPET"),
        Just("Something"),
        Just("n/a")
    ];
    let kind = prop_oneof![8 => Just(SpaceKind::Floor), 1 => Just(SpaceKind::Roof), 1 => Just(SpaceKind::Site)];
    let space = (
        option::weighted(0.9, 0_u8..12),
        option::weighted(0.9, 0_i64..50_000_000),
        option::of(1_i64..40_000),
        option::of(finish),
        kind,
    );
    vec(space, 0..20).prop_map(|rows| {
        let mut found = Handover::default();
        for (line, (id, area, edge, finish, kind)) in (2..).zip(rows) {
            let mut space = FoundSpace::at(Place::Line(line));
            space.external = id.map(|id| ExternalName::of("csv", &format!("r{id}")));
            space.name = format!("Room {line}");
            space.storey = Some("1".to_owned());
            space.kind = kind;
            space.area = area.map(Area::from_mm2);
            space.perimeter = edge.map(Length::from_mm);
            if let Some(text) = finish {
                space.take_finish(FoundFinish {
                    text: text.to_owned(),
                    label: "finish".to_owned(),
                    place: Place::Line(line),
                });
            }
            found.spaces.push(space);
        }
        settle(&mut found);
        found
    })
}

fn decide(found: &Handover, registered: &[Registered]) -> Reconciled {
    reconcile(KnowledgeBase::builtin().unwrap(), &[], found, registered)
}

/// What is registered once everything that was decided is done.
fn done(decided: &Reconciled) -> Vec<Registered> {
    decided
        .rows
        .iter()
        .filter_map(|row| row.surface.clone())
        .collect()
}

proptest! {
    #[test]
    fn every_space_has_one_fate_and_counts_add_up(found in spaces(), before in spaces()) {
        let before = done(&decide(&before, &[]));
        let decided = decide(&found, &before);
        let counts = decided.counts;
        let sum = counts.created + counts.updated + counts.unchanged + counts.out_of_scope + counts.needs_attention;
        prop_assert_eq!(counts.total, sum);
        prop_assert_eq!(counts.total, found.spaces.len());
        for (index, row) in decided.rows.iter().enumerate() {
            prop_assert_eq!(row.index, index);
            let kept = matches!(row.fate, Fate::Created | Fate::Updated | Fate::Unchanged);
            // What is registered has no reason against it, and everything else has one.
            prop_assert_eq!(kept, row.surface.is_some());
            prop_assert_eq!(kept, row.why.is_empty());
        }
    }

    #[test]
    fn a_file_that_is_read_again_changes_nothing(found in spaces()) {
        let first = decide(&found, &[]);
        let registered = done(&first);
        let again = decide(&found, &registered);
        prop_assert_eq!(again.counts.created + again.counts.updated, 0);
        prop_assert_eq!(again.counts.unchanged, first.counts.created);
        prop_assert_eq!(done(&again), registered);
    }

    #[test]
    fn no_two_surfaces_have_one_name(found in spaces()) {
        let mut names: Vec<ExternalName> = done(&decide(&found, &[])).into_iter().map(|row| row.external).collect();
        let n_names = names.len();
        names.sort();
        names.dedup();
        prop_assert_eq!(names.len(), n_names);
    }
}

#[test]
fn what_a_file_leaves_open_stays_as_it_was() {
    let mut space = FoundSpace::at(Place::Line(2));
    space.external = Some(ExternalName::of("csv", "a"));
    space.name = "Hall".to_owned();
    space.area = Area::from_m2(32.0);
    let found = Handover {
        spaces: vec![space],
        ..Handover::default()
    };
    let before = Registered {
        external: ExternalName::of("csv", "a"),
        name: "Hall".to_owned(),
        storey: "1".to_owned(),
        material: "rubber".to_owned(),
        area: Area::from_mm2(32_000_000),
        perimeter: Some(Length::from_mm(24_000)),
    };
    let decided = decide(&found, std::slice::from_ref(&before));
    assert_eq!(decided.rows[0].fate, Fate::Unchanged);
    assert_eq!(decide(&found, &[]).rows[0].why[0].code, "finish_not_told");
    let larger = Registered {
        area: Area::from_mm2(31_000_000),
        ..before.clone()
    };
    let decided = decide(&found, &[larger]);
    assert_eq!(
        (decided.rows[0].fate, decided.rows[0].surface.as_ref()),
        (Fate::Updated, Some(&before))
    );
    let own = [Synonym {
        word: "FB-07".to_owned(),
        means: "cork".to_owned(),
    }];
    let mut told = found;
    told.spaces[0].finish = Some(FoundFinish {
        text: "fb-07".to_owned(),
        label: "finish".to_owned(),
        place: Place::Line(2),
    });
    let decided = reconcile(KnowledgeBase::builtin().unwrap(), &own, &told, &[]);
    assert_eq!(decided.rows[0].surface.as_ref().unwrap().material, "cork");
}

#[test]
fn one_model_is_known_by_its_ids_whichever_file_tells_them() {
    // Source: ISO 16739, IfcGloballyUniqueId: 22 characters, the first below 4.
    assert_eq!(
        ExternalName::of("any tool", "0ztdC3L1HAzhbhMHypqcZz").system,
        "ifc"
    );
    assert_eq!(
        ExternalName::of("any tool", "9ztdC3L1HAzhbhMHypqcZz").system,
        "any tool"
    );
    assert_eq!(ExternalName::of("any tool", "2.104").system, "any tool");
}
