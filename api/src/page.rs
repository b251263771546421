//! Pages of lists: `{items, next_cursor}` and the `Link` header (RFC 8288).

mod turn;

pub(crate) use turn::{TurnParams, TurnRequest};

use std::{fmt::Display, str::FromStr};

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderValue},
    web,
};
use infra::store;

use crate::{
    auth::{Actor, Scope},
    call,
    context::Context,
    cursor::List,
    problem::{Code, Problem},
    query::Query,
};

/// The most items of one page.
pub(crate) const MAX_LIMIT: u32 = 200;
/// The items of a page for which no limit is asked.
pub(crate) const DEFAULT_LIMIT: u32 = 50;

/// What a request asks of a list: how many, after which id.
#[derive(Debug)]
pub(crate) struct PageRequest {
    limit: u32,
    cursor: Option<String>,
}

impl PageRequest {
    /// Takes `limit` and `cursor` out of a query string.
    pub(crate) fn take(query: &mut Query) -> Self {
        let limit = query.integer("limit", 1..=MAX_LIMIT, DEFAULT_LIMIT);
        // The length is judged with the cursor: a long one is as bad as an edited one.
        let cursor = query.text("cursor", usize::MAX);
        Self { limit, cursor }
    }

    /// How many items to send.
    pub(crate) fn limit(&self) -> u64 {
        self.limit.into()
    }

    /// The id that the page before ended with.
    ///
    /// # Errors
    /// `bad_cursor`.
    pub(crate) fn after<I: FromStr, S: Scope>(
        &self,
        ctx: &Context,
        actor: &Actor<S>,
        list: &List,
    ) -> Result<Option<I>, Problem> {
        let Some(cursor) = &self.cursor else {
            return Ok(None);
        };
        let end = ctx.cursors.open(list, actor.tenant(), cursor)?;
        let bad = |_| Problem::new(Code::BadCursor, "The cursor ends with no id of this list.");
        end.parse().map(Some).map_err(bad)
    }
}

/// One page, ready to be sent.
#[derive(Debug)]
pub(crate) struct Page {
    items: Vec<String>,
    next_cursor: Option<String>,
    limit: u32,
}

impl Page {
    /// Makes a page of what the store read; `document` gives the JSON of a row.
    ///
    /// # Errors
    /// `internal` if the cursor cannot be signed.
    pub(crate) fn new<R, K: Display, S: Scope>(
        (ctx, actor, list): (&Context, &Actor<S>, &List),
        request: &PageRequest,
        rows: store::Page<R, K>,
        document: impl Fn(R) -> String,
    ) -> Result<Self, Problem> {
        let next_cursor = rows
            .next
            .map(|last| ctx.cursors.seal(list, actor.tenant(), &last.to_string()))
            .transpose()?;
        let items = rows.items.into_iter().map(document).collect();
        Ok(Self {
            items,
            next_cursor,
            limit: request.limit,
        })
    }

    /// The answer, with links to the first and the next page that keep every filter.
    pub(crate) fn answer(&self, request: &HttpRequest) -> HttpResponse {
        let mut answer = HttpResponse::Ok();
        answer.insert_header((header::CONTENT_TYPE, "application/json"));
        if let Ok(link) = HeaderValue::from_str(&self.links(request)) {
            answer.insert_header((header::LINK, link));
        }
        answer.body(self.body())
    }

    /// Documents are JSON already, and a cursor is base64url: nothing here needs escaping. A page can be megabytes long,
    /// so it is put together once.
    fn body(&self) -> String {
        const ENDS: usize = 64;
        let length = self.items.iter().map(|item| item.len().saturating_add(1));
        let cursor = self.next_cursor.as_ref().map_or(0, String::len);
        let length = length.fold(cursor, usize::saturating_add);
        let mut body = String::with_capacity(length.saturating_add(ENDS));
        body.push_str("{\"items\":[");
        for (index, item) in self.items.iter().enumerate() {
            if index > 0 {
                body.push(',');
            }
            body.push_str(item);
        }
        body.push_str("],\"next_cursor\":");
        match &self.next_cursor {
            Some(cursor) => body.extend(["\"", cursor, "\"}"]),
            None => body.push_str("null}"),
        }
        body
    }

    fn links(&self, request: &HttpRequest) -> String {
        let query = request.query_string();
        let kept: Vec<&str> = query.split('&').filter(|part| is_filter(part)).collect();
        let kept = kept
            .iter()
            .map(|part| {
                part.replace('<', "%3C")
                    .replace('>', "%3E")
                    .replace('"', "%22")
            })
            .chain([format!("limit={}", self.limit)])
            .collect::<Vec<_>>()
            .join("&");
        let first = format!("{}?{kept}", call::absolute(request.path()));
        match &self.next_cursor {
            Some(cursor) => {
                format!("<{first}>; rel=\"first\", <{first}&cursor={cursor}>; rel=\"next\"")
            }
            None => format!("<{first}>; rel=\"first\""),
        }
    }
}

/// Whether a part of a query string says anything but which page: its name counts as it is read, not as it is written.
fn is_filter(part: &str) -> bool {
    let pairs = web::Query::<Vec<(String, String)>>::from_query(part);
    pairs.is_ok_and(|pairs| {
        pairs
            .iter()
            .any(|(name, _)| !matches!(name.as_str(), "limit" | "cursor"))
    })
}

#[cfg(test)]
mod tests {
    use super::is_filter;

    #[test]
    fn a_page_is_named_once_however_its_name_is_written() {
        for part in [
            "limit=1",
            "%6Cimit=1",
            "cursor=x",
            "c%75rsor=x",
            "cursor",
            "",
        ] {
            assert!(!is_filter(part), "{part}");
        }
        assert!(is_filter("site_id=x") && is_filter("limits=1") && is_filter("a=limit=1"));
    }
}
