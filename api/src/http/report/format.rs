//! In which form a report is sent: what `Accept` prefers (RFC 9110, section 12.5.1).

use actix_web::http::header::HeaderMap;

use crate::{
    http::accept::{self, Offer},
    problem::{Code, Problem},
};

/// The form of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::http) enum Format {
    /// `application/json`.
    Json,
    /// `text/csv`.
    Csv,
    /// `application/vnd.apache.parquet`.
    Parquet,
    /// `image/svg+xml`: a chart.
    Svg,
}

impl Format {
    /// Its name as the `format` parameter and names of files have it.
    pub(in crate::http) const fn word(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Csv => "csv",
            Self::Parquet => "parquet",
            Self::Svg => "svg",
        }
    }
}

/// The forms as the `format` parameter names them.
pub(super) const WORDS: &[(&str, Format)] = &[
    ("json", Format::Json),
    ("csv", Format::Csv),
    ("parquet", Format::Parquet),
    ("svg", Format::Svg),
];

/// The media types, the one that is preferred at equal weight first.
const TYPES: [Offer<Format>; 4] = [
    (Format::Json, "application", "json"),
    (Format::Csv, "text", "csv"),
    (Format::Parquet, "application", "vnd.apache.parquet"),
    (Format::Svg, "image", "svg+xml"),
];

/// The form that the caller likes best; JSON if he does not say.
///
/// # Errors
/// `not_acceptable` if he takes none of them.
pub(in crate::http) fn accepted(headers: &HeaderMap) -> Result<Format, Problem> {
    accept::best(headers, &TYPES).ok_or_else(|| {
        Problem::new(
            Code::NotAcceptable,
            "Available are `application/json`, `text/csv`, `application/vnd.apache.parquet` and `image/svg+xml`.",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::{Format, TYPES};
    use crate::http::accept::choose;

    #[test]
    fn weights_and_the_most_specific_range_decide() {
        let (json, csv) = (Some(Format::Json), Some(Format::Csv));
        let parquet = Some(Format::Parquet);
        for (accept, expected) in [
            ("", json),
            ("*/*", json),
            ("text/csv", csv),
            ("TEXT/CSV; charset=utf-8", csv),
            ("text/*", csv),
            ("text/csv;q=0.5, application/json;q=0.4", csv),
            ("text/csv;q=0.5, application/json;q=0.500", json),
            ("*/*, application/json;q=0", csv),
            ("application/*;q=0.1, text/csv;q=0", json),
            ("image/*", Some(Format::Svg)),
            ("application/vnd.apache.parquet", parquet),
            (
                "application/*;q=0.1, application/vnd.apache.parquet",
                parquet,
            ),
            ("text/html, */*;q=0.1", json),
            ("text/csv;header=present;q=0.9, */*;q=0.8", csv),
            ("text/html", None),
            ("text/csv;q=0", None),
            ("text/csv;q=2", None),
            ("*/csv", None),
            ("nonsense", None),
        ] {
            assert_eq!(choose(accept, &TYPES), expected, "{accept}");
        }
    }
}
