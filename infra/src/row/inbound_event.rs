//! An event that a contractor's system sent, and what was answered to it.

use chrono::{DateTime, Utc};
use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "inbound_events")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) source_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) webhook_id: String,
    pub(crate) fingerprint: String,
    pub(crate) payload: String,
    pub(crate) reply: Option<String>,
    pub(crate) created_at: DateTime<Utc>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
