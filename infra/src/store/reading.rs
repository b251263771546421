//! Readings.

use domain::id::{CompletionId, ContractorId, ReadingId, SiteId, SurfaceId};
use domain::reading::ReadingKind;
use sea_orm::sea_query::{Expr, ExprTrait, Order, Query, SimpleExpr};
use sea_orm::{Condition, QueryFilter, QueryOrder, QuerySelect};

use super::site::by_external;
use super::turn::{Place, Turn};
use super::{Access, Page, StoreError, Tx, table};
use crate::row::{CompletionRow, External, ReadingRow, Stored};

/// Which readings to list; what is absent is not asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ReadingFilter {
    /// On this site.
    pub site_id: Option<SiteId>,
    /// Of this surface.
    pub surface_id: Option<SurfaceId>,
    /// Taken for this completion.
    pub completion_id: Option<CompletionId>,
    /// Taken for completions of this contractor.
    pub contractor_id: Option<ContractorId>,
    /// With this external name.
    pub external: Option<External>,
    /// Of this kind.
    pub kind: Option<ReadingKind>,
    /// Also those that were corrected.
    pub include_superseded: bool,
}

/// The readings of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Readings<'a, A = Tx>(pub(super) &'a A);

impl Readings<'_> {
    /// Adds a reading.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or what it names is not there.
    pub async fn insert(&self, row: &ReadingRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await?;
        if let Some(old) = row.supersedes {
            table::touch::<ReadingRow>(self.0, old.uuid(), row.created_at).await?;
        }
        Ok(())
    }

    /// Lets `new` count in the place of `old`. Insert `new` with `supersedes` afterwards, in the same transaction.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: `old` does not count any more, or is not there.
    pub async fn supersede(&self, old: ReadingId, new: ReadingId) -> Result<(), StoreError> {
        table::supersede::<ReadingRow>(self.0, old.uuid(), new.uuid()).await
    }

    /// Lets a reading count no more; `new` says who said so and since when.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it does not count any more, or is not there.
    pub async fn void(&self, new: &ReadingRow) -> Result<(), StoreError> {
        table::void::<ReadingRow>(self.0, new.id.uuid(), &new.voided).await?;
        table::touch::<ReadingRow>(self.0, new.id.uuid(), new.changed_at).await
    }
}

impl<A: Access> Readings<'_, A> {
    /// The reading with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: ReadingId) -> Result<Option<ReadingRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// The reading that counts and has this external name.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn find_external(
        &self,
        external: &External,
    ) -> Result<Option<ReadingRow>, StoreError> {
        table::find_external(self.0, external).await
    }

    /// The latest readings of one kind that count on a surface, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn latest(
        &self,
        surface: SurfaceId,
        kind: ReadingKind,
        limit: u64,
    ) -> Result<Vec<ReadingRow>, StoreError> {
        let rows = table::rows::<ReadingRow>(self.0)
            .filter(table::is("surface_id", surface.uuid()))
            .filter(table::is("kind", kind.word()))
            .filter(table::is_recorded())
            .order_by(Expr::col("taken_at"), Order::Desc)
            .order_by(Expr::col("id"), Order::Desc)
            .limit(limit);
        table::all(self.0, rows).await
    }

    /// Readings in the order of a turn.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &ReadingFilter,
        turn: Turn,
        limit: u64,
    ) -> Result<Page<ReadingRow, Place>, StoreError> {
        let condition = Condition::all()
            .add_option(filter.site_id.map(|id| table::is("site_id", id.uuid())))
            .add_option(
                filter
                    .surface_id
                    .map(|id| table::is("surface_id", id.uuid())),
            )
            .add_option(
                filter
                    .completion_id
                    .map(|id| table::is("completion_id", id.uuid())),
            )
            .add_option(filter.contractor_id.map(|id| self.by_contractor(id)))
            .add_option(filter.external.as_ref().map(by_external))
            .add_option(filter.kind.map(|kind| table::is("kind", kind.word())))
            .add_option((!filter.include_superseded).then(table::is_recorded));
        let rows = table::turn(self.0, condition, turn, limit).await?;
        let place = |row: &ReadingRow| turn.place(row.id.uuid(), row.changed_at);
        Ok(Page::cut(rows, limit, place))
    }

    /// The completion that it was taken for is the contractor's: one look by key for each reading of the page.
    fn by_contractor(&self, contractor: ContractorId) -> SimpleExpr {
        let theirs = Query::select()
            .expr(Expr::val(1))
            .from(CompletionRow::TABLE)
            .and_where(table::is("tenant_id", self.0.tenant().uuid()))
            .and_where(Expr::col("id").eq(Expr::col((ReadingRow::TABLE, "completion_id"))))
            .and_where(table::is("contractor_id", contractor.uuid()))
            .take();
        Expr::exists(theirs)
    }
}
