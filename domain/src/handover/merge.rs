//! What a file changes of a surface that is registered: only what it says otherwise than the file before it.
//!
//! Files of a building come again and again, and mostly say what they said. Between two of them people put right what is wrong:
//! a room that was measured, a covering that a test identified. What a file merely repeats never undoes that.

use super::{Registered, clean};
use crate::words::words;

words! {
    /// What a file says of a surface.
    Member {
        /// What people call it.
        Name "name",
        /// Its storey.
        Storey "storey",
        /// Its material.
        Material "material",
        /// Its area, outline and edge.
        Size "size",
    }
}

/// What becomes of a surface.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Merged {
    /// What it says afterwards; what is in conflict stays as it is.
    pub surface: Registered,
    /// What the file changes.
    pub changes: Vec<Member>,
    /// What the file and the register have each changed, and to something else, since the last file.
    pub conflicts: Vec<Member>,
    /// What was put right at the register and stays, though the file repeats what it said before.
    pub kept: Vec<Member>,
}

/// Merges what a file says into what is registered; `before` is what the last file said, if there was one. Without one, what
/// the file says counts.
pub fn merge(said: &Registered, now: &Registered, before: Option<&Registered>) -> Merged {
    let mut merged = Merged {
        surface: now.clone(),
        changes: Vec::new(),
        conflicts: Vec::new(),
        kept: Vec::new(),
    };
    for member in Member::ALL {
        let same = |one: &Registered, other: &Registered| match member {
            // Files fold blanks, people type them.
            Member::Name => clean(&one.name) == clean(&other.name),
            Member::Storey => clean(&one.storey) == clean(&other.storey),
            Member::Material => one.material == other.material,
            Member::Size => (one.area, one.perimeter) == (other.area, other.perimeter),
        };
        if same(said, now) {
            continue;
        }
        match before {
            Some(before) if same(said, before) => merged.kept.push(*member),
            Some(before) if !same(now, before) => merged.conflicts.push(*member),
            _ => {
                merged.changes.push(*member);
                let surface = &mut merged.surface;
                match member {
                    Member::Name => surface.name.clone_from(&said.name),
                    Member::Storey => surface.storey.clone_from(&said.storey),
                    Member::Material => surface.material.clone_from(&said.material),
                    Member::Size => (surface.area, surface.perimeter) = (said.area, said.perimeter),
                }
            }
        }
    }
    merged
}

#[cfg(test)]
mod tests {
    use super::super::ExternalName;
    use super::*;
    use crate::quantity::Area;

    fn surface(name: &str, material: &str, m2: i64) -> Registered {
        Registered {
            external: ExternalName {
                system: "register".to_owned(),
                id: "1".to_owned(),
            },
            name: name.to_owned(),
            storey: "Ground".to_owned(),
            material: material.to_owned(),
            area: Area::from_mm2(m2 * 1_000_000),
            perimeter: None,
        }
    }

    #[test]
    fn what_a_file_repeats_does_not_undo_what_was_put_right() {
        let before = surface("Hall", "vinyl_sheet", 40);
        let put_right = surface("Hall", "linoleum", 40);
        let merged = merge(&before, &put_right, Some(&before));
        assert_eq!(merged.surface, put_right);
        assert_eq!(merged.kept, [Member::Material]);
        assert!(merged.changes.is_empty() && merged.conflicts.is_empty());
    }

    #[test]
    fn what_a_file_says_anew_is_taken_beside_what_was_put_right() {
        let before = surface("Hall", "vinyl_sheet", 40);
        let put_right = surface("Hall", "linoleum", 40);
        let newer = surface("Hall, extended", "vinyl_sheet", 60);
        let merged = merge(&newer, &put_right, Some(&before));
        assert_eq!(merged.surface, surface("Hall, extended", "linoleum", 60));
        assert_eq!(merged.changes, [Member::Name, Member::Size]);
        assert_eq!(merged.kept, [Member::Material]);
    }

    #[test]
    fn what_both_have_changed_is_left_to_somebody() {
        let before = surface("Hall", "vinyl_sheet", 40);
        let measured = surface("Hall", "vinyl_sheet", 41);
        let newer = surface("Hall", "vinyl_sheet", 60);
        let merged = merge(&newer, &measured, Some(&before));
        assert_eq!(merged.surface, measured);
        assert_eq!(merged.conflicts, [Member::Size]);
        // To the same is no conflict.
        let merged = merge(&measured, &measured, Some(&before));
        assert_eq!((merged.changes, merged.conflicts), (Vec::new(), Vec::new()));
    }

    #[test]
    fn the_first_file_counts() {
        let typed = surface("Room 1", "vinyl_sheet", 40);
        let file = surface("Hall", "linoleum", 41);
        let merged = merge(&file, &typed, None);
        assert_eq!(merged.surface, file);
        assert_eq!(
            merged.changes,
            [Member::Name, Member::Material, Member::Size]
        );
    }
}
