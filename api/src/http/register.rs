//! The surfaces of a site for spreadsheets and other programs, over HTTP.

use std::io;

use actix_web::{HttpRequest, HttpResponse, http::header, web};
use domain::{
    handover::MAX_SPACES,
    id::{SiteId, SurfaceId},
};
use futures_util::stream;
use tokio::sync::Semaphore;
use unicode_normalization::UnicodeNormalization as _;

use super::route::Id;
use crate::{
    app, audit,
    auth::{Actor, scope::SurfacesRead},
    body::Fault,
    context::Context,
    problem::{Code, Problem},
    query::Query,
    wire::{
        csv,
        register::{
            self,
            workbook::{self, Line},
        },
    },
};

/// How many workbooks are written at once in a process: each is in memory as a whole.
static WRITERS: Semaphore = Semaphore::const_new(2);

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

/// Exports the surfaces of a site as a workbook of COBie tables (2.4) that can be sent back.
///
/// The sheets are `Contact`, `Facility`, `Floor`, `Space` and `Attribute`, the columns those of the standard, lengths in metres and areas in
/// square metres. `Space` has a row for each surface, in the order of registration, without those that are replaced or retired by
/// today: its name (its id where another surface has that name), storey, external name and net area, and to the right of the
/// standard's columns `SurfaceId` and `SurfaceVersion`. `Attribute` tells of each the finish (the key of its material), the area, the
/// perimeter and the film of its survey. No cell holds a formula. `POST /v1/imports` takes the workbook: sent back as it is, it changes
/// nothing; of what somebody changed in names, storeys, net areas, perimeters and finishes, the rows are taken whose surfaces have an
/// external name and still the version that the row says. At most 20,000 surfaces: ask by `storey` where that is not enough.
#[utoipa::path(get, path = "/v1/sites/{site_id}/surface-workbook", tag = "surfaces",
    params(
        ("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("storey" = Option<String>, Query, description = "Only surfaces on this storey.", min_length = 1, max_length = 100),
    ),
    responses((status = 200, description = "The workbook.", body = String, content_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")),
)]
pub(crate) async fn as_workbook(
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
    let permit = WRITERS.acquire().await;
    let permit = permit.map_err(|closed| Problem::internal(&closed))?;
    let mut lines: Vec<Line> = Vec::new();
    let mut after = None;
    loop {
        let page = app::register::page(&ctx, tenant, (&site, storey.as_deref()), after).await?;
        for row in &page.items {
            lines.push(Line::of(row)?);
        }
        if lines.len() > MAX_SPACES {
            return Err(too_many_rows());
        }
        match page.next {
            Some(next) => after = Some(next),
            None => break,
        }
    }
    audit::exported(&ctx, &actor, request.path()).await?;
    let (base, now) = (ctx.knowledge, ctx.clock.now());
    let written = tokio::task::spawn_blocking(move || {
        let written = workbook::workbook(base, &site, &lines, now);
        drop(permit);
        written
    });
    let written = written.await.map_err(|error| Problem::internal(&error))??;
    let named = format!("attachment; filename=\"surfaces-{id}.xlsx\"");
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, workbook::CONTENT_TYPE))
        .insert_header((header::CONTENT_DISPOSITION, named))
        .body(written))
}

fn too_many_rows() -> Problem {
    let detail = format!("A workbook has at most {MAX_SPACES} surfaces: ask by storey.");
    let fault = Fault::parameter("storey", "too_many_rows", detail);
    Problem::with_faults(Code::ParameterOutOfRange, vec![fault])
}
