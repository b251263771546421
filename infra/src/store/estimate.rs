//! Estimates.

use domain::id::{EstimateId, SiteId};
use sea_orm::Condition;

use super::turn::{Place, Turn};
use super::{Access, Page, StoreError, Tx, table};
use crate::row::estimate::BriefModel;
use crate::row::{EstimateBrief, EstimateRow};

/// Which estimates to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct EstimateFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
}

/// The estimates of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Estimates<'a, A = Tx>(pub(super) &'a A);

impl Estimates<'_> {
    /// Adds an estimate.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or the site is not there.
    pub async fn insert(&self, row: &EstimateRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }
}

impl<A: Access> Estimates<'_, A> {
    /// The estimate with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: EstimateId) -> Result<Option<EstimateRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// What there is to say of estimates in short, in the order of a turn.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &EstimateFilter,
        turn: Turn,
        limit: u64,
    ) -> Result<Page<EstimateBrief, Place>, StoreError> {
        let condition =
            Condition::all().add_option(filter.site_id.map(|id| table::is("site_id", id.uuid())));
        let briefs =
            table::briefs::<EstimateRow, BriefModel, _>(self.0, condition, turn, limit).await?;
        let place = |brief: &EstimateBrief| turn.place(brief.id.uuid(), brief.created_at);
        Ok(Page::cut(briefs, limit, place))
    }
}
