//! What contractors' systems sent. The event's row is the first insert of the effect's own transaction, so the effect and the
//! memory of it become true together, as with idempotency keys.

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::{CompletionId, ContractorId, SourceId};
use sea_orm::sea_query::{Expr, ExprTrait, LockType, OnConflict};
use sea_orm::{
    ActiveValue::Set, Condition, EntityTrait, IntoActiveModel, QueryFilter, QuerySelect,
    TryInsertResult,
};

use super::{StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{External, InboundReportRow, inbound_event as event, inbound_report as report};

/// How long an event is remembered: longer than any sender repeats it.
const KEPT: TimeDelta = TimeDelta::days(30);

/// An event as it arrived.
#[derive(Debug, Clone, Copy)]
pub struct Arrived<'a> {
    /// From where.
    pub source: SourceId,
    /// Its id, which is the sender's.
    pub webhook_id: &'a str,
    /// A hash of what it says.
    pub fingerprint: &'a str,
    /// What it says; opaque here.
    pub payload: &'a str,
}

/// What the id of an event means for the message that brings it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Arrival {
    /// It is new: do the work, then [`Inbounds::finish`], then commit.
    New,
    /// The work is done: answer this again.
    Known(String),
    /// It came with something else before.
    OtherPayload,
    /// It is being worked on right now.
    InFlight,
}

/// The events that contractors' systems sent to the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Inbounds<'a>(pub(super) &'a Tx);

impl Inbounds<'_> {
    /// Claims an event for this transaction, or tells what became of it. Call it before any other write.
    ///
    /// After any answer but [`Arrival::New`] the transaction is of no use: drop it.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: the event was kept without an answer.
    pub async fn begin(
        &self,
        arrived: Arrived<'_>,
        now: DateTime<Utc>,
    ) -> Result<Arrival, StoreError> {
        match self.claim(arrived, now).await {
            Err(StoreError::Contended) => Ok(Arrival::InFlight),
            other => other,
        }
    }

    /// On PostgreSQL this waits for another transaction that has inserted the same event, up to the lock timeout.
    async fn claim(&self, arrived: Arrived<'_>, now: DateTime<Utc>) -> Result<Arrival, StoreError> {
        let model = event::Model {
            tenant_id: self.0.tenant.uuid(),
            source_id: arrived.source.uuid(),
            webhook_id: arrived.webhook_id.to_owned(),
            fingerprint: arrived.fingerprint.to_owned(),
            payload: arrived.payload.to_owned(),
            reply: None,
            created_at: truncate_to_millis(now),
        };
        let conflict = OnConflict::columns(["tenant_id", "source_id", "webhook_id"])
            .do_nothing()
            .to_owned();
        let done = event::Entity::insert(model.into_active_model())
            .on_conflict(conflict)
            .try_insert()
            .exec_without_returning(&self.0.inner)
            .await?;
        if matches!(done, TryInsertResult::Inserted(1)) {
            return Ok(Arrival::New);
        }
        let found = event::Entity::find()
            .filter(self.is(arrived.source, arrived.webhook_id))
            .one(&self.0.inner)
            .await?;
        match found {
            // It was there a moment ago: it was too old, and forgotten in between.
            None => Ok(Arrival::InFlight),
            Some(model) if model.fingerprint != arrived.fingerprint => Ok(Arrival::OtherPayload),
            Some(model) => model
                .reply
                .map(Arrival::Known)
                .ok_or_else(|| unfinished(arrived.webhook_id)),
        }
    }

    /// Keeps the answer to an event that this transaction has claimed.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it was not claimed.
    pub async fn finish(
        &self,
        source: SourceId,
        webhook_id: &str,
        reply: &str,
    ) -> Result<(), StoreError> {
        let done = event::Entity::update_many()
            .col_expr("reply", Expr::val(reply))
            .filter(self.is(source, webhook_id))
            .exec(&self.0.inner)
            .await?;
        if done.rows_affected == 1 {
            Ok(())
        } else {
            Err(StoreError::StaleVersion)
        }
    }

    /// Forgets up to a thousand events that nobody sends any more, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep(&self, now: DateTime<Utc>) -> Result<u64, StoreError> {
        let before = now.checked_sub_signed(KEPT).unwrap_or(now);
        let old = Expr::col("created_at").lt(truncate_to_millis(before));
        super::tenant::delete_some(self.0, "inbound_events", Some(old)).await
    }

    /// Where a report stands. Nobody else learns or changes that until the transaction ends.
    ///
    /// # Errors
    /// [`StoreError::Contended`]: somebody else is at it. [`StoreError::Conflict`]: the contractor is not there.
    pub async fn report(
        &self,
        contractor: ContractorId,
        external: &External,
    ) -> Result<InboundReportRow, StoreError> {
        let model = report::Model {
            tenant_id: self.0.tenant.uuid(),
            contractor_id: contractor.uuid(),
            external_system: external.system.clone(),
            external_id: external.id.clone(),
            last_kind: String::new(),
            last_webhook_id: String::new(),
            last_at: DateTime::UNIX_EPOCH,
            reported_as: None,
            completion_id: None,
        };
        let key = [
            "tenant_id",
            "contractor_id",
            "external_system",
            "external_id",
        ];
        let conflict = OnConflict::columns(key).do_nothing().to_owned();
        report::Entity::insert(model.into_active_model())
            .on_conflict(conflict)
            .try_insert()
            .exec_without_returning(&self.0.inner)
            .await?;
        let found = report::Entity::find()
            .filter(self.names(contractor, external))
            .lock(LockType::Update)
            .one(&self.0.inner)
            .await?;
        found.map(Into::into).ok_or(StoreError::Contended)
    }

    /// Writes down where a report stands now.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it was not asked for before.
    pub async fn save(&self, row: &InboundReportRow) -> Result<(), StoreError> {
        let mut change = report::ActiveModel {
            reported_as: Set(row.reported_as.clone()),
            completion_id: Set(row.completion_id.map(CompletionId::uuid)),
            ..Default::default()
        };
        if let Some(last) = &row.last {
            change.last_at = Set(truncate_to_millis(last.at));
            change.last_kind = Set(last.kind.clone());
            change.last_webhook_id = Set(last.webhook_id.clone());
        }
        let done = report::Entity::update_many()
            .set(change)
            .filter(self.names(row.contractor_id, &row.external))
            .exec(&self.0.inner)
            .await?;
        if done.rows_affected == 1 {
            Ok(())
        } else {
            Err(StoreError::StaleVersion)
        }
    }

    fn is(self, source: SourceId, webhook_id: &str) -> Condition {
        Condition::all()
            .add(table::is("tenant_id", self.0.tenant.uuid()))
            .add(table::is("source_id", source.uuid()))
            .add(table::is("webhook_id", webhook_id))
    }

    fn names(self, contractor: ContractorId, external: &External) -> Condition {
        Condition::all()
            .add(table::is("tenant_id", self.0.tenant.uuid()))
            .add(table::is("contractor_id", contractor.uuid()))
            .add(super::site::by_external(external))
    }
}

/// An event without an answer was committed.
fn unfinished(webhook_id: &str) -> StoreError {
    StoreError::Corrupt {
        table: "inbound_events",
        column: "reply",
        row: webhook_id.to_owned(),
        source: "the event was taken and has no answer".into(),
    }
}
