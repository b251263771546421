//! What the last file said of a surface: the next one is held against it.

use domain::id::SurfaceId;
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict};
use sea_orm::{EntityTrait, IntoActiveModel, QueryFilter};

use super::{Imports, MAX_ROWS};
use crate::row::{HandedOver, handed_over};
use crate::store::{StoreError, table};

impl Imports<'_> {
    /// What the last files said of surfaces, as far as any did.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn handed_over(&self, surfaces: &[SurfaceId]) -> Result<Vec<HandedOver>, StoreError> {
        let mut all = Vec::with_capacity(surfaces.len());
        for chunk in surfaces.chunks(table::MAX_KEYS) {
            let among = chunk.iter().map(|id| id.uuid());
            let found = handed_over::Entity::find()
                .filter(table::is("tenant_id", self.0.tenant.uuid()))
                .filter(Expr::col("surface_id").is_in(among))
                .all(&self.0.inner)
                .await?;
            all.extend(found.into_iter().map(|model| HandedOver {
                surface_id: SurfaceId::from_uuid(model.surface_id),
                document: model.document,
            }));
        }
        Ok(all)
    }

    /// Keeps what a file said of surfaces, in the place of what the file before said.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: a surface is not there.
    pub async fn keep_handed_over(&self, rows: &[HandedOver]) -> Result<(), StoreError> {
        use handed_over::Column;
        for chunk in rows.chunks(MAX_ROWS) {
            let model = |row: &HandedOver| {
                let model = handed_over::Model {
                    tenant_id: self.0.tenant.uuid(),
                    surface_id: row.surface_id.uuid(),
                    document: row.document.clone(),
                };
                model.into_active_model()
            };
            let anew = OnConflict::columns([Column::TenantId, Column::SurfaceId])
                .update_column(Column::Document)
                .to_owned();
            handed_over::Entity::insert_many(chunk.iter().map(model))
                .on_conflict(anew)
                .exec_without_returning(&self.0.inner)
                .await?;
        }
        Ok(())
    }
}
