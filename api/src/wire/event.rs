//! Events as they leave: CloudEvents 1.0 in the structured JSON format. The body is made once, in the transaction that
//! made the event true, and is sent byte for byte the same at every attempt.
//!
//! An event says what a receiver needs to decide whether it concerns him, and where to read the rest.

pub(crate) mod data;

use chrono::{DateTime, Utc};
use domain::{
    event::EventKind,
    id::{EventId, SiteId},
};
use infra::row::EventRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{document, time};
use crate::{call, problem::Problem};

/// The media type of an event.
pub(crate) const MEDIA_TYPE: &str = "application/cloudevents+json";

/// What an event is about.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Subject<'a> {
    /// The id of it, as it stands in its path.
    pub(crate) id: &'a str,
    /// Its version after the event.
    pub(crate) version: i64,
    /// The site that it belongs to, if it belongs to one.
    pub(crate) site_id: Option<SiteId>,
}

/// What an event tells of its subject.
pub(crate) trait EventData: Serialize {
    /// What schemas call it.
    const SCHEMA: &'static str;

    /// What it is about.
    fn subject(&self) -> Subject<'_>;
}

/// An event, as CloudEvents 1.0 has it in JSON.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Event<'a, T> {
    /// The version of CloudEvents.
    specversion: &'static str,
    /// Names the event; `webhook-id` says the same, at every attempt.
    id: &'a str,
    /// The API that it comes from; absolute if the service knows its public address.
    source: &'a str,
    /// What happened.
    #[serde(rename = "type")]
    kind: &'static str,
    /// The id of what it happened to.
    subject: &'a str,
    /// When it happened.
    time: &'a str,
    /// The media type of `data`.
    datacontenttype: &'static str,
    /// Where the schema of `data` is; absent if the service does not know its public address.
    #[serde(skip_serializing_if = "Option::is_none")]
    dataschema: Option<&'a str>,
    /// What is told.
    data: &'a T,
}

/// Makes the outbox row of an event.
///
/// # Errors
/// `internal` for data that JSON cannot hold.
pub(crate) fn encode<T: EventData>(
    id: EventId,
    kind: EventKind,
    at: DateTime<Utc>,
    data: &T,
) -> Result<EventRow, Problem> {
    let subject = data.subject();
    let schema = call::absolute(&format!("/openapi.json#/components/schemas/{}", T::SCHEMA));
    let payload = document(&Event {
        specversion: "1.0",
        id: &id.to_string(),
        source: &call::absolute("/v1"),
        kind: kind.word(),
        subject: subject.id,
        time: &time::write(at),
        datacontenttype: "application/json",
        // CloudEvents wants a whole address here, or none.
        dataschema: (!schema.starts_with('/')).then_some(&schema),
        data,
    })?;
    Ok(EventRow {
        id,
        kind: kind.word().to_owned(),
        subject: subject.id.to_owned(),
        version: subject.version,
        payload,
        created_at: at,
        site_id: subject.site_id,
        handed_out_at: None,
    })
}

macro_rules! event_types {
    ($($variant:ident $word:tt,)+) => {
        /// The type of an event.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
        pub(crate) enum EventType { $(#[serde(rename = $word)] $variant,)+ }

        impl EventType {
            /// The type that it names.
            pub(crate) const fn kind(self) -> EventKind {
                match self { $(Self::$variant => EventKind::$variant,)+ }
            }

            #[cfg(test)]
            const ALL: &'static [(Self, &'static str)] = &[$((Self::$variant, $word),)+];
        }
    };
}

// All but that of a ping, which nobody needs to ask for.
event_types! {
    SiteRegistered "wearcourse.site.registered.v1",
    SiteChanged "wearcourse.site.changed.v1",
    RateCardIssued "wearcourse.rate_card.issued.v1",
    SurfaceRegistered "wearcourse.surface.registered.v1",
    SurfaceChanged "wearcourse.surface.changed.v1",
    SurfaceDue "wearcourse.surface.due.v1",
    BudgetSet "wearcourse.budget.set.v1",
    BudgetChanged "wearcourse.budget.changed.v1",
    PlanProposed "wearcourse.plan.proposed.v1",
    PlanAccepted "wearcourse.plan.accepted.v1",
    PlanSuperseded "wearcourse.plan.superseded.v1",
    PlanWithdrawn "wearcourse.plan.withdrawn.v1",
    EstimateMade "wearcourse.estimate.made.v1",
    ScheduleFinished "wearcourse.schedule.finished.v1",
    ScheduleMoved "wearcourse.schedule.moved.v1",
    CompletionRecorded "wearcourse.completion.recorded.v1",
    CompletionSuperseded "wearcourse.completion.superseded.v1",
    CompletionVoided "wearcourse.completion.voided.v1",
    CompletionDeviated "wearcourse.completion.deviated.v1",
    DeviationAcknowledged "wearcourse.completion.deviation_acknowledged.v1",
    ReadingTaken "wearcourse.reading.taken.v1",
    ReadingSuperseded "wearcourse.reading.superseded.v1",
    ReadingVoided "wearcourse.reading.voided.v1",
    ObservationRecorded "wearcourse.observation.recorded.v1",
    ObservationSuperseded "wearcourse.observation.superseded.v1",
    ObservationVoided "wearcourse.observation.voided.v1",
    ContractorRegistered "wearcourse.contractor.registered.v1",
    ContractorSourceMade "wearcourse.contractor_source.made.v1",
    ContractorSourceRotated "wearcourse.contractor_source.rotated.v1",
    ContractorSourceDisabled "wearcourse.contractor_source.disabled.v1",
    ProductRegistered "wearcourse.product.registered.v1",
    ProductChanged "wearcourse.product.changed.v1",
    StockItemRegistered "wearcourse.stock_item.registered.v1",
    StockItemChanged "wearcourse.stock_item.changed.v1",
    StockItemDeleted "wearcourse.stock_item.deleted.v1",
    SubscriptionMade "wearcourse.subscription.made.v1",
    SubscriptionChanged "wearcourse.subscription.changed.v1",
    SubscriptionRotated "wearcourse.subscription.rotated.v1",
    SubscriptionDisabled "wearcourse.subscription.disabled.v1",
    SubscriptionDeleted "wearcourse.subscription.deleted.v1",
}

#[cfg(test)]
mod tests {
    use domain::event::EventKind;

    use super::EventType;

    #[test]
    fn every_type_can_be_asked_for_under_its_own_word() {
        for (asked, word) in EventType::ALL {
            assert_eq!(asked.kind().word(), *word);
        }
        let n_askable = EventKind::ALL.len() - 1;
        assert_eq!(EventType::ALL.len(), n_askable);
    }
}
