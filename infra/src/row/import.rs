//! A file that was handed over with a building, what becomes of its spaces, and what the last file said of a surface.

use chrono::{DateTime, Utc};
use domain::id::{ImportId, SiteId, SurfaceId};
use sea_orm::entity::prelude::*;

use super::{ImportStage, JobStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::{By, StoreError};

/// A file that was handed over with a building.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImportRow {
    /// Its id.
    pub id: ImportId,
    /// The site whose spaces it tells of.
    pub site_id: SiteId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// Where it stands.
    pub status: JobStatus,
    /// The word of its format.
    pub format: String,
    /// How long the file is.
    pub n_bytes: i64,
    /// Whether its surfaces are registered, or only said.
    pub applies: bool,
    /// How often somebody began.
    pub n_attempts: i64,
    /// How far whoever works on it is.
    pub stage: ImportStage,
    /// How many of its spaces are done.
    pub n_done: i64,
    /// How many spaces it has; 0 until it is read.
    pub n_total: i64,
    /// What became of it as a whole; opaque here.
    pub summary: Option<String>,
    /// Why it failed; opaque here.
    pub problem: Option<String>,
    /// Who sent it, or had it applied.
    pub by: Option<By>,
    /// Who works on it.
    pub lease_owner: Option<String>,
    /// Until when nobody else may.
    pub lease_until: Option<DateTime<Utc>>,
    /// When it was sent.
    pub created_at: DateTime<Utc>,
    /// When somebody last began.
    pub started_at: Option<DateTime<Utc>>,
    /// When it came to its end.
    pub finished_at: Option<DateTime<Utc>>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "imports")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) version: i64,
    pub(crate) n_bytes: i64,
    pub(crate) n_attempts: i64,
    pub(crate) applies: i64,
    pub(crate) n_done: i64,
    pub(crate) n_total: i64,
    pub(crate) status: String,
    pub(crate) stage: String,
    pub(crate) format: String,
    pub(crate) summary: Option<String>,
    pub(crate) problem: Option<String>,
    pub(crate) lease_owner: Option<String>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) lease_until: Option<DateTime<Utc>>,
    pub(crate) started_at: Option<DateTime<Utc>>,
    pub(crate) finished_at: Option<DateTime<Utc>>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for ImportRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "imports";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            version: self.version,
            n_bytes: self.n_bytes,
            n_attempts: self.n_attempts,
            applies: self.applies.into(),
            n_done: self.n_done,
            n_total: self.n_total,
            status: self.status.to_string(),
            stage: self.stage.to_string(),
            format: self.format.clone(),
            summary: self.summary.clone(),
            problem: self.problem.clone(),
            lease_owner: self.lease_owner.clone(),
            created_at: truncate_to_millis(self.created_at),
            lease_until: self.lease_until.map(truncate_to_millis),
            started_at: self.started_at.map(truncate_to_millis),
            finished_at: self.finished_at.map(truncate_to_millis),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: ImportId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            version: model.version,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            format: model.format,
            n_bytes: model.n_bytes,
            applies: model.applies == 1,
            n_attempts: model.n_attempts,
            stage: parse(&model.stage, Self::TABLE, "stage", model.id)?,
            n_done: model.n_done,
            n_total: model.n_total,
            summary: model.summary,
            problem: model.problem,
            by: model
                .by_client
                .zip(model.by_subject)
                .map(|(client, subject)| By { client, subject }),
            lease_owner: model.lease_owner,
            lease_until: model.lease_until,
            created_at: model.created_at,
            started_at: model.started_at,
            finished_at: model.finished_at,
        })
    }
}

/// What becomes of one space of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutcomeRow {
    /// Its number in the order of the file, from 1.
    pub number: i64,
    /// The word of what becomes of it.
    pub outcome: String,
    /// All that is said of it; opaque here.
    pub document: String,
}

/// What the last file that was applied said of a surface.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HandedOver {
    /// The surface.
    pub surface_id: SurfaceId,
    /// What it said; opaque here.
    pub document: String,
}

/// The bytes of a file, in a table of their own: nobody who reads where an import stands reads them.
pub(crate) mod file {
    use sea_orm::entity::prelude::*;

    #[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
    #[sea_orm(table_name = "import_files")]
    pub(crate) struct Model {
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) tenant_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) import_id: Uuid,
        pub(crate) content: Vec<u8>,
    }

    #[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
    pub(crate) enum Relation {}

    impl ActiveModelBehavior for ActiveModel {}
}

/// What becomes of the spaces of a file.
pub(crate) mod outcome {
    use sea_orm::entity::prelude::*;

    #[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
    #[sea_orm(table_name = "import_rows")]
    pub(crate) struct Model {
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) tenant_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) import_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) number: i64,
        pub(crate) outcome: String,
        pub(crate) document: String,
    }

    #[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
    pub(crate) enum Relation {}

    impl ActiveModelBehavior for ActiveModel {}
}

/// What the last file said of a surface.
pub(crate) mod handed_over {
    use sea_orm::entity::prelude::*;

    #[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
    #[sea_orm(table_name = "handed_over")]
    pub(crate) struct Model {
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) tenant_id: Uuid,
        #[sea_orm(primary_key, auto_increment = false)]
        pub(crate) surface_id: Uuid,
        pub(crate) document: String,
    }

    #[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
    pub(crate) enum Relation {}

    impl ActiveModelBehavior for ActiveModel {}
}
