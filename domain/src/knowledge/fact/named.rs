//! Finding a fact by the name that the data files use.

use std::sync::OnceLock;

use super::Fact;

impl Fact {
    /// The fact of a name, if the registry has it.
    pub fn named(name: &str) -> Option<Self> {
        static BY_NAME: OnceLock<Vec<Fact>> = OnceLock::new();
        let sorted = BY_NAME.get_or_init(|| {
            let mut all = Self::ALL.to_vec();
            all.sort_by_key(|fact| fact.name());
            all
        });
        let place = sorted.binary_search_by_key(&name, |fact| fact.name());
        sorted.get(place.ok()?).copied()
    }
}
