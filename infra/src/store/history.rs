//! What happened to surfaces.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Utc};
use domain::id::{EventId, SurfaceId};
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{Condition, QueryFilter, QueryOrder, QuerySelect};

use super::{Page, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::HistoryRow;

/// Where a page of a history ends: what happened at one moment is told in the order of its ids.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HistoryKey {
    /// When the last one happened.
    pub at: DateTime<Utc>,
    /// Its id.
    pub id: EventId,
}

impl fmt::Display for HistoryKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.at.timestamp_millis(), self.id)
    }
}

/// A text that is no key of a history.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not a moment in milliseconds, a slash and the id of an event")]
pub struct NoHistoryKey;

impl FromStr for HistoryKey {
    type Err = NoHistoryKey;

    fn from_str(text: &str) -> Result<Self, NoHistoryKey> {
        let read = || {
            let (at, id) = text.split_once('/')?;
            Some(Self {
                at: DateTime::from_timestamp_millis(at.parse().ok()?)?,
                id: id.parse().ok()?,
            })
        };
        read().ok_or(NoHistoryKey)
    }
}

/// Which part of a history; what is absent is not asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct HistoryFilter {
    /// From this moment on.
    pub from: Option<DateTime<Utc>>,
    /// Before this moment.
    pub to: Option<DateTime<Utc>>,
}

/// Since when changes of a surface are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChangedSince {
    /// Since it had this version.
    Version(i64),
    /// After this moment.
    Moment(DateTime<Utc>),
}

/// What happened to the tenant's surfaces.
#[derive(Debug, Clone, Copy)]
pub struct Histories<'a>(pub(super) &'a Tx);

impl Histories<'_> {
    /// Notes that something happened.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or the surface is not there.
    pub async fn append(&self, row: &HistoryRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// Notes what happened, hundreds by each statement.
    ///
    /// # Errors
    /// As [`Histories::append`], for any of them.
    pub async fn append_many(&self, rows: &[HistoryRow]) -> Result<(), StoreError> {
        table::insert_many(self.0, rows).await
    }

    /// What of a surface was changed since, newest first.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn changes(
        &self,
        surface: SurfaceId,
        since: ChangedSince,
    ) -> Result<Vec<HistoryRow>, StoreError> {
        let later = match since {
            ChangedSince::Version(version) => Expr::col("version").gt(version),
            ChangedSince::Moment(at) => Expr::col("at").gt(truncate_to_millis(at)),
        };
        let select = table::rows::<HistoryRow>(self.0)
            .filter(table::is("surface_id", surface.uuid()))
            .filter(Expr::col("changes").is_not_null())
            .filter(later)
            .order_by(Expr::col("version"), Order::Desc);
        table::all(self.0, select).await
    }

    /// What happened to a surface, oldest first, by one statement over one index.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn list(
        &self,
        surface: SurfaceId,
        filter: HistoryFilter,
        after: Option<HistoryKey>,
        limit: u64,
    ) -> Result<Page<HistoryRow, HistoryKey>, StoreError> {
        let onwards = after.map(|key| {
            let same = Condition::all()
                .add(Expr::col("at").eq(key.at))
                .add(Expr::col("id").gt(key.id.uuid()));
            Condition::any().add(Expr::col("at").gt(key.at)).add(same)
        });
        let from = filter.from.map(truncate_to_millis);
        let to = filter.to.map(truncate_to_millis);
        let condition = Condition::all()
            .add(table::is("surface_id", surface.uuid()))
            .add_option(from.map(|moment| Expr::col("at").gte(moment)))
            .add_option(to.map(|moment| Expr::col("at").lt(moment)))
            .add_option(onwards);
        let select = table::rows::<HistoryRow>(self.0)
            .filter(condition)
            .order_by(Expr::col("at"), Order::Asc)
            .order_by(Expr::col("id"), Order::Asc)
            .limit(limit.saturating_add(1));
        let rows = table::all(self.0, select).await?;
        Ok(Page::cut(rows, limit, |row: &HistoryRow| HistoryKey {
            at: row.at,
            id: row.id,
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::HistoryKey;

    #[test]
    fn a_key_reads_back_what_it_writes_and_nothing_else() {
        let text = "1780000000123/evt_01890a5d-ac96-774b-bcce-b302099a8057";
        let key: HistoryKey = text.parse().expect("a key");
        assert_eq!(key.to_string(), text);
        for other in [
            "",
            "/",
            "x/evt_01890a5d-ac96-774b-bcce-b302099a8057",
            "1/srf_1",
        ] {
            assert!(other.parse::<HistoryKey>().is_err(), "{other}");
        }
    }
}
