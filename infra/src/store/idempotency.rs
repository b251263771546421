//! Answers kept for repeated requests. The key's row is the first insert of the effect's own transaction, so the
//! effect and the memory of it become true together; a second request with the same key waits for the first.

use chrono::{DateTime, TimeDelta, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict};
use sea_orm::{ActiveValue::Set, EntityTrait, IntoActiveModel, QueryFilter, TryInsertResult};

use super::{StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::idempotency_key as key;

/// How long an answer is kept; the same key is new afterwards.
const KEPT: TimeDelta = TimeDelta::hours(48);

/// An answer as it was first sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredReply {
    /// The status code.
    pub status: u16,
    /// The headers that are repeated, as JSON; opaque here.
    pub headers: String,
    /// The body, byte for byte.
    pub body: Vec<u8>,
}

/// What a key means for the request that brings it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Begin {
    /// It is new: do the work, then [`Idempotency::finish`], then commit.
    Started,
    /// The work is done: send this again.
    Stored(StoredReply),
    /// It was used for another request.
    OtherFingerprint,
    /// The same request is being worked on right now.
    InFlight,
}

/// The kept answers of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Idempotency<'a>(pub(super) &'a Tx);

impl Idempotency<'_> {
    /// Claims a key for this transaction, or tells what became of it. Call it before any other write.
    ///
    /// After any answer but [`Begin::Started`] the transaction is of no use: drop it.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: the kept answer cannot be read.
    pub async fn begin(
        &self,
        client_id: &str,
        key: &str,
        fingerprint: &str,
        now: DateTime<Utc>,
    ) -> Result<Begin, StoreError> {
        let begun = self
            .claim(client_id, key, fingerprint, truncate_to_millis(now))
            .await;
        match begun {
            Err(StoreError::Contended) => Ok(Begin::InFlight),
            Ok(Begin::Started) => {
                self.0.set_started_key(client_id, key);
                Ok(Begin::Started)
            }
            other => other,
        }
    }

    /// Keeps the answer to the key that was started in this transaction.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: none was started, or it is finished already.
    pub async fn finish(&self, status: u16, headers: &str, body: &[u8]) -> Result<(), StoreError> {
        let (client_id, key) = self.0.take_started_key().ok_or(StoreError::StaleVersion)?;
        let answer = key::ActiveModel {
            status: Set(Some(i64::from(status))),
            headers: Set(Some(headers.to_owned())),
            body: Set(Some(body.to_vec())),
            ..Default::default()
        };
        let done = key::Entity::update_many()
            .set(answer)
            .filter(self.is(&client_id, &key))
            .exec(&self.0.inner)
            .await?;
        if done.rows_affected == 1 {
            Ok(())
        } else {
            Err(StoreError::StaleVersion)
        }
    }

    /// Forgets up to a thousand answers that are not given any more, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep(&self, now: DateTime<Utc>) -> Result<u64, StoreError> {
        let before = now.checked_sub_signed(KEPT).unwrap_or(now);
        let old = Expr::col("created_at").lt(truncate_to_millis(before));
        super::tenant::delete_some(self.0, "idempotency_keys", Some(old)).await
    }

    async fn claim(
        &self,
        client_id: &str,
        key: &str,
        fingerprint: &str,
        now: DateTime<Utc>,
    ) -> Result<Begin, StoreError> {
        if self.insert(client_id, key, fingerprint, now).await? {
            return Ok(Begin::Started);
        }
        let found = key::Entity::find()
            .filter(self.is(client_id, key))
            .one(&self.0.inner)
            .await?;
        match found {
            // It was there a moment ago: it expired and was swept in between.
            None => Ok(Begin::InFlight),
            Some(model) if now.signed_duration_since(model.created_at) >= KEPT => {
                self.replace(&model, fingerprint, now).await
            }
            Some(model) if model.fingerprint != fingerprint => Ok(Begin::OtherFingerprint),
            Some(model) => reply(model).map(Begin::Stored),
        }
    }

    /// On PostgreSQL this waits for another transaction that has inserted the same key, up to the lock timeout.
    async fn insert(
        &self,
        client_id: &str,
        key: &str,
        fingerprint: &str,
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let model = key::Model {
            tenant_id: self.0.tenant.uuid(),
            client_id: client_id.to_owned(),
            key: key.to_owned(),
            fingerprint: fingerprint.to_owned(),
            status: None,
            headers: None,
            body: None,
            created_at: now,
        };
        let conflict = OnConflict::columns(["tenant_id", "client_id", "key"])
            .do_nothing()
            .to_owned();
        let done = key::Entity::insert(model.into_active_model())
            .on_conflict(conflict)
            .try_insert()
            .exec_without_returning(&self.0.inner)
            .await?;
        Ok(matches!(done, TryInsertResult::Inserted(1)))
    }

    /// Takes an expired row over, unless another transaction has just done so.
    async fn replace(
        &self,
        old: &key::Model,
        fingerprint: &str,
        now: DateTime<Utc>,
    ) -> Result<Begin, StoreError> {
        let fresh = key::ActiveModel {
            fingerprint: Set(fingerprint.to_owned()),
            status: Set(None),
            headers: Set(None),
            body: Set(None),
            created_at: Set(now),
            ..Default::default()
        };
        let done = key::Entity::update_many()
            .set(fresh)
            .filter(self.is(&old.client_id, &old.key))
            .filter(table::is("created_at", old.created_at))
            .exec(&self.0.inner)
            .await?;
        Ok(if done.rows_affected == 1 {
            Begin::Started
        } else {
            Begin::InFlight
        })
    }

    fn is(self, client_id: &str, key: &str) -> sea_orm::Condition {
        sea_orm::Condition::all()
            .add(table::is("tenant_id", self.0.tenant.uuid()))
            .add(table::is("client_id", client_id))
            .add(table::is("key", key))
    }
}

fn reply(model: key::Model) -> Result<StoredReply, StoreError> {
    let status = model.status.and_then(|status| u16::try_from(status).ok());
    match (status, model.headers, model.body) {
        (Some(status), Some(headers), Some(body)) => Ok(StoredReply {
            status,
            headers,
            body,
        }),
        _ => Err(unfinished(&model.client_id, &model.key)),
    }
}

/// A key without an answer was, or was about to be, committed.
pub(super) fn unfinished(client_id: &str, key: &str) -> StoreError {
    StoreError::Corrupt {
        table: "idempotency_keys",
        column: "status",
        row: format!("{client_id}/{key}"),
        source: "the key was started and has no answer".into(),
    }
}
