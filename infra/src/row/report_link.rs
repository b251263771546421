//! A link that opens one report without a token, with the hash of the secret in it.

use chrono::{DateTime, Utc};
use domain::id::ReportLinkId;
use sea_orm::entity::prelude::*;

use super::{LinkStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A link that opens one report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReportLinkRow {
    /// Its id.
    pub id: ReportLinkId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// What people call it.
    pub name: String,
    /// Whether somebody took it back.
    pub status: LinkStatus,
    /// The query string of the report.
    pub query: String,
    /// SHA-256 of its secret, in lower-case hexadecimal.
    pub secret_hash: String,
    /// Until when it opens the report.
    pub expires_at: DateTime<Utc>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "report_links")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) version: i64,
    pub(crate) name: String,
    pub(crate) status: String,
    pub(crate) query: String,
    pub(crate) secret_hash: String,
    pub(crate) expires_at: DateTime<Utc>,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for ReportLinkRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "report_links";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            version: self.version,
            name: self.name.clone(),
            status: self.status.as_str().to_owned(),
            query: self.query.clone(),
            secret_hash: self.secret_hash.clone(),
            expires_at: truncate_to_millis(self.expires_at),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: ReportLinkId::from_uuid(model.id),
            version: model.version,
            name: model.name,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            query: model.query,
            secret_hash: model.secret_hash,
            expires_at: model.expires_at,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
