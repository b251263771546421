//! Links: which operations can be called with what an answer says.
//!
//! They follow from the schemas of the answers. A record that can be read by its id leads to every operation that
//! takes that id in its path, and to every list that can be narrowed by it.

use serde_json::{Map, Value, json};
use utoipa::openapi::{
    OpenApi, RefOr, Required, Response,
    link::Link,
    path::{Operation, Parameter},
};

use super::implied::operation_of;
use crate::http::{Kind, ROUTES, Route};

/// An operation that takes the id of a record.
struct Target {
    /// The schema of the record.
    record: String,
    /// The name of the link.
    name: &'static str,
    link: Link,
}

/// Adds the links to the answers of every operation.
pub(super) fn add(document: &mut OpenApi) {
    let targets = targets(document);
    for route in routes().filter(|route| leads_on(route.kind)) {
        let Some(operation) = operation_of(document, route) else {
            continue;
        };
        for (status, response) in &mut operation.responses.responses {
            if let RefOr::T(response) = response
                && status.starts_with('2')
                && let Some(record) = record(response)
            {
                let reachable = targets.iter().filter(|target| {
                    target.record == record && target.link.operation_id != route.operation
                });
                for target in reachable {
                    let link = RefOr::T(target.link.clone());
                    response.links.insert(target.name.to_owned(), link);
                }
            }
        }
    }
}

fn routes() -> impl Iterator<Item = &'static Route> {
    ROUTES.iter().filter(|route| route.kind.is_described())
}

/// Whether the answer is one record.
fn leads_on(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Create
            | Kind::Record
            | Kind::Change
            | Kind::Step
            | Kind::Amend
            | Kind::Act
            | Kind::Read
    )
}

/// Every operation that takes the id of a record that can be read by it.
fn targets(document: &mut OpenApi) -> Vec<Target> {
    let mut found = Vec::new();
    for read in routes().filter(|route| route.kind == Kind::Read) {
        let Some(parameter) = only_parameter(read.path).filter(|name| name.ends_with("_id")) else {
            continue;
        };
        let answered = operation_of(document, read).and_then(|operation| {
            operation
                .responses
                .responses
                .get("200")
                .and_then(|response| match response {
                    RefOr::T(response) => record(response),
                    RefOr::Ref(_) => None,
                })
        });
        let Some(record) = answered else { continue };
        for route in routes() {
            let takes = only_parameter(route.path) == Some(parameter)
                || (route.kind == Kind::List && filters_by(document, route, parameter));
            if let Some(link) = takes.then(|| link(route, parameter)).flatten() {
                found.push(Target {
                    record: record.clone(),
                    name: route.operation,
                    link,
                });
            }
        }
    }
    found
}

/// The schema of an answer, if it is a component.
fn record(response: &Response) -> Option<String> {
    let content = response.content.get("application/json")?;
    let content = serde_json::to_value(content).ok()?;
    let reference = content.pointer("/schema/$ref")?.as_str()?;
    Some(reference.to_owned())
}

/// The name of the parameter of a path that has one.
fn only_parameter(path: &str) -> Option<&str> {
    let (_, rest) = path.split_once('{')?;
    let (name, rest) = rest.split_once('}')?;
    (!rest.contains('{')).then_some(name)
}

/// Whether a list can be narrowed by this parameter, and asks for no other.
fn filters_by(document: &mut OpenApi, route: &Route, name: &str) -> bool {
    let parameters = |operation: &mut Operation| operation.parameters.clone();
    let parameters = operation_of(document, route).and_then(parameters);
    let parameters: Vec<Parameter> = parameters
        .into_iter()
        .flatten()
        .filter_map(|parameter| match parameter {
            RefOr::T(parameter) => Some(parameter),
            RefOr::Ref(_) => None,
        })
        .collect();
    let is_needed = |other: &Parameter| matches!(other.required, Required::True);
    let takes = |other: &Parameter| other.name == name;
    parameters.iter().any(takes)
        && parameters
            .iter()
            .all(|other| takes(other) || !is_needed(other))
}

fn link(route: &Route, parameter: &str) -> Option<Link> {
    let mut parameters = Map::new();
    parameters.insert(parameter.to_owned(), json!("$response.body#/id"));
    if matches!(route.kind, Kind::Change | Kind::Step | Kind::Delete) {
        parameters.insert("If-Match".to_owned(), json!("$response.header.ETag"));
    }
    let meaning = format!(
        "The `id` of the answer is the `{parameter}` of `{}`.",
        route.operation
    );
    let link = json!({
        "operationId": route.operation,
        "parameters": Value::Object(parameters),
        "description": meaning,
    });
    serde_json::from_value(link).ok()
}
