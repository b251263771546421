//! One measured value. It is never edited: a correction is a new row that supersedes it.

use chrono::{DateTime, Utc};
use domain::id::{CompletionId, ReadingId, SiteId, SurfaceId};
use domain::reading::ReadingKind;
use sea_orm::entity::prelude::*;

use super::{External, FactStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// One measured value, with the columns that are asked for beside the document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadingRow {
    /// Its id.
    pub id: ReadingId,
    /// The site of its surface.
    pub site_id: SiteId,
    /// The surface that was measured.
    pub surface_id: SurfaceId,
    /// The completion that it was taken for.
    pub completion_id: Option<CompletionId>,
    /// What was measured.
    pub kind: ReadingKind,
    /// The value in thousandths of the unit.
    pub thousandths: i64,
    /// Whether it counts.
    pub status: FactStatus,
    /// The reading that it corrects.
    pub supersedes: Option<ReadingId>,
    /// The reading that corrects it; there exactly while the status is superseded.
    pub superseded_by: Option<ReadingId>,
    /// When it was measured.
    pub taken_at: DateTime<Utc>,
    /// Its name in another system.
    pub external: Option<External>,
    /// What was answered; opaque here.
    pub document: String,
    /// Who said that it is void, when and why; empty unless it is. Opaque here.
    pub voided: String,
    /// When it was recorded.
    pub created_at: DateTime<Utc>,
    /// When something was last said of it, or another took its place.
    pub changed_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "readings")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) surface_id: Uuid,
    pub(crate) completion_id: Option<Uuid>,
    pub(crate) kind: String,
    pub(crate) thousandths: i64,
    pub(crate) status: String,
    pub(crate) supersedes: Option<Uuid>,
    pub(crate) superseded_by: Option<Uuid>,
    pub(crate) taken_at: DateTime<Utc>,
    pub(crate) external_system: Option<String>,
    pub(crate) external_id: Option<String>,
    pub(crate) document: String,
    pub(crate) voided: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) changed_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

/// A kind that is none of ours.
#[derive(Debug, thiserror::Error)]
#[error("`{0}` is no kind of reading")]
struct UnknownKind(String);

impl Stored for ReadingRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "readings";

    const CHANGED: &'static str = "changed_at";

    fn to_model(&self, tenant: Uuid) -> Model {
        let (external_system, external_id) = External::into_columns(self.external.as_ref());
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            surface_id: self.surface_id.uuid(),
            completion_id: self.completion_id.map(CompletionId::uuid),
            kind: self.kind.word().to_owned(),
            thousandths: self.thousandths,
            status: self.status.as_str().to_owned(),
            supersedes: self.supersedes.map(ReadingId::uuid),
            superseded_by: self.superseded_by.map(ReadingId::uuid),
            taken_at: truncate_to_millis(self.taken_at),
            external_system,
            external_id,
            document: self.document.clone(),
            voided: self.voided.clone(),
            created_at: truncate_to_millis(self.created_at),
            changed_at: truncate_to_millis(self.changed_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        let kind = ReadingKind::of(&model.kind).ok_or_else(|| StoreError::Corrupt {
            table: Self::TABLE,
            column: "kind",
            row: model.id.to_string(),
            source: Box::new(UnknownKind(model.kind.clone())),
        })?;
        Ok(Self {
            id: ReadingId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            completion_id: model.completion_id.map(CompletionId::from_uuid),
            kind,
            thousandths: model.thousandths,
            status: parse(&model.status, Self::TABLE, "status", model.id)?,
            supersedes: model.supersedes.map(ReadingId::from_uuid),
            superseded_by: model.superseded_by.map(ReadingId::from_uuid),
            taken_at: model.taken_at,
            external: External::from_columns(model.external_system, model.external_id),
            document: model.document,
            voided: model.voided,
            created_at: model.created_at,
            changed_at: model.changed_at,
        })
    }
}
