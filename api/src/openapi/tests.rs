//! The description and the list of routes say the same.

use std::collections::BTreeSet;

use serde_json::Value;
use utoipa::OpenApi;

use super::ApiDoc;
use crate::http::ROUTES;

fn document() -> Value {
    serde_json::to_value(ApiDoc::openapi()).unwrap()
}

/// Every operation: method, path and what is said of it.
fn operations() -> Vec<(String, String, Value)> {
    let document = document();
    let paths = document["paths"].as_object().unwrap().clone();
    paths
        .into_iter()
        .flat_map(|(path, item)| {
            let item = item.as_object().unwrap().clone();
            item.into_iter()
                .map(move |(method, operation)| (method.to_uppercase(), path.clone(), operation))
        })
        .collect()
}

#[test]
fn s_109_what_is_described_is_what_is_served() {
    let described: BTreeSet<_> = operations()
        .into_iter()
        .map(|(method, path, _)| (method, path))
        .collect();
    let served: BTreeSet<_> = ROUTES
        .iter()
        .filter(|route| route.kind.is_described())
        .map(|route| {
            (
                route.kind.verb().as_str().to_owned(),
                route.documented_path(),
            )
        })
        .collect();
    assert_eq!(described, served);
}

#[test]
fn every_operation_says_what_it_is_and_what_can_go_wrong() {
    let mut ids = BTreeSet::new();
    for (method, path, operation) in operations() {
        let place = format!("{method} {path}");
        assert!(
            ids.insert(operation["operationId"].as_str().unwrap().to_owned()),
            "{place}"
        );
        assert!(
            operation["summary"].is_string() && operation["tags"].is_array(),
            "{place}"
        );
        assert!(operation["security"].is_array(), "{place}");
        let responses = operation["responses"].as_object().unwrap();
        for (status, response) in responses {
            let is_problem = !status.starts_with('2') && status != "304";
            let reference = &response["content"]["application/problem+json"]["schema"]["$ref"];
            assert_eq!(
                reference == "#/components/schemas/Problem",
                is_problem,
                "{place} {status}"
            );
            assert_eq!(
                response["x-problem-codes"].is_array(),
                is_problem,
                "{place} {status}"
            );
        }
        assert!(responses.contains_key("500"), "{place}");
    }
}

#[test]
fn bodies_are_closed_and_named_as_requests() {
    let document = document();
    for (method, path, operation) in operations() {
        if operation["operationId"] == "sendBuildingFile" {
            // A file is no request of ours.
            continue;
        }
        let content = &operation["requestBody"]["content"];
        for media in content
            .as_object()
            .into_iter()
            .flat_map(|content| content.values())
        {
            let name = media["schema"]["$ref"].as_str().unwrap_or_default();
            assert!(name.ends_with("Request"), "{method} {path}: {name}");
            let name = name.rsplit('/').next().unwrap();
            let schemas = &document["components"]["schemas"];
            // What contractors' systems send may hold more than we know.
            let open = path.starts_with("/v1/inbound/");
            let forms = schemas[name]["oneOf"].as_array().cloned();
            for form in forms.unwrap_or_else(|| vec![schemas[name].clone()]) {
                let form = match form["$ref"].as_str() {
                    Some(form) => &schemas[form.rsplit('/').next().unwrap()],
                    None => &form,
                };
                let closed = form["additionalProperties"] == false;
                assert_ne!(closed, open, "{name}");
            }
        }
    }
}

#[test]
fn every_text_is_bounded_and_every_list_too() {
    let document = document();
    let mut loose = Vec::new();
    for (name, schema) in document["components"]["schemas"].as_object().unwrap() {
        for (member, schema) in schema["properties"].as_object().into_iter().flatten() {
            let kinds = &schema["type"];
            let is = |kind: &str| {
                kinds == kind
                    || kinds
                        .as_array()
                        .is_some_and(|kinds| kinds.iter().any(|k| k == kind))
            };
            let bounded = ["maxLength", "enum", "maxItems"]
                .iter()
                .any(|key| !schema[key].is_null());
            if (is("string") || is("array")) && !bounded && schema["format"].is_null() {
                loose.push(format!("{name}.{member}"));
            }
        }
    }
    assert!(loose.is_empty(), "{loose:?}");
}
