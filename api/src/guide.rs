//! The first page for an integrator: four calls, problems, safe repetition, events with code that verifies them, the words of
//! the API, and every operation by task. Made from the description and the codes, so that it says what the service does.

mod words;

use std::sync::LazyLock;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::Value;

use crate::{
    http::{Access, ROUTES, Route},
    openapi,
    problem::Code,
};
use words::WORDS;

/// Its look: readable on any screen, and printed.
pub(crate) const STYLE: &str = "\
*{box-sizing:border-box}\
body{font:16px/1.5 system-ui,sans-serif;color:#111;background:#fff;max-width:64rem;margin:0 auto;padding:1rem}\
h1{font-size:1.6rem;margin:0}h2{margin:2rem 0 .5rem;border-bottom:2px solid #111;font-size:1.25rem}h3{font-size:1.05rem;margin:1.25rem 0 .25rem}\
nav ul{columns:2;padding-left:1.2rem}a{color:#0645ad}a:focus-visible,summary:focus-visible,pre:focus-visible{outline:3px solid #0645ad}\
pre{background:#f3f3f3;border:1px solid #999;padding:.6rem;overflow-x:auto;font-size:.85rem;line-height:1.35}\
code{font-family:ui-monospace,monospace}.wrap{overflow-x:auto}\
table{border-collapse:collapse;width:100%}th,td{border:1px solid #888;padding:.3rem .5rem;text-align:left;vertical-align:top}th{background:#eee}\
dt{font-weight:600;margin-top:.5rem}dd{margin:0 0 0 1.2rem}.verb{font-weight:700}.small{font-size:.85rem;color:#333}";

/// The four calls, in their order.
const START: [(&str, &str); 4] = [
    (
        "registerSite",
        "A site, with its currency and time zone. What its hours and litres cost may be told now or later; until then plans use examples and say so.",
    ),
    (
        "registerSurface",
        "A floor. Say what you know; what matters and is missing is asked for by name.",
    ),
    (
        "proposePlan",
        "A plan. Read `verdict` first: all four verdicts are 201.",
    ),
    (
        "makeEstimate",
        "All floors of the site together: packs bought for all of them, with what that may come to.",
    ),
];

/// Code that believes a message, or does not: language, file name, text.
const VERIFIERS: [(&str, &str, &str); 4] = [
    ("Python", "verify.py", include_str!("guide/verify.py")),
    (
        "JavaScript (Node)",
        "verify.mjs",
        include_str!("guide/verify.mjs"),
    ),
    ("Java", "Verify.java", include_str!("guide/Verify.java")),
    ("Shell", "verify.sh", include_str!("guide/verify.sh")),
];

/// An event as it arrives; a test holds it to its schema.
const EVENT: &str = include_str!("guide/event.json");

static DOCUMENT: LazyLock<Value> =
    LazyLock::new(|| serde_json::from_str(openapi::text()).unwrap_or_default());

static PAGE: LazyLock<String> = LazyLock::new(|| page(&DOCUMENT).into_string());

/// The page.
pub(crate) fn html() -> &'static str {
    &PAGE
}

fn page(document: &Value) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Wearcourse for integrators" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { "Wearcourse for integrators" }
                    p { (ticked(text(document, "/info/description"))) }
                    p { "The whole description, for tools: " a href="/openapi.json" { "openapi.json" } "; to try calls: " a href="/docs/" { "every operation" } "." }
                    nav aria-label="On this page" { ul {
                        @for (id, title) in SECTIONS { li { a href={ "#" (id) } { (title) } } }
                    } }
                }
                main {
                    (section(0, &start(document)))
                    (section(1, &rules()))
                    (section(2, &problems()))
                    (section(3, &events(document)))
                    (section(4, &meanings()))
                    (section(5, &operations(document)))
                }
                footer.small { p { "Floors can hurt people and people can ruin floors: the product's label, the floor maker's instruction, local codes and a competent person come before any plan." } }
            }
        }
    }
}

const SECTIONS: [(&str, &str); 6] = [
    ("start", "The first plan in four calls"),
    ("rules", "What holds for every call"),
    ("problems", "Problems and what to do"),
    ("events", "Events, and how to believe them"),
    ("words", "Words"),
    ("operations", "Operations by task"),
];

fn section(at: usize, inner: &Markup) -> Markup {
    let (id, title) = SECTIONS.get(at).copied().unwrap_or_default();
    html! { section aria-labelledby=(id) { h2 id=(id) { (title) } (inner) } }
}

/// The text at a JSON pointer; none where there is no text.
fn text<'v>(value: &'v Value, pointer: &str) -> &'v str {
    let found = value.pointer(pointer);
    found.and_then(Value::as_str).unwrap_or_default()
}

/// What is said of the operation of a route.
fn operation<'d>(document: &'d Value, route: &Route) -> Option<&'d Value> {
    let verb = route.kind.verb().as_str().to_ascii_lowercase();
    let path = document.get("paths")?.get(route.documented_path())?;
    path.get(verb)
}

fn start(document: &Value) -> Markup {
    html! {
        p { "Every call carries " code { "Authorization: Bearer …" } ", a token of your tenant with the scopes that the operation names." }
        @for (n, (id, why)) in (1..).zip(START) {
            @if let Some(route) = ROUTES.iter().find(|route| route.operation == id) {
                @let told = operation(document, route).unwrap_or(&Value::Null);
                h3 { (n) ". " (text(told, "/summary")) }
                p { (why) }
                pre tabindex="0" { code {
                    (route.kind.verb().as_str()) " " (route.path) "\n"
                    (pretty(told.pointer("/requestBody/content/application~1json/example")))
                } }
            }
        }
        p { "Then: a completion cites its plan, and " code { "GET /v1/reports/costs" } " sets the two side by side." }
    }
}

fn pretty(value: Option<&Value>) -> String {
    let text = value.and_then(|value| serde_json::to_string_pretty(value).ok());
    text.unwrap_or_default()
}

fn rules() -> Markup {
    html! {
        dl {
            dt { "Twice is once" }
            dd { "Send " code { "Idempotency-Key" } " with every POST, PATCH and DELETE: the same key with the same body is answered with what the first call said (" code { "Idempotent-Replayed: true" } "). Where a second effect would be wrong, the key is required." }
            dt { "Nobody overwrites what they have not read" }
            dd { "A change sends " code { "If-Match" } " with the " code { "ETag" } " of what it read. Without it: 428; if it changed since: 412, read again." }
            dt { "Lists" }
            dd { code { "limit" } " and " code { "cursor" } "; " code { "next_cursor" } " is null on the last page. A parameter that nobody knows is an error, never passed over." }
            dt { "Numbers" }
            dd { "SI, with the unit in the name (" code { "area_m2" } ", " code { "volume_l" } "). Money is a decimal text with a currency; sums are exact." }
            dt { "Limits" }
            dd { "429 and 503 come with " code { "Retry-After" } "." }
            dt { "Versions" }
            dd { "Members may be added to answers at any time; what you send is closed, and a member that nobody knows is an error." }
        }
    }
}

fn problems() -> Markup {
    html! {
        p { "Every error is " code { "application/problem+json" } " (RFC 9457). Switch on " code { "code" } "; " code { "errors" } " lists every fault of a body with a JSON pointer; " code { "request_id" } " finds the call in the log." }
        div.wrap tabindex="0" { table {
            caption { "All codes" }
            thead { tr { th scope="col" { "Status" } th scope="col" { "Code" } th scope="col" { "Meaning" } th scope="col" { "What to do" } } }
            tbody { @for code in Code::ALL { tr {
                td { (code.status()) }
                td { a href={ "/problems/" (code.as_str()) } { code { (code.as_str()) } } }
                td { (code.title()) }
                td { (code.remedy()) }
            } } }
        } }
    }
}

fn events(document: &Value) -> Markup {
    let kinds = document.get("webhooks").and_then(Value::as_object);
    html! {
        p { "Make a subscription with your address; its secret is shown once. What happens is then sent there as CloudEvents 1.0, signed as Standard Webhooks 1.0 has it: at least once, in no order. Answer 2xx within the time limit and work afterwards; pass over an " code { "id" } " that you know; of two events about one subject the higher " code { "data.version" } " is how it stands." }
        h3 { "One as it arrives" }
        pre tabindex="0" { code { (EVENT) } }
        h3 { "Verify before you parse" }
        p { "Arguments: the secret, then the headers " code { "webhook-id" } ", " code { "webhook-timestamp" } " and " code { "webhook-signature" } ". What a contractor's system sends to us is signed in the same way." }
        @for (language, file, code) in VERIFIERS {
            details { summary { (language) ": " code { (file) } } pre tabindex="0" { code { (code) } } }
        }
        h3 { "All types" }
        div.wrap tabindex="0" { table {
            thead { tr { th scope="col" { "Type" } th scope="col" { "Told in " code { "data" } ", beside " code { "id" } ", " code { "version" } ", " code { "href" } " and " code { "site_id" } } } }
            tbody { @for (kind, told) in kinds.into_iter().flatten() {
                tr { td { code { (kind) } } td { (members(document, told)) } }
            } }
        } }
    }
}

/// What an event of a type tells of its own.
fn members(document: &Value, told: &Value) -> Markup {
    let data =
        "/post/requestBody/content/application~1cloudevents+json/schema/properties/data/$ref";
    let schema = text(told, data);
    let schema = schema.rsplit('/').next().unwrap_or_default();
    let properties = document.pointer(&format!("/components/schemas/{schema}/properties"));
    let properties = properties.and_then(Value::as_object);
    let own = properties
        .into_iter()
        .flatten()
        .map(|(name, _)| name.as_str());
    let own = own.filter(|name| !["id", "version", "href", "site_id"].contains(name));
    let own: Vec<&str> = own.collect();
    html! { @for (n, name) in own.iter().enumerate() { @if n > 0 { ", " } code { (name) } } }
}

fn meanings() -> Markup {
    html! { dl { @for (word, meaning) in WORDS { dt { (word) } dd { (ticked(meaning)) } } } }
}

/// A text in which what stands between backticks is code.
fn ticked(told: &str) -> Markup {
    html! { @for (n, part) in told.split('`').enumerate() { @if n % 2 == 1 { code { (part) } } @else { (part) } } }
}

fn operations(document: &Value) -> Markup {
    let tags = document.get("tags").and_then(Value::as_array);
    html! {
        @for tag in tags.into_iter().flatten() {
            h3 { (text(tag, "/name")) }
            p { (ticked(text(tag, "/description"))) }
            div.wrap tabindex="0" { table {
                thead { tr { th scope="col" { "Call" } th scope="col" { "What it does" } th scope="col" { "Scope" } } }
                tbody { @for route in ROUTES.iter().filter(|route| route.kind.is_described()) {
                    @let told = operation(document, route).unwrap_or(&Value::Null);
                    @if text(told, "/tags/0") == text(tag, "/name") { tr {
                        td { span.verb { (route.kind.verb().as_str()) } " " code { (route.documented_path()) } }
                        td { (ticked(text(told, "/summary"))) }
                        td { @match route.access { Access::Public => "none", Access::Scope(scope) => code { (scope) } } }
                    } }
                } }
            } }
        }
    }
}
