//! Reads files of buildings: the only bodies that are neither JSON nor a merge patch. What is in them is not looked at here.

use actix_web::{
    FromRequest, HttpRequest,
    dev::Payload,
    http::header::{self, HeaderValue},
};
use domain::handover::Format;
use futures_util::future::LocalBoxFuture;

use super::{ACCEPT_POST, RawRequest, gather, in_time, raw};
use crate::problem::{Code, Problem};

/// The largest file, in bytes.
pub(crate) const MAX_FILE: usize = 32 * 1024 * 1024;

/// Media types with the format that a file of each has.
pub(crate) const TYPES: [(&str, Format); 4] = [
    (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        Format::Cobie,
    ),
    ("application/x-step", Format::Ifc),
    ("text/csv", Format::Csv),
    ("application/geo+json", Format::Geojson),
];
/// The same in a header.
const ACCEPTED: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet, application/x-step, text/csv, application/geo+json";

/// A file of a building.
#[derive(Debug)]
pub(crate) struct BuildingFile {
    /// Its format, by its media type.
    pub(crate) format: Format,
    /// The request as it was sent.
    pub(crate) raw: RawRequest,
}

impl FromRequest for BuildingFile {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move {
            let (content_type, format) = format(&request)?;
            let body = in_time(&request, gather(&request, payload, MAX_FILE)).await?;
            let raw = raw(&request, content_type, body);
            Ok(Self { format, raw })
        })
    }
}

/// The media type of a file and the format that goes with it.
fn format(request: &HttpRequest) -> Result<(&'static str, Format), Problem> {
    let mut sent = request.headers().get_all(header::CONTENT_TYPE);
    let found = match (sent.next(), sent.next()) {
        (Some(sent), None) => {
            let sent = sent.to_str().unwrap_or_default();
            let essence = sent.split(';').next().unwrap_or_default().trim();
            let mut types = TYPES.iter();
            types.find(|(name, _)| essence.eq_ignore_ascii_case(name))
        }
        _ => None,
    };
    found.copied().ok_or_else(|| {
        let detail = format!("Send one `Content-Type`, which names the format: {ACCEPTED}.");
        Problem::new(Code::UnsupportedMediaType, detail)
            .header(ACCEPT_POST, HeaderValue::from_static(ACCEPTED))
    })
}
