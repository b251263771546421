//! Which tenant a token's claim means, remembered for half a minute.

use std::{
    collections::HashMap,
    sync::{PoisonError, RwLock},
};

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::TenantId;
use infra::store::{Store, StoreError};

/// How long an answer of the store is believed: a tenant that is erased is refused after this, in seconds.
const MEMORY: TimeDelta = TimeDelta::seconds(30);
/// How many tenants are remembered; when there are more, all are forgotten.
const MAX_REMEMBERED: usize = 10_000;

/// The tenants that called lately.
#[derive(Debug, Default)]
pub(crate) struct Tenants(RwLock<HashMap<String, (TenantId, DateTime<Utc>)>>);

impl Tenants {
    /// The tenant with this key; none if there is no such tenant. Only tenants that exist are remembered.
    ///
    /// # Errors
    /// Those of the store.
    pub(crate) async fn find(
        &self,
        store: &Store,
        key: &str,
        now: DateTime<Utc>,
    ) -> Result<Option<TenantId>, StoreError> {
        if let Some(tenant) = self.recall(key, now) {
            return Ok(Some(tenant));
        }
        let found = store
            .tenants()
            .find_by_key(key)
            .await?
            .map(|tenant| tenant.id);
        if let Some(tenant) = found {
            // A poisoned lock is an earlier panic elsewhere; the map itself is whole between two statements.
            let mut known = self.0.write().unwrap_or_else(PoisonError::into_inner);
            if known.len() >= MAX_REMEMBERED {
                known.clear();
            }
            known.insert(key.to_owned(), (tenant, now));
        }
        Ok(found)
    }

    fn recall(&self, key: &str, now: DateTime<Utc>) -> Option<TenantId> {
        let known = self.0.read().unwrap_or_else(PoisonError::into_inner);
        let (tenant, learnt) = known.get(key)?;
        let age = now.signed_duration_since(*learnt);
        (TimeDelta::zero() <= age && age < MEMORY).then_some(*tenant)
    }
}
