//! Who wants to be told of events, and where.

use chrono::{DateTime, Utc};
use domain::id::SubscriptionId;
use sea_orm::entity::prelude::*;

use super::{DisabledBecause, Stored, SubscriptionStatus, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// Who wants to be told of events, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SubscriptionRow {
    /// Its id.
    pub id: SubscriptionId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// What people call it.
    pub name: String,
    /// Whether it is told of events.
    pub status: SubscriptionStatus,
    /// Why it is told nothing, while it is disabled.
    pub disabled_because: Option<DisabledBecause>,
    /// What was asked for: the address and which events; opaque here.
    pub document: String,
    /// Its secret, sealed; opaque here.
    pub secret: String,
    /// The secret before, sealed, and until when it signs too.
    pub previous: Option<(String, DateTime<Utc>)>,
    /// Since when its receiver took nothing, without one success; none while it takes what it is sent.
    pub failing_since: Option<DateTime<Utc>>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "subscriptions")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) version: i64,
    pub(crate) name: String,
    pub(crate) status: String,
    pub(crate) disabled_because: Option<String>,
    pub(crate) document: String,
    pub(crate) secret: String,
    pub(crate) previous_secret: Option<String>,
    pub(crate) previous_until: Option<DateTime<Utc>>,
    pub(crate) failing_since: Option<DateTime<Utc>>,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for SubscriptionRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "subscriptions";

    fn to_model(&self, tenant: Uuid) -> Model {
        let (previous_secret, previous_until) = self.previous.clone().unzip();
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            version: self.version,
            name: self.name.clone(),
            status: self.status.to_string(),
            disabled_because: self.disabled_because.map(|word| word.to_string()),
            document: self.document.clone(),
            secret: self.secret.clone(),
            previous_secret,
            previous_until: previous_until.map(truncate_to_millis),
            failing_since: self.failing_since.map(truncate_to_millis),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        let because = model.disabled_because.as_deref();
        let because = because.map(|word| parse(word, Self::TABLE, "disabled_because", model.id));
        Ok(Self {
            id: SubscriptionId::from_uuid(model.id),
            version: model.version,
            name: model.name,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            disabled_because: because.transpose()?,
            document: model.document,
            secret: model.secret,
            previous: model.previous_secret.zip(model.previous_until),
            failing_since: model.failing_since,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
