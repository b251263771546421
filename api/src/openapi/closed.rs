//! Members of answers that hold one of a closed set of words: the description lists the words, so that a client generated from
//! it has a type for them.
//!
//! Views write such words as text, because what they mean is the domain's to say; the sets here are its own lists. A set is
//! closed for as long as the path begins with `/v1`. Words to which others may be added stay text.

use domain::{
    estimate::cost::LineKind,
    film::Word,
    handover::{Fate, Format, Member},
    knowledge::{Concern, Grade, Harm, Severity},
    plan::{Direction, Stage, Verdict},
    survey::Goal,
};
use infra::row::{
    CompletionStatus, DeliveryStatus, DisabledBecause, FactStatus, JobStatus, LinkStatus,
    PlanStatus, SourceStatus, SubscriptionStatus,
};
use serde_json::Value;
use utoipa::openapi::{
    OpenApi, RefOr,
    schema::{ArrayItems, Object, Schema, SchemaType, Type},
};

/// Members by schema and name, and the words that they may hold. A schema that is `*` stands for all.
type Closed = (
    &'static [(&'static str, &'static str)],
    fn() -> Vec<&'static str>,
);

/// The words of a list.
macro_rules! words {
    ($list:ty, $word:ident) => {
        || <$list>::ALL.iter().map(|value| value.$word()).collect()
    };
}

const CLOSED: &[Closed] = &[
    (
        &[
            ("AnswerView", "verdict"),
            ("CandidateView", "verdict"),
            ("PlanBriefView", "verdict"),
            ("PlanEventData", "verdict"),
            ("PlanPreviewView", "verdict"),
            ("SurfaceAnswer", "verdict"),
            ("SurfaceLine", "verdict"),
            ("VerdictView", "verdict"),
        ],
        words!(Verdict, word),
    ),
    (
        &[
            ("PlanBriefView", "goal"),
            ("PlanEventData", "goal"),
            ("ProcessView", "goals"),
        ],
        words!(Goal, word),
    ),
    (
        &[
            ("CompletionLine", "stage"),
            ("CostLineView", "stage"),
            ("CostRowView", "stage"),
            ("LabourView", "stage"),
            ("ProcessStepView", "stage"),
            ("StepView", "stage"),
        ],
        words!(Stage, word),
    ),
    (
        &[("FindingView", "severity"), ("RuleView", "severity")],
        words!(Severity, word),
    ),
    (
        &[("FindingView", "concern"), ("RuleView", "concern")],
        words!(Concern, word),
    ),
    (&[("*", "grade")], words!(Grade, word)),
    (&[("CautionView", "harm")], words!(Harm, word)),
    (&[("CostLineView", "kind")], words!(LineKind, word)),
    (&[("CompletionLine", "kind")], || {
        let lines = LineKind::ALL.iter().map(|kind| kind.word());
        lines.chain(["charged"]).collect()
    }),
    (
        &[("BayLayoutView", "direction"), ("CoatView", "direction")],
        words!(Direction, word),
    ),
    // What work says of a film is no observation.
    (&[("ObservationView", "origin")], || {
        let said = [
            Word::Measured,
            Word::Seen,
            Word::Told,
            Word::Document,
            Word::Survey,
        ];
        said.map(Word::word).to_vec()
    }),
    (
        &[
            ("PlanBriefView", "status"),
            ("PlanEventData", "status"),
            ("PlanView", "status"),
        ],
        words!(PlanStatus, as_str),
    ),
    (
        &[
            ("CompletionView", "status"),
            ("CompletionEventData", "status"),
        ],
        words!(CompletionStatus, as_str),
    ),
    (
        &[("ReadingView", "status"), ("ObservationView", "status")],
        words!(FactStatus, as_str),
    ),
    (
        &[
            ("EstimateJobView", "status"),
            ("ImportView", "status"),
            ("ScheduleView", "status"),
        ],
        words!(JobStatus, as_str),
    ),
    (&[("ImportRowView", "outcome")], words!(Fate, word)),
    (&[("ImportView", "format")], words!(Format, word)),
    (
        &[("ImportRowView", "changes"), ("ImportRowView", "kept")],
        words!(Member, word),
    ),
    (
        &[("ContractorSourceView", "status")],
        words!(SourceStatus, as_str),
    ),
    (&[("ReportLinkView", "status")], words!(LinkStatus, as_str)),
    (
        &[("DeliveryView", "status")],
        words!(DeliveryStatus, as_str),
    ),
    (
        &[("SubscriptionEventData", "status")],
        words!(SubscriptionStatus, as_str),
    ),
    // One that was deleted is not there.
    (&[("SubscriptionView", "status")], || {
        let there = [SubscriptionStatus::Enabled, SubscriptionStatus::Disabled];
        there.map(SubscriptionStatus::as_str).to_vec()
    }),
    (
        &[
            ("SubscriptionView", "disabled_because"),
            ("SubscriptionEventData", "disabled_because"),
        ],
        words!(DisabledBecause, as_str),
    ),
];

/// Lists the words of every member that holds one of a closed set.
pub(super) fn add(document: &mut OpenApi) {
    let Some(components) = &mut document.components else {
        return;
    };
    for (members, words) in CLOSED {
        let words = words();
        for (wanted, member) in *members {
            for (name, schema) in &mut components.schemas {
                if (*wanted == "*" || name == wanted)
                    && let RefOr::T(schema) = schema
                    && let Some(text) = find(schema, member)
                {
                    close(text, &words);
                }
            }
        }
    }
}

/// The text, or the text of each item, that a member of a schema is.
fn find<'a>(schema: &'a mut Schema, member: &str) -> Option<&'a mut Object> {
    match schema {
        Schema::Object(object) => match object.properties.get_mut(member)? {
            RefOr::T(Schema::Object(text)) => Some(text),
            RefOr::T(Schema::Array(list)) => match &mut list.items {
                ArrayItems::RefOrSchema(items) => match &mut **items {
                    RefOr::T(Schema::Object(text)) => Some(text),
                    RefOr::T(_) | RefOr::Ref(_) => None,
                },
                ArrayItems::False => None,
            },
            RefOr::T(_) | RefOr::Ref(_) => None,
        },
        Schema::AllOf(all) => all.items.iter_mut().find_map(|part| match part {
            RefOr::T(part) => find(part, member),
            RefOr::Ref(_) => None,
        }),
        _ => None,
    }
}

/// Lists the words of a text, in the place of what else was said of its form.
fn close(text: &mut Object, words: &[&str]) {
    let null = matches!(&text.schema_type, SchemaType::Array(types) if types.contains(&Type::Null));
    let words = words.iter().map(|word| Value::from(*word));
    text.enum_values = Some(words.chain(null.then_some(Value::Null)).collect());
    text.pattern = None;
    text.max_length = None;
    text.min_length = None;
}

#[cfg(test)]
mod tests {
    use serde_json::Value;
    use utoipa::OpenApi as _;

    use super::CLOSED;
    use crate::openapi::ApiDoc;

    /// A member of a schema or of one of its parts.
    fn member<'a>(schema: &'a Value, name: &str) -> Option<&'a Value> {
        let parts = schema["allOf"].as_array().into_iter().flatten();
        let found = parts
            .chain([schema])
            .find_map(|part| part["properties"].get(name))?;
        Some(found.get("items").unwrap_or(found))
    }

    #[test]
    fn every_member_with_a_closed_set_of_words_lists_them() {
        let document = serde_json::to_value(ApiDoc::openapi()).unwrap();
        let schemas = document["components"]["schemas"].as_object().unwrap();
        for (members, words) in CLOSED {
            for (schema, name) in *members {
                let wanted = schemas
                    .iter()
                    .filter(|(other, _)| *schema == "*" || other == schema);
                let listed: Vec<&Value> = wanted
                    .filter_map(|(_, schema)| member(schema, name))
                    .collect();
                assert!(!listed.is_empty(), "{schema}.{name}");
                for text in listed {
                    let found = text["enum"].as_array().into_iter().flatten();
                    let found: Vec<&str> = found.filter_map(Value::as_str).collect();
                    assert_eq!(found, words(), "{schema}.{name}");
                }
            }
        }
    }
}
