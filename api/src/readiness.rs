//! Whether the service can work: the database answers, has the tables of this version, and nobody told us to stop.

use std::{
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

use infra::store::Store;

/// How long an answer of the database is believed.
const MEMORY: Duration = Duration::from_secs(1);
/// How long the database may take to answer.
const PATIENCE: Duration = Duration::from_secs(1);

/// Whether the service can work.
#[derive(Debug, Default)]
pub(crate) struct Readiness {
    draining: AtomicBool,
    /// Whether the database was once seen with every table of this version; it does not lose them again.
    migrated: AtomicBool,
    last: Mutex<Option<(Instant, bool)>>,
}

impl Readiness {
    /// From now on the service is not ready: it finishes what it has begun and takes nothing more.
    pub(crate) fn drain(&self) {
        self.draining.store(true, Ordering::Release);
    }

    /// Whether it can work now.
    pub(crate) async fn is_ready(&self, store: &Store) -> bool {
        if self.draining.load(Ordering::Acquire) {
            return false;
        }
        if let Some((at, ready)) = *self.last.lock().unwrap_or_else(PoisonError::into_inner)
            && at.elapsed() < MEMORY
        {
            return ready;
        }
        let ready = tokio::time::timeout(PATIENCE, self.check(store))
            .await
            .unwrap_or(false);
        *self.last.lock().unwrap_or_else(PoisonError::into_inner) = Some((Instant::now(), ready));
        ready
    }

    async fn check(&self, store: &Store) -> bool {
        let answer = if self.migrated.load(Ordering::Acquire) {
            store.ping().await.map(|()| true)
        } else {
            // Steps of a newer release leave this one working: they keep nobody from being ready.
            let standing = store.standing().await;
            standing.map(|standing| standing.pending.is_empty())
        };
        match answer {
            Ok(true) => {
                self.migrated.store(true, Ordering::Release);
                true
            }
            Ok(false) => {
                tracing::warn!("not ready: migrations are pending");
                false
            }
            Err(error) => {
                tracing::warn!(cause = %error, "not ready: the database does not answer");
                false
            }
        }
    }
}
