//! Observations.

use std::collections::BTreeSet;

use domain::id::{ObservationId, SurfaceId};
use sea_orm::Condition;
use uuid::Uuid;

use super::{Page, StoreError, Tx, table};
use crate::row::{External, ObservationRow};

/// The observations of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Observations<'a>(pub(super) &'a Tx);

impl Observations<'_> {
    /// Adds an observation.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, what it corrects is corrected already, or what it names is not
    /// there.
    pub async fn insert(&self, row: &ObservationRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await?;
        self.0.dues().mark(row.surface_id.uuid()).await
    }

    /// Adds observations, hundreds by each statement.
    ///
    /// # Errors
    /// As [`Observations::insert`], for any of them.
    pub async fn insert_many(&self, rows: &[ObservationRow]) -> Result<(), StoreError> {
        table::insert_many(self.0, rows).await?;
        let surfaces: BTreeSet<SurfaceId> = rows.iter().map(|row| row.surface_id).collect();
        self.0.dues().mark_many(&surfaces).await
    }

    /// The observation with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: ObservationId) -> Result<Option<ObservationRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// The observation that counts and has this external name.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn find_external(
        &self,
        external: &External,
    ) -> Result<Option<ObservationRow>, StoreError> {
        table::find_external(self.0, external).await
    }

    /// Observations of a surface in the order of their ids, which is that of their recording; those that were corrected
    /// only if they are asked for.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        surface: SurfaceId,
        include_superseded: bool,
        after: Option<ObservationId>,
        limit: u64,
    ) -> Result<Page<ObservationRow, ObservationId>, StoreError> {
        let condition = Condition::all()
            .add(table::is("surface_id", surface.uuid()))
            .add_option((!include_superseded).then(table::is_recorded));
        let rows = table::list(self.0, condition, after.map(ObservationId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &ObservationRow| row.id))
    }

    /// Every observation of these surfaces, corrected or not, in the order of their recording.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn of_surfaces(
        &self,
        surfaces: &[SurfaceId],
    ) -> Result<Vec<ObservationRow>, StoreError> {
        let ids: Vec<Uuid> = surfaces.iter().map(|id| id.uuid()).collect();
        table::of_surfaces(self.0, &ids, &Condition::all()).await
    }

    /// Lets `new` count in the place of `old`. Insert `new` with `supersedes` afterwards, in the same transaction.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: `old` does not count any more, or is not there.
    pub async fn supersede(
        &self,
        old: ObservationId,
        new: ObservationId,
    ) -> Result<(), StoreError> {
        table::supersede::<ObservationRow>(self.0, old.uuid(), new.uuid()).await
    }

    /// Lets an observation count no more; `new` says who said so.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it does not count any more, or is not there.
    pub async fn void(&self, new: &ObservationRow) -> Result<(), StoreError> {
        table::void::<ObservationRow>(self.0, new.id.uuid(), &new.voided).await
    }
}
