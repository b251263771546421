//! Files that are handed over with buildings, over HTTP.

use std::sync::Arc;

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderValue},
    web,
};
use domain::{
    handover::Fate,
    id::{ImportId, SiteId},
};

use super::route::{Id, no_query};
use crate::{
    app::{
        self,
        import::{ImportRow, JobFilter, JobStatus, Sent},
    },
    auth::{
        Actor,
        scope::{SurfacesRead, SurfacesWrite},
    },
    body::{Bare, BuildingFile, Fault},
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::{Code, Problem},
    query::Query,
    wire::{
        self,
        import::{ImportPage, ImportRowPage, ImportView},
    },
    write::{self, KeyRule, Reply},
};

/// How long a caller should wait before he looks again, in seconds.
const LOOK_AGAIN: HeaderValue = HeaderValue::from_static("1");

const STATUSES: &[(&str, JobStatus)] = &[
    ("queued", JobStatus::Queued),
    ("running", JobStatus::Running),
    ("succeeded", JobStatus::Succeeded),
    ("failed", JobStatus::Failed),
    ("cancelled", JobStatus::Cancelled),
];

const OUTCOMES: &[(&str, Fate)] = &[
    ("created", Fate::Created),
    ("updated", Fate::Updated),
    ("unchanged", Fate::Unchanged),
    ("out_of_scope", Fate::OutOfScope),
    ("needs_attention", Fate::NeedsAttention),
];

/// Takes a file that was handed over with a building, whose spaces become surfaces of a site.
///
/// The body is the file itself, up to 32 MiB; its media type says what it is: a COBie workbook
/// (`application/vnd.openxmlformats-officedocument.spreadsheetml.sheet`), a building model in STEP text, IFC2X3 or IFC4
/// (`application/x-step`), a table with the columns `external_id`, `name`, `storey`, `area_m2` and, if you have them,
/// `external_system`, `number`, `perimeter_m`, `height_m`, `finish` (`text/csv`), or outlines in metres written as GeoJSON is
/// (`application/geo+json`). A file that cannot be read is refused at once, with the place. What can be read is worked on in the
/// background: read the import until it has succeeded.
///
/// Unless `apply=true`, it is a dry run: it does all that an application does and takes it back, so each row says what would
/// happen. `POST .../apply` makes it true. A space is found again by its id in the file, so a newer file of the same building
/// changes what it says otherwise and doubles nothing; what was put right at the register since, and what a file says nothing of,
/// stays. At most 3 imports of a tenant are queued or running at a time.
#[utoipa::path(post, path = "/v1/imports", tag = "imports",
    params(
        ("site_id" = String, Query, description = "The site of the building.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("apply" = Option<bool>, Query, description = "Whether surfaces are registered and changed at once; a dry run if left out."),
    ),
    request_body(description = "The file.", content(
        (String = "text/csv"),
        (String = "application/x-step"),
        (Object = "application/geo+json"),
        (Vec<u8> = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    )),
    responses((status = 202, description = "The import.", body = ImportView, headers(
        ("Retry-After" = String, description = "Seconds after which to look again."),
    ))),
)]
pub(crate) async fn send(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    file: BuildingFile,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::parse(&file.raw.query);
    let site_id = query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`");
    let applies = query.flag("apply");
    query.finish()?;
    let fault = || Fault::parameter("site_id", "required", "Name the site.");
    let site_id =
        site_id.ok_or_else(|| Problem::with_faults(Code::InvalidParameter, vec![fault()]))?;
    let content: Arc<[u8]> = file.raw.body.as_ref().into();
    let _readable = app::import::read(file.format, Arc::clone(&content)).await?;
    let mut answer = write::run_queried(&ctx, &actor, &file.raw, KeyRule::Required, async |tx| {
        let sent = Sent {
            site_id,
            format: file.format,
            content: Arc::clone(&content),
            applies,
        };
        let row = app::import::send(&ctx, tx, sent).await?;
        accepted(&row)
    })
    .await?;
    ctx.jobs.notify_one();
    answer.headers_mut().insert(header::RETRY_AFTER, LOOK_AGAIN);
    Ok(answer)
}

fn accepted(row: &ImportRow) -> Result<Reply, Problem> {
    let path = format!("/v1/imports/{}", row.id);
    Ok(Reply::accepted(path, row.version, document(row)?))
}

fn document(row: &ImportRow) -> Result<String, Problem> {
    wire::document(&ImportView::new(row)?)
}

/// Lists imports, oldest first.
#[utoipa::path(get, path = "/v1/imports", tag = "imports",
    params(
        ("site_id" = Option<String>, Query, description = "Only imports of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("status" = Option<String>, Query, description = "Only imports that stand here.", max_length = 10, pattern = "^(queued|running|succeeded|failed|cancelled)$"),
    ),
    responses((status = 200, description = "A page of imports.", body = ImportPage)),
)]
pub(crate) async fn list(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let status = query.one_of("status", STATUSES);
    let site_id = query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`");
    query.finish()?;
    let list = List::new("listImports")
        .filter("site_id", site_id.map(|id| id.to_string()).as_deref())
        .filter("status", status.map(JobStatus::as_str));
    let after = asked.after(&ctx, &actor, &list)?;
    let filter = JobFilter { site_id, status };
    let page = (after, asked.limit());
    let rows = app::import::list(&ctx, actor.tenant(), &filter, page).await?;
    let rows = rows.try_map(|row| document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one import: where it stands, and what became of the file as a whole.
///
/// `progress` says how far it is: the stage, and how many of its spaces are done. While it is queued or running, `Retry-After` says
/// when to look again. An import is kept for 7 days after its end.
#[utoipa::path(get, path = "/v1/imports/{import_id}", tag = "imports",
    params(("import_id" = String, Path, description = "The import.", max_length = 40, pattern = "^imp_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The import.", body = ImportView)),
)]
pub(crate) async fn get(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ImportId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let (row, is_further) = app::import::get(&ctx, actor.tenant(), id).await?;
    let document = document(&row)?;
    // Who knows the version does not know what is beyond it.
    let reply = if is_further {
        Reply::plain(document)
    } else {
        Reply::found(row.version, document)
    };
    let mut answer = reply.unless_known(request.headers());
    if row.finished_at.is_none() {
        answer.headers_mut().insert(header::RETRY_AFTER, LOOK_AGAIN);
    }
    Ok(answer)
}

/// Cancels an import that is queued or running: nothing of the file is registered.
///
/// `status` says whether it was in time: an import that had come to its end stays as it was, and so does what it registered.
/// On the embedded database a file that is being applied has the one writer, and this waits for its end.
#[utoipa::path(post, path = "/v1/imports/{import_id}/cancel", tag = "imports",
    params(("import_id" = String, Path, description = "The import.", max_length = 40, pattern = "^imp_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The import as it is now.", body = ImportView)),
)]
pub(crate) async fn cancel(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ImportId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::import::cancel(&ctx, tx, id).await?;
        Ok(Reply::found(row.version, document(&row)?))
    })
    .await
}

/// Lists what becomes of each space of a file, in its order.
///
/// Each space has exactly one outcome: `created`, `updated`, `unchanged`, `out_of_scope` (a soft floor, a roof), or
/// `needs_attention`, and then `reasons` say what somebody has to decide. A finish that is not in the dictionary is told to this
/// service once by `POST /v1/finish-synonyms`.
#[utoipa::path(get, path = "/v1/imports/{import_id}/rows", tag = "imports",
    params(
        ("import_id" = String, Path, description = "The import.", max_length = 40, pattern = "^imp_[0-9a-f-]{36}$"),
        ("outcome" = Option<String>, Query, description = "Only spaces with this outcome.", max_length = 20, pattern = "^(created|updated|unchanged|out_of_scope|needs_attention)$"),
    ),
    responses((status = 200, description = "A page of spaces.", body = ImportRowPage)),
)]
pub(crate) async fn rows(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ImportId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let outcome = query.one_of("outcome", OUTCOMES).map(Fate::word);
    query.finish()?;
    let list = List::new("listImportRows")
        .filter("import_id", Some(&id.to_string()))
        .filter("outcome", outcome);
    let after = asked.after(&ctx, &actor, &list)?;
    let page = (after, asked.limit());
    let rows = app::import::rows(&ctx, actor.tenant(), (id, outcome), page).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |row| row.document)?.answer(&request))
}

/// Has a dry run made true: its surfaces are registered and changed in the background.
///
/// The file is judged once more by what is registered when its turn comes, so what was changed since the dry run counts. All of it
/// is written, or nothing.
#[utoipa::path(post, path = "/v1/imports/{import_id}/apply", tag = "imports",
    params(("import_id" = String, Path, description = "The import.", max_length = 40, pattern = "^imp_[0-9a-f-]{36}$")),
    responses((status = 202, description = "The import, queued.", body = ImportView)),
)]
pub(crate) async fn apply(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ImportId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    let answer = write::run(&ctx, &actor, &raw, KeyRule::Required, async |tx| {
        let row = app::import::apply(tx, id).await?;
        accepted(&row)
    })
    .await?;
    ctx.jobs.notify_one();
    Ok(answer)
}
