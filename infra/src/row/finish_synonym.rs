//! A finish word of a tenant's own.

use chrono::{DateTime, Utc};
use domain::id::FinishSynonymId;
use sea_orm::entity::prelude::*;

use super::Stored;
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// A word for a finish that a tenant's building files use, and what it means there. It is deleted and added, never changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FinishSynonymRow {
    /// Its id.
    pub id: FinishSynonymId,
    /// 1.
    pub version: i64,
    /// The word, in capitals, blanks folded; the tenant has it once.
    pub word: String,
    /// The key of a material, or `soft`, or `mixed`.
    pub means: String,
    /// When it was told.
    pub created_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "finish_synonyms")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) version: i64,
    pub(crate) word: String,
    pub(crate) means: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for FinishSynonymRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "finish_synonyms";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            version: self.version,
            word: self.word.clone(),
            means: self.means.clone(),
            created_at: truncate_to_millis(self.created_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: FinishSynonymId::from_uuid(model.id),
            version: model.version,
            word: model.word,
            means: model.means,
            created_at: model.created_at,
        })
    }
}
