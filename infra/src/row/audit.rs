//! One thing that somebody did, and what ties it to the one before.

use chrono::{DateTime, Utc};
use sea_orm::entity::prelude::*;

use super::Stored;
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// One thing that somebody did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditRow {
    /// Which of the tenant's rows it is, from 1 without a gap.
    pub number: i64,
    /// When.
    pub at: DateTime<Utc>,
    /// The program that did it.
    pub client: Option<String>,
    /// On whose behalf.
    pub subject: Option<String>,
    /// What: the operation of the API.
    pub operation: String,
    /// To what: a path of the API.
    pub resource: String,
    /// The hash of the document as the row before about the same resource left it.
    pub before: Option<String>,
    /// The hash of the document that was answered.
    pub after: Option<String>,
    /// The hash of all this and of the hash of the row before.
    pub hash: String,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "audit")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) number: i64,
    pub(crate) at: DateTime<Utc>,
    pub(crate) client: Option<String>,
    pub(crate) subject: Option<String>,
    pub(crate) operation: String,
    pub(crate) resource: String,
    pub(crate) before_hash: Option<String>,
    pub(crate) after_hash: Option<String>,
    pub(crate) hash: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for AuditRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "audit";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            number: self.number,
            at: truncate_to_millis(self.at),
            client: self.client.clone(),
            subject: self.subject.clone(),
            operation: self.operation.clone(),
            resource: self.resource.clone(),
            before_hash: self.before.clone(),
            after_hash: self.after.clone(),
            hash: self.hash.clone(),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            number: model.number,
            at: model.at,
            client: model.client,
            subject: model.subject,
            operation: model.operation,
            resource: model.resource,
            before: model.before_hash,
            after: model.after_hash,
            hash: model.hash,
        })
    }
}
