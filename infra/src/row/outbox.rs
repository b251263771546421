//! A fact on its way out, written in the transaction that made it true.

use chrono::{DateTime, Utc};
use domain::id::{EventId, SiteId};
use sea_orm::entity::prelude::*;

use super::Stored;
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A fact on its way out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EventRow {
    /// Its id, by which a receiver knows a repeat.
    pub id: EventId,
    /// What happened, such as `wearcourse.site.registered.v1`.
    pub kind: String,
    /// The id of what it happened to.
    pub subject: String,
    /// The version of the subject after it.
    pub version: i64,
    /// The body as it will be signed and sent.
    pub payload: String,
    /// When it happened.
    pub created_at: DateTime<Utc>,
    /// The site that it is about; none if it is about no single one.
    pub site_id: Option<SiteId>,
    /// When those who want to be told of it got their deliveries.
    pub handed_out_at: Option<DateTime<Utc>>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "outbox")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    #[sea_orm(column_name = "type")]
    pub(crate) kind: String,
    pub(crate) subject: String,
    pub(crate) version: i64,
    pub(crate) payload: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) site_id: Option<Uuid>,
    pub(crate) handed_out_at: Option<DateTime<Utc>>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for EventRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "outbox";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            kind: self.kind.clone(),
            subject: self.subject.clone(),
            version: self.version,
            payload: self.payload.clone(),
            created_at: truncate_to_millis(self.created_at),
            site_id: self.site_id.map(SiteId::uuid),
            handed_out_at: self.handed_out_at.map(truncate_to_millis),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: EventId::from_uuid(model.id),
            kind: model.kind,
            subject: model.subject,
            version: model.version,
            payload: model.payload,
            created_at: model.created_at,
            site_id: model.site_id.map(SiteId::from_uuid),
            handed_out_at: model.handed_out_at,
        })
    }
}
