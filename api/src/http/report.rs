//! Reports over HTTP.

mod format;

use self::format::Format;
use crate::{
    app::{
        self,
        report::{Asked, Dim},
    },
    auth::{Actor, scope::ReportsRead},
    context::Context,
    problem::Problem,
    query::Query,
    wire::{
        self, csv,
        report::{CostReportView, DIMS, Month},
    },
};
use actix_web::{HttpRequest, HttpResponse, http::header, web};

/// The most months of one report.
const MAX_MONTHS: i32 = 120;

/// Reports what was planned beside what was done and what it cost.
///
/// Completions count in the month in which the work began at their site; those that were corrected or
/// voided do not count.
/// Currencies are never added: a group has a row for each. What is committed is what is left to do of accepted plans; it
/// counts in the month in which the plan was accepted. A completion stands in every stage and class of product of its
/// lines, with its whole area; the totals count it once.
#[utoipa::path(get, path = "/v1/reports/costs", tag = "reports",
    params(
        ("from" = String, Query, description = "The first month, such as `2026-01`.", max_length = 7, pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$"),
        ("to" = String, Query, description = "The month after the last; at most 120 months after `from`.", max_length = 7, pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$"),
        ("group_by" = Option<Vec<String>>, Query, style = Form, explode, description = "What to group by, any of `site`, `storey`, `material`, `process`, `month`, `surface`, `stage`, `product_class`, `contractor`: repeated, or separated by commas; `month` if left out.", max_items = 9, max_length = 100, pattern = "^(site|storey|material|process|month|surface|stage|product_class|contractor)(,(site|storey|material|process|month|surface|stage|product_class|contractor)){0,8}$"),
        ("site_id" = Option<String>, Query, description = "Only this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("contractor_id" = Option<String>, Query, description = "Only work by this contractor; nothing is committed to one.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$"),
        ("material" = Option<String>, Query, description = "Only work on this material.", min_length = 1, max_length = 100),
        ("process" = Option<String>, Query, description = "Only work by this process.", min_length = 1, max_length = 100),
        ("format" = Option<String>, Query, description = "`json` or `csv`, whatever `Accept` says.", max_length = 4, pattern = "^(json|csv)$"),
    ),
    responses((status = 200, description = "The report; as a table, one line for each row and no totals.", content(
        (CostReportView = "application/json"),
        (String = "text/csv"),
    ))),
)]
pub(crate) async fn costs(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let format = query.one_of("format", format::WORDS);
    let asked = take(&mut query);
    query.finish()?;
    let format = format.map_or_else(|| format::accepted(request.headers()), Ok)?;
    let Some(asked) = asked else {
        return Err(Problem::internal(&NoMonths));
    };
    let costs = app::report::costs(&ctx, actor.tenant(), &asked).await?;
    answer(format, &asked, costs)
}

/// A report without months and without a fault: a mistake of ours.
#[derive(Debug, thiserror::Error)]
#[error("a report was asked for without months")]
struct NoMonths;

/// The report in the form that was asked for.
fn answer(
    format: Format,
    asked: &Asked,
    costs: app::report::Costs,
) -> Result<HttpResponse, Problem> {
    let (from, to) = (asked.from, asked.to);
    let mut answer = HttpResponse::Ok();
    match format {
        Format::Json => {
            let view = CostReportView::new((from, to), &asked.group_by, costs.rows, &costs.totals);
            let json = wire::document(&view)?;
            Ok(answer
                .insert_header((header::CONTENT_TYPE, "application/json"))
                .body(json))
        }
        Format::Csv => {
            let table = wire::report::csv(&asked.group_by, &costs.rows)?;
            let name = format!("attachment; filename=\"costs-{from}-to-{to}.csv\"");
            Ok(answer
                .insert_header((header::CONTENT_TYPE, csv::CONTENT_TYPE))
                .insert_header((header::CONTENT_DISPOSITION, name))
                .body(table))
        }
    }
}

/// Takes what is asked for; nothing if the months are not in order, which the query then tells.
fn take(query: &mut Query) -> Option<Asked> {
    let site_id = query.parsed("site_id", "Must be the id of a site.");
    let contractor_id = query.parsed("contractor_id", "Must be the id of a contractor.");
    let material = query.text("material", 100);
    let process = query.text("process", 100);
    let group_by = group_by(query);
    let (from, to) = (month(query, "from"), month(query, "to"));
    let (from, to) = (from?, to?);
    if !(1..=MAX_MONTHS).contains(&from.until(to)) {
        query.outside(
            "to",
            format!("Must be 1 to {MAX_MONTHS} months after `from`."),
        );
        return None;
    }
    Some(Asked {
        from,
        to,
        group_by,
        site_id,
        contractor_id,
        material,
        process,
    })
}

fn month(query: &mut Query, name: &str) -> Option<Month> {
    let sent = query.repeated(name, 200);
    let month = match sent.as_slice() {
        [one] => one.parse().ok(),
        _ => None,
    };
    if month.is_none() {
        query.outside(name, "Send one month, such as `2026-01`.");
    }
    month
}

/// The dimensions in the order in which they are named, each once.
fn group_by(query: &mut Query) -> Vec<Dim> {
    let sent = query.repeated("group_by", 200);
    if sent.is_empty() {
        return vec![Dim::Month];
    }
    if sent.len() > DIMS.len() {
        query.outside("group_by", format!("Send at most {} values.", DIMS.len()));
    }
    let mut dims = Vec::new();
    for word in sent.iter().flat_map(|value| value.split(',')) {
        match DIMS.iter().find(|(known, _)| *known == word) {
            Some((_, dim)) if dims.contains(dim) => {}
            Some((_, dim)) => dims.push(*dim),
            None => {
                let words: Vec<_> = DIMS.iter().map(|(word, _)| *word).collect();
                query.outside("group_by", format!("Must be any of {}.", words.join(", ")));
            }
        }
    }
    dims
}

#[cfg(test)]
mod tests {
    use super::take;
    use crate::{app::report::Dim, problem::Code, query::Query};

    /// The places of the faults, or what is grouped by.
    fn read(text: &str) -> Result<Vec<Dim>, (Code, Vec<String>)> {
        let mut query = Query::parse(text);
        let asked = take(&mut query);
        query
            .finish()
            .map(|()| asked.unwrap().group_by)
            .map_err(|problem| {
                let places = problem.faults().iter().filter_map(|f| f.parameter.clone());
                (problem.code(), places.collect())
            })
    }

    #[test]
    fn a_report_is_grouped_by_what_is_named_in_its_order() {
        let months = "from=2026-01&to=2026-07";
        assert_eq!(read(months), Ok(vec![Dim::Month]));
        let both = Ok(vec![Dim::Storey, Dim::Site]);
        assert_eq!(read(&format!("{months}&group_by=storey,site")), both);
        assert_eq!(
            read(&format!("{months}&group_by=storey&group_by=site,storey")),
            both
        );
    }

    #[test]
    fn s_085_the_range_is_judged_and_never_cut() {
        assert!(read("from=2016-01&to=2026-01").is_ok());
        let refused = |text: &str, places: &[&str]| {
            let places = places.iter().map(|place| (*place).to_owned()).collect();
            assert_eq!(
                read(text),
                Err((Code::ParameterOutOfRange, places)),
                "{text}"
            );
        };
        refused("", &["from", "to"]);
        refused("from=2026-01", &["to"]);
        refused("from=2026-01&to=2026-01", &["to"]);
        refused("from=2026-02&to=2026-01", &["to"]);
        refused("from=2016-01&to=2026-02", &["to"]);
        refused("from=0001-01&to=9999-12", &["to"]);
        refused("from=2026-1&to=2026-13", &["from", "to"]);
        refused("from=2026-01&from=2026-02&to=2026-03", &["from"]);
        refused("from=2026-01&to=2026-03&group_by=floor", &["group_by"]);
        refused("from=2026-01&to=2026-03&group_by=site,", &["group_by"]);
        let ten = "&group_by=site".repeat(10);
        refused(&format!("from=2026-01&to=2026-03{ten}"), &["group_by"]);
    }
}
