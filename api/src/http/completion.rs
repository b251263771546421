//! Completions over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::CompletionId;

use super::{
    external,
    route::{Id, no_query},
};
use crate::{
    app::{
        self,
        completion::{CompletionFilter, CompletionRow, CompletionStatus, DeviationFilter, Origin},
    },
    auth::{
        Actor,
        scope::{CompletionsRead, CompletionsReview, CompletionsWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, TurnParams, TurnRequest},
    problem::Problem,
    query::Query,
    wire::{
        completion::{
            AcknowledgeRequest, CompletionPage, CompletionRequest, CompletionView, as_it_stands,
        },
        remark::VoidRequest,
        time,
    },
    write::{self, KeyRule, Reply},
};

/// Records work that was done.
///
/// It is priced at the rate card of the day of the work (before the site's first edition, at the first:
/// `rate_card.before_valid_from`) and set against the plan that it cites. Work that contradicts
/// its plan is recorded and flagged in `deviations`, never refused.
#[utoipa::path(post, path = "/v1/completions", tag = "completions", request_body = CompletionRequest, responses(
    (status = 201, description = "It is recorded.", body = CompletionView),
))]
pub(crate) async fn record(
    actor: Actor<CompletionsWrite>,
    ctx: web::Data<Context>,
    body: Strict<CompletionRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::completion::record(&ctx, tx, report(&actor, &body)).await?;
        created(row)
    })
    .await
}

/// Corrects a completion.
///
/// The body is the whole corrected report. It is recorded as a completion of its own that cites the one it corrects,
/// which becomes `superseded`, stays readable and counts no longer.
#[utoipa::path(post, path = "/v1/completions/{completion_id}/supersede", tag = "completions",
    params(("completion_id" = String, Path, description = "The completion to correct.", max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")),
    request_body = CompletionRequest,
    responses((status = 201, description = "The correction is recorded.", body = CompletionView)),
)]
pub(crate) async fn supersede(
    actor: Actor<CompletionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<CompletionId>,
    body: Strict<CompletionRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::completion::supersede(&ctx, tx, id, report(&actor, &body)).await?;
        created(row)
    })
    .await
}

fn report<'a>(
    actor: &Actor<CompletionsWrite>,
    body: &'a Strict<CompletionRequest>,
) -> (&'a CompletionRequest, Origin) {
    (&body.value, Origin::Caller(actor.contractor()))
}

fn created(row: CompletionRow) -> Result<Reply, Problem> {
    let version = app::completion::version(&row)?;
    let path = format!("/v1/completions/{}", row.id);
    Ok(Reply::created(path, version, row.document))
}

/// Voids a completion: the work was not done, or not as it was reported.
///
/// It stays readable and counts no more: in no report, no plan and no film. What it was worth is not given to anything
/// else; a wrong report is superseded, not voided.
#[utoipa::path(post, path = "/v1/completions/{completion_id}/void", tag = "completions",
    params(("completion_id" = String, Path, description = "The completion.", max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")),
    request_body = VoidRequest,
    responses((status = 200, description = "The completion as it is now.", body = CompletionView)),
)]
pub(crate) async fn void(
    actor: Actor<CompletionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<CompletionId>,
    body: Strict<VoidRequest>,
) -> Result<HttpResponse, Problem> {
    let (by, reason) = (actor.by(), &body.value.reason);
    let known = (id, actor.contractor());
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        amended(app::completion::void(&ctx, tx, known, (&by, reason)).await?)
    })
    .await
}

/// Acknowledges in what a completion differs from its plan, with a reason.
///
/// The deviation stays; it says who accepted it, when and why.
#[utoipa::path(post, path = "/v1/completions/{completion_id}/acknowledge", tag = "completions",
    params(("completion_id" = String, Path, description = "The completion.", max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")),
    request_body = AcknowledgeRequest,
    responses((status = 200, description = "The completion as it is now.", body = CompletionView)),
)]
pub(crate) async fn acknowledge(
    actor: Actor<CompletionsReview>,
    ctx: web::Data<Context>,
    Id(id): Id<CompletionId>,
    body: Strict<AcknowledgeRequest>,
) -> Result<HttpResponse, Problem> {
    let (by, known) = (actor.by(), (id, actor.contractor()));
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        amended(app::completion::acknowledge(&ctx, tx, known, (&by, &body.value)).await?)
    })
    .await
}

fn amended(row: CompletionRow) -> Result<Reply, Problem> {
    let version = app::completion::version(&row)?;
    Ok(Reply::found(version, as_it_stands(row)?))
}

/// Lists completions, in the order of their recording.
///
/// Those that were corrected or voided are left out unless they are asked for.
#[utoipa::path(get, path = "/v1/completions", tag = "completions",
    params(
        ("site_id" = Option<String>, Query, description = "Only on this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("surface_id" = Option<String>, Query, description = "Only on this surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
        ("plan_id" = Option<String>, Query, description = "Only those that cite this plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$"),
        ("contractor_id" = Option<String>, Query, description = "Only by this contractor.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$"),
        ("external_system" = Option<String>, Query, description = "Only the completion with this external name; together with `external_id`.", min_length = 1, max_length = 100),
        ("external_id" = Option<String>, Query, description = "Only the completion with this external name; together with `external_system`.", min_length = 1, max_length = 200),
        ("started_from" = Option<String>, Query, format = DateTime, description = "Only work that began at or after this moment (RFC 3339).", max_length = 40),
        ("started_to" = Option<String>, Query, format = DateTime, description = "Only work that began before this moment (RFC 3339).", max_length = 40),
        ("include_superseded" = Option<bool>, Query, description = "Whether to list also those that count no longer; `false` if left out."),
        ("status" = Option<String>, Query, description = "Only those that stand here: `recorded`, `superseded` or `voided`; in the place of `include_superseded`.", max_length = 20, pattern = "^(recorded|superseded|voided)$"),
        ("process" = Option<String>, Query, description = "Only work by this process.", min_length = 1, max_length = 60),
        ("unplanned" = Option<bool>, Query, description = "Whether to list only work that cites no plan; `false` if left out."),
        ("deviation" = Option<String>, Query, description = "Only those with deviations: `any`, `open` (one that nobody has acknowledged), or the code of one.", min_length = 1, max_length = 60, pattern = "^[a-z_]+$"),
        TurnParams,
    ),
    responses((status = 200, description = "A page of completions.", body = CompletionPage)),
)]
pub(crate) async fn list(
    actor: Actor<CompletionsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let (page, asked) = (TurnRequest::take(&mut query), take(&mut query));
    query.finish()?;
    let asked = CompletionFilter {
        contractor_id: actor.work_of(asked.contractor_id),
        ..asked
    };
    let list = page.of(list_of(&asked));
    let (turn, page) = (page.turn(&ctx, &actor, &list)?, page.page);
    let rows = app::completion::list(&ctx, actor.tenant(), &asked, turn, page.limit()).await?;
    Ok(Page::new((&ctx, &actor, &list), &page, rows, |document| document)?.answer(&request))
}

/// Reads one completion, corrected or not.
#[utoipa::path(get, path = "/v1/completions/{completion_id}", tag = "completions",
    params(("completion_id" = String, Path, description = "The completion.", max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The completion.", body = CompletionView)),
)]
pub(crate) async fn get(
    actor: Actor<CompletionsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<CompletionId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let (version, document) =
        app::completion::get(&ctx, actor.tenant(), (id, actor.contractor())).await?;
    Ok(Reply::found(version, document).unless_known(request.headers()))
}

/// Takes the filters of the list.
fn take(query: &mut Query) -> CompletionFilter {
    CompletionFilter {
        site_id: query.parsed("site_id", "Must be the id of a site."),
        surface_id: query.parsed("surface_id", "Must be the id of a surface."),
        plan_id: query.parsed("plan_id", "Must be the id of a plan."),
        contractor_id: query.parsed("contractor_id", "Must be the id of a contractor."),
        external: external::take(query).as_ref().map(Into::into),
        started_from: query.moment("started_from"),
        started_to: query.moment("started_to"),
        include_superseded: query.flag("include_superseded"),
        status: query.one_of("status", &STATUSES),
        process: query.text("process", 60),
        unplanned: query.flag("unplanned"),
        deviation: deviation(query),
    }
}

/// Where a completion can stand, by the word of the wire.
const STATUSES: [(&str, CompletionStatus); 3] = [
    ("recorded", CompletionStatus::Recorded),
    ("superseded", CompletionStatus::Superseded),
    ("voided", CompletionStatus::Voided),
];

/// Which deviations are looked for.
fn deviation(query: &mut Query) -> Option<DeviationFilter> {
    let word = query.text("deviation", 60)?;
    match word.as_str() {
        "any" => Some(DeviationFilter::Any),
        "open" => Some(DeviationFilter::Open),
        code if code
            .bytes()
            .all(|byte| byte.is_ascii_lowercase() || byte == b'_') =>
        {
            Some(DeviationFilter::Code(word))
        }
        _ => {
            query.malform(
                "deviation",
                "Must be `any`, `open` or the code of a deviation.",
            );
            None
        }
    }
}

/// A filter for deviations as it was asked.
fn word_of(wanted: &DeviationFilter) -> String {
    match wanted {
        DeviationFilter::Any => "any".to_owned(),
        DeviationFilter::Open => "open".to_owned(),
        DeviationFilter::Code(code) => code.clone(),
    }
}

/// The list that these filters make; a cursor is good for one.
fn list_of(asked: &CompletionFilter) -> List {
    let external = asked.external.as_ref();
    let filters = [
        (
            "external_system",
            external.map(|external| external.system.clone()),
        ),
        ("external_id", external.map(|external| external.id.clone())),
        ("site_id", asked.site_id.map(|id| id.to_string())),
        ("surface_id", asked.surface_id.map(|id| id.to_string())),
        ("plan_id", asked.plan_id.map(|id| id.to_string())),
        (
            "contractor_id",
            asked.contractor_id.map(|id| id.to_string()),
        ),
        ("started_from", asked.started_from.map(time::write)),
        ("started_to", asked.started_to.map(time::write)),
        (
            "include_superseded",
            Some(asked.include_superseded.to_string()),
        ),
        ("status", asked.status.map(|status| status.to_string())),
        ("process", asked.process.clone()),
        ("unplanned", Some(asked.unplanned.to_string())),
        ("deviation", asked.deviation.as_ref().map(word_of)),
    ];
    filters
        .iter()
        .fold(List::new("listCompletions"), |list, (name, value)| {
            list.filter(name, value.as_deref())
        })
}

#[cfg(test)]
mod tests {
    use domain::id::TenantId;

    use super::{list_of, take};
    use crate::{config::Secret, cursor::CursorKey, problem::Code, query::Query};

    #[test]
    fn filters_are_read_and_misread_ones_are_all_told() {
        let mut query = Query::parse(
            "site_id=sit_01890a5d-ac96-774b-bcce-b302099a8057&started_from=2026-03-01T01:00:00%2B01:00\
             &include_superseded=true",
        );
        let asked = take(&mut query);
        assert!(query.finish().is_ok());
        assert!(asked.site_id.is_some() && asked.include_superseded);
        assert_eq!(
            asked.started_from.map(crate::wire::time::write).as_deref(),
            Some("2026-03-01T00:00:00.000Z")
        );
        let mut query = Query::parse("site_id=srf_1&plan_id=x&started_to=2026-03-01&surface_id=");
        take(&mut query);
        let problem = query.finish().unwrap_err();
        assert_eq!(problem.code(), Code::InvalidParameter);
        assert_eq!(problem.faults().len(), 4);
        let mut query = Query::parse("include_superseded=yes");
        take(&mut query);
        assert_eq!(
            query.finish().unwrap_err().code(),
            Code::ParameterOutOfRange
        );
    }

    #[test]
    fn s_007_a_cursor_is_good_for_one_set_of_filters() {
        let key = CursorKey::new(&Secret::new("0123456789abcdef0123456789abcdef"));
        let tenant = TenantId::from_uuid(uuid::Uuid::nil());
        let list = |text: &str| list_of(&take(&mut Query::parse(text)));
        let cursor = key.seal(&list(""), tenant, "cmp_x").unwrap();
        let opens = |text: &str| key.open(&list(text), tenant, &cursor).is_ok();
        assert!(opens("") && opens("include_superseded=false"));
        for other in [
            "include_superseded=true",
            "external_system=crew-app&external_id=7",
            "started_from=2026-03-01T00:00:00Z",
            "started_to=2026-03-01T00:00:00Z",
            "plan_id=pln_01890a5d-ac96-774b-bcce-b302099a8057",
        ] {
            assert!(!opens(other), "{other}");
        }
    }
}
