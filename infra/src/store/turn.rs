//! In which order a list goes, and where a page of it begins.

use std::{fmt, str::FromStr};

use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, Order as Way};
use sea_orm::{Condition, EntityTrait, QueryFilter, QueryOrder, Select};
use uuid::Uuid;

use crate::clock::truncate_to_millis;

/// In which order a list goes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Order {
    /// In the order of their making.
    #[default]
    Oldest,
    /// The other way round.
    Newest,
    /// What was made or changed at or after this moment, in the order of the last change.
    Changed(DateTime<Utc>),
}

/// Where a page ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// The last row.
    pub id: Uuid,
    /// When it was last changed, in a list that goes by that.
    pub changed_at: Option<DateTime<Utc>>,
}

impl From<Uuid> for Place {
    fn from(id: Uuid) -> Self {
        Self {
            id,
            changed_at: None,
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(at) = self.changed_at {
            write!(f, "{}.", at.timestamp_millis())?;
        }
        write!(f, "{}", self.id.simple())
    }
}

/// A text that names no place.
#[derive(Debug, thiserror::Error)]
#[error("no place in a list")]
pub struct ParsePlaceError;

impl FromStr for Place {
    type Err = ParsePlaceError;

    fn from_str(text: &str) -> Result<Self, ParsePlaceError> {
        let (at, id) = match text.split_once('.') {
            Some((at, id)) => (Some(at), id),
            None => (None, text),
        };
        let moment = |at: &str| DateTime::from_timestamp_millis(at.parse().ok()?);
        Ok(Self {
            id: id.parse().map_err(|_no_id| ParsePlaceError)?,
            changed_at: match at {
                Some(at) => Some(moment(at).ok_or(ParsePlaceError)?),
                None => None,
            },
        })
    }
}

/// The order of a list and the place after which a page begins.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Turn {
    /// The order.
    pub order: Order,
    /// The place; the beginning without it.
    pub after: Option<Place>,
}

impl Turn {
    /// The oldest first, after a row.
    #[must_use]
    pub fn oldest(after: Option<Uuid>) -> Self {
        Self {
            order: Order::Oldest,
            after: after.map(Into::into),
        }
    }

    /// Where a page ends with a row that has this id and was last changed then.
    #[must_use]
    pub fn place(&self, id: Uuid, changed_at: DateTime<Utc>) -> Place {
        let goes_by_change = matches!(self.order, Order::Changed(_));
        Place {
            id,
            changed_at: goes_by_change.then_some(changed_at),
        }
    }

    /// The rows of a page; `changed` is the column of the last change.
    pub(super) fn apply<E: EntityTrait>(
        &self,
        select: Select<E>,
        changed: &'static str,
    ) -> Select<E> {
        let id = || Expr::col("id");
        let after = self.after;
        match self.order {
            Order::Oldest => {
                let onwards = after.map(|place| id().gt(place.id));
                let select = select.filter(Condition::all().add_option(onwards));
                select.order_by(id(), Way::Asc)
            }
            Order::Newest => {
                let onwards = after.map(|place| id().lt(place.id));
                let select = select.filter(Condition::all().add_option(onwards));
                select.order_by(id(), Way::Desc)
            }
            Order::Changed(since) => {
                let at = || Expr::col(changed);
                let from = after.and_then(|place| place.changed_at).unwrap_or(since);
                let from = truncate_to_millis(from);
                // One range of the index, in which those of the place's own moment go on by their ids.
                let onwards = after.map(|place| at().gt(from).or(id().gt(place.id)));
                let select = select.filter(at().gte(from));
                let select = select.filter(Condition::all().add_option(onwards));
                select.order_by(at(), Way::Asc).order_by(id(), Way::Asc)
            }
        }
    }
}
