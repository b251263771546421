//! Where a contractor's own system sends what happened, with the secrets that it signs with, sealed.

use chrono::{DateTime, Utc};
use domain::id::{ContractorId, SourceId};
use sea_orm::entity::prelude::*;

use super::{SourceStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// Where a contractor's own system sends what happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ContractorSourceRow {
    /// Its id.
    pub id: SourceId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// The only contractor that it may report for.
    pub contractor_id: ContractorId,
    /// What people call it.
    pub name: String,
    /// Whether what it sends is taken.
    pub status: SourceStatus,
    /// Its secret, sealed; opaque here.
    pub secret: String,
    /// The secret before, sealed, and until when it is accepted.
    pub previous: Option<(String, DateTime<Utc>)>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "contractor_sources")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) contractor_id: Uuid,
    pub(crate) version: i64,
    pub(crate) name: String,
    pub(crate) status: String,
    pub(crate) secret: String,
    pub(crate) previous_secret: Option<String>,
    pub(crate) previous_until: Option<DateTime<Utc>>,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for ContractorSourceRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "contractor_sources";

    fn to_model(&self, tenant: Uuid) -> Model {
        let previous = self.previous.clone();
        let (previous_secret, previous_until) = previous.unzip();
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            contractor_id: self.contractor_id.uuid(),
            version: self.version,
            name: self.name.clone(),
            status: self.status.as_str().to_owned(),
            secret: self.secret.clone(),
            previous_secret,
            previous_until: previous_until.map(truncate_to_millis),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: SourceId::from_uuid(model.id),
            version: model.version,
            contractor_id: ContractorId::from_uuid(model.contractor_id),
            name: model.name,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            secret: model.secret,
            previous: model.previous_secret.zip(model.previous_until),
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
