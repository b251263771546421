//! What the service sends, described: one entry under `webhooks` for each type of event.

use domain::event::EventKind;
use serde_json::{Value, json};
use utoipa::openapi::{OpenApi, Paths};

use crate::wire::event::{EventData, MEDIA_TYPE, data as told};

/// Adds an entry for each type of event.
pub(super) fn add(document: &mut OpenApi) {
    let entries = EventKind::ALL
        .iter()
        .map(|kind| (kind.word(), entry(*kind)));
    let mut paths = Paths::new();
    for (name, entry) in entries {
        if let Ok(entry) = serde_json::from_value(entry) {
            paths.paths.insert(name.to_owned(), entry);
        }
    }
    document.webhooks = Some(paths);
}

/// The schema of what an event of this type tells.
const fn schema(kind: EventKind) -> &'static str {
    use EventKind as K;
    match kind {
        K::SiteRegistered | K::SiteChanged => told::SiteEventData::SCHEMA,
        K::RateCardIssued => told::RateCardEventData::SCHEMA,
        K::SurfaceRegistered | K::SurfaceChanged => told::SurfaceEventData::SCHEMA,
        K::SurfaceDue => told::SurfaceDueEventData::SCHEMA,
        K::PlanProposed | K::PlanAccepted | K::PlanSuperseded | K::PlanWithdrawn => {
            told::PlanEventData::SCHEMA
        }
        K::ScheduleFinished => told::ScheduleEventData::SCHEMA,
        K::ScheduleMoved => told::ScheduleMovedEventData::SCHEMA,
        K::EstimateMade => told::EstimateEventData::SCHEMA,
        K::CompletionRecorded
        | K::CompletionSuperseded
        | K::CompletionVoided
        | K::CompletionDeviated
        | K::DeviationAcknowledged => told::CompletionEventData::SCHEMA,
        K::ReadingTaken
        | K::ReadingSuperseded
        | K::ReadingVoided
        | K::ObservationRecorded
        | K::ObservationSuperseded
        | K::ObservationVoided => told::SurfaceFactEventData::SCHEMA,
        K::SubscriptionMade
        | K::SubscriptionChanged
        | K::SubscriptionRotated
        | K::SubscriptionDisabled
        | K::SubscriptionDeleted
        | K::SubscriptionPinged => told::SubscriptionEventData::SCHEMA,
        K::ContractorRegistered
        | K::ContractorSourceMade
        | K::ContractorSourceRotated
        | K::ContractorSourceDisabled
        | K::BudgetSet
        | K::BudgetChanged
        | K::ProductRegistered
        | K::ProductChanged
        | K::StockItemRegistered
        | K::StockItemChanged
        | K::StockItemDeleted => told::RecordEventData::SCHEMA,
    }
}

fn entry(kind: EventKind) -> Value {
    let text = |members: Value| {
        let mut schema = json!({"type": "string", "maxLength": 2000});
        if let (Some(schema), Value::Object(members)) = (schema.as_object_mut(), members) {
            schema.extend(members);
        }
        schema
    };
    let data = format!("#/components/schemas/{}", schema(kind));
    let event = json!({
        "type": "object",
        "required": ["specversion", "id", "source", "type", "subject", "time", "datacontenttype", "data"],
        "properties": {
            "specversion": text(json!({"enum": ["1.0"], "description": "The version of CloudEvents."})),
            "id": text(json!({"description": "Names the event; `webhook-id` says the same, at every attempt and replay.", "pattern": "^evt_[0-9a-f-]{36}$"})),
            "source": text(json!({"format": "uri-reference", "description": "The API that it comes from."})),
            "type": text(json!({"enum": [kind.word()], "description": "What happened."})),
            "subject": text(json!({"description": "The id of what it happened to."})),
            "time": text(json!({"format": "date-time", "description": "When it happened."})),
            "datacontenttype": text(json!({"enum": ["application/json"], "description": "The media type of `data`."})),
            "dataschema": text(json!({"format": "uri", "description": "Where the schema of `data` is, if the service knows its public address."})),
            "data": {"$ref": data},
        },
    });
    let header = |name: &str, meaning: &str| json!({"name": name, "in": "header", "required": true, "description": meaning, "schema": {"type": "string", "maxLength": 1000}});
    json!({"post": {
        "tags": ["subscriptions"],
        "operationId": format!("on{kind:?}"),
        "summary": summary(kind),
        "description": DESCRIPTION,
        "security": [],
        "parameters": [
            header("webhook-id", "The id of the event."),
            header("webhook-timestamp", "The moment of this attempt, in seconds since 1970."),
            header("webhook-signature", "`v1,` and the base64 of the HMAC-SHA256 of `<webhook-id>.<webhook-timestamp>.<body>`; during a rotation two, separated by a space."),
        ],
        "requestBody": {"required": true, "content": {MEDIA_TYPE: {"schema": event}}},
        "responses": {
            "2XX": {"description": "Taken. The text of the answer is passed over."},
            "410": {"description": "Nothing more is wanted: the subscription is disabled."},
            "default": {"description": "Not taken: it is sent again. `Retry-After` is heeded between the wait of the schedule and twice that."},
        },
    }})
}

const DESCRIPTION: &str = "Signed as the Standard Webhooks specification 1.0 has it, in the form of CloudEvents 1.0. It comes at least once, \
    and in no order: pass over an id that you know, and of two events about one subject believe the higher `data.version`. It is sent up to \
    ten times, at once and then after 5 s, 5 min, 30 min, 2 h, 5 h, 10 h, 14 h, 20 h and 24 h, each wait longer or shorter by up to a fifth.";

fn summary(kind: EventKind) -> String {
    let mut words = kind.short().replace(['.', '_'], " ");
    if let Some(first) = words.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    format!("{words}.")
}
