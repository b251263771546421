//! Products over HTTP: those of the knowledge base and the tenant's own in one list.

use actix_web::{HttpRequest, HttpResponse, web};

use super::{
    knowledge,
    route::{Id, no_query},
};
use crate::{
    app,
    auth::{
        Actor,
        scope::{KnowledgeRead, ProductsWrite},
    },
    body::Strict,
    context::Context,
    etag::Expected,
    patch::Patch,
    problem::Problem,
    wire::{
        self,
        knowledge::{ProductList, ProductView},
        product::{ProductPatchRequest, ProductRequest},
    },
    write::{self, KeyRule, Reply},
};

/// Registers a product of your own with the figures of its data sheet.
///
/// On the materials that it suits it comes before the knowledge base's product of its class: plans are worked out
/// with its figures and name its data sheet and version. Of several that suit a floor, the one that was registered first
/// and is not withdrawn is chosen.
#[utoipa::path(post, path = "/v1/products", tag = "knowledge", request_body = ProductRequest, responses(
    (status = 201, description = "It is registered.", body = ProductView),
))]
pub(crate) async fn register(
    actor: Actor<ProductsWrite>,
    ctx: web::Data<Context>,
    body: Strict<ProductRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::product::register(&ctx, tx, &body.value).await?;
        let view = wire::document(&app::product::view(&row)?)?;
        let path = format!("/v1/products/{}", row.key);
        Ok(Reply::created(path, row.version, view))
    })
    .await
}

/// Lists the products with the figures of their data sheets: your own, then those of the knowledge base.
#[utoipa::path(get, path = "/v1/products", tag = "knowledge", responses(
    (status = 200, description = "All products.", body = ProductList),
))]
pub(crate) async fn list(
    actor: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let rows = app::product::list(&ctx, actor.tenant()).await?;
    let list = rows.into_iter().collect::<ProductList>();
    knowledge::answer(&ctx, request.headers(), &list)
}

/// Reads one product.
#[utoipa::path(get, path = "/v1/products/{key}", tag = "knowledge",
    params(("key" = String, Path, description = "The product.", max_length = 60)),
    responses((status = 200, description = "The product.", body = ProductView)),
)]
pub(crate) async fn get(
    actor: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    Id(key): Id<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    match app::product::get(&ctx, actor.tenant(), &key).await? {
        Some(row) => {
            let view = wire::document(&app::product::view(&row)?)?;
            Ok(Reply::found(row.version, view).unless_known(request.headers()))
        }
        None => knowledge::row::<ProductView>(&ctx, &request, ctx.knowledge.product(&key)),
    }
}

/// Changes a product of your own by a JSON Merge Patch (RFC 7396) of what its registration says.
///
/// Plans that were made keep the version that they were made with. A product is not deleted: `withdrawn` takes it out of
/// use. Those of the knowledge base cannot be changed.
#[utoipa::path(patch, path = "/v1/products/{key}", tag = "knowledge",
    params(("key" = String, Path, description = "The product.", max_length = 60)),
    request_body(content = ProductPatchRequest, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The product as it is now.", body = ProductView)),
)]
pub(crate) async fn change(
    actor: Actor<ProductsWrite>,
    ctx: web::Data<Context>,
    Id(key): Id<String>,
    patch: Patch,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &patch.raw, KeyRule::Optional, async |tx| {
        let row = app::product::find(&ctx, tx, &key).await?;
        Expected::of(&patch.raw.headers)?.check(row.version)?;
        let request = patch.apply(&app::product::request_of(&row)?)?;
        let row = app::product::change(&ctx, tx, &row, &request).await?;
        let view = wire::document(&app::product::view(&row)?)?;
        Ok(Reply::found(row.version, view))
    })
    .await
}
