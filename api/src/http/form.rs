//! The completion form, for whoever has the address of a link: a page to fill in, and the report that it sends.

use std::sync::LazyLock;

use actix_web::{
    HttpRequest, HttpResponse,
    http::{
        StatusCode,
        header::{self, HeaderValue},
    },
    web::{self, Payload},
};
use base64::{Engine, engine::general_purpose::STANDARD};
use sha2::{Digest, Sha256};

use crate::{
    app::{
        self,
        completion_link::{Opened, Sent},
    },
    body::receive_form,
    context::Context,
    limit,
    problem::{Code, Problem},
    sheet::{
        Language, Units,
        form::{self, Ask, Filled, Floor, Look},
    },
    wire::number,
    write::REPLAYED,
};

/// The largest form, in bytes: all its texts as long as they may be, each byte written as three.
const MAX_FORM: usize = 64 * 1024;

/// The page looks as it does, runs its one script, and sends to where it came from.
static POLICY: LazyLock<Option<HeaderValue>> = LazyLock::new(|| {
    let [style, script] =
        [form::STYLE, form::SCRIPT].map(|text| STANDARD.encode(Sha256::digest(text)));
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{style}'; script-src 'sha256-{script}'; base-uri 'none'; form-action 'self'; \
         frame-ancestors 'none'"
    );
    HeaderValue::from_str(&policy).ok()
});

/// Shows the form of a link.
pub(crate) async fn show(
    ctx: web::Data<Context>,
    address: web::Path<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let Some(opened) = open(&ctx, &address, &request).await? else {
        return Ok(page(StatusCode::NOT_FOUND, None));
    };
    let ask = Ask::of(&opened.plan.document)?;
    let filled = Filled::fresh(ctx.ids.uuid().to_string());
    let (status, look) = match closed(&opened) {
        Some(look) => (StatusCode::CONFLICT, look),
        None => (
            StatusCode::OK,
            Look::Form {
                ask: &ask,
                filled: &filled,
                wrong: &[],
                fresh: true,
            },
        ),
    };
    let floor = floor(&opened, units(&request));
    Ok(page(status, Some((&floor, &look))))
}

/// Records what a form reports, once for each key, and says what is recorded.
pub(crate) async fn submit(
    ctx: web::Data<Context>,
    address: web::Path<String>,
    request: HttpRequest,
    payload: Payload,
) -> Result<HttpResponse, Problem> {
    let raw = receive_form(&request, payload.into_inner(), MAX_FORM).await?;
    let Some(opened) = open(&ctx, &address, &request).await? else {
        return Ok(page(StatusCode::NOT_FOUND, None));
    };
    let filled = Filled::read(&raw.body)?;
    let key = filled.key().ok_or_else(|| {
        let detail = "The form came without its own key: open it again.";
        Problem::new(Code::BadRequest, detail)
    })?;
    let (ask, floor) = (
        Ask::of(&opened.plan.document)?,
        floor(&opened, units(&request)),
    );
    let form = |wrong| Look::Form {
        ask: &ask,
        filled: &filled,
        wrong,
        fresh: false,
    };
    let place = opened.floor.id.to_string();
    let read = filled.report(&ask, (&place, &floor))?;
    let report = match read {
        Ok(request) => request,
        Err(wrong) => {
            let look = closed(&opened).unwrap_or_else(|| form(&wrong));
            return Ok(page(
                StatusCode::UNPROCESSABLE_ENTITY,
                Some((&floor, &look)),
            ));
        }
    };
    let sent = Sent {
        key,
        request: report,
    };
    match app::completion_link::report(&ctx, &opened, &sent).await {
        Ok(done) => {
            let look = Look::Recorded {
                ask: &ask,
                document: &done.document,
                before: done.before,
                changed: done.changed,
            };
            let status = if done.changed {
                StatusCode::CONFLICT
            } else {
                StatusCode::CREATED
            };
            let mut answer = page(status, Some((&floor, &look)));
            if done.before {
                let replayed = HeaderValue::from_static("true");
                answer.headers_mut().insert(REPLAYED, replayed);
            }
            Ok(answer)
        }
        Err(problem) => refused(&problem, (&opened, &floor), (&ask, &filled)).ok_or(problem),
    }
}

/// The page that says why nothing was recorded, where that is for people to mend.
fn refused(
    problem: &Problem,
    (opened, floor): (&Opened, &Floor<'_>),
    (ask, filled): (&Ask, &Filled),
) -> Option<HttpResponse> {
    let (status, look) = match problem.code() {
        Code::NotFound => return Some(page(StatusCode::NOT_FOUND, None)),
        Code::StateConflict => (StatusCode::CONFLICT, Look::UsedUp),
        Code::InvalidBody if !opened.is_open() => (StatusCode::CONFLICT, Look::Closed),
        Code::InvalidBody => {
            let wrong = form::place(problem.faults(), (ask, floor.units), filled);
            let look = Look::Form {
                ask,
                filled,
                wrong: &wrong,
                fresh: false,
            };
            return Some(page(StatusCode::UNPROCESSABLE_ENTITY, Some((floor, &look))));
        }
        _ => return None,
    };
    Some(page(status, Some((floor, &look))))
}

/// What an address opens, if anything; whoever tries too many that open nothing is told to wait.
async fn open(
    ctx: &Context,
    address: &str,
    request: &HttpRequest,
) -> Result<Option<Opened>, Problem> {
    let now = ctx.clock.now();
    match app::completion_link::open(ctx, address).await {
        Ok(opened) => {
            ctx.limits.admit(opened.tenant, now)?;
            Ok(Some(opened))
        }
        Err(problem) if problem.code() == Code::NotFound => {
            let peer = request.peer_addr();
            let source = limit::source_of(peer, request.headers(), &ctx.limits.proxies);
            ctx.limits.missed(source, now)?;
            Ok(None)
        }
        Err(problem) => Err(problem),
    }
}

/// Why nothing can be reported any more, if so.
fn closed(opened: &Opened) -> Option<Look<'static>> {
    if !opened.is_open() {
        return Some(Look::Closed);
    }
    opened.is_used_up().then_some(Look::UsedUp)
}

/// The units that the address asks for; what else it says beside them is passed over.
fn units(request: &HttpRequest) -> Units {
    let mut pairs = request.query_string().split('&');
    if pairs.any(|pair| pair == "units=us") {
        Units::Us
    } else {
        Units::Metric
    }
}

fn floor(opened: &Opened, units: Units) -> Floor<'_> {
    Floor {
        surface: &opened.floor.name,
        storey: &opened.floor.storey,
        site: &opened.site.name,
        area_m2: number::square_metres(opened.floor.area),
        zone: app::site::zone_of(&opened.site),
        language: Language::of(&opened.link.language),
        units,
    }
}

fn page(status: StatusCode, shown: Option<(&Floor<'_>, &Look<'_>)>) -> HttpResponse {
    let mut answer = HttpResponse::build(status);
    answer.insert_header((header::CONTENT_TYPE, "text/html; charset=utf-8"));
    if let Some(policy) = &*POLICY {
        answer.insert_header((header::CONTENT_SECURITY_POLICY, policy.clone()));
    }
    answer.body(form::html(shown))
}
