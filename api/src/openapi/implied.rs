//! What the kind of a route implies for its operation.

use std::{collections::BTreeMap, fmt::Write as _};

use serde_json::{Value, json};
use utoipa::{
    Modify,
    openapi::{
        Components, OpenApi, Ref, RefOr, Response, Schema, Type,
        path::{Operation, ParameterIn, PathItem},
        schema::{ArrayItems, SchemaType},
        security::{HttpAuthScheme, HttpBuilder, SecurityRequirement, SecurityScheme},
    },
};

use super::{closed, example, link, webhook};
use crate::{
    auth::{BUNDLES, SCOPES},
    http::{Access, Kind, ROUTES, Route, Verb},
    problem::Code,
};

/// The name of the one way to authenticate.
const TOKEN: &str = "token";

/// An `Idempotency-Key`: 1 to 255 visible characters, bare or in quotes.
const KEY: &str = "^([!#-~][!-~]{0,254}|\"[!-~]{1,255}\")$";

/// A text in a query string that holds nothing that [`crate::body::is_forbidden`], nor U+FFFD, which stands for bytes
/// that were no text.
const PLAIN_TEXT: &str = r"^[^\u0000-\u001f\u007f-\u009f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff\ufffd]+$";

/// Adds to every operation what its route implies.
#[derive(Debug)]
pub(super) struct Implied;

impl Modify for Implied {
    fn modify(&self, document: &mut OpenApi) {
        let components = document.components.get_or_insert_with(Components::new);
        for (name, parameter) in parameters() {
            if let Ok(parameter) = serde_json::from_value(parameter) {
                components
                    .parameters
                    .insert(name.to_owned(), RefOr::T(parameter));
            }
        }
        let scheme = HttpBuilder::new()
            .scheme(HttpAuthScheme::Bearer)
            .bearer_format("JWT")
            .description(Some(scopes()))
            .build();
        components
            .security_schemes
            .insert(TOKEN.to_owned(), RefOr::T(SecurityScheme::Http(scheme)));
        for route in ROUTES.iter().filter(|route| route.kind.is_described()) {
            if let Some(operation) = operation_of(document, route) {
                complete(operation, route);
                example::add(operation, route.operation);
            }
        }
        link::add(document);
        webhook::add(document);
        closed::add(document);
    }
}

/// The operation of a route.
pub(super) fn operation_of<'a>(
    document: &'a mut OpenApi,
    route: &Route,
) -> Option<&'a mut Operation> {
    let item = document.paths.paths.get_mut(&route.documented_path());
    item.and_then(|item| operation(item, route.kind.verb()))
}

fn operation(item: &mut PathItem, verb: Verb) -> Option<&mut Operation> {
    match verb {
        Verb::Get => item.get.as_mut(),
        Verb::Post => item.post.as_mut(),
        Verb::Patch => item.patch.as_mut(),
        Verb::Delete => item.delete.as_mut(),
    }
}

fn complete(operation: &mut Operation, route: &Route) {
    operation.operation_id = Some(route.operation.to_owned());
    operation.security = Some(match route.access {
        Access::Public => Vec::new(),
        Access::Scope(scope) => vec![SecurityRequirement::new(TOKEN, [scope])],
    });
    operation.description = Some(description(operation.description.take(), route));
    let parameters = operation.parameters.get_or_insert_default();
    for parameter in parameters.iter_mut() {
        if let RefOr::T(parameter) = parameter
            && parameter.parameter_in == ParameterIn::Query
            && let Some(RefOr::T(schema)) = &mut parameter.schema
        {
            describe_text(schema);
        }
    }
    for name in implied_parameters(route.kind) {
        parameters.push(RefOr::Ref(Ref::new(format!(
            "#/components/parameters/{name}"
        ))));
    }
    for (status, response) in &mut operation.responses.responses {
        if let RefOr::T(response) = response
            && status.starts_with('2')
        {
            add_headers(response, route.kind);
        }
    }
    if route.kind == Kind::Read {
        let known = json!({
            "description": "The version named in `If-None-Match` is the current one.",
            "headers": {
                "ETag": header("The current version.", 40),
                "X-Request-Id": header("Finds the request in the log.", 64),
            },
        });
        add_response(operation, "304", known);
    }
    let mut by_status: BTreeMap<u16, Vec<Code>> = BTreeMap::new();
    for code in route.codes() {
        by_status.entry(code.status()).or_default().push(code);
    }
    for (status, codes) in by_status {
        add_response(operation, &status.to_string(), problem(&codes));
    }
}

/// Says of a free text, or of each in a list, which characters it may hold.
fn describe_text(schema: &mut Schema) {
    match schema {
        Schema::Object(text) => {
            let is_text = text.schema_type == SchemaType::Type(Type::String)
                || matches!(&text.schema_type, SchemaType::Array(types) if types.contains(&Type::String));
            let told =
                text.pattern.is_some() || text.enum_values.is_some() || text.format.is_some();
            if is_text && !told {
                text.pattern = Some(PLAIN_TEXT.to_owned());
            }
        }
        Schema::Array(list) => {
            if let ArrayItems::RefOrSchema(each) = &mut list.items
                && let RefOr::T(each) = &mut **each
            {
                describe_text(each);
            }
        }
        _ => {}
    }
}

/// What the handler says, what the kind of the route means for a caller, and the scope.
fn description(told: Option<String>, route: &Route) -> String {
    let kind = match route.kind {
        Kind::Public | Kind::Page | Kind::Form | Kind::Report | Kind::Signed => "",
        Kind::Read => {
            "With the `ETag` of the version that you have in `If-None-Match` the answer is 304, without a body."
        }
        Kind::List => {
            "The order is fixed and pages do not overlap: follow `next_cursor`, or `Link` with `rel=\"next\"`, with the \
             same filters until there is none."
        }
        Kind::Preview => "Nothing is kept, and no event tells of it.",
        Kind::Step => {
            "It has no body, or `{}`. `If-Match` needs the `ETag` that you read; with an `Idempotency-Key` it may be sent again \
             without a second effect."
        }
        Kind::Delete => {
            "`If-Match` needs the `ETag` that you read; with an `Idempotency-Key` it may be sent again and answers the same."
        }
        Kind::Cancel => {
            "It has no body, or `{}`, and may be sent again: what has come to its end stays as it is."
        }
        Kind::Create => {
            "With an `Idempotency-Key` it may be sent again without a second effect. `Location` names what it made."
        }
        Kind::Record => {
            "It needs an `Idempotency-Key`, and may be sent again with it without a second effect. `Location` names what \
             it made."
        }
        Kind::Act => {
            "It has no body, or `{}`. It needs an `Idempotency-Key`, and may be sent again with it without a second effect."
        }
        Kind::Amend | Kind::Batch | Kind::Request => {
            "It needs an `Idempotency-Key`, and may be sent again with it without a second effect."
        }
        Kind::Change => {
            "The body is a JSON merge patch (RFC 7396): `null` removes a member, lists are replaced whole. `If-Match` \
             needs the `ETag` that you read."
        }
    };
    let scope = match route.access {
        Access::Public if route.kind == Kind::Signed => {
            "Needs no token: the signature proves who sends it.".to_owned()
        }
        Access::Public => "Needs no token.".to_owned(),
        Access::Scope(scope) => format!("Needs the scope `{scope}`."),
    };
    let parts = [told.unwrap_or_default(), kind.to_owned(), scope];
    let parts: Vec<&str> = parts.iter().map(|part| part.trim()).collect();
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    parts.join("\n\n")
}

fn add_response(operation: &mut Operation, status: &str, response: Value) {
    if let Ok(response) = serde_json::from_value::<Response>(response) {
        operation
            .responses
            .responses
            .insert(status.to_owned(), RefOr::T(response));
    }
}

/// The answer for the codes of one status.
fn problem(codes: &[Code]) -> Value {
    let told: Vec<_> = codes
        .iter()
        .map(|code| format!("`{}`: {}.", code.as_str(), code.title()))
        .collect();
    let names: Vec<_> = codes.iter().map(|code| code.as_str()).collect();
    let mut headers = json!({"X-Request-Id": header("Finds the request in the log.", 64)});
    let extra = match codes.first().map(|code| code.status()) {
        Some(401 | 403) => Some(("WWW-Authenticate", "What the token lacks (RFC 6750).", 300)),
        Some(409 | 429 | 503) => Some(("Retry-After", "Seconds to wait.", 10)),
        _ => None,
    };
    if let (Some((name, meaning, length)), Some(headers)) = (extra, headers.as_object_mut()) {
        headers.insert(name.to_owned(), header(meaning, length));
    }
    json!({
        "description": told.join(" "),
        "headers": headers,
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
        "x-problem-codes": names,
    })
}

fn add_headers(response: &mut Response, kind: Kind) {
    let mut headers = vec![("X-Request-Id", "Finds the request in the log.", 64)];
    let tag = (
        "ETag",
        "The version of the record, for `If-Match` and `If-None-Match`.",
        40,
    );
    let replayed = (
        "Idempotent-Replayed",
        "`true` if this is the answer to an earlier request.",
        4,
    );
    match kind {
        Kind::Read => headers.push(tag),
        Kind::List => headers.push(("Link", "The first and the next page (RFC 8288).", 4096)),
        Kind::Create | Kind::Record => headers.extend([
            replayed,
            tag,
            ("Location", "The path of the new record.", 300),
        ]),
        Kind::Change | Kind::Step | Kind::Amend | Kind::Act | Kind::Cancel => {
            headers.extend([replayed, tag]);
        }
        Kind::Batch | Kind::Request | Kind::Signed | Kind::Delete => headers.push(replayed),
        Kind::Public | Kind::Page | Kind::Form | Kind::Report | Kind::Preview => {}
    }
    for (name, meaning, length) in headers {
        if let Ok(header) = serde_json::from_value(header(meaning, length)) {
            response.headers.insert(name.to_owned(), RefOr::T(header));
        }
    }
}

fn header(meaning: &str, length: usize) -> Value {
    json!({"description": meaning, "schema": {"type": "string", "maxLength": length}})
}

const fn implied_parameters(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Public | Kind::Page | Kind::Form | Kind::Report | Kind::Preview | Kind::Signed => &[],
        Kind::Read => &["IfNoneMatch"],
        Kind::List => &["Limit", "Cursor"],
        Kind::Create | Kind::Cancel => &["IdempotencyKey"],
        Kind::Record | Kind::Batch | Kind::Amend | Kind::Act | Kind::Request => {
            &["RequiredIdempotencyKey"]
        }
        Kind::Change | Kind::Step | Kind::Delete => &["IfMatch", "IdempotencyKey"],
    }
}

fn parameters() -> [(&'static str, Value); 6] {
    let key = |required: bool| {
        json!({
            "name": "Idempotency-Key", "in": "header", "required": required,
            "description": "Names this piece of work: sent again within 48 hours with the same request, it answers \
                what the first answered; with another request it is refused. After the IETF draft of the same name.",
            "schema": {"type": "string", "minLength": 1, "maxLength": 257, "pattern": KEY},
            "example": "8e03978e-40d5-43e8-bc93-6894a57f9324",
        })
    };
    [
        ("IdempotencyKey", key(false)),
        ("RequiredIdempotencyKey", key(true)),
        (
            "IfMatch",
            json!({
                "name": "If-Match", "in": "header", "required": true,
                "description": "The `ETag` of the version that you read, a list of several that will do, or `*` for whatever version there is.",
                "schema": {"type": "string", "maxLength": 400}, "example": "\"3.json\"",
            }),
        ),
        (
            "IfNoneMatch",
            json!({
                "name": "If-None-Match", "in": "header", "required": false,
                "description": "The `ETag` of the version that you have; 304 if it is the current one.",
                "schema": {"type": "string"}, "example": "\"3.json\"",
            }),
        ),
        (
            "Limit",
            json!({
                "name": "limit", "in": "query", "required": false,
                "description": "How many items to send.",
                "schema": {"type": "integer", "format": "int32", "minimum": 1, "maximum": 200, "default": 50},
            }),
        ),
        (
            "Cursor",
            json!({
                "name": "cursor", "in": "query", "required": false,
                "description": "`next_cursor` of the page before; opaque, and good for the same filters only.",
                "schema": {"type": "string", "minLength": 1, "maxLength": 512},
            }),
        ),
    ]
}

/// What the security scheme says of scopes.
fn scopes() -> String {
    let mut text = "An access token (RFC 9068) with the tenant in a claim. With the id of a contractor in the claim `contractor` it is \
                    bound: it reports, reads, corrects and voids that contractor's completions and the readings that were taken \
                    for them; lists and cost reports hold nothing else. Scopes:\n".to_owned();
    for scope in SCOPES {
        // Writing to a string does not fail.
        let _ = write!(text, "\n- `{}`: {}", scope.name, scope.meaning);
    }
    text.push_str("\n\nBundles that an issuer may grant:\n");
    for (name, scopes) in BUNDLES {
        let _ = write!(text, "\n- {name}: {scopes}");
    }
    text
}
