//! Something that happened to a surface, as its history tells it.

use chrono::{DateTime, Utc};
use domain::id::{EventId, SurfaceId};
use sea_orm::entity::prelude::*;

use super::Stored;
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// Something that happened to a surface. It has the id and the type of the event that told of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HistoryRow {
    /// The id of the event.
    pub id: EventId,
    /// The surface.
    pub surface_id: SurfaceId,
    /// When it happened: work at its end, a value when it was measured.
    pub at: DateTime<Utc>,
    /// What happened, such as `wearcourse.completion.recorded.v1`.
    pub kind: String,
    /// The id of what it happened to.
    pub subject: String,
    /// The version of the subject after it.
    pub version: i64,
    /// What happened, in one sentence.
    pub statement: String,
    /// When it was recorded.
    pub created_at: DateTime<Utc>,
    /// What of the surface was another before, where that is what happened; opaque here.
    pub changes: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "surface_history")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) surface_id: Uuid,
    pub(crate) at: DateTime<Utc>,
    pub(crate) kind: String,
    pub(crate) subject: String,
    pub(crate) version: i64,
    pub(crate) statement: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) changes: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for HistoryRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "surface_history";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            id: self.id.uuid(),
            surface_id: self.surface_id.uuid(),
            at: truncate_to_millis(self.at),
            kind: self.kind.clone(),
            subject: self.subject.clone(),
            version: self.version,
            statement: self.statement.clone(),
            created_at: truncate_to_millis(self.created_at),
            changes: self.changes.clone(),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: EventId::from_uuid(model.id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            at: model.at,
            kind: model.kind,
            subject: model.subject,
            version: model.version,
            statement: model.statement,
            created_at: model.created_at,
            changes: model.changes,
        })
    }
}
