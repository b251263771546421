//! A process that recurs on a floor, and when it is due next.

use chrono::NaiveDate;
use domain::due::{CountedFrom, Due, Why};
use domain::id::{SiteId, SurfaceId};
use sea_orm::entity::prelude::*;

use super::{Stored, parse};
use crate::store::StoreError;

/// A process that recurs on a floor, and when it is due next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueRow {
    /// The floor.
    pub surface_id: SurfaceId,
    /// The site of the floor.
    pub site_id: SiteId,
    /// What is due, and when.
    pub due: Due,
    /// The day from which the floor is there no more, if anybody said.
    pub gone_on: Option<NaiveDate>,
    /// The due date that an event told of.
    pub told_due_on: Option<NaiveDate>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "due_items")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) surface_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) process: String,
    pub(crate) site_id: Uuid,
    pub(crate) is_routine: i64,
    pub(crate) due_on: String,
    pub(crate) last_done_on: Option<String>,
    pub(crate) why: String,
    pub(crate) counted_from: String,
    pub(crate) counted_from_on: String,
    pub(crate) interval_days: i64,
    pub(crate) gone_on: Option<String>,
    pub(crate) told_due_on: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

/// A word that this build does not know.
#[derive(Debug, thiserror::Error)]
#[error("no such word")]
struct UnknownWord;

impl Stored for DueRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "due_items";

    fn to_model(&self, tenant: Uuid) -> Model {
        let day = |day: &NaiveDate| day.to_string();
        let due = &self.due;
        Model {
            tenant_id: tenant,
            surface_id: self.surface_id.uuid(),
            process: due.process.clone(),
            site_id: self.site_id.uuid(),
            is_routine: due.routine.into(),
            due_on: day(&due.due_on),
            last_done_on: due.last_done_on.as_ref().map(day),
            why: due.why.word().to_owned(),
            counted_from: due.counted_from.word().to_owned(),
            counted_from_on: day(&due.counted_from_on),
            interval_days: due.interval_days,
            gone_on: self.gone_on.as_ref().map(day),
            told_due_on: self.told_due_on.as_ref().map(day),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        let id = model.surface_id;
        let day = |text: &str, column| parse::<NaiveDate>(text, Self::TABLE, column, id);
        let or_none = |text: &Option<String>, column| {
            text.as_deref().map(|text| day(text, column)).transpose()
        };
        let unknown = |column| StoreError::Corrupt {
            table: Self::TABLE,
            column,
            row: id.to_string(),
            source: Box::new(UnknownWord),
        };
        Ok(Self {
            surface_id: SurfaceId::from_uuid(id),
            site_id: SiteId::from_uuid(model.site_id),
            due: Due {
                routine: model.is_routine != 0,
                last_done_on: or_none(&model.last_done_on, "last_done_on")?,
                due_on: day(&model.due_on, "due_on")?,
                why: Why::of(&model.why).ok_or_else(|| unknown("why"))?,
                counted_from: CountedFrom::of(&model.counted_from)
                    .ok_or_else(|| unknown("counted_from"))?,
                counted_from_on: day(&model.counted_from_on, "counted_from_on")?,
                interval_days: model.interval_days,
                process: model.process,
            },
            gone_on: or_none(&model.gone_on, "gone_on")?,
            told_due_on: or_none(&model.told_due_on, "told_due_on")?,
        })
    }
}
