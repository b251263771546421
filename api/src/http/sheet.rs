//! Job sheets over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{PlanId, TenantId};

use super::{paper, route::Id};
use crate::{
    app::{self, completion_link},
    auth::{Actor, scope::PlansRead},
    body::Fault,
    call,
    context::Context,
    problem::{Code, Problem},
    query::Query,
    sheet::{self, Language, Sheet, Units},
    wire::number,
};

const LANGUAGES: &[(&str, Language)] = &[("en", Language::English), ("de", Language::German)];
const UNITS: &[(&str, Units)] = &[("metric", Units::Metric), ("us", Units::Us)];

/// Shows a plan as the crew reads it on site: one page, for a phone and for paper, or a PDF of it.
///
/// What to mind and to bring, when what happens, each step with its product (parts, and what goes into one bucket), the time to
/// let it work, waits, readings with a box to write them in, the bays in their order and the directions of the coats,
/// what is looked at before hand-over, room to sign and, with `form`, a QR code that leads to the completion form. With `closed_at` the times are clock times of the site. A plan that
/// holds no work says why, and what may be done instead. Steps and cautions stand in the language of the knowledge base.
///
/// The PDF (`format=pdf`, or `Accept: application/pdf`) is A4 and holds what the page holds, drawings too, as text that is tagged for
/// reading aloud (PDF/UA-1). It has the letters of Latin, Greek, Cyrillic, Arabic and
/// Hebrew, and those of the fonts that whoever runs the service has added; a letter beyond them is printed as `�`, and the last line says
/// how many there are and where the page can be read.
#[utoipa::path(get, path = "/v1/plans/{plan_id}/sheet", tag = "plans",
    params(
        ("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$"),
        ("closed_at" = Option<String>, Query, description = "When the floor is closed (RFC 3339).", max_length = 40, format = DateTime),
        ("language" = Option<String>, Query, description = "The language of the sheet's own words: `en` (if left out) or `de`.", max_length = 2, pattern = "^(en|de)$"),
        ("form" = Option<String>, Query, description = "The `address` of a completion link of this plan: it is printed as a QR code, so that the crew reports by phone. Whole, with its host, where the service was not told its public address.", max_length = 2000),
        ("units" = Option<String>, Query, description = "`metric` (if left out), or `us` for US customary units.", max_length = 6, pattern = "^(metric|us)$"),
        ("format" = Option<String>, Query, description = "`html` or `pdf`, whatever `Accept` says.", max_length = 4, pattern = "^(html|pdf)$"),
    ),
    responses((status = 200, description = "The page, or the PDF.", content(
        (String = "text/html"),
        (String = "application/pdf"),
    ))),
)]
pub(crate) async fn sheet(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<PlanId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let closed_at = query.moment("closed_at");
    let language = query.one_of("language", LANGUAGES);
    let units = query.one_of("units", UNITS);
    let form = query.text("form", 2000);
    let format = paper::asked(&mut query);
    query.finish()?;
    let format = paper::settled(format, request.headers())?;
    let shown = app::plan::sheet(&ctx, actor.tenant(), id).await?;
    let units = units.unwrap_or(Units::Metric);
    let form = match &form {
        Some(address) => Some(form_of(&ctx, (actor.tenant(), id), address).await?),
        None => None,
    };
    // The form asks in the units of the sheet that leads to it.
    let form = form.map(|address| match units {
        Units::Metric => address,
        Units::Us => format!("{address}?units=us"),
    });
    let (floor, site) = (&shown.floor, &shown.site);
    let page = sheet::html(&Sheet {
        plan: &shown.plan,
        outline: shown.outline.as_ref(),
        form: form.as_deref(),
        site: &site.name,
        surface: &floor.name,
        storey: &floor.storey,
        area_m2: number::square_metres(floor.area),
        zone: app::site::zone_of(site),
        closed_at,
        language: language.unwrap_or(Language::English),
        units,
    });
    paper::answer(&ctx, &request, page, format, &id.to_string()).await
}

/// The whole address of the form that is asked for, if it opens that of this plan.
///
/// # Errors
/// `parameter_out_of_range`.
async fn form_of(
    ctx: &Context,
    (tenant, plan): (TenantId, PlanId),
    address: &str,
) -> Result<String, Problem> {
    let refused = |detail: &'static str| {
        let fault = Fault::parameter("form", "out_of_range", detail);
        Problem::with_faults(Code::ParameterOutOfRange, vec![fault])
    };
    let none = "Must be the address of a completion link of this plan that opens its form.";
    let (host, last) = address
        .rsplit_once(completion_link::PATH)
        .ok_or_else(|| refused(none))?;
    let opened = match completion_link::open(ctx, last).await {
        Err(problem) if problem.code() == Code::NotFound => return Err(refused(none)),
        opened => opened?,
    };
    if (opened.tenant, opened.plan.id) != (tenant, plan) {
        return Err(refused(none));
    }
    let path = format!("{}{last}", completion_link::PATH);
    let whole = call::absolute(&path);
    if whole != path {
        return Ok(whole);
    }
    if host.starts_with("https://") || host.starts_with("http://") {
        return Ok(format!("{host}{path}"));
    }
    Err(refused(
        "Name the host too: this service was not told its public address.",
    ))
}
