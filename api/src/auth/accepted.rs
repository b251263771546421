//! Tokens that were accepted lately, remembered for half a minute: checking a signature by an asymmetric key costs more
//! processor time than reading a record.
//!
//! Only what was accepted is remembered, under the whole token, and only for the keys that it was checked with. Its
//! times are compared on every request all the same.

use std::{
    collections::HashMap,
    sync::{Arc, PoisonError, RwLock},
};

use chrono::{DateTime, TimeDelta, Utc};

use super::{
    published::Keys,
    token::{Claims, TokenFault},
};

/// How long a token is believed without a new check of its signature.
const MEMORY: TimeDelta = TimeDelta::seconds(30);
/// How many tokens are remembered; when there are more, all are forgotten.
const MAX_REMEMBERED: usize = 2_000;
/// The longest token that is remembered, in bytes.
const MAX_TOKEN: usize = 4 * 1024;

/// The tokens that were accepted lately; tokens are secrets, so it has no text of its own.
#[derive(Default)]
pub(crate) struct Accepted(RwLock<HashMap<String, Entry>>);

struct Entry {
    claims: Arc<Claims>,
    /// The published keys that it was checked with; none for those of the configuration.
    keys: Option<Keys>,
    learnt: DateTime<Utc>,
}

impl Accepted {
    /// What a token says, from memory or by `check`.
    ///
    /// # Errors
    /// Those of `check`, which are not remembered.
    pub(super) fn claims(
        &self,
        token: &str,
        keys: Option<&Keys>,
        now: DateTime<Utc>,
        check: impl FnOnce() -> Result<Claims, TokenFault>,
    ) -> Result<Arc<Claims>, TokenFault> {
        if let Some(claims) = self.recall(token, keys, now) {
            return Ok(claims);
        }
        let claims = Arc::new(check()?);
        if token.len() <= MAX_TOKEN {
            let entry = Entry {
                claims: Arc::clone(&claims),
                keys: keys.map(Arc::clone),
                learnt: now,
            };
            // A poisoned lock is an earlier panic elsewhere; the map itself is whole between two statements.
            let mut known = self.0.write().unwrap_or_else(PoisonError::into_inner);
            if known.len() >= MAX_REMEMBERED {
                known.clear();
            }
            known.insert(token.to_owned(), entry);
        }
        Ok(claims)
    }

    fn recall(&self, token: &str, keys: Option<&Keys>, now: DateTime<Utc>) -> Option<Arc<Claims>> {
        let known = self.0.read().unwrap_or_else(PoisonError::into_inner);
        let entry = known.get(token)?;
        let same_keys = match (&entry.keys, keys) {
            (None, None) => true,
            (Some(then), Some(now)) => Arc::ptr_eq(then, now),
            (None, Some(_)) | (Some(_), None) => false,
        };
        let age = now.signed_duration_since(entry.learnt);
        let is_fresh = TimeDelta::zero() <= age && age < MEMORY;
        let believed = same_keys && is_fresh && entry.claims.are_in_time(now);
        believed.then(|| Arc::clone(&entry.claims))
    }
}

#[cfg(test)]
mod tests {
    use std::cell::Cell;

    use chrono::{DateTime, TimeDelta};

    use super::{Accepted, Claims, Keys, TokenFault};

    fn claims() -> Claims {
        Claims {
            tenant: "north".to_owned(),
            subject: "s".to_owned(),
            client_id: "c".to_owned(),
            scopes: Vec::new(),
            contractor: None,
            issued_s: 0,
            expires_s: 1_000,
        }
    }

    #[test]
    fn a_token_is_checked_again_after_half_a_minute_when_it_expires_and_when_the_keys_change() {
        let (accepted, n_checks) = (Accepted::default(), Cell::new(0));
        let at = |seconds| DateTime::from_timestamp(seconds, 0).unwrap();
        let ask = |keys: Option<&Keys>, seconds| {
            let check = || {
                n_checks.set(n_checks.get() + 1);
                Ok(claims())
            };
            accepted.claims("token", keys, at(seconds), check).unwrap();
            n_checks.replace(0)
        };
        assert_eq!([ask(None, 100), ask(None, 100), ask(None, 129)], [1, 0, 0]);
        assert_eq!(
            [ask(None, 130), ask(None, 120)],
            [1, 1],
            "later and earlier"
        );
        let (old, new): (Keys, Keys) = (Vec::new().into(), Vec::new().into());
        assert_eq!([ask(Some(&old), 120), ask(Some(&old), 120)], [1, 0]);
        assert_eq!([ask(Some(&new), 120), ask(None, 120)], [1, 1]);
        let end = 1_000 + 30;
        assert_eq!(
            [ask(None, end - 1), ask(None, end), ask(None, end + 1)],
            [1, 0, 1]
        );
    }

    #[test]
    fn a_refusal_is_not_remembered() {
        let accepted = Accepted::default();
        let now = DateTime::UNIX_EPOCH + TimeDelta::seconds(100);
        let refused = accepted.claims("token", None, now, || Err(TokenFault("no")));
        assert_eq!(refused.unwrap_err(), TokenFault("no"));
        assert!(accepted.claims("token", None, now, || Ok(claims())).is_ok());
    }

    #[test]
    fn memory_is_bounded() {
        let accepted = Accepted::default();
        let now = DateTime::UNIX_EPOCH;
        for n in 0..3 * super::MAX_REMEMBERED {
            let asked = accepted.claims(&n.to_string(), None, now, || Ok(claims()));
            assert!(asked.is_ok());
        }
        let long = "x".repeat(super::MAX_TOKEN + 1);
        assert!(accepted.claims(&long, None, now, || Ok(claims())).is_ok());
        let known = accepted.0.read().unwrap();
        assert!(known.len() <= super::MAX_REMEMBERED && !known.contains_key(&long));
    }
}
