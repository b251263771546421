//! One edition of a site's rates. It is never edited: a change is a new edition.

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{RateCardId, SiteId};
use sea_orm::entity::prelude::*;

use super::{Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// One edition of a site's rates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RateCardRow {
    /// Its id.
    pub id: RateCardId,
    /// The site whose rates they are.
    pub site_id: SiteId,
    /// Counts the site's editions, from 1.
    pub number: i64,
    /// The first day on which it is valid.
    pub valid_from: NaiveDate,
    /// The rates; opaque here.
    pub document: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "rate_cards")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) number: i64,
    pub(crate) valid_from: String,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for RateCardRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "rate_cards";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            number: self.number,
            valid_from: self.valid_from.to_string(),
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: RateCardId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            number: model.number,
            valid_from: parse(&model.valid_from, Self::TABLE, "valid_from", model.id)?,
            document: model.document,
            created_at: model.created_at,
        })
    }
}
