//! The idempotency keys that this process is working on.
//!
//! Who brings a key that is being worked on waits for it here, in nobody's way: on SQLite he would stand in the one
//! writer's queue, before others who have something else to write, and be told that the database is busy. A key that
//! another process works on is waited for in the database.

use std::{
    collections::HashMap,
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicU32, Ordering},
    },
    time::Duration,
};

use domain::id::TenantId;
use tokio::sync::{Mutex as Queue, OwnedMutexGuard};

/// How long the first request with a key is waited for: as long as the database would.
const PATIENCE: Duration = Duration::from_secs(2);

/// After how many writes with a key those that are too old to be answered are forgotten: a thousand at most, so that the
/// table shrinks faster than it grows.
const SWEEP_EVERY: u32 = 100;

/// Whose key, and which.
type Key = (TenantId, String, String);

/// The keys that are being worked on.
#[derive(Debug, Default)]
pub(crate) struct Running(Mutex<HashMap<Key, Arc<Queue<()>>>>, AtomicU32);

impl Running {
    /// Works on a key until what is returned is dropped; `None` if another request still does after two seconds.
    pub(crate) async fn begin(
        &self,
        tenant: TenantId,
        client: &str,
        key: &str,
    ) -> Option<Turn<'_>> {
        let key = (tenant, client.to_owned(), key.to_owned());
        self.begin_within(PATIENCE, key).await
    }

    /// Whether the write that is about to be committed is to forget old answers: one in a hundred is.
    pub(crate) fn is_to_sweep(&self) -> bool {
        let n_before = self.1.fetch_add(1, Ordering::Relaxed);
        n_before.is_multiple_of(SWEEP_EVERY)
    }

    async fn begin_within(&self, patience: Duration, key: Key) -> Option<Turn<'_>> {
        let queue = {
            let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            Arc::clone(all.entry(key.clone()).or_default())
        };
        let mut turn = Turn {
            all: self,
            key,
            guard: None,
        };
        let wait = tokio::time::timeout(patience, queue.lock_owned());
        turn.guard = Some(wait.await.ok()?);
        Some(turn)
    }
}

/// The right to work on a key.
#[derive(Debug)]
pub(crate) struct Turn<'a> {
    all: &'a Running,
    key: Key,
    guard: Option<OwnedMutexGuard<()>>,
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        self.guard = None;
        let mut all = self.all.0.lock().unwrap_or_else(PoisonError::into_inner);
        // Whoever waits holds the queue too, and will be here after us.
        if all
            .get(&self.key)
            .is_some_and(|queue| Arc::strong_count(queue) == 1)
        {
            all.remove(&self.key);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use domain::id::TenantId;
    use uuid::Uuid;

    use super::Running;

    #[tokio::test]
    async fn a_key_is_worked_on_once_and_leaves_nothing_behind() {
        let (running, tenant) = (Running::default(), TenantId::from_uuid(Uuid::nil()));
        let key = |client: &str| (tenant, client.to_owned(), "k".to_owned());
        let first = running.begin(tenant, "app", "k").await.unwrap();
        let late = running.begin_within(Duration::ZERO, key("app")).await;
        assert!(late.is_none(), "another is at it");
        assert!(
            running
                .begin_within(Duration::ZERO, key("other"))
                .await
                .is_some()
        );
        let (second, ()) = tokio::join!(running.begin(tenant, "app", "k"), async { drop(first) });
        assert!(second.is_some(), "whoever waits comes next");
        drop(second);
        assert!(running.0.lock().unwrap().is_empty());
    }
}
