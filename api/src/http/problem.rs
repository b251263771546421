//! The page to which the `type` of every problem leads.

use actix_web::{HttpRequest, HttpResponse, http::header};

use super::route::Id;
use crate::{
    problem::{Code, Problem},
    wire::problem::ProblemPage,
};

/// A code in the path.
#[derive(Debug)]
pub(crate) struct Known(Code);

impl std::str::FromStr for Known {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let code = Code::ALL.iter().find(|code| code.as_str() == text);
        code.map(|code| Self(*code)).ok_or(())
    }
}

/// What a kind of problem means and what to do about it.
///
/// HTML for a browser that asks for it, JSON otherwise.
#[utoipa::path(get, path = "/problems/{code}", tag = "service",
    params(("code" = crate::problem::ProblemCode, Path, description = "The `code` of a problem.")),
    responses((status = 200, description = "What it means.", content(
        (crate::wire::problem::ProblemPage = "application/json"),
        (String = "text/html"),
    ))),
)]
pub(crate) async fn explain(
    Id(Known(code)): Id<Known>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let accept = request
        .headers()
        .get(header::ACCEPT)
        .and_then(|accept| accept.to_str().ok());
    if accept.is_some_and(|accept| accept.contains("text/html")) {
        let (title, status, remedy) = (code.title(), code.status(), code.remedy());
        let (name, html) = (
            code.as_str(),
            (header::CONTENT_TYPE, "text/html; charset=utf-8"),
        );
        return Ok(HttpResponse::Ok().insert_header(html).body(format!(
            "<!DOCTYPE html><html lang=\"en\"><meta charset=\"utf-8\"><title>{title}</title>\
             <h1>{title}</h1><p>Code <code>{name}</code>, HTTP status {status}.</p><p>{remedy}</p></html>\n"
        )));
    }
    Ok(HttpResponse::Ok().json(ProblemPage::new(code)))
}
