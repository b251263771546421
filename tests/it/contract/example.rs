//! What of an answer stands as an example in the description.

use serde_json::{Value, json};
use tests::{build, client::Caller, read};

/// The media types of what an operation answers when it succeeds.
pub(super) fn successes(operation: &Value) -> Vec<String> {
    let responses = operation["responses"].as_object().unwrap();
    let good = responses
        .iter()
        .filter(|(status, _)| status.starts_with('2'));
    good.flat_map(|(_, response)| response["content"].as_object().into_iter().flatten())
        .map(|(media, _)| media.clone())
        .collect()
}

/// An answer that a person can take in: one item of a list that is the same for everybody, the head of the document.
pub(super) fn shortened(operation: &str, mut answer: Value) -> Value {
    if operation == "describeApi" {
        return json!({"openapi": answer["openapi"], "info": answer["info"], "paths": {}});
    }
    if let Some(secret) = answer.get_mut("secret") {
        // Every secret is another; the one that is shown was published with the specification.
        *secret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw".into();
    }
    if let "makeReportLink" | "makeCompletionLink" = operation {
        let (path, _secret) = read::text(&answer, "/address").rsplit_once('/').unwrap();
        answer["address"] = format!("{path}/{}", "A".repeat(86)).into();
    }
    if let Some(items) = answer.get_mut("items").and_then(Value::as_array_mut) {
        items.truncate(1);
    }
    answer
}

/// What plans answer where a fact is missing and where the wish is refused, for the operations that make them.
pub(super) async fn decided(caller: &Caller, site: &str) -> [(&'static str, Value); 2] {
    let unknown = json!({"built_year": null, "film": {"kind": "unknown"}});
    let unknown = build::with(build::surface(site), unknown);
    let unknown = build::new_surface(caller, &unknown).await;
    let safety = json!({"material": "safety_vinyl", "film": {"kind": "bare"}});
    let safety = build::with(build::surface(site), safety);
    let safety = build::new_surface(caller, &safety).await;
    let polish = json!({"surface_id": safety, "wish": {"goal": "protect", "process": "polish"}});
    let mut told = [("previewPlan", json!({})), ("proposePlan", json!({}))];
    for (verdict, wish) in [
        ("needs_information", build::plan(&unknown)),
        ("refused", polish),
    ] {
        let preview = caller.post("/v1/plans/preview", &wish).await.must(200);
        let plan = build::new_plan(caller, &wish).await;
        for ((_, answers), answer) in told.iter_mut().zip([preview, plan]) {
            assert_eq!(read::text(&answer.json(), "/verdict"), verdict);
            answers[verdict] = answer.json();
        }
    }
    told
}

/// Answers that are shown by what they decide: each stands under its verdict, and none is missing.
pub(super) fn each_verdict(examples: &Value) -> Vec<&Value> {
    let named = examples.as_object().unwrap();
    let verdicts: Vec<&str> = named.keys().map(String::as_str).collect();
    assert_eq!(verdicts, ["allowed", "needs_information", "refused"]);
    for (verdict, example) in named {
        assert_eq!(read::text(example, "/value/verdict"), verdict);
    }
    named.values().map(|example| &example["value"]).collect()
}
