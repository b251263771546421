//! The surfaces of a site for spreadsheets and other programs, over HTTP.

use std::io;

use actix_web::{HttpRequest, HttpResponse, http::header, web};
use domain::id::{SiteId, SurfaceId};
use futures_util::stream;
use unicode_normalization::UnicodeNormalization as _;

use super::route::Id;
use crate::{
    app, audit,
    auth::{Actor, scope::SurfacesRead},
    context::Context,
    problem::Problem,
    query::Query,
    wire::{csv, register},
};

/// Where a table goes on.
enum Next {
    /// With its header.
    Begin,
    /// With the surfaces after this one.
    After(SurfaceId),
    /// Nowhere.
    End,
}

/// Exports the surfaces of a site as a table (RFC 4180) that can be sent back.
///
/// The columns are `surface_id`, `version`, `external_system`, `external_id`, `name`, `storey`, `area_m2` (m²), `perimeter_m` (m) and
/// `material` (a key), the rows in the order of registration; surfaces that are replaced or retired by today are left out. Text that
/// begins like a formula is led by an apostrophe. `POST /v1/imports` takes the table, up to 5 MiB and 20,000 rows (ask by `storey`
/// where that is not enough): sent back as it is, it changes nothing; of what somebody changed in it, the rows are taken whose
/// surfaces have an external name and still the version that the row says.
#[utoipa::path(get, path = "/v1/sites/{site_id}/surface-table", tag = "surfaces",
    params(
        ("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("storey" = Option<String>, Query, description = "Only surfaces on this storey.", min_length = 1, max_length = 100),
    ),
    responses((status = 200, description = "The table.", body = String, content_type = "text/csv")),
)]
pub(crate) async fn as_table(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SiteId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let storey = query.text("storey", 100);
    query.finish()?;
    let storey: Option<String> = storey.map(|storey| storey.nfc().collect());
    let tenant = actor.tenant();
    let site = app::register::of_site(&ctx, tenant, id).await?;
    audit::exported(&ctx, &actor, request.path()).await?;
    // Page by page, so that no register is ever held whole.
    let pages = stream::try_unfold((Next::Begin, site, storey), move |(next, site, storey)| {
        let ctx = ctx.clone();
        async move {
            let after = match next {
                Next::Begin => None,
                Next::After(id) => Some(id),
                Next::End => return Ok(None),
            };
            let of = (&site, storey.as_deref());
            let page = app::register::page(&ctx, tenant, of, after).await;
            let page = page.map_err(|problem| io::Error::other(problem.to_string()))?;
            let lines = register::table(&page.items, after.is_none());
            let lines = lines.map_err(|problem| io::Error::other(problem.to_string()))?;
            let next = page.next.map_or(Next::End, Next::After);
            Ok::<_, io::Error>(Some((web::Bytes::from(lines), (next, site, storey))))
        }
    });
    let named = format!("attachment; filename=\"surfaces-{id}.csv\"");
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, csv::CONTENT_TYPE))
        .insert_header((header::CONTENT_DISPOSITION, named))
        .streaming(pages))
}
