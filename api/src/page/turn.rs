//! Lists that can be read newest first, or by what changed since a moment.

use infra::store::{Order, Place, Turn};
use utoipa::IntoParams;

use super::PageRequest;
use crate::{
    auth::{Actor, Scope},
    context::Context,
    cursor::List,
    problem::Problem,
    query::Query,
    wire::time,
};

/// The parameters that such a list has besides those of every list; described here, read by [`TurnRequest::take`].
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "it only describes")]
pub(crate) struct TurnParams {
    /// In which order the list goes: `created_at` (the oldest first, also if it is left out) or `-created_at` (the newest first).
    #[param(max_length = 12, pattern = "^-?created_at$", example = "-created_at")]
    order: Option<String>,
    /// Only what was made or changed at or after this moment (RFC 3339), in the order of the last change; not together with
    /// `order`. To keep in step, follow the pages to the end, and ask the next time from a minute before you last began to read: what was
    /// being written just then may have been committed after.
    #[param(format = DateTime, max_length = 40, example = "2026-03-01T00:00:00Z")]
    updated_since: Option<String>,
}

/// What a request asks of such a list: how many, in which order, after which row.
#[derive(Debug)]
pub(crate) struct TurnRequest {
    /// How many.
    pub(crate) page: PageRequest,
    order: Order,
}

impl TurnRequest {
    /// Takes `limit`, `cursor`, `order` and `updated_since` out of a query string.
    pub(crate) fn take(query: &mut Query) -> Self {
        let page = PageRequest::take(query);
        let words = [
            ("created_at", Order::Oldest),
            ("-created_at", Order::Newest),
        ];
        let order = query.one_of("order", &words);
        let since = query.moment("updated_since");
        if order.is_some() && since.is_some() {
            let detail = "With `updated_since` the list goes by the last change: leave this out.";
            query.outside("order", detail);
        }
        Self {
            page,
            order: since.map_or(order.unwrap_or_default(), Order::Changed),
        }
    }

    /// The list in this order; a cursor is good for one.
    pub(crate) fn of(&self, list: List) -> List {
        match self.order {
            Order::Oldest => list,
            Order::Newest => list.filter("order", Some("-created_at")),
            Order::Changed(since) => list.filter("updated_since", Some(&time::write(since))),
        }
    }

    /// The order, and the row that the page before ended with.
    ///
    /// # Errors
    /// `bad_cursor`.
    pub(crate) fn turn<S: Scope>(
        &self,
        ctx: &Context,
        actor: &Actor<S>,
        list: &List,
    ) -> Result<Turn, Problem> {
        let after: Option<Place> = self.page.after(ctx, actor, list)?;
        Ok(Turn {
            order: self.order,
            after,
        })
    }
}
