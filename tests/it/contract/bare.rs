//! What two answers are compared by.

use serde_json::Value;
use tests::client::Answer;

/// An answer without what differs between any two: the ids of the request and the time.
pub(super) fn bare(answer: &Answer) -> (u16, Value, Vec<(String, String)>) {
    let mut body = answer.json();
    if let Some(members) = body.as_object_mut() {
        members.remove("instance");
        members.remove("request_id");
    }
    let headers = answer.headers.iter();
    let mut headers: Vec<_> = headers
        .map(|(name, value)| {
            (
                name.to_string(),
                String::from_utf8_lossy(value.as_bytes()).into_owned(),
            )
        })
        .filter(|(name, _)| !["date", "x-request-id"].contains(&name.as_str()))
        .collect();
    headers.sort();
    (answer.status, body, headers)
}
