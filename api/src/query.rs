//! Reads query strings: every parameter is asked for by name, and what nobody asked for is an error.
//!
//! A misspelt filter that is ignored silently widens a cost report. All faults are told in one answer.

use std::{borrow::Cow, ops::RangeInclusive, str::FromStr};

use actix_web::{HttpRequest, web};
use chrono::{DateTime, ParseError, Utc};

use crate::{
    body::{Fault, is_forbidden},
    problem::{Code, Problem},
};

/// How many parameters one query string may have.
const MAX_PARAMETERS: usize = 100;

/// The parameters of one request, taken out one by one.
#[derive(Debug)]
pub(crate) struct Query {
    left: Vec<(String, String)>,
    malformed: Vec<Fault>,
    outside: Vec<Fault>,
}

/// A moment in a query string.
struct Moment(DateTime<Utc>);

impl FromStr for Moment {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        DateTime::parse_from_rfc3339(text).map(|moment| Self(moment.to_utc()))
    }
}

impl Query {
    /// The query string of a request.
    pub(crate) fn of(request: &HttpRequest) -> Self {
        Self::parse(request.query_string())
    }

    /// Reads a query string as HTML forms write it.
    pub(crate) fn parse(text: &str) -> Self {
        let mut query = Self {
            left: Vec::new(),
            malformed: Vec::new(),
            outside: Vec::new(),
        };
        match web::Query::<Vec<(String, String)>>::from_query(text) {
            Ok(pairs) if pairs.len() <= MAX_PARAMETERS => query.left = pairs.into_inner(),
            Ok(_) | Err(_) => query.malform("?", "The query string cannot be read."),
        }
        query
    }

    /// The text of a parameter that may stand once, 1 to `max` characters.
    pub(crate) fn text(&mut self, name: &str, max: usize) -> Option<String> {
        let mut all = self.repeated(name, max);
        if all.len() > 1 {
            self.malform(name, "Send this parameter once.");
        }
        all.pop()
    }

    /// Every text of a parameter that may be repeated, each 1 to `max` characters.
    pub(crate) fn repeated(&mut self, name: &str, max: usize) -> Vec<String> {
        let (taken, left) = self.left.drain(..).partition(|(key, _)| key == name);
        self.left = left;
        let taken: Vec<(String, String)> = taken;
        let mut values = Vec::with_capacity(taken.len());
        for (_, value) in taken {
            if value
                .chars()
                .any(|c| is_forbidden(c) || c == char::REPLACEMENT_CHARACTER)
            {
                self.malform(
                    name,
                    "The value holds a character that no text here may hold.",
                );
            } else if value.is_empty() || value.chars().count() > max {
                self.outside(name, format!("Must have 1 to {max} characters."));
            } else {
                values.push(value);
            }
        }
        values
    }

    /// A parameter of a type that reads itself, such as an id or a month; `form` says what is expected.
    pub(crate) fn parsed<T: FromStr>(&mut self, name: &str, form: &'static str) -> Option<T> {
        let text = self.text(name, 200)?;
        let value = text.parse().ok();
        if value.is_none() {
            self.malform(name, form);
        }
        value
    }

    /// One of a few words.
    pub(crate) fn one_of<T: Copy>(&mut self, name: &str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(name, 200)?;
        let value = words
            .iter()
            .find(|(word, _)| *word == text)
            .map(|(_, value)| *value);
        if value.is_none() {
            let words: Vec<_> = words.iter().map(|(word, _)| *word).collect();
            self.outside(name, format!("Must be one of {}.", words.join(", ")));
        }
        value
    }

    /// A moment, by RFC 3339.
    pub(crate) fn moment(&mut self, name: &str) -> Option<DateTime<Utc>> {
        const FORM: &str =
            "Must be an RFC 3339 date-time such as 2026-03-01T00:00:00Z; write `+` as `%2B`.";
        let moment: Option<Moment> = self.parsed(name, FORM);
        moment.map(|Moment(moment)| moment)
    }

    /// `true` or `false`; false where it is left out.
    pub(crate) fn flag(&mut self, name: &str) -> bool {
        let words = [("true", true), ("false", false)];
        self.one_of(name, &words).unwrap_or(false)
    }

    /// A whole number in a range.
    pub(crate) fn integer(&mut self, name: &str, range: RangeInclusive<u32>, default: u32) -> u32 {
        let Some(text) = self.text(name, 200) else {
            return default;
        };
        match text.parse() {
            Ok(number) if range.contains(&number) => number,
            Ok(_) | Err(_) => {
                let (least, most) = (range.start(), range.end());
                self.outside(
                    name,
                    format!("Must be a whole number from {least} to {most}."),
                );
                default
            }
        }
    }

    /// Notes a parameter whose value is not of the right form (400).
    pub(crate) fn malform(&mut self, name: &str, detail: impl Into<Cow<'static, str>>) {
        self.malformed
            .push(Fault::parameter(name, "malformed", detail));
    }

    /// Notes a parameter whose value is of the right form but not allowed (422).
    pub(crate) fn outside(&mut self, name: &str, detail: impl Into<Cow<'static, str>>) {
        self.outside
            .push(Fault::parameter(name, "out_of_range", detail));
    }

    /// Goes on if every parameter was asked for and is in order.
    ///
    /// # Errors
    /// `unknown_parameter` or `invalid_parameter` (400), else `parameter_out_of_range` (422); with every fault.
    pub(crate) fn finish(self) -> Result<(), Problem> {
        let cut = |name: &str| {
            name.chars()
                .filter(|c| !is_forbidden(*c))
                .take(100)
                .collect::<String>()
        };
        let unknown = self.left.iter().map(|(name, _)| {
            Fault::parameter(
                cut(name),
                "unknown_parameter",
                "No such parameter is known here.",
            )
        });
        let code = if !self.left.is_empty() {
            Code::UnknownParameter
        } else if !self.malformed.is_empty() {
            Code::InvalidParameter
        } else if !self.outside.is_empty() {
            Code::ParameterOutOfRange
        } else {
            return Ok(());
        };
        let faults = unknown.chain(self.malformed).chain(self.outside).collect();
        Err(Problem::with_faults(code, faults))
    }
}

#[cfg(test)]
mod tests {
    use super::Query;
    use crate::problem::Code;

    fn limit_of(text: &str) -> Result<u32, Code> {
        let mut query = Query::parse(text);
        let limit = query.integer("limit", 1..=200, 50);
        query
            .finish()
            .map(|()| limit)
            .map_err(|problem| problem.code())
    }

    #[test]
    fn s_084_a_limit_outside_its_range_is_refused_and_never_clamped() {
        assert_eq!(limit_of(""), Ok(50));
        assert_eq!(limit_of("limit=200"), Ok(200));
        for bad in ["0", "-1", "201", "10000000000000000000", "all", "1.0", ""] {
            assert_eq!(
                limit_of(&format!("limit={bad}")),
                Err(Code::ParameterOutOfRange),
                "{bad}"
            );
        }
    }

    #[test]
    fn every_fault_is_told_and_an_unknown_parameter_weighs_most() {
        let mut query = Query::parse("limit=0&limti=3&storey=1&storey=2&at=%00");
        query.integer("limit", 1..=200, 50);
        query.text("storey", 10);
        query.text("at", 10);
        let problem = query.finish().unwrap_err();
        assert_eq!(problem.code(), Code::UnknownParameter);
        assert_eq!(problem.faults().len(), 4);
    }

    #[test]
    fn values_are_decoded_and_repeated_ones_kept_in_order() {
        let mut query = Query::parse("a=x%20y&a=%C3%A9&b=EUR");
        assert_eq!(query.repeated("a", 10), ["x y", "é"]);
        assert_eq!(query.one_of("b", &[("GBP", 1), ("EUR", 2)]), Some(2));
        assert!(query.finish().is_ok());
        let mut query = Query::parse("a=%FF");
        query.text("a", 10);
        assert_eq!(query.finish().unwrap_err().code(), Code::InvalidParameter);
    }
}
