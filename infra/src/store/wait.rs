//! How long transactions wait until they have begun: for a connection of the pool, and on SQLite for the one writer.

use std::{
    fmt,
    sync::{Arc, OnceLock},
    time::{Duration, Instant},
};

/// Who is told of a wait.
type Told = Box<dyn Fn(Duration) + Send + Sync>;

/// Tells of waits, if anybody wants to be told.
#[derive(Clone, Default)]
pub(super) struct Waits(Arc<OnceLock<Told>>);

impl Waits {
    /// Tells of every wait from now on; whoever comes second is told nothing.
    pub(super) fn tell(&self, to: Told) {
        let _second = self.0.set(to);
    }

    /// Waits for a transaction to begin, or to be given up, and tells how long it took.
    pub(super) async fn timed<T>(&self, begun: impl Future<Output = T>) -> T {
        let clock = Instant::now();
        let begun = begun.await;
        if let Some(tell) = self.0.get() {
            tell(clock.elapsed());
        }
        begun
    }
}

impl fmt::Debug for Waits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Waits { .. }")
    }
}
