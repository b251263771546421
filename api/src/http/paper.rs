//! Pages that are shown or printed: HTML with the sheets' own style, or PDF.

use std::sync::LazyLock;

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{
        self, Charset, ContentDisposition, DispositionParam, DispositionType, ExtendedValue,
        HeaderMap, HeaderValue,
    },
};
use base64::{Engine, engine::general_purpose::STANDARD};
use sha2::{Digest, Sha256};

use super::accept::{self, Offer};
use crate::{
    context::Context,
    paper,
    problem::{Code, Problem},
    query::Query,
    sheet,
};

/// The form of a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// `text/html`.
    Html,
    /// `application/pdf`.
    Pdf,
}

const FORMS: &[(&str, Form)] = &[("html", Form::Html), ("pdf", Form::Pdf)];
const TYPES: [Offer<Form>; 2] = [
    (Form::Html, "text", "html"),
    (Form::Pdf, "application", "pdf"),
];

/// The page may do nothing but look as it does.
static POLICY: LazyLock<Option<HeaderValue>> = LazyLock::new(|| looks_only(sheet::STYLE));

/// The policy of a page that may look as this style sheet says, and do nothing.
pub(super) fn looks_only(style: &str) -> Option<HeaderValue> {
    let style = STANDARD.encode(Sha256::digest(style));
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{style}'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    );
    HeaderValue::from_str(&policy).ok()
}

/// The form that `format` names, to be settled by [`settled`] when the whole query is read.
pub(super) fn asked(query: &mut Query) -> Option<Form> {
    query.one_of("format", FORMS)
}

/// The form that was named, or else the one that `Accept` prefers; HTML if it does not say.
///
/// # Errors
/// `not_acceptable` if the caller takes neither.
pub(super) fn settled(named: Option<Form>, headers: &HeaderMap) -> Result<Form, Problem> {
    named
        .or_else(|| accept::best(headers, &TYPES))
        .ok_or_else(|| {
            let detail = "Available are `text/html` and `application/pdf`.";
            Problem::new(Code::NotAcceptable, detail)
        })
}

/// Answers a page with the sheets' own style, or prints it; `id` names what is printed, `request` leads to the page.
///
/// # Errors
/// `internal` for a page that cannot be printed.
pub(super) async fn answer(
    ctx: &Context,
    request: &HttpRequest,
    page: String,
    form: Form,
    id: &str,
) -> Result<HttpResponse, Problem> {
    match form {
        Form::Html => Ok(html(page)),
        Form::Pdf => {
            let address = address(&ctx.base, request);
            let printed = paper::print(&ctx.press, page, address).await?;
            Ok(HttpResponse::Ok()
                .insert_header((header::CONTENT_TYPE, "application/pdf"))
                .insert_header(named(&printed.title, id))
                .body(printed.content))
        }
    }
}

/// Where a page that is printed can be read in a browser.
fn address(base: &str, request: &HttpRequest) -> String {
    let parts = request.query_string().split('&');
    let kept = parts.filter(|part| !part.is_empty() && !part.starts_with("format="));
    let query: Vec<&str> = kept.chain(["format=html"]).collect();
    format!("{base}{}?{}", request.path(), query.join("&"))
}

/// A page with the sheets' own style, which may do nothing but look as it does.
fn html(page: String) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    answer.insert_header((header::CONTENT_TYPE, "text/html; charset=utf-8"));
    if let Some(policy) = &*POLICY {
        answer.insert_header((header::CONTENT_SECURITY_POLICY, policy.clone()));
    }
    answer.body(page)
}

/// Under which name it is saved: the page's title, for programs that know only ASCII the id.
fn named(title: &str, id: &str) -> ContentDisposition {
    let kept = |letter: char| match letter {
        '/' | '\\' | ':' | '*' | '?' | '"' | '<' | '>' | '|' => '-',
        letter => letter,
    };
    let name: String = title.chars().map(kept).collect();
    ContentDisposition {
        disposition: DispositionType::Inline,
        parameters: vec![
            DispositionParam::Filename(format!("{id}.pdf")),
            DispositionParam::FilenameExt(ExtendedValue {
                charset: Charset::Ext("UTF-8".to_owned()),
                language_tag: None,
                value: format!("{name}.pdf").into_bytes(),
            }),
        ],
    }
}
