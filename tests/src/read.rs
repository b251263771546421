//! Ways into JSON answers that say what was missing instead of answering null.

#![expect(
    clippy::panic,
    reason = "an answer without what it must hold ends the test, with the answer shown"
)]

use chrono::{DateTime, Utc};
use serde_json::Value;

/// What a pointer such as `/cost/net` leads to.
///
/// # Panics
/// If it leads nowhere.
#[track_caller]
pub fn at<'a>(value: &'a Value, pointer: &str) -> &'a Value {
    match value.pointer(pointer) {
        Some(found) => found,
        None => panic!("nothing at {pointer} in {value:#}"),
    }
}

/// The text that a pointer leads to.
///
/// # Panics
/// If there is no text.
#[track_caller]
pub fn text<'a>(value: &'a Value, pointer: &str) -> &'a str {
    match at(value, pointer).as_str() {
        Some(text) => text,
        None => panic!("no text at {pointer} in {value:#}"),
    }
}

/// The number that a pointer leads to.
///
/// # Panics
/// If there is no number.
#[track_caller]
pub fn number(value: &Value, pointer: &str) -> f64 {
    match at(value, pointer).as_f64() {
        Some(number) => number,
        None => panic!("no number at {pointer} in {value:#}"),
    }
}

/// The moment that a pointer leads to.
///
/// # Panics
/// If there is no moment.
#[track_caller]
pub fn moment(value: &Value, pointer: &str) -> DateTime<Utc> {
    match text(value, pointer).parse().ok() {
        Some(moment) => moment,
        None => panic!("no moment at {pointer} in {value:#}"),
    }
}

/// The list that a pointer leads to.
///
/// # Panics
/// If there is no list.
#[track_caller]
pub fn list<'a>(value: &'a Value, pointer: &str) -> &'a [Value] {
    match at(value, pointer).as_array() {
        Some(list) => list,
        None => panic!("no list at {pointer} in {value:#}"),
    }
}

/// The texts of a list.
///
/// # Panics
/// If there is no list, or not of texts.
#[track_caller]
pub fn texts<'a>(value: &'a Value, pointer: &str) -> Vec<&'a str> {
    list(value, pointer)
        .iter()
        .map(|item| text(item, ""))
        .collect()
}

/// The element of the list at `pointer` in which the text at `member` is `wanted`.
///
/// # Panics
/// If there is none.
#[track_caller]
pub fn find<'a>(value: &'a Value, pointer: &str, member: &str, wanted: &str) -> &'a Value {
    let items = list(value, pointer);
    let found = items
        .iter()
        .find(|item| item.pointer(member).and_then(Value::as_str) == Some(wanted));
    match found {
        Some(found) => found,
        None => panic!("nothing with {member} = {wanted} at {pointer} in {value:#}"),
    }
}

/// The minor units of the amount of money that a pointer leads to: pence, cents.
///
/// # Panics
/// If there is no amount with two digits behind the point.
#[track_caller]
pub fn cents(value: &Value, pointer: &str) -> i64 {
    let amount = text(value, &format!("{pointer}/amount"));
    let minor = amount.split_once('.').filter(|(_, minor)| minor.len() == 2);
    match minor.and_then(|(major, minor)| format!("{major}{minor}").parse().ok()) {
        Some(cents) => cents,
        None => panic!("no cents at {pointer} in {value:#}"),
    }
}
