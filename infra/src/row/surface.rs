//! One continuous area of one floor material.

use chrono::{DateTime, Utc};
use domain::id::{SiteId, SurfaceId};
use domain::quantity::{Area, Length};
use sea_orm::entity::prelude::*;

use super::{External, Stored};
use crate::clock::truncate_to_millis;
use crate::store::StoreError;

/// One continuous area of one floor material on one storey.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SurfaceRow {
    /// Its id.
    pub id: SurfaceId,
    /// The site it belongs to.
    pub site_id: SiteId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// What people call it.
    pub name: String,
    /// The storey it lies on, in the site's own words.
    pub storey: String,
    /// The key of its material in the knowledge base.
    pub material: String,
    /// How large it is; more than nothing.
    pub area: Area,
    /// How long its edge is, where known.
    pub perimeter: Option<Length>,
    /// Its name in another system.
    pub external: Option<External>,
    /// The survey as the caller sees it; opaque here.
    pub document: String,
    /// When it was registered.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "surfaces")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) version: i64,
    pub(crate) name: String,
    pub(crate) storey: String,
    pub(crate) material: String,
    pub(crate) area_mm2: i64,
    pub(crate) perimeter_mm: Option<i64>,
    pub(crate) external_system: Option<String>,
    pub(crate) external_id: Option<String>,
    pub(crate) document: String,
    pub(crate) created_at: DateTime<Utc>,
    pub(crate) updated_at: DateTime<Utc>,
    pub(crate) by_client: Option<String>,
    pub(crate) by_subject: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for SurfaceRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "surfaces";

    const CHANGED: &'static str = "updated_at";

    fn to_model(&self, tenant: Uuid) -> Model {
        let (external_system, external_id) = External::into_columns(self.external.as_ref());
        Model {
            tenant_id: tenant,
            // The table writes down who writes.
            by_client: None,
            by_subject: None,
            id: self.id.uuid(),
            site_id: self.site_id.uuid(),
            version: self.version,
            name: self.name.clone(),
            storey: self.storey.clone(),
            material: self.material.clone(),
            area_mm2: self.area.mm2(),
            perimeter_mm: self.perimeter.map(Length::mm),
            external_system,
            external_id,
            document: self.document.clone(),
            created_at: truncate_to_millis(self.created_at),
            updated_at: truncate_to_millis(self.updated_at),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: SurfaceId::from_uuid(model.id),
            site_id: SiteId::from_uuid(model.site_id),
            version: model.version,
            name: model.name,
            storey: model.storey,
            material: model.material,
            area: Area::from_mm2(model.area_mm2),
            perimeter: model.perimeter_mm.map(Length::from_mm),
            external: External::from_columns(model.external_system, model.external_id),
            document: model.document,
            created_at: model.created_at,
            updated_at: model.updated_at,
        })
    }
}
