//! A schedule, and the tasks of each of its choices.

use chrono::{DateTime, Utc};
use domain::id::{ScheduleId, SiteId};
use sea_orm::entity::prelude::*;

use super::{JobStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A schedule, made in the background.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScheduleRow {
    /// Its id.
    pub id: ScheduleId,
    /// The site of its plans.
    pub site_id: SiteId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// Where it stands.
    pub status: JobStatus,
    /// What was asked; opaque here.
    pub request: String,
    /// How many schedules were tried.
    pub n_done: i64,
    /// How many are tried at most.
    pub n_total: i64,
    /// When all is done by the best that was found so far.
    pub best_until: Option<DateTime<Utc>>,
    /// The choice that is to be done.
    pub chosen: Option<i64>,
    /// What came of it; opaque here.
    pub result: Option<String>,
    /// How often somebody began.
    pub n_attempts: i64,
    /// Who works on it.
    pub lease_owner: Option<String>,
    /// Until when nobody else may.
    pub lease_until: Option<DateTime<Utc>>,
    /// Why it failed; opaque here.
    pub problem: Option<String>,
    /// When it was asked for.
    pub created_at: DateTime<Utc>,
    /// When somebody last began.
    pub started_at: Option<DateTime<Utc>>,
    /// When it came to its end, whichever that was.
    pub finished_at: Option<DateTime<Utc>>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "schedules")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) version: i64,
    pub(crate) status: String,
    pub(crate) request: String,
    pub(crate) n_done: i64,
    pub(crate) n_total: i64,
    pub(crate) best_until: Option<DateTime<Utc>>,
    pub(crate) chosen: Option<i64>,
    pub(crate) result: Option<String>,
    pub(crate) n_attempts: i64,
    pub(crate) lease_owner: Option<String>,
    pub(crate) lease_until: Option<DateTime<Utc>>,
    pub(crate) problem: Option<String>,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) started_at: Option<DateTime<Utc>>,
    pub(crate) finished_at: Option<DateTime<Utc>>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for ScheduleRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "schedules";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            version: self.version,
            status: self.status.to_string(),
            request: self.request.clone(),
            n_done: self.n_done,
            n_total: self.n_total,
            best_until: self.best_until.map(truncate_to_millis),
            chosen: self.chosen,
            result: self.result.clone(),
            n_attempts: self.n_attempts,
            lease_owner: self.lease_owner.clone(),
            lease_until: self.lease_until.map(truncate_to_millis),
            problem: self.problem.clone(),
            created_at: truncate_to_millis(self.created_at),
            started_at: self.started_at.map(truncate_to_millis),
            finished_at: self.finished_at.map(truncate_to_millis),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: ScheduleId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            version: model.version,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            request: model.request,
            n_done: model.n_done,
            n_total: model.n_total,
            best_until: model.best_until,
            chosen: model.chosen,
            result: model.result,
            n_attempts: model.n_attempts,
            lease_owner: model.lease_owner,
            lease_until: model.lease_until,
            problem: model.problem,
            created_at: model.created_at,
            started_at: model.started_at,
            finished_at: model.finished_at,
        })
    }
}

/// The tasks of a choice.
pub(crate) mod choice {
    use sea_orm::entity::prelude::*;

    #[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
    #[sea_orm(table_name = "schedule_choices")]
    pub(crate) struct Model {
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) tenant_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) schedule_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) number: i64,
        pub(crate) tasks: String,
    }

    #[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
    pub(crate) enum Relation {}

    impl ActiveModelBehavior for ActiveModel {}
}
