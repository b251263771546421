//! Examples: what the service answered to the calls of a test, which keeps the file true.
//!
//! `openapi/examples.json` has a member for each operation, with the body that was sent and the answer in each form.
//! Where answers differ by what the service decides, `decided` has one more of each kind. The test
//! `examples_are_what_the_service_answers` writes it anew when it is told to.

use std::{collections::BTreeMap, sync::LazyLock};

use serde_json::{Map, Value};
use utoipa::openapi::{Content, RefOr, example::ExampleBuilder, path::Operation};

/// A file that cannot be read leaves every operation without examples, which the tests show.
static EXAMPLES: LazyLock<Map<String, Value>> = LazyLock::new(|| {
    serde_json::from_str(include_str!("../../../openapi/examples.json")).unwrap_or_default()
});

/// Puts the examples of an operation beside the schemas of its bodies.
pub(super) fn add(operation: &mut Operation, id: &str) {
    let Some(example) = EXAMPLES.get(id) else {
        return;
    };
    if let Some(RefOr::T(body)) = &mut operation.request_body {
        for content in body.content.values_mut() {
            put(content, example.get("request"));
        }
    }
    let answers = example.get("answers");
    for (status, response) in &mut operation.responses.responses {
        if let RefOr::T(response) = response
            && status.starts_with('2')
        {
            for (media, content) in &mut response.content {
                let answer = answers.and_then(|answers| answers.get(media));
                match example.get("decided").and_then(Value::as_object) {
                    Some(decided) if media == "application/json" => {
                        put_decided(content, answer.into_iter().chain(decided.values()));
                    }
                    _ => put(content, answer),
                }
            }
        }
    }
}

fn put(content: &mut RefOr<Content>, example: Option<&Value>) {
    if let RefOr::T(content) = content {
        content.example = example.cloned();
    }
}

/// Puts answers side by side, each under what it decides.
fn put_decided<'a>(content: &mut RefOr<Content>, answers: impl Iterator<Item = &'a Value>) {
    let RefOr::T(content) = content else {
        return;
    };
    let named = answers.filter_map(|answer| {
        let verdict = answer.get("verdict")?.as_str()?;
        let summary = answer.get("summary").and_then(Value::as_str);
        let example = ExampleBuilder::new()
            .summary(summary.unwrap_or(verdict))
            .value(Some(answer.clone()));
        Some((verdict.to_owned(), RefOr::T(example.build())))
    });
    content.examples = named.collect::<BTreeMap<_, _>>();
}
