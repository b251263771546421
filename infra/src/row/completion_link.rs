//! A link that opens the completion form of one plan without a token, with the hash of the secret in it.

use chrono::{DateTime, Utc};
use domain::id::{CompletionLinkId, ContractorId, PlanId};
use sea_orm::entity::prelude::*;

use super::{LinkStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A link that opens the completion form of one plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CompletionLinkRow {
    /// Its id.
    pub id: CompletionLinkId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// The plan whose work is reported through it.
    pub plan_id: PlanId,
    /// Whose work it is.
    pub contractor_id: Option<ContractorId>,
    /// Whether somebody took it back.
    pub status: LinkStatus,
    /// The language of the form, by BCP 47.
    pub language: String,
    /// How many reports were made through it.
    pub n_reports: i64,
    /// How many may be.
    pub max_reports: i64,
    /// SHA-256 of its secret, in lower-case hexadecimal.
    pub secret_hash: String,
    /// Until when it opens the form.
    pub expires_at: DateTime<Utc>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "completion_links")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) version: i64,
    pub(crate) plan_id: Uuid,
    pub(crate) contractor_id: Option<Uuid>,
    pub(crate) status: String,
    pub(crate) language: String,
    pub(crate) n_reports: i64,
    pub(crate) max_reports: i64,
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

impl Stored for CompletionLinkRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "completion_links";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            version: self.version,
            plan_id: self.plan_id.uuid(),
            contractor_id: self.contractor_id.map(ContractorId::uuid),
            status: self.status.as_str().to_owned(),
            language: self.language.clone(),
            n_reports: self.n_reports,
            max_reports: self.max_reports,
            secret_hash: self.secret_hash.clone(),
            expires_at: truncate_to_millis(self.expires_at),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: CompletionLinkId::from_uuid(model.id),
            version: model.version,
            plan_id: PlanId::from_uuid(model.plan_id),
            contractor_id: model.contractor_id.map(ContractorId::from_uuid),
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            language: model.language,
            n_reports: model.n_reports,
            max_reports: model.max_reports,
            secret_hash: model.secret_hash,
            expires_at: model.expires_at,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
