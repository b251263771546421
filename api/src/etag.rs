//! Entity tags: which version of a record the caller has seen (RFC 9110, sections 8.8 and 13).
//!
//! A tag is `"<version>.json"`: another representation would have another tag. Changes need `If-Match` (428
//! without), compared strongly; `*` means whatever version there is. Reads take `If-None-Match`, compared weakly.

use actix_web::http::header::{self, HeaderMap, HeaderValue};

use crate::problem::{Code, Problem};

/// Which version a change expects to find.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Expected {
    /// Any version, as long as the record exists: `If-Match: *`.
    Any,
    /// This version.
    Version(i64),
}

impl Expected {
    /// Reads `If-Match`.
    ///
    /// # Errors
    /// `precondition_required` without the header; `stale_version` if it names no version that we could have sent.
    pub(crate) fn of(headers: &HeaderMap) -> Result<Self, Problem> {
        let tags: Vec<&HeaderValue> = headers.get_all(header::IF_MATCH).collect();
        if tags.is_empty() {
            return Err(Problem::new(Code::PreconditionRequired, "Send `If-Match`."));
        }
        let tags: Vec<&str> = tags.iter().flat_map(|value| list(value)).collect();
        match tags.as_slice() {
            ["*"] => Ok(Self::Any),
            [one] => version(one).map(Self::Version).ok_or_else(stale),
            _ => Err(Problem::new(
                Code::BadRequest,
                "Send one entity tag in `If-Match`.",
            )),
        }
    }

    /// Goes on if the version that was found is the one that is expected.
    ///
    /// # Errors
    /// `stale_version`.
    pub(crate) fn check(self, found: i64) -> Result<(), Problem> {
        match self {
            Self::Any => Ok(()),
            Self::Version(version) if version == found => Ok(()),
            Self::Version(_) => Err(stale()),
        }
    }
}

/// The tag of a version.
pub(crate) fn tag(version: i64) -> String {
    format!("\"{version}.json\"")
}

/// Whether the caller already has this version: `If-None-Match`, weakly compared, a list or `*`.
pub(crate) fn is_known(headers: &HeaderMap, current: &str) -> bool {
    headers
        .get_all(header::IF_NONE_MATCH)
        .flat_map(list)
        .any(|tag| tag == "*" || tag.strip_prefix("W/").unwrap_or(tag) == current)
}

fn stale() -> Problem {
    Problem::new(
        Code::StaleVersion,
        "The version in `If-Match` is not the one that is stored.",
    )
}

/// The version that a strong tag of ours names.
fn version(tag: &str) -> Option<i64> {
    let digits = tag.strip_prefix('"')?.strip_suffix(".json\"")?;
    let version = digits.parse().ok()?;
    (self::tag(version) == tag).then_some(version)
}

fn list(value: &HeaderValue) -> impl Iterator<Item = &str> {
    value.to_str().unwrap_or_default().split(',').map(str::trim)
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::{self, HeaderMap, HeaderValue};

    use super::{Expected, is_known, tag};
    use crate::problem::Code;

    fn headers(name: header::HeaderName, value: &str) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(name, HeaderValue::from_str(value).unwrap());
        headers
    }

    #[test]
    fn a_change_names_the_version_that_it_changes() {
        let expected = |value: &str| {
            Expected::of(&headers(header::IF_MATCH, value)).map_err(|problem| problem.code())
        };
        assert_eq!(expected("\"7.json\""), Ok(Expected::Version(7)));
        assert_eq!(expected("*"), Ok(Expected::Any));
        for weak in [
            "W/\"7.json\"",
            "7.json",
            "\"7\"",
            "\"07.json\"",
            "\"+7.json\"",
            "",
        ] {
            assert_eq!(expected(weak), Err(Code::StaleVersion), "{weak}");
        }
        assert_eq!(expected("\"7.json\", \"8.json\""), Err(Code::BadRequest));
        let none = Expected::of(&HeaderMap::new()).unwrap_err();
        assert_eq!(none.code(), Code::PreconditionRequired);
        assert!(Expected::Version(7).check(8).is_err() && Expected::Any.check(8).is_ok());
    }

    #[test]
    fn a_reader_that_has_the_version_is_told_so() {
        let known = |value: &str| is_known(&headers(header::IF_NONE_MATCH, value), &tag(3));
        assert!(known("\"3.json\"") && known("W/\"3.json\"") && known("*"));
        assert!(known("\"2.json\", \"3.json\""));
        assert!(!known("\"2.json\"") && !known("3.json"));
    }
}
