//! Sites.

use domain::id::SiteId;
use sea_orm::Condition;
use uuid::Uuid;

use super::turn::{Place, Turn};
use super::{Access, Page, StoreError, Tx, table};
use crate::row::{External, SiteRow};

/// Which sites to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SiteFilter {
    /// Only the one with this external name.
    pub external: Option<External>,
}

/// The sites of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Sites<'a, A = Tx>(pub(super) &'a A);

impl Sites<'_> {
    /// Adds a site.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id or its external name is taken.
    pub async fn insert(&self, row: &SiteRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }
}

impl<A: Access> Sites<'_, A> {
    /// The site with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: SiteId) -> Result<Option<SiteRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Those of these sites that are there, in the order of their ids.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn get_many(&self, ids: &[SiteId]) -> Result<Vec<SiteRow>, StoreError> {
        let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
        table::get_many(self.0, &ids).await
    }

    /// Sites in the order of a turn.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &SiteFilter,
        turn: Turn,
        limit: u64,
    ) -> Result<Page<SiteRow, Place>, StoreError> {
        let condition = Condition::all().add_option(filter.external.as_ref().map(by_external));
        let rows = table::turn(self.0, condition, turn, limit).await?;
        let place = |row: &SiteRow| turn.place(row.id.uuid(), row.updated_at);
        Ok(Page::cut(rows, limit, place))
    }
}

impl Sites<'_> {
    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version. [`StoreError::Conflict`]: its external name is
    /// taken.
    pub async fn update(&self, row: &SiteRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await?;
        self.0.dues().mark_site(row.id).await
    }
}

/// The row has this external name.
pub(super) fn by_external(external: &External) -> Condition {
    Condition::all()
        .add(table::is("external_system", external.system.clone()))
        .add(table::is("external_id", external.id.clone()))
}
