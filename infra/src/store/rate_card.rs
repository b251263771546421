//! Rate cards. An edition is added and never changed.

use chrono::NaiveDate;
use domain::id::{RateCardId, SiteId};
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{QueryFilter, QueryOrder, QuerySelect};

use super::{Access, Page, StoreError, Tx, table};
use crate::row::RateCardRow;

/// The rate cards of the tenant's sites.
#[derive(Debug, Clone, Copy)]
pub struct RateCards<'a, A = Tx>(pub(super) &'a A);

impl RateCards<'_> {
    /// Adds an edition.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id or number is taken, or the site is not there.
    pub async fn insert(&self, row: &RateCardRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }
}

impl<A: Access> RateCards<'_, A> {
    /// The edition with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: RateCardId) -> Result<Option<RateCardRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// The edition that counts on a day of the site: the one that became valid last, the newer of two of one day.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn current(
        &self,
        site: SiteId,
        on: NaiveDate,
    ) -> Result<Option<RateCardRow>, StoreError> {
        let select = table::rows::<RateCardRow>(self.0)
            .filter(table::is("site_id", site.uuid()))
            .filter(Expr::col("valid_from").lte(on.to_string()))
            .order_by(Expr::col("valid_from"), Order::Desc)
            .order_by(Expr::col("number"), Order::Desc);
        Ok(table::all(self.0, select.limit(1)).await?.pop())
    }

    /// All editions of these sites; hundreds of sites by each statement.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn of_sites(&self, sites: &[SiteId]) -> Result<Vec<RateCardRow>, StoreError> {
        let mut found = Vec::new();
        for chunk in sites.chunks(table::MAX_KEYS) {
            let among = Expr::col("site_id").is_in(chunk.iter().map(|id| id.uuid()));
            found.extend(
                table::all(self.0, table::rows::<RateCardRow>(self.0).filter(among)).await?,
            );
        }
        Ok(found)
    }

    /// The edition with the highest number, valid yet or not.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn latest(&self, site: SiteId) -> Result<Option<RateCardRow>, StoreError> {
        Ok(self.list(site, None, 1).await?.items.pop())
    }

    /// The editions of a site, the newest first; the next page goes on below a number.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        site: SiteId,
        below: Option<i64>,
        limit: u64,
    ) -> Result<Page<RateCardRow, i64>, StoreError> {
        let mut select =
            table::rows::<RateCardRow>(self.0).filter(table::is("site_id", site.uuid()));
        if let Some(number) = below {
            select = select.filter(Expr::col("number").lt(number));
        }
        let select = select
            .order_by(Expr::col("number"), Order::Desc)
            .limit(limit.saturating_add(1));
        Ok(Page::cut(table::all(self.0, select).await?, limit, |row| {
            row.number
        }))
    }
}
