//! The description of the API is what is served: the committed copy, the routes, the examples and the answers.

use std::{collections::BTreeSet, fs, path::Path};

use jsonschema::Validator;
use serde_json::{Map, Value, json};
use tests::{app::TestApp, build, snapshot};

use super::{
    example::{decided, each_verdict, shortened, successes},
    operation::{Estate, all},
};

async fn document(app: &TestApp) -> Value {
    app.stranger().get("/openapi.json").await.must(200).json()
}

/// Schemas of a document, by a pointer into it such as `#/components/schemas/Site`.
fn validator(document: &Value, schema: &Value) -> Validator {
    let schema =
        json!({"$ref": "#/wanted", "wanted": schema, "components": document["components"]});
    let options = jsonschema::draft202012::options().should_validate_formats(true);
    options.build(&schema).unwrap()
}

#[track_caller]
pub(super) fn must_fit(document: &Value, schema: &Value, value: &Value, place: &str) {
    let validator = validator(document, schema);
    let faults: Vec<String> = validator
        .iter_errors(value)
        .map(|fault| format!("{}: {fault}", fault.instance_path()))
        .collect();
    assert!(faults.is_empty(), "{place}: {faults:#?}");
}

#[tokio::test]
async fn the_committed_description_is_the_one_that_is_served() {
    let app = TestApp::start().await;
    let served = app.stranger().get("/openapi.json").await.must(200);
    assert_eq!(served.header("Content-Type"), Some("application/json"));
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi/openapi.json");
    let committed = fs::read_to_string(path).unwrap_or_default();
    assert!(
        served.text() == committed,
        "openapi/openapi.json is not what the service serves; write it anew with `cargo openapi`"
    );
}

#[tokio::test]
async fn s_109_every_route_is_described_and_nothing_else_is() {
    let app = TestApp::start().await;
    let document = document(&app).await;
    let mut described = BTreeSet::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (verb, operation) in item.as_object().unwrap() {
            let scope = operation["security"]
                .pointer("/0/token/0")
                .and_then(Value::as_str);
            let id = operation["operationId"].as_str().unwrap();
            described.insert((
                verb.to_uppercase(),
                path.clone(),
                id.to_owned(),
                scope.map(str::to_owned),
            ));
        }
    }
    let served: BTreeSet<_> = all()
        .into_iter()
        .map(|o| {
            (
                o.verb.to_string(),
                o.path,
                o.id.to_owned(),
                o.scope.map(str::to_owned),
            )
        })
        .collect();
    assert_eq!(described, served);
}

#[tokio::test]
async fn every_example_fits_its_schema() {
    let app = TestApp::start().await;
    let document = document(&app).await;
    let mut n = 0;
    for (name, schema) in document["components"]["schemas"].as_object().unwrap() {
        let listed = schema["examples"].as_array().cloned().unwrap_or_default();
        for example in schema.get("example").into_iter().chain(&listed) {
            let mut bare = schema.clone();
            bare.as_object_mut().unwrap().remove("example");
            must_fit(&document, &bare, example, name);
            n += 1;
        }
    }
    for (name, parameter) in document["components"]["parameters"].as_object().unwrap() {
        if let Some(example) = parameter.get("example") {
            must_fit(&document, &parameter["schema"], example, name);
            n += 1;
        }
    }
    assert!(n > 10, "{n}");
}

/// The document shows what the service answers, so that an integrator can write against it without calling it.
#[tokio::test]
async fn examples_are_what_the_service_answers() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    let document = document(&app).await;
    let mut examples = Map::new();
    for (n, operation) in all().into_iter().enumerate() {
        let described = &document["paths"][&operation.path][operation.verb.as_str().to_lowercase()];
        let mut example = Map::new();
        if operation.has_body() {
            example.insert("request".to_owned(), estate.body(&operation));
        }
        let mut answers = Map::new();
        for media in successes(described) {
            let call = estate.call(&admin, &operation).header("Accept", &media);
            let call = if operation.is_write() {
                call.header("Idempotency-Key", &format!("example-{n}"))
            } else {
                call
            };
            let answer = call.answer().await;
            if operation.id == "applyImport" {
                // What it makes in the background takes ids of its own.
                let import = format!("/v1/imports/{}", answer.id());
                let _applied = build::finished(&admin, &import).await;
            }
            let value = if media.ends_with("/json") {
                shortened(operation.id, answer.json())
            } else if media.ends_with(".parquet") {
                "PAR1... (binary)".into()
            } else if media.ends_with(".spreadsheetml.sheet") {
                "PK... (binary)".into()
            } else if media.ends_with("/pdf") {
                "%PDF-1.7... (binary)".into()
            } else {
                Value::String(answer.text())
            };
            answers.insert(media, value);
        }
        example.insert("answers".to_owned(), Value::Object(answers));
        examples.insert(operation.id.to_owned(), Value::Object(example));
    }
    let decided = decided(&admin, estate.id("site_id")).await;
    for (id, answers) in decided {
        examples[id]["decided"] = answers;
    }
    let text = format!("{:#}\n", Value::Object(examples));
    snapshot::check("../../openapi/examples.json", &text);
}

#[tokio::test]
async fn every_operation_shows_what_it_takes_and_answers() {
    let app = TestApp::start().await;
    let document = document(&app).await;
    let mut without = Vec::new();
    for operation in all() {
        let place = operation.place();
        let described = &document["paths"][&operation.path][operation.verb.as_str().to_lowercase()];
        let sent = described["requestBody"]["content"].as_object();
        let answers = described["responses"].as_object().unwrap().iter();
        let good = answers.filter(|(status, _)| status.starts_with('2'));
        let answered = good.filter_map(|(_, response)| response["content"].as_object());
        for (media, content) in sent.into_iter().chain(answered).flatten() {
            match content.get("example") {
                Some(example) => must_fit(&document, &content["schema"], example, &place),
                None if content.get("examples").is_some() => {
                    for answer in each_verdict(&content["examples"]) {
                        must_fit(&document, &content["schema"], answer, &place);
                    }
                }
                // A file speaks for itself.
                None if operation.is_file() && media != "application/json" => {}
                None => without.push(format!("{place}: {media}")),
            }
        }
        for member in ["summary", "description"] {
            assert!(
                described[member]
                    .as_str()
                    .is_some_and(|text| text.len() >= 15),
                "{place}"
            );
        }
        if let Some(scope) = operation.scope {
            let told = described["description"].as_str().unwrap();
            assert!(told.contains(&format!("`{scope}`")), "{place}");
        }
    }
    assert!(
        without.is_empty(),
        "without an example; WEARCOURSE_TEST_REWRITE=1 makes them: {without:#?}"
    );
}

/// What makes a record leads to what can be done with it.
#[tokio::test]
async fn answers_lead_to_what_can_be_called_next() {
    let app = TestApp::start().await;
    let document = document(&app).await;
    let ids: BTreeSet<&str> = all().into_iter().map(|operation| operation.id).collect();
    let links = |path: &str, verb: &str, status: &str| -> BTreeSet<String> {
        let response = &document["paths"][path][verb]["responses"][status];
        let links = response["links"].as_object().unwrap();
        for link in links.values() {
            assert!(
                ids.contains(link["operationId"].as_str().unwrap()),
                "{link}"
            );
        }
        links.keys().cloned().collect()
    };
    let required = |operation: &Value| -> BTreeSet<String> {
        let parameters = operation["parameters"].as_array().into_iter().flatten();
        let required = parameters.filter(|parameter| parameter["required"] == true);
        let names = required.map(|parameter| parameter["name"].as_str().unwrap().to_owned());
        // Whoever follows a link makes a key of his own.
        names.filter(|name| name != "Idempotency-Key").collect()
    };
    let operations = || {
        let items = document["paths"].as_object().unwrap().values();
        items.flat_map(|item| item.as_object().unwrap().values())
    };
    for operation in operations() {
        for response in operation["responses"].as_object().unwrap().values() {
            for link in response["links"].as_object().into_iter().flatten() {
                let mut named = operations().filter(|o| o["operationId"] == link.1["operationId"]);
                let needed = required(named.next().unwrap());
                let given = link.1["parameters"].as_object().unwrap();
                let given: BTreeSet<String> = given.keys().cloned().collect();
                assert!(needed.is_subset(&given), "{link:?} needs {needed:?}");
            }
        }
    }
    for step in ["accept", "withdraw"] {
        let path = format!("/v1/plans/{{plan_id}}/{step}");
        assert!(links(&path, "post", "200").contains("getPlan"), "{step}");
    }
    let after = links("/v1/surfaces", "post", "201");
    for wanted in [
        "getSurface",
        "changeSurface",
        "listPlans",
        "listCompletions",
    ] {
        assert!(after.contains(wanted), "{wanted}: {after:?}");
    }
    assert!(links("/v1/sites", "post", "201").contains("listSurfaces"));
    assert!(links("/v1/plans", "post", "201").contains("listCompletions"));
    assert!(links("/v1/completions", "post", "201").contains("supersedeCompletion"));
    assert!(links("/v1/surfaces/{surface_id}", "get", "200").contains("changeSurface"));
}

/// A body without an example leaves its reader to guess.
#[tokio::test]
async fn every_body_has_an_example() {
    let app = TestApp::start().await;
    let document = document(&app).await;
    for item in document["paths"].as_object().unwrap().values() {
        for operation in item.as_object().unwrap().values() {
            let Some(content) = operation["requestBody"]["content"].as_object() else {
                continue;
            };
            if operation["operationId"] == "sendBuildingFile" {
                continue;
            }
            for media in content.values() {
                let reference = media["schema"]["$ref"].as_str().unwrap();
                let schema = document.pointer(reference.trim_start_matches('#')).unwrap();
                let has = schema.get("example").or_else(|| schema.get("examples"));
                assert!(has.is_some(), "{reference} has no example");
            }
        }
    }
}

#[tokio::test]
async fn every_success_has_the_documented_status_form_and_headers() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    let document = document(&app).await;
    for (n, operation) in all().into_iter().enumerate() {
        let place = operation.place();
        let call = estate
            .call(&admin, &operation)
            .header("Idempotency-Key", &n.to_string());
        let answer = if operation.is_write() {
            call
        } else {
            estate.call(&admin, &operation)
        }
        .answer()
        .await;
        let described = &document["paths"][&operation.path][operation.verb.as_str().to_lowercase()];
        let response = &described["responses"][answer.status.to_string()];
        assert!(
            (200..300).contains(&answer.status),
            "{place}: {}",
            answer.text()
        );
        assert!(
            response.is_object(),
            "{place}: {} is not described",
            answer.status
        );
        for name in response["headers"]
            .as_object()
            .into_iter()
            .flat_map(|headers| headers.keys())
        {
            let is_there = answer.header(name).is_some() || name == "Idempotent-Replayed";
            assert!(is_there, "{place}: no {name}");
        }
        if answer.status == 204 {
            assert!(
                answer.body.is_empty() && response["content"].is_null(),
                "{place}"
            );
            continue;
        }
        let media = answer
            .header("Content-Type")
            .unwrap()
            .split(';')
            .next()
            .unwrap()
            .to_owned();
        let content = response["content"].as_object().unwrap();
        let described = content
            .get(&media)
            .unwrap_or_else(|| panic!("{place}: {media} is not described"));
        if media == "application/json" {
            must_fit(&document, &described["schema"], &answer.json(), &place);
        }
    }
}

#[tokio::test]
async fn every_refusal_has_the_documented_form_and_code() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    let document = document(&app).await;
    for operation in all().iter().filter(|operation| operation.scope.is_some()) {
        let place = operation.place();
        let path = estate.path(operation);
        let surprise = format!("{path}?surprise=1");
        let refusals = [
            app.stranger()
                .call(operation.verb.clone(), &path)
                .answer()
                .await,
            app.as_("north", &[])
                .call(operation.verb.clone(), &path)
                .answer()
                .await,
            estate
                .call_at(&admin, operation, &surprise)
                .header("Idempotency-Key", "k")
                .answer()
                .await,
            admin
                .call(operation.verb.clone(), &path)
                .header("Content-Encoding", "gzip")
                .answer()
                .await,
        ];
        for refusal in refusals {
            let told = refusal.json();
            must_fit(
                &document,
                &json!({"$ref": "#/components/schemas/Problem"}),
                &told,
                &place,
            );
            let verb = operation.verb.as_str().to_lowercase();
            let described =
                &document["paths"][&operation.path][verb]["responses"][refusal.status.to_string()];
            let codes = described["x-problem-codes"]
                .as_array()
                .cloned()
                .unwrap_or_default();
            assert!(
                codes.contains(&told["code"]),
                "{place}: {} is not described",
                refusal.text()
            );
        }
    }
}
