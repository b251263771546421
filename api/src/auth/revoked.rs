//! Whose tokens are refused before they end, remembered for half a minute.

use std::{
    collections::HashMap,
    sync::{
        Arc, PoisonError, RwLock,
        atomic::{AtomicU64, Ordering},
    },
};

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::TenantId;
use infra::{
    row::RevocationRow,
    store::{Store, StoreError},
};

use super::token::{Claims, LEEWAY_S, MAX_LIFE_S};

/// How long an answer of the store is believed: what another process was told is known here after this.
const MEMORY: TimeDelta = TimeDelta::seconds(30);
/// How many tenants are remembered; when there are more, all are forgotten.
const MAX_REMEMBERED: usize = 10_000;

/// The last second up to which tokens are refused, by their holder.
type Until = HashMap<String, i64>;

/// The revocations of one tenant that may still refuse a token.
#[derive(Debug, Default)]
struct Known {
    subjects: Until,
    clients: Until,
}

impl Known {
    fn of(rows: Vec<RevocationRow>) -> Self {
        let mut known = Self::default();
        for row in rows {
            let of = if row.holder == "client" {
                &mut known.clients
            } else {
                &mut known.subjects
            };
            let until = of.entry(row.name).or_insert(i64::MIN);
            *until = row.issued_until.timestamp().max(*until);
        }
        known
    }

    fn refuses(&self, claims: &Claims) -> bool {
        let within = |all: &Until, name: &String| {
            all.get(name).is_some_and(|until| claims.issued_s <= *until)
        };
        within(&self.subjects, &claims.subject) || within(&self.clients, &claims.client_id)
    }
}

/// From when on a revocation may still refuse a token that is good by its times.
pub(crate) fn still_counting(now: DateTime<Utc>) -> DateTime<Utc> {
    now - TimeDelta::seconds(MAX_LIFE_S) - TimeDelta::seconds(LEEWAY_S)
}

/// What was learnt of a tenant, and when.
type Learnt = (Arc<Known>, DateTime<Utc>);

/// The revocations of the tenants that called lately.
#[derive(Debug, Default)]
pub(crate) struct Revoked {
    known: RwLock<HashMap<TenantId, Learnt>>,
    /// How often somebody was told to forget: what was asked for before that is not kept.
    n_told: AtomicU64,
}

impl Revoked {
    /// Whether a token that is good by itself is refused.
    ///
    /// # Errors
    /// Those of the store.
    pub(super) async fn refuses(
        &self,
        store: &Store,
        (tenant, claims): (TenantId, &Claims),
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        if let Some(known) = self.recall(tenant, now) {
            return Ok(known.refuses(claims));
        }
        let n_told = self.n_told.load(Ordering::SeqCst);
        let tx = store.read(tenant).await?;
        let rows = tx.revocations().since(still_counting(now)).await?;
        drop(tx);
        let known = Arc::new(Known::of(rows));
        // A poisoned lock is an earlier panic elsewhere; the map itself is whole between two statements.
        let mut all = self.known.write().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= MAX_REMEMBERED {
            all.clear();
        }
        if self.n_told.load(Ordering::SeqCst) == n_told {
            all.insert(tenant, (Arc::clone(&known), now));
        }
        drop(all);
        Ok(known.refuses(claims))
    }

    /// Has the store asked again at the next call of a tenant.
    pub(crate) fn forget(&self, tenant: TenantId) {
        let mut all = self.known.write().unwrap_or_else(PoisonError::into_inner);
        self.n_told.fetch_add(1, Ordering::SeqCst);
        all.remove(&tenant);
    }

    fn recall(&self, tenant: TenantId, now: DateTime<Utc>) -> Option<Arc<Known>> {
        let all = self.known.read().unwrap_or_else(PoisonError::into_inner);
        let (known, learnt) = all.get(&tenant)?;
        let age = now.signed_duration_since(*learnt);
        (TimeDelta::zero() <= age && age < MEMORY).then(|| Arc::clone(known))
    }
}
