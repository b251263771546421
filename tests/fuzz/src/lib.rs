//! What the targets share: the readers of building files, and what is true of whatever they read.

#[path = "../../../infra/src/handover/mod.rs"]
pub mod handover;

use std::collections::BTreeSet;

use domain::{
    handover::{Format, Handover, MAX_SPACES, reconcile},
    knowledge::KnowledgeBase,
};

/// Reads a file as one of a format. Whatever is in it, it is refused, or what was read makes sense and is judged space by space.
///
/// # Panics
/// What was read makes no sense.
pub fn read(format: Format, bytes: &[u8]) {
    match handover::read(format, bytes) {
        Ok(found) => sound(&found),
        Err(refusal) => assert!(!refusal.to_string().is_empty()),
    }
}

fn sound(found: &Handover) {
    assert!(found.spaces.len() <= MAX_SPACES);
    for space in &found.spaces {
        let area = space.area.map_or(0, |area| area.mm2());
        assert!((0..=1_000_000_000_000).contains(&area), "{area} mm²");
        if let (Some(area), Some(edge)) = (space.area, space.perimeter) {
            assert!(domain::survey::possible(area, edge), "{area:?} in {edge:?}");
        }
        assert_eq!(space.outline.is_some(), !space.rings.is_empty());
    }
    let Ok(base) = KnowledgeBase::builtin() else {
        unreachable!("the files that ship can be read");
    };
    let judged = reconcile(base, &[], found, &[]);
    let decided: BTreeSet<usize> = judged.rows.iter().map(|space| space.index).collect();
    assert_eq!(
        decided.len(),
        found.spaces.len(),
        "each space has one outcome"
    );
    let counts = judged.counts;
    let sum = counts.created + counts.updated + counts.unchanged + counts.out_of_scope;
    assert_eq!(counts.total, found.spaces.len());
    assert_eq!(counts.total, sum + counts.needs_attention);
}
