//! The surfaces of a site for spreadsheets and other programs, over HTTP.

use std::{io, rc::Rc};

use actix_web::{HttpRequest, HttpResponse, http::header, rt, web};
use domain::{handover::MAX_SPACES, id::SiteId};
use futures_util::stream;
use tokio::{sync::Semaphore, task::yield_now};
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

/// So many lines of a table, at about a microsecond each, are written before others have their turn.
const ROWS_AT_ONCE: usize = 100;
/// How many workbooks are written at once in a process: each is in memory as a whole.
static WRITERS: Semaphore = Semaphore::const_new(2);

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
    // Page by page, so that no register is ever held whole; the database reads the next while this one is written.
    let of = Rc::new((ctx, site, storey));
    let ahead = move |after| {
        let of = Rc::clone(&of);
        rt::spawn(async move {
            let (ctx, site, storey) = &*of;
            app::register::lines(ctx, tenant, (site, storey.as_deref()), after).await
        })
    };
    let first = (Some(ahead(None)), register::header()?);
    let pages = stream::try_unfold(first, move |(page, mut lines)| {
        let ahead = ahead.clone();
        async move {
            let Some(page) = page else {
                return Ok(None);
            };
            let page = page.await.map_err(io::Error::other)?;
            let page = page.map_err(|problem| io::Error::other(problem.to_string()))?;
            let next = page.next.map(|id| ahead(Some(id)));
            for rows in page.items.chunks(ROWS_AT_ONCE) {
                // What was asked for goes out, and others have their turn.
                yield_now().await;
                let more = register::table(rows);
                lines.extend(more.map_err(|problem| io::Error::other(problem.to_string()))?);
            }
            Ok::<_, io::Error>(Some((web::Bytes::from(lines), (next, Vec::new()))))
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
