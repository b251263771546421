//! What may be spent on the floors of a site in a year.

use chrono::{DateTime, Utc};
use domain::id::{BudgetId, SiteId};
use domain::money::{Currency, Money};
use sea_orm::entity::prelude::*;

use super::{Stored, parse};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// What may be spent on the floors of a site in a year, before tax.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BudgetRow {
    /// Its id.
    pub id: BudgetId,
    /// The site.
    pub site_id: SiteId,
    /// The year, by the site's calendar.
    pub year: i64,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// How much, not negative.
    pub net: Money,
    /// What was said of it; opaque here.
    pub document: String,
    /// When it was set.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "budgets")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) year: i64,
    pub(crate) version: i64,
    pub(crate) amount: i64,
    pub(crate) currency: String,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for BudgetRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "budgets";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            year: self.year,
            version: self.version,
            amount: self.net.amount,
            currency: self.net.currency.code().to_owned(),
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        let currency: Currency = parse(&model.currency, Self::TABLE, "currency", model.id)?;
        Ok(Self {
            id: BudgetId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            year: model.year,
            version: model.version,
            net: Money {
                amount: model.amount,
                currency,
            },
            document: model.document,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
