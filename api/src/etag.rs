//! Entity tags: which version of a record the caller has seen (RFC 9110, sections 8.8 and 13).
//!
//! A tag is `"<version>.json"`: another representation would have another tag. Changes need `If-Match` (428
//! without), compared strongly; `*` means whatever version there is. Reads take `If-None-Match`, compared weakly.

use actix_web::http::header::{self, HeaderMap, HeaderValue};

use crate::problem::{Code, Problem};

/// Which version a change expects to find.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Expected {
    /// Any version, as long as the record exists: `If-Match: *`.
    Any,
    /// One of these versions.
    OneOf(Vec<i64>),
}

impl Expected {
    /// Reads `If-Match`.
    ///
    /// # Errors
    /// `precondition_required` without the header.
    pub(crate) fn of(headers: &HeaderMap) -> Result<Self, Problem> {
        let tags: Vec<&HeaderValue> = headers.get_all(header::IF_MATCH).collect();
        if tags.is_empty() {
            return Err(Problem::new(Code::PreconditionRequired, "Send `If-Match`."));
        }
        let tags: Vec<&str> = tags.iter().flat_map(|value| list(value)).collect();
        match tags.as_slice() {
            ["*"] => Ok(Self::Any),
            // What we could not have sent, weak tags among it, is equal to no version of ours.
            tags => Ok(Self::OneOf(
                tags.iter().filter_map(|tag| version(tag)).collect(),
            )),
        }
    }

    /// Goes on if the version that was found is one that is expected.
    ///
    /// # Errors
    /// `stale_version`.
    pub(crate) fn check(&self, found: i64) -> Result<(), Problem> {
        match self {
            Self::Any => Ok(()),
            Self::OneOf(versions) if versions.contains(&found) => Ok(()),
            Self::OneOf(_) => Err(Problem::new(
                Code::StaleVersion,
                "The version in `If-Match` is not the one that is stored.",
            )),
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
        let checked = |value: &str| {
            let expected = Expected::of(&headers(header::IF_MATCH, value));
            let checked = expected.and_then(|expected| expected.check(7));
            checked.map_err(|problem| problem.code())
        };
        for good in [
            "\"7.json\"",
            "*",
            "\"6.json\", \"7.json\"",
            "\"7.json\",W/\"7.json\"",
        ] {
            assert_eq!(checked(good), Ok(()), "{good}");
        }
        for weak in [
            "W/\"7.json\"",
            "7.json",
            "\"7\"",
            "\"07.json\"",
            "\"+7.json\"",
            "",
            "\"8.json\"",
            "\"6.json\", \"8.json\"",
            "\"6.json\", *",
        ] {
            assert_eq!(checked(weak), Err(Code::StaleVersion), "{weak}");
        }
        let none = Expected::of(&HeaderMap::new()).unwrap_err();
        assert_eq!(none.code(), Code::PreconditionRequired);
    }

    #[test]
    fn a_reader_that_has_the_version_is_told_so() {
        let known = |value: &str| is_known(&headers(header::IF_NONE_MATCH, value), &tag(3));
        assert!(known("\"3.json\"") && known("W/\"3.json\"") && known("*"));
        assert!(known("\"2.json\", \"3.json\""));
        assert!(!known("\"2.json\"") && !known("3.json"));
    }
}
