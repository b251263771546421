//! Files of ISO 10303-21 ("STEP"): an index of their entities, each of which is read when it is asked for.
//!
//! The file is walked through once. What is kept is the number and the place of each entity, 16 bytes of it; an entity's
//! values are read from its place. How much is read in all has a limit, so that entities that refer to one another
//! many times over cost no more than a large file does.

mod text;
mod value;
mod walk;

use std::cell::Cell;

pub(super) use text::decode;
pub(super) use value::{Entity, Value};
use walk::Walk;

use super::{Place, Refusal, RefusalKind};

/// The most bytes of a file.
const MAX_BYTES: usize = 64 * 1024 * 1024;
/// The most entities of a file.
const MAX_ENTITIES: usize = 4_000_000;
/// How many bytes of entities are read at most, beyond those of the file itself.
const MAX_READ: usize = 32 * 1024 * 1024;

/// An open file.
pub(super) struct Step<'f> {
    bytes: &'f [u8],
    /// Number and place of each entity, by number.
    index: Vec<(u64, u32)>,
    /// The schema that it names.
    pub(super) schema: String,
    /// How many bytes may still be read.
    left: Cell<usize>,
}

impl<'f> Step<'f> {
    /// Walks through a file; `note` is told of each entity's number and type.
    ///
    /// # Errors
    /// [`Refusal`]: not such a file, broken or cut off, too large, or an entity that is defined twice.
    pub(super) fn open(
        bytes: &'f [u8],
        mut note: impl FnMut(u64, &'f [u8]),
    ) -> Result<Self, Refusal> {
        if bytes.len() > MAX_BYTES {
            return Err(Refusal::new(
                RefusalKind::TooLarge,
                "The file is larger than 64 MiB.",
                Place::File,
            ));
        }
        let mut walk = Walk::new(bytes);
        let schema = walk.header()?;
        let mut index: Vec<(u64, u32)> = Vec::new();
        let mut sorted = true;
        while let Some(found) = walk.entity()? {
            if index.len() >= MAX_ENTITIES {
                let detail = format!("There are more than {MAX_ENTITIES} entities.");
                return Err(Refusal::new(
                    RefusalKind::TooLarge,
                    detail,
                    Place::Entity(found.id),
                ));
            }
            sorted = sorted && index.last().is_none_or(|(before, _)| *before < found.id);
            index.push((found.id, found.at));
            note(found.id, found.kind);
        }
        if !sorted {
            index.sort_unstable();
            let twice = index.windows(2).find_map(|pair| match pair {
                [(a, _), (b, _)] if a == b => Some(*a),
                _ => None,
            });
            if let Some(id) = twice {
                return Err(Refusal::new(
                    RefusalKind::Malformed,
                    "The entity is defined twice.",
                    Place::Entity(id),
                ));
            }
        }
        Ok(Self {
            bytes,
            index,
            schema,
            left: Cell::new(bytes.len().saturating_add(MAX_READ)),
        })
    }

    /// An entity by its number; `None` where there is none.
    ///
    /// # Errors
    /// [`Refusal`]: it is broken, or more was read than a file of this size can need.
    pub(super) fn get(&self, id: u64) -> Result<Option<Entity<'f>>, Refusal> {
        let Ok(found) = self.index.binary_search_by_key(&id, |(id, _)| *id) else {
            return Ok(None);
        };
        let Some((_, at)) = self.index.get(found) else {
            return Ok(None);
        };
        let at = usize::try_from(*at).unwrap_or(usize::MAX);
        let rest = self.bytes.get(at..).unwrap_or_default();
        let (entity, n_read) = value::read(id, rest)?;
        let Some(left) = self.left.get().checked_sub(n_read) else {
            let detail = "Its entities refer to one another so often that reading them would not come to an end.";
            return Err(Refusal::new(
                RefusalKind::Hostile,
                detail,
                Place::Entity(id),
            ));
        };
        self.left.set(left);
        Ok(Some(entity))
    }
}
