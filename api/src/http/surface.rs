//! Surfaces over HTTP.

use actix_web::{FromRequest, HttpRequest, HttpResponse, dev::Payload, web};
use domain::id::{SiteId, SurfaceId};
use futures_util::future::LocalBoxFuture;
use unicode_normalization::UnicodeNormalization;

use super::{external, route::Id};
use crate::{
    app::{
        self,
        surface::{SurfaceFilter, past::ChangedSince},
    },
    auth::{
        Actor,
        scope::{SurfacesRead, SurfacesWrite},
    },
    body::{MAX_BATCH, RawRequest, Strict, into_typed, into_value, receive},
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, TurnParams, TurnRequest},
    patch::Patch,
    problem::Problem,
    query::Query,
    wire::{
        self,
        external::External,
        surface::{
            BatchBody, SurfaceBatch, SurfaceBatchView, SurfacePage, SurfacePatchRequest,
            SurfaceRequest, SurfaceView,
        },
    },
    write::{self, KeyRule, Reply},
};

/// Registers a surface.
///
/// Its material is named by its key, or found by its finish word in the dictionary of building data; a word that the
/// dictionary does not have is refused, never guessed. What is odd about it is told in `findings`.
#[utoipa::path(post, path = "/v1/surfaces", tag = "surfaces", request_body = SurfaceRequest, responses(
    (status = 201, description = "It is registered.", body = SurfaceView),
))]
pub(crate) async fn register(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    body: Strict<SurfaceRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::surface::register(&ctx, tx, &body.value).await?;
        Ok(Reply::created(
            format!("/v1/surfaces/{}", row.id),
            row.version,
            row.document,
        ))
    })
    .await
}

/// Registers up to 1,000 surfaces or brings them up to date, each known by its external name.
///
/// Without `merge` an item says all there is to say of its surface: **what it leaves out is no longer said**, also what its
/// sender never knew. Without `replaced_by` or `retired_on` a floor that is gone is planned again, without `asbestos` a floor
/// that was tested is `untested`, without `maker_instruction`, `access_windows`, `outline` and `doors` their maker, hours and
/// drawing are forgotten. A system that does not hold all of these sends `"merge": true`: each item is then a JSON Merge Patch
/// (RFC 7396) of what is known, as in a PATCH.
///
/// In `atomic` mode, which is the default, one item that cannot be stored keeps all from being stored (422). A soft floor
/// (`out_of_scope`) and several coverings in one (`to_split`) are such items: send room lists that have carpets in `partial` mode,
/// in which each item says what became of it. An item whose `if_version` is not the version that is there has the fault
/// `stale_version`.
#[utoipa::path(post, path = "/v1/surfaces/batch", tag = "surfaces",
    request_body(content = BatchBody, content_type = "application/json"), responses(
    (status = 200, description = "What became of each item.", body = SurfaceBatchView),
))]
pub(crate) async fn batch(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    body: BatchSent,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let view = app::surface::batch::store(&ctx, tx, body.value.clone()).await?;
        Ok(Reply::plain(wire::document(&view)?))
    })
    .await
}

/// A batch and the request that it came in. Each of its two forms has a schema of its own, so that faults are told exactly.
pub(crate) struct BatchSent {
    value: SurfaceBatch,
    raw: RawRequest,
}

impl FromRequest for BatchSent {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move {
            let raw = receive(&request, payload, MAX_BATCH).await?;
            let sent = into_value(&raw.body)?;
            let value = if sent.asks("merge") {
                SurfaceBatch::Merge(into_typed("#", sent)?)
            } else {
                SurfaceBatch::Whole(into_typed("#", sent)?)
            };
            Ok(Self { value, raw })
        })
    }
}

/// Which surfaces a list is asked for.
struct Filters {
    site: Option<SiteId>,
    storey: Option<String>,
    materials: Vec<String>,
    external: Option<External>,
}

impl Filters {
    fn take(query: &mut Query) -> Self {
        let mut materials = query.repeated("material", 60);
        materials.sort_unstable();
        materials.dedup();
        // Stored text is in this form, so what is compared with it must be too.
        let storey = query.text("storey", 100);
        Self {
            site: query.parsed("site_id", "Must be an id that starts with `sit_`."),
            storey: storey.map(|storey| storey.nfc().collect()),
            materials,
            external: external::take(query),
        }
    }

    fn list(&self) -> List {
        let site = self.site.map(|id| id.to_string());
        let list = List::new("listSurfaces")
            .filter("site_id", site.as_deref())
            .filter("storey", self.storey.as_deref());
        let list = self.materials.iter().fold(list, |list, material| {
            list.filter("material", Some(material))
        });
        external::filter(list, self.external.as_ref())
    }

    fn into_filter(self) -> SurfaceFilter {
        SurfaceFilter {
            site_id: self.site,
            storey: self.storey,
            materials: self.materials,
            external: self.external.as_ref().map(Into::into),
        }
    }
}

/// Lists surfaces, oldest first.
#[utoipa::path(get, path = "/v1/surfaces", tag = "surfaces",
    params(
        ("site_id" = Option<String>, Query, description = "Only surfaces of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("storey" = Option<String>, Query, description = "Only surfaces on this storey.", min_length = 1, max_length = 100),
        ("material" = Option<Vec<String>>, Query, description = "Only surfaces of this material; repeat it for any of several.", max_items = 60),
        ("external_system" = Option<String>, Query, description = "Only the surface with this external name; together with `external_id`.", min_length = 1, max_length = 100),
        ("external_id" = Option<String>, Query, description = "Only the surface with this external name; together with `external_system`.", min_length = 1, max_length = 200),
        TurnParams,
    ),
    responses((status = 200, description = "A page of surfaces.", body = SurfacePage)),
)]
pub(crate) async fn list(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = TurnRequest::take(&mut query);
    let filters = Filters::take(&mut query);
    query.finish()?;
    let list = asked.of(filters.list());
    let turn = asked.turn(&ctx, &actor, &list)?;
    let (filter, asked) = (filters.into_filter(), asked.page);
    let rows = app::surface::list(&ctx, actor.tenant(), &filter, turn, asked.limit()).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one surface, as it is now or as it was.
///
/// With `version` or `at` it is what the register said then, every member of it: its material, what its maker demands, whether it was
/// tested. What lay on it at a moment is told by its state.
#[utoipa::path(get, path = "/v1/surfaces/{surface_id}", tag = "surfaces",
    params(
        ("surface_id" = String, Path, description = "The surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
        ("version" = Option<i64>, Query, description = "The version to read; the one of now if left out.", minimum = 1),
        ("at" = Option<String>, Query, format = DateTime, description = "The moment to look back to (RFC 3339); not together with `version`.", max_length = 40),
    ),
    responses((status = 200, description = "The surface.", body = SurfaceView)),
)]
pub(crate) async fn get(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SurfaceId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let (version, at) = (query.text("version", 20), query.moment("at"));
    let version = version.map(|text| {
        let number = text.parse().ok().filter(|number| *number >= 1);
        if number.is_none() {
            query.outside("version", "Must be a whole number from 1.");
        }
        number.unwrap_or(1)
    });
    if version.is_some() && at.is_some() {
        query.outside("at", "Name a version or a moment, and not both.");
    }
    query.finish()?;
    let past = version.map(ChangedSince::Version);
    let past = past.or(at.map(ChangedSince::Moment));
    let (version, document) = match past {
        Some(past) => app::surface::past::get(&ctx, actor.tenant(), id, past).await?,
        None => app::surface::get(&ctx, actor.tenant(), id).await?,
    };
    Ok(Reply::found(version, document).unless_known(request.headers()))
}

/// Changes a surface by a JSON Merge Patch (RFC 7396) of what its registration says.
///
/// A surface that was registered by its finish has no `material` to be merged into: to name its material instead,
/// send `"finish": null` too.
#[utoipa::path(patch, path = "/v1/surfaces/{surface_id}", tag = "surfaces",
    params(("surface_id" = String, Path, description = "The surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")),
    request_body(content = SurfacePatchRequest, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The surface as it is now.", body = SurfaceView)),
)]
pub(crate) async fn change(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SurfaceId>,
    patch: Patch,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &patch.raw, KeyRule::Optional, async |tx| {
        let row = app::surface::find(tx, id).await?;
        Expected::of(&patch.raw.headers)?.check(row.version)?;
        let request = patch.apply(&app::surface::patchable(&row)?)?;
        let row = app::surface::change(&ctx, tx, &row, &request).await?;
        Ok(Reply::found(row.version, row.document))
    })
    .await
}
