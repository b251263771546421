//! An event on its way to a subscription, and the attempts to hand it over.

use chrono::{DateTime, Utc};
use domain::id::{DeliveryId, EventId, SubscriptionId};
use sea_orm::entity::prelude::*;

use super::{DeliveryStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// An event on its way to a subscription.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeliveryRow {
    /// Its id.
    pub id: DeliveryId,
    /// Where it goes.
    pub subscription_id: SubscriptionId,
    /// What is told.
    pub event_id: EventId,
    /// The type of the event.
    pub event_type: String,
    /// When the event happened.
    pub event_at: DateTime<Utc>,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// Where it stands.
    pub status: DeliveryStatus,
    /// How often it was tried.
    pub n_attempts: i64,
    /// How often since it was made, or somebody last said that it is to be tried again.
    pub n_round: i64,
    /// When it is looked at again: its next attempt or, while it is being tried, when whoever does so is taken for dead.
    pub due_at: Option<DateTime<Utc>>,
    /// What whoever tries it holds.
    pub lease: Option<Uuid>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it came to its end.
    pub finished_at: Option<DateTime<Utc>>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "deliveries")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) subscription_id: Uuid,
    pub(crate) event_id: Uuid,
    pub(crate) event_type: String,
    pub(crate) event_at: DateTime<Utc>,
    pub(crate) version: i64,
    pub(crate) status: String,
    pub(crate) n_attempts: i64,
    pub(crate) n_round: i64,
    pub(crate) due_at: Option<DateTime<Utc>>,
    pub(crate) lease: Option<Uuid>,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) finished_at: Option<DateTime<Utc>>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for DeliveryRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "deliveries";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            id: self.id.uuid(),
            subscription_id: self.subscription_id.uuid(),
            event_id: self.event_id.uuid(),
            event_type: self.event_type.clone(),
            event_at: truncate_to_millis(self.event_at),
            version: self.version,
            status: self.status.to_string(),
            n_attempts: self.n_attempts,
            n_round: self.n_round,
            due_at: self.due_at.map(truncate_to_millis),
            lease: self.lease,
            created_at: truncate_to_millis(self.created_at),
            finished_at: self.finished_at.map(truncate_to_millis),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: DeliveryId::from_uuid(model.id),
            subscription_id: SubscriptionId::from_uuid(model.subscription_id),
            event_id: EventId::from_uuid(model.event_id),
            event_type: model.event_type,
            event_at: model.event_at,
            version: model.version,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            n_attempts: model.n_attempts,
            n_round: model.n_round,
            due_at: model.due_at,
            lease: model.lease,
            created_at: model.created_at,
            finished_at: model.finished_at,
        })
    }
}

/// One attempt to hand an event over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AttemptRow {
    /// Of which delivery.
    pub delivery_id: DeliveryId,
    /// Counts the attempts of a delivery, from 1.
    pub number: i64,
    /// When it was begun.
    pub started_at: DateTime<Utc>,
    /// How long the answer took, in milliseconds; none if there was none.
    pub duration_ms: Option<i64>,
    /// The HTTP status of the answer.
    pub http_status: Option<i64>,
    /// What came of it, in one word.
    pub outcome: String,
    /// The beginning of the answer's text, cleaned.
    pub answer: Option<String>,
}

/// The entity of [`AttemptRow`].
pub(crate) mod attempt {
    use chrono::{DateTime, Utc};
    use domain::id::DeliveryId;
    use sea_orm::entity::prelude::*;

    use super::AttemptRow;
    use crate::clock::truncate_to_millis;
    use crate::row::Stored;
    use crate::store::StoreError;

    #[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
    #[sea_orm(table_name = "delivery_attempts")]
    pub(crate) struct Model {
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) tenant_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) delivery_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) number: i64,
        pub(crate) started_at: DateTime<Utc>,
        pub(crate) duration_ms: Option<i64>,
        pub(crate) http_status: Option<i64>,
        pub(crate) outcome: String,
        pub(crate) answer: Option<String>,
    }

    #[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
    pub(crate) enum Relation {}

    impl ActiveModelBehavior for ActiveModel {}

    impl Stored for AttemptRow {
        type Entity = Entity;
        type Model = Model;

        const TABLE: &'static str = "delivery_attempts";

        fn to_model(&self, tenant: Uuid) -> Model {
            Model {
                tenant_id: tenant,
                delivery_id: self.delivery_id.uuid(),
                number: self.number,
                started_at: truncate_to_millis(self.started_at),
                duration_ms: self.duration_ms,
                http_status: self.http_status,
                outcome: self.outcome.clone(),
                answer: self.answer.clone(),
            }
        }

        fn from_model(model: Model) -> Result<Self, StoreError> {
            Ok(Self {
                delivery_id: DeliveryId::from_uuid(model.delivery_id),
                number: model.number,
                started_at: model.started_at,
                duration_ms: model.duration_ms,
                http_status: model.http_status,
                outcome: model.outcome,
                answer: model.answer,
            })
        }
    }
}
