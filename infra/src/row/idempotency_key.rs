//! A key that a client gave to a request, and the answer that it got.

use chrono::{DateTime, Utc};
use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "idempotency_keys")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) client_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) key: String,
    pub(crate) fingerprint: String,
    pub(crate) status: Option<i64>,
    pub(crate) headers: Option<String>,
    pub(crate) body: Option<Vec<u8>>,
    pub(crate) created_at: DateTime<Utc>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
