//! What became of a schedule that is being done.

use chrono::{DateTime, Utc};
use domain::id::ScheduleId;
use sea_orm::entity::prelude::*;

use crate::clock::truncate_to_millis;

/// A revision of a schedule: never changed, and followed by another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RevisionRow {
    /// The schedule.
    pub schedule_id: ScheduleId,
    /// Its number among those of the schedule, from 1.
    pub number: i64,
    /// The version of the schedule after it.
    pub version: i64,
    /// The moment up to which it holds what has happened.
    pub as_of: DateTime<Utc>,
    /// What was told; opaque here.
    pub request: String,
    /// What came of it; opaque here.
    pub summary: String,
    /// What moved; opaque here.
    pub moves: String,
    /// All tasks after it; opaque here.
    pub tasks: String,
    /// The visits of these tasks, and how often each has changed; opaque here.
    pub visits: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "schedule_revisions")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) schedule_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) number: i64,
    pub(crate) version: i64,
    pub(crate) as_of: DateTime<Utc>,
    pub(crate) request: String,
    pub(crate) summary: String,
    pub(crate) moves: String,
    pub(crate) tasks: String,
    pub(crate) visits: String,
    pub(crate) created_at: DateTime<Utc>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl RevisionRow {
    pub(crate) fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            schedule_id: self.schedule_id.uuid(),
            number: self.number,
            version: self.version,
            as_of: truncate_to_millis(self.as_of),
            request: self.request.clone(),
            summary: self.summary.clone(),
            moves: self.moves.clone(),
            tasks: self.tasks.clone(),
            visits: self.visits.clone(),
            created_at: truncate_to_millis(self.created_at),
        }
    }

    pub(crate) fn from_model(model: Model) -> Self {
        Self {
            schedule_id: ScheduleId::from_uuid(model.schedule_id),
            number: model.number,
            version: model.version,
            as_of: model.as_of,
            request: model.request,
            summary: model.summary,
            moves: model.moves,
            tasks: model.tasks,
            visits: model.visits,
            created_at: model.created_at,
        }
    }
}
