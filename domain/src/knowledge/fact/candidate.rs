//! What is known before a candidate is: facts that may differ from one process to the next on the same floor.

use std::sync::LazyLock;

use super::{Fact, Facts, Value};

/// The facts that may differ from one candidate to the next.
static OF_CANDIDATE: LazyLock<Vec<Fact>> = LazyLock::new(|| {
    let all = Fact::ALL.iter().copied();
    all.filter(|fact| fact.is_of_candidate()).collect()
});

impl Fact {
    /// Whether it may differ from one candidate to the next on the same floor: its name says of what it is.
    pub const fn is_of_candidate(self) -> bool {
        matches!(
            self.name().as_bytes(),
            [b'm', b'a', b'k', b'e', b'r', b'.', ..]
                | [b'p', b'l', b'a', b'n', b'.', ..]
                | [b'p', b'r', b'o', b'c', b'e', b's', b's', b'.', ..]
                | [b'u', b's', b'e', b'd', b'.', ..]
        )
    }
}

impl Facts<'_> {
    /// The facts of the floor alone. A condition that is true or false of them is so for every candidate; one that hangs
    /// on a candidate, be it on whether something of it is known, is undecided.
    #[must_use]
    pub fn without_candidate(&self) -> Self {
        let mut alone = self.clone();
        alone.awaits_candidate = true;
        for fact in &*OF_CANDIDATE {
            alone.set(*fact, Value::Unknown);
        }
        alone
    }

    /// Whether a candidate is still to come.
    pub(in crate::knowledge) const fn awaits_candidate(&self) -> bool {
        self.awaits_candidate
    }

    /// Whether a candidate that is still to come may make the fact known.
    pub(in crate::knowledge) fn may_become_known(&self, fact: Fact) -> bool {
        self.awaits_candidate && fact.is_of_candidate()
    }
}
