//! The description of the API (OpenAPI 3.1), made from the code that serves it.
//!
//! Handlers describe what is special about them. What follows from the kind of a route (problems with their codes,
//! security, conditional and idempotency headers, paging) is added here from the list of routes, so that no
//! operation can forget it.

mod closed;
mod example;
mod implied;
mod link;
mod webhook;

use std::sync::LazyLock;

use utoipa::OpenApi;

use implied::Implied;

use crate::{body::Fault, http, problem::ProblemView, wire};

/// The document.
#[derive(Debug, OpenApi)]
#[openapi(
    info(
        title = "Wearcourse",
        description = "Plans, estimates and accounts for the care of hard floors.\n\n\
            Every call carries a bearer token of one tenant and sees that tenant's records only. Quantities are SI \
            numbers with the unit in the member's name; money is a decimal text with a currency. Problems are told \
            as RFC 9457 has it: switch on `code`. `Accept` is read where there is a choice of representations; \
            everything else is sent as it is, whatever `Accept` says.",
        contact(name = "Whoever runs the service that gave this document"),
        license(name = "Apache-2.0", identifier = "Apache-2.0"),
    ),
    servers((url = "/", description = "The service that gave this document.")),
    tags(
        (name = "contractors", description = "Organisations that do the work."),
        (name = "plans", description = "What may be done to one floor, why, how, and for how much."),
        (name = "due", description = "What is due on which floor and when, and what it will cost."),
        (name = "schedules", description = "Which bay of which floor is treated when and by whom, within the hours in which floors may be closed."),
        (name = "estimates", description = "What the work on many floors needs and costs together."),
        (name = "sites", description = "Places with a time zone, a currency and a rate card."),
        (name = "surfaces", description = "Continuous areas of one floor material on one storey."),
        (name = "rate cards", description = "Editions of a site's rates: what an hour, a litre and a pad cost, and from which day on."),
        (name = "imports", description = "Files that were handed over with buildings: their spaces become surfaces."),
        (name = "stock", description = "What sites have left over of their products: plans use it before they buy."),
        (name = "knowledge", description = "What is known of materials, processes, products and rules, with sources."),
        (name = "completions", description = "Work that was done, set against what was planned."),
        (name = "readings", description = "Measured values of floors and of the air over them; a wrong one is superseded, never edited."),
        (name = "films", description = "What lies on a floor at any moment, what is known of it, and what happened to it."),
        (name = "inbound", description = "What contractors' own systems send, signed."),
        (name = "subscriptions", description = "Who is told of events, signed, and the log of what was sent to them."),
        (name = "reports", description = "Sums over completions: planned beside actual."),
        (name = "audit", description = "Who did what, in a chain that shows whether somebody changed it since."),
        (name = "service", description = "The service itself: its health and its description."),
    ),
    paths(
        http::health::live,
        http::health::ready,
        http::description::document,
        http::problem::explain,
        http::audit::list,
        http::completion::record,
        http::completion::list,
        http::completion::get,
        http::completion::supersede,
        http::completion::void,
        http::completion::acknowledge,
        http::completion_link::make,
        http::completion_link::list,
        http::completion_link::get,
        http::completion_link::revoke,
        http::contractor_source::make,
        http::contractor_source::list,
        http::contractor_source::get,
        http::contractor_source::rotate,
        http::contractor_source::disable,
        http::inbound::deliver,
        http::inbound::deliver_batch,
        http::contractor::register,
        http::contractor::list,
        http::contractor::get,
        http::delivery::list,
        http::delivery::get,
        http::delivery::replay,
        http::budget::set,
        http::budget::list,
        http::budget::get,
        http::budget::change,
        http::due::list,
        http::due::as_chart,
        http::forecast::forecast,
        http::programme::preview,
        http::estimate::make,
        http::estimate::list,
        http::estimate::get,
        http::schedule::ask,
        http::schedule::list,
        http::schedule::get,
        http::schedule::cancel,
        http::schedule::choose,
        http::schedule::tasks,
        http::replan::replan,
        http::replan::revisions,
        http::replan::moves,
        http::schedule_out::as_table,
        http::schedule_out::as_calendar,
        http::schedule_out::as_chart,
        http::schedule_out::as_sheet,
        http::estimate_job::ask,
        http::estimate_job::list,
        http::estimate_job::get,
        http::estimate_job::cancel,
        http::estimate_job::result,
        http::import::send,
        http::import::list,
        http::import::get,
        http::import::rows,
        http::import::apply,
        http::import::cancel,
        http::finish_synonym::tell,
        http::finish_synonym::list,
        http::finish_synonym::get,
        http::finish_synonym::delete,
        http::plan::propose,
        http::plan::list,
        http::plan::get,
        http::plan::preview,
        http::plan::accept,
        http::plan::withdraw,
        http::plan::reporting,
        http::sheet::sheet,
        http::reading::record,
        http::reading::list,
        http::reading::get,
        http::reading::supersede,
        http::reading::void,
        http::observation::record,
        http::observation::list,
        http::observation::get,
        http::observation::supersede,
        http::observation::void,
        http::film::state,
        http::film::history,
        http::learnt_rate::list,
        http::learnt_rate::as_chart,
        http::report::costs,
        http::report::waterfall,
        http::report::completions,
        http::report_link::make,
        http::report_link::list,
        http::report_link::get,
        http::report_link::revoke,
        http::report_link::shared,
        http::register::as_table,
        http::register::as_workbook,
        http::revocation::revoke,
        http::revocation::list,
        http::revocation::get,
        http::site::register,
        http::site::list,
        http::site::get,
        http::site::change,
        http::rate_card::issue,
        http::rate_card::list,
        http::rate_card::get,
        http::stock_item::register,
        http::stock_item::list,
        http::stock_item::get,
        http::stock_item::change,
        http::stock_item::delete,
        http::subscription::make,
        http::subscription::list,
        http::subscription::get,
        http::subscription::change,
        http::subscription::delete,
        http::subscription::rotate,
        http::subscription::ping,
        http::subscription::replay,
        http::surface::register,
        http::surface::list,
        http::surface::batch,
        http::surface::get,
        http::surface::change,
        http::knowledge::identification_tests,
        http::knowledge::identification_test,
        http::knowledge::materials,
        http::knowledge::material,
        http::knowledge::processes,
        http::knowledge::process,
        http::product::register,
        http::product::list,
        http::product::get,
        http::product::change,
        http::knowledge::product_classes,
        http::knowledge::product_class,
        http::knowledge::tools,
        http::knowledge::activities,
        http::knowledge::finishes,
        http::knowledge::rules,
        http::knowledge::rule,
    ),
    components(schemas(
        ProblemView<'_>,
        Fault,
        wire::contractor::ContractorRequest,
        wire::estimate_job::ResultLine,
        wire::event::data::SiteEventData,
        wire::event::data::RateCardEventData,
        wire::event::data::SurfaceEventData,
        wire::event::data::SurfaceDueEventData,
        wire::event::data::PlanEventData,
        wire::event::data::ScheduleEventData,
        wire::event::data::ScheduleMovedEventData,
        wire::event::data::EstimateEventData,
        wire::event::data::CompletionEventData,
        wire::event::data::SurfaceFactEventData,
        wire::event::data::SubscriptionEventData,
        wire::event::data::RecordEventData,
        wire::inbound::InboundNameRequest,
        wire::inbound::InboundVoidRequest,
    )),
    modifiers(&Implied),
)]
pub struct ApiDoc;

/// How the patterns of members write the UUID of an id.
const SHORT_ID: &str = "[0-9a-f-]{36}";
/// How the document writes it, so that a caller's check of an id is as strict as ours.
const WHOLE_ID: &str = "[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}";

static TEXT: LazyLock<String> = LazyLock::new(|| {
    // A document that cannot be written is empty, which the test of the committed copy shows.
    let text = serde_json::to_string_pretty(&ApiDoc::openapi()).unwrap_or_default();
    let mut text = text.replace(SHORT_ID, WHOLE_ID);
    text.push('\n');
    text
});

/// The document as it is served and committed.
pub(crate) fn text() -> &'static str {
    &TEXT
}

#[cfg(test)]
mod tests;
