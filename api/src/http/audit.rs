//! The audit trail over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};

use crate::{
    app::{self, audit::AuditFilter},
    auth::{Actor, scope::AuditRead},
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        audit::{AuditPage, AuditView},
    },
};

/// Lists what was done, oldest first.
///
/// One row for each request that changed something, each event of a contractor's own system and each export. Requests that
/// were refused are in the log of the service and not here, and so is the background work on an estimate job.
/// Whether rows were changed or left out since is verified by `wearcourse audit verify`.
#[utoipa::path(get, path = "/v1/audit", tag = "audit",
    params(
        ("operation" = Option<String>, Query, description = "Only this operation.", min_length = 1, max_length = 100),
        ("resource" = Option<String>, Query, description = "Only about this path.", min_length = 1, max_length = 500, example = "/v1/sites/sit_0190a5e4-0000-7000-8000-000000000001"),
        ("subject" = Option<String>, Query, description = "Only on behalf of this subject.", min_length = 1, max_length = 500),
    ),
    responses((status = 200, description = "A page of rows.", body = AuditPage)),
)]
pub(crate) async fn list(
    actor: Actor<AuditRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let filter = AuditFilter {
        operation: query.text("operation", 100),
        resource: query.text("resource", 500),
        subject: query.text("subject", 500),
    };
    query.finish()?;
    let list = List::new("listAudit")
        .filter("operation", filter.operation.as_deref())
        .filter("resource", filter.resource.as_deref())
        .filter("subject", filter.subject.as_deref());
    let after = asked.after(&ctx, &actor, &list)?;
    let rows = app::audit::list(&ctx.store, actor.tenant(), &filter, after, asked.limit()).await?;
    let rows = rows.try_map(|row| wire::document(&AuditView::from(row)))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}
