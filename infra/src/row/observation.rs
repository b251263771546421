//! What was known of a surface's film at a moment. It is never edited: a correction is a new row that supersedes it.

use chrono::{DateTime, NaiveDate, Utc};
use domain::film::{Told, Word};
use domain::id::{ObservationId, SiteId, SurfaceId};
use domain::survey::{FilmCondition, FilmKind};
use sea_orm::entity::prelude::*;

use super::{External, FactStatus, Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// What was known of a surface's film at a moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ObservationRow {
    /// Its id.
    pub id: ObservationId,
    /// The site of its surface.
    pub site_id: SiteId,
    /// The surface.
    pub surface_id: SurfaceId,
    /// Whether it counts.
    pub status: FactStatus,
    /// The observation that it corrects.
    pub supersedes: Option<ObservationId>,
    /// The observation that corrects it; there exactly while the status is superseded.
    pub superseded_by: Option<ObservationId>,
    /// How it is known.
    pub word: Word,
    /// The moment of which it speaks.
    pub observed_at: DateTime<Utc>,
    /// What it says.
    pub told: Told,
    /// What else is to be known.
    pub note: Option<String>,
    /// Its name in another system.
    pub external: Option<External>,
    /// Who said that it is void, when and why; empty unless it is. Opaque here.
    pub voided: String,
    /// When it was recorded.
    pub created_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "observations")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) surface_id: Uuid,
    pub(crate) status: String,
    pub(crate) supersedes: Option<Uuid>,
    pub(crate) superseded_by: Option<Uuid>,
    pub(crate) word: String,
    pub(crate) observed_at: DateTime<Utc>,
    pub(crate) kind: Option<String>,
    pub(crate) condition: Option<String>,
    pub(crate) coats: Option<i64>,
    pub(crate) seal_coats: Option<i64>,
    pub(crate) stripped_on: Option<String>,
    pub(crate) note: Option<String>,
    pub(crate) external_system: Option<String>,
    pub(crate) external_id: Option<String>,
    pub(crate) voided: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

/// A word that is none of ours.
#[derive(Debug, thiserror::Error)]
#[error("`{0}` is no word of this column")]
struct UnknownWord(String);

/// Reads a word by its list.
fn word<T>(
    of: impl Fn(&str) -> Option<T>,
    text: &str,
    column: &'static str,
    row: Uuid,
) -> Result<T, StoreError> {
    of(text).ok_or_else(|| StoreError::Corrupt {
        table: ObservationRow::TABLE,
        column,
        row: row.to_string(),
        source: Box::new(UnknownWord(text.to_owned())),
    })
}

impl Stored for ObservationRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "observations";

    fn to_model(&self, tenant: Uuid) -> Model {
        let (external_system, external_id) = External::into_columns(self.external.as_ref());
        let told = self.told;
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            surface_id: self.surface_id.uuid(),
            status: self.status.as_str().to_owned(),
            supersedes: self.supersedes.map(ObservationId::uuid),
            superseded_by: self.superseded_by.map(ObservationId::uuid),
            word: self.word.word().to_owned(),
            observed_at: truncate_to_millis(self.observed_at),
            kind: told.kind.map(|kind| kind.word().to_owned()),
            condition: told.condition.map(|condition| condition.word().to_owned()),
            coats: told.coats,
            seal_coats: told.seal_coats,
            stripped_on: told.stripped_on.map(|day| day.to_string()),
            note: self.note.clone(),
            external_system,
            external_id,
            voided: self.voided.clone(),
            created_at: truncate_to_millis(self.created_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        let id = model.id;
        let kind = model.kind.as_deref();
        let condition = model.condition.as_deref();
        let day = |text: &String| parse::<NaiveDate>(text, Self::TABLE, "stripped_on", id);
        Ok(Self {
            id: ObservationId::from_uuid(id),
            site_id: SiteId::from_uuid(model.site_id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            status: parse(&model.status, Self::TABLE, "status", id)?,
            supersedes: model.supersedes.map(ObservationId::from_uuid),
            superseded_by: model.superseded_by.map(ObservationId::from_uuid),
            word: word(Word::of, &model.word, "word", id)?,
            observed_at: model.observed_at,
            told: Told {
                kind: kind
                    .map(|text| word(FilmKind::of, text, "kind", id))
                    .transpose()?,
                coats: model.coats,
                seal_coats: model.seal_coats,
                condition: condition
                    .map(|text| word(FilmCondition::of, text, "condition", id))
                    .transpose()?,
                stripped_on: model.stripped_on.as_ref().map(day).transpose()?,
            },
            note: model.note,
            external: External::from_columns(model.external_system, model.external_id),
            voided: model.voided,
            created_at: model.created_at,
        })
    }
}
