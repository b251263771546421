//! In which form a report is sent: what `Accept` prefers (RFC 9110, section 12.5.1).

use actix_web::http::header::{self, HeaderMap};

use crate::problem::{Code, Problem};

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
const TYPES: [(Format, &str, &str); 4] = [
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
    let sent: Vec<&str> = headers
        .get_all(header::ACCEPT)
        .map(|value| value.to_str().unwrap_or_default())
        .collect();
    choose(&sent.join(",")).ok_or_else(|| {
        Problem::new(
            Code::NotAcceptable,
            "Available are `application/json`, `text/csv`, `application/vnd.apache.parquet` and `image/svg+xml`.",
        )
    })
}

fn choose(accept: &str) -> Option<Format> {
    if accept.trim().is_empty() {
        return Some(Format::Json);
    }
    let ranges: Vec<Range<'_>> = accept.split(',').filter_map(Range::read).collect();
    let mut best = None;
    for (format, kind, subtype) in TYPES {
        // The most specific range decides, whatever a wider one says.
        let matching = ranges.iter().filter(|range| range.covers(kind, subtype));
        let weight = matching.max_by_key(|range| range.specificity());
        let weight = weight.map_or(0, |range| range.weight);
        if weight > 0 && best.is_none_or(|(most, _)| weight > most) {
            best = Some((weight, format));
        }
    }
    best.map(|(_, format)| format)
}

/// One media range with its weight in thousandths.
struct Range<'a> {
    kind: &'a str,
    subtype: &'a str,
    weight: u16,
}

impl<'a> Range<'a> {
    /// Reads a range; parameters other than the weight narrow nothing that we send. What cannot be read is passed over.
    fn read(text: &'a str) -> Option<Self> {
        let mut parts = text.split(';').map(str::trim);
        let (kind, subtype) = parts.next()?.split_once('/')?;
        let weight = parts.find_map(|part| part.strip_prefix("q=").or(part.strip_prefix("Q=")));
        Some(Self {
            kind,
            subtype,
            weight: weight.map_or(Some(1_000), thousandths)?,
        })
    }

    fn covers(&self, kind: &str, subtype: &str) -> bool {
        let is = |range: &str, value: &str| range == "*" || range.eq_ignore_ascii_case(value);
        is(self.kind, kind)
            && is(self.subtype, subtype)
            && (self.kind != "*" || self.subtype == "*")
    }

    fn specificity(&self) -> u8 {
        u8::from(self.kind != "*") + u8::from(self.subtype != "*")
    }
}

/// A weight: `0` to `1` with up to three digits behind the point.
fn thousandths(text: &str) -> Option<u16> {
    let (whole, rest) = text.split_once('.').unwrap_or((text, ""));
    let plain = rest.len() <= 3 && rest.bytes().all(|byte| byte.is_ascii_digit());
    let weight: u16 = match whole {
        "0" | "1" if plain => format!("{whole}{rest:0<3}").parse().ok()?,
        _ => return None,
    };
    (weight <= 1_000).then_some(weight)
}

#[cfg(test)]
mod tests {
    use super::{Format, choose};

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
            assert_eq!(choose(accept), expected, "{accept}");
        }
    }
}
