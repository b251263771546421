//! Every route of the service, as data: what is served, what is documented and what is guarded is this list.
//!
//! [`crate::server`] makes the resources from it, [`crate::openapi`] adds to each operation what its kind implies
//! (problems, headers, security), and a test compares it with the API description.

mod accept;
pub(crate) mod audit;
pub(crate) mod budget;
pub(crate) mod completion;
pub(crate) mod completion_link;
pub(crate) mod contractor;
pub(crate) mod contractor_source;
pub(crate) mod delivery;
pub(crate) mod description;
pub(crate) mod due;
pub(crate) mod estimate;
pub(crate) mod estimate_job;
mod external;
pub(crate) mod film;
pub(crate) mod finish_synonym;
pub(crate) mod forecast;
pub(crate) mod form;
pub(crate) mod health;
pub(crate) mod import;
pub(crate) mod inbound;
pub(crate) mod knowledge;
pub(crate) mod learnt_rate;
pub(crate) mod observation;
mod paper;
pub(crate) mod plan;
pub(crate) mod problem;
pub(crate) mod product;
pub(crate) mod programme;
pub(crate) mod rate_card;
pub(crate) mod reading;
pub(crate) mod register;
pub(crate) mod replan;
pub(crate) mod report;
pub(crate) mod report_link;
pub(crate) mod revocation;
mod route;
pub(crate) mod schedule;
pub(crate) mod schedule_out;
pub(crate) mod sheet;
pub(crate) mod site;
pub(crate) mod stock_item;
pub(crate) mod subscription;
pub(crate) mod surface;

pub(crate) use route::{Access, Kind, Route, Verb, allow};

use actix_web::web;

use crate::{
    auth::{
        Scope,
        scope::{
            AuditRead, CompletionsRead, CompletionsReview, CompletionsWrite, ContractorsRead,
            ContractorsWrite, EstimatesRead, EstimatesWrite, KnowledgeRead, PlansRead, PlansWrite,
            ProductsWrite, ReadingsRead, ReadingsWrite, ReportsRead, ReportsShare, SitesRead,
            SitesWrite, StockRead, StockWrite, SubscriptionsRead, SubscriptionsWrite, SurfacesRead,
            SurfacesWrite, TokensRevoke,
        },
    },
    problem::Code,
};

/// The routes, by path.
#[rustfmt::skip]
pub(crate) static ROUTES: &[Route] = &[
    Route::new(Kind::Public, "/livez",                              "isAlive",            Access::Public,                        || web::to(health::live)),
    Route::new(Kind::Public, "/readyz",                             "isReady",            Access::Public,                        || web::to(health::ready)),
    Route::new(Kind::Public, "/openapi.json",                       "describeApi",        Access::Public,                        || web::to(description::document)),
    Route::new(Kind::Page,   "/docs/{file:.*}",                     "showDescription",    Access::Public,                        || web::to(description::page)),
    Route::new(Kind::Page,   "/guide",                              "showGuide",          Access::Public,                        || web::to(description::guide)),
    Route::new(Kind::Public, "/problems/{code}",                    "explainProblem",     Access::Public,                        || web::to(problem::explain)).also(&[Code::NotFound]),
    Route::new(Kind::Page,   "/c/{address}",                        "showCompletionForm", Access::Public,                        || web::to(form::show)),
    Route::new(Kind::Form,   "/c/{address}",                        "submitCompletionForm", Access::Public,                      || web::to(form::submit)),
    Route::new(Kind::List,   "/v1/audit",                           "listAudit",          Access::Scope(AuditRead::NAME),        || web::to(audit::list)),
    Route::new(Kind::Read,   "/v1/activities",                     "listActivities",     Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::activities)),
    Route::new(Kind::Read,   "/v1/finishes",                       "listFinishes",       Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::finishes)),
    Route::new(Kind::Read,   "/v1/budgets/{budget_id}",             "getBudget",          Access::Scope(ReportsRead::NAME),      || web::to(budget::get)),
    Route::new(Kind::Change, "/v1/budgets/{budget_id}",             "changeBudget",       Access::Scope(SitesWrite::NAME),       || web::to(budget::change)),
    Route::new(Kind::Record, "/v1/completions",                     "recordCompletion",   Access::Scope(CompletionsWrite::NAME), || web::to(completion::record)),
    Route::new(Kind::List,   "/v1/completions",                     "listCompletions",    Access::Scope(CompletionsRead::NAME),  || web::to(completion::list)),
    Route::new(Kind::Read,   "/v1/completions/{completion_id}",     "getCompletion",      Access::Scope(CompletionsRead::NAME),  || web::to(completion::get)),
    Route::new(Kind::Record, "/v1/completions/{completion_id}/supersede", "supersedeCompletion", Access::Scope(CompletionsWrite::NAME), || web::to(completion::supersede))
        .also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Amend,  "/v1/completions/{completion_id}/void", "voidCompletion",    Access::Scope(CompletionsWrite::NAME), || web::to(completion::void)),
    Route::new(Kind::Amend,  "/v1/completions/{completion_id}/acknowledge", "acknowledgeDeviation", Access::Scope(CompletionsReview::NAME), || web::to(completion::acknowledge)),
    Route::new(Kind::Read,   "/v1/completion-links/{completion_link_id}", "getCompletionLink", Access::Scope(CompletionsRead::NAME), || web::to(completion_link::get)),
    Route::new(Kind::Step,   "/v1/completion-links/{completion_link_id}/revoke", "revokeCompletionLink", Access::Scope(CompletionsWrite::NAME), || web::to(completion_link::revoke)),
    Route::new(Kind::Create, "/v1/contractor-sources",              "makeContractorSource", Access::Scope(ContractorsWrite::NAME), || web::to(contractor_source::make)).also(&[Code::StateConflict]),
    Route::new(Kind::List,   "/v1/contractor-sources",              "listContractorSources", Access::Scope(ContractorsRead::NAME), || web::to(contractor_source::list)),
    Route::new(Kind::Read,   "/v1/contractor-sources/{source_id}",  "getContractorSource", Access::Scope(ContractorsRead::NAME), || web::to(contractor_source::get)),
    Route::new(Kind::Amend,  "/v1/contractor-sources/{source_id}/rotate", "rotateSourceSecret", Access::Scope(ContractorsWrite::NAME), || web::to(contractor_source::rotate)),
    Route::new(Kind::Step,   "/v1/contractor-sources/{source_id}/disable", "disableContractorSource", Access::Scope(ContractorsWrite::NAME), || web::to(contractor_source::disable)),
    Route::new(Kind::Create, "/v1/contractors",                     "registerContractor", Access::Scope(ContractorsWrite::NAME), || web::to(contractor::register)),
    Route::new(Kind::List,   "/v1/contractors",                     "listContractors",    Access::Scope(ContractorsRead::NAME),  || web::to(contractor::list)),
    Route::new(Kind::Read,   "/v1/contractors/{contractor_id}",     "getContractor",      Access::Scope(ContractorsRead::NAME),  || web::to(contractor::get)),
    Route::new(Kind::List,   "/v1/deliveries",                      "listDeliveries",     Access::Scope(SubscriptionsRead::NAME), || web::to(delivery::list)),
    Route::new(Kind::Read,   "/v1/deliveries/{delivery_id}",        "getDelivery",        Access::Scope(SubscriptionsRead::NAME), || web::to(delivery::get)),
    Route::new(Kind::Act,    "/v1/deliveries/{delivery_id}/replay", "replayDelivery",     Access::Scope(SubscriptionsWrite::NAME), || web::to(delivery::replay)),
    Route::new(Kind::Report, "/v1/due/chart",                       "drawDue",            Access::Scope(PlansRead::NAME),        || web::to(due::as_chart)),
    Route::new(Kind::List,   "/v1/due",                             "listDue",            Access::Scope(PlansRead::NAME),        || web::to(due::list)).long(),
    Route::new(Kind::Report, "/v1/forecast",                        "forecastCosts",      Access::Scope(ReportsRead::NAME),      || web::to(forecast::forecast)).also(&[Code::NotAcceptable]),
    Route::new(Kind::Record, "/v1/estimate-jobs",                   "askForEstimate",     Access::Scope(EstimatesWrite::NAME),   || web::to(estimate_job::ask)).also(&[Code::TooManyJobs]),
    Route::new(Kind::List,   "/v1/estimate-jobs",                   "listEstimateJobs",   Access::Scope(EstimatesRead::NAME),    || web::to(estimate_job::list)),
    Route::new(Kind::Read,   "/v1/estimate-jobs/{estimate_job_id}", "getEstimateJob",     Access::Scope(EstimatesRead::NAME),    || web::to(estimate_job::get)),
    Route::new(Kind::Cancel, "/v1/estimate-jobs/{estimate_job_id}/cancel", "cancelEstimateJob", Access::Scope(EstimatesWrite::NAME), || web::to(estimate_job::cancel)),
    Route::new(Kind::Report, "/v1/estimate-jobs/{estimate_job_id}/result", "getEstimateJobResult", Access::Scope(EstimatesRead::NAME), || web::to(estimate_job::result))
        .also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Create, "/v1/estimates",                       "makeEstimate",       Access::Scope(EstimatesWrite::NAME),   || web::to(estimate::make)).long(),
    Route::new(Kind::List,   "/v1/estimates",                       "listEstimates",      Access::Scope(EstimatesRead::NAME),    || web::to(estimate::list)),
    Route::new(Kind::Read,   "/v1/estimates/{estimate_id}",         "getEstimate",        Access::Scope(EstimatesRead::NAME),    || web::to(estimate::get)),
    Route::new(Kind::Create, "/v1/finish-synonyms",                 "tellFinishSynonym",  Access::Scope(SurfacesWrite::NAME),    || web::to(finish_synonym::tell)),
    Route::new(Kind::List,   "/v1/finish-synonyms",                 "listFinishSynonyms", Access::Scope(SurfacesRead::NAME),     || web::to(finish_synonym::list)),
    Route::new(Kind::Read,   "/v1/finish-synonyms/{finish_synonym_id}", "getFinishSynonym", Access::Scope(SurfacesRead::NAME),   || web::to(finish_synonym::get)),
    Route::new(Kind::Delete, "/v1/finish-synonyms/{finish_synonym_id}", "deleteFinishSynonym", Access::Scope(SurfacesWrite::NAME), || web::to(finish_synonym::delete)),
    Route::new(Kind::Read,   "/v1/identification-tests",           "listIdentificationTests", Access::Scope(KnowledgeRead::NAME), || web::to(knowledge::identification_tests)),
    Route::new(Kind::Read,   "/v1/identification-tests/{key}",     "getIdentificationTest", Access::Scope(KnowledgeRead::NAME),  || web::to(knowledge::identification_test)),
    Route::new(Kind::Record, "/v1/imports",                         "sendBuildingFile",   Access::Scope(SurfacesWrite::NAME),    || web::to(import::send)).long()
        .also(&[Code::InvalidParameter, Code::ParameterOutOfRange, Code::TooManyJobs]),
    Route::new(Kind::List,   "/v1/imports",                         "listImports",        Access::Scope(SurfacesRead::NAME),     || web::to(import::list)),
    Route::new(Kind::Read,   "/v1/imports/{import_id}",             "getImport",          Access::Scope(SurfacesRead::NAME),     || web::to(import::get)),
    Route::new(Kind::List,   "/v1/imports/{import_id}/rows",        "listImportRows",     Access::Scope(SurfacesRead::NAME),     || web::to(import::rows)).also(&[Code::NotFound]),
    Route::new(Kind::Act,    "/v1/imports/{import_id}/apply",       "applyImport",        Access::Scope(SurfacesWrite::NAME),    || web::to(import::apply)).also(&[Code::TooManyJobs]),
    Route::new(Kind::Cancel, "/v1/imports/{import_id}/cancel",      "cancelImport",       Access::Scope(SurfacesWrite::NAME),    || web::to(import::cancel)),
    Route::new(Kind::Signed, "/v1/inbound/{source}",                "takeEvent",          Access::Public,                        || web::to(inbound::deliver)),
    Route::new(Kind::Signed, "/v1/inbound/{source}/batch",          "takeEvents",         Access::Public,                        || web::to(inbound::deliver_batch)),
    Route::new(Kind::Read,   "/v1/materials",                      "listMaterials",      Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::materials)),
    Route::new(Kind::Read,   "/v1/materials/{key}",                "getMaterial",        Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::material)),
    Route::new(Kind::Read,   "/v1/observations/{observation_id}",   "getObservation",     Access::Scope(ReadingsRead::NAME),     || web::to(observation::get)),
    Route::new(Kind::Record, "/v1/observations/{observation_id}/supersede", "supersedeObservation", Access::Scope(ReadingsWrite::NAME), || web::to(observation::supersede))
        .also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Amend,  "/v1/observations/{observation_id}/void", "voidObservation", Access::Scope(ReadingsWrite::NAME),    || web::to(observation::void)),
    Route::new(Kind::Create, "/v1/plans",                           "proposePlan",        Access::Scope(PlansWrite::NAME),       || web::to(plan::propose)),
    Route::new(Kind::List,   "/v1/plans",                           "listPlans",          Access::Scope(PlansRead::NAME),        || web::to(plan::list)),
    Route::new(Kind::Preview, "/v1/plans/preview",                  "previewPlan",        Access::Scope(PlansRead::NAME),        || web::to(plan::preview)),
    Route::new(Kind::Read,   "/v1/plans/{plan_id}",                 "getPlan",            Access::Scope(PlansRead::NAME),        || web::to(plan::get)),
    Route::new(Kind::Create, "/v1/plans/{plan_id}/completion-links", "makeCompletionLink", Access::Scope(CompletionsWrite::NAME), || web::to(completion_link::make)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::List,   "/v1/plans/{plan_id}/completion-links", "listCompletionLinks", Access::Scope(CompletionsRead::NAME), || web::to(completion_link::list)).also(&[Code::NotFound]),
    Route::new(Kind::Step,   "/v1/plans/{plan_id}/accept",          "acceptPlan",         Access::Scope(PlansWrite::NAME),       || web::to(plan::accept)),
    Route::new(Kind::Step,   "/v1/plans/{plan_id}/withdraw",        "withdrawPlan",       Access::Scope(PlansWrite::NAME),       || web::to(plan::withdraw)),
    Route::new(Kind::Report, "/v1/plans/{plan_id}/sheet",           "showSheet",          Access::Scope(PlansRead::NAME),        || web::to(sheet::sheet)).also(&[Code::NotFound, Code::NotAcceptable]),
    Route::new(Kind::Report, "/v1/plans/{plan_id}/reporting",       "explainReporting",   Access::Scope(PlansRead::NAME),        || web::to(plan::reporting)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Read,   "/v1/processes",                      "listProcesses",      Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::processes)),
    Route::new(Kind::Read,   "/v1/processes/{key}",                "getProcess",         Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::process)),
    Route::new(Kind::Read,   "/v1/product-classes",                "listProductClasses", Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::product_classes)),
    Route::new(Kind::Read,   "/v1/product-classes/{key}",          "getProductClass",    Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::product_class)),
    Route::new(Kind::Create, "/v1/products",                       "registerProduct",    Access::Scope(ProductsWrite::NAME),    || web::to(product::register)).also(&[Code::StateConflict]),
    Route::new(Kind::Read,   "/v1/products",                       "listProducts",       Access::Scope(KnowledgeRead::NAME),    || web::to(product::list)),
    Route::new(Kind::Read,   "/v1/products/{key}",                 "getProduct",         Access::Scope(KnowledgeRead::NAME),    || web::to(product::get)),
    Route::new(Kind::Change, "/v1/products/{key}",                 "changeProduct",      Access::Scope(ProductsWrite::NAME),    || web::to(product::change)).also(&[Code::StateConflict]),
    Route::new(Kind::Preview, "/v1/programmes/preview",             "previewProgrammes",  Access::Scope(PlansRead::NAME),        || web::to(programme::preview)).long(),
    Route::new(Kind::Report, "/v1/rates/learnt/chart",              "drawLearntRates",    Access::Scope(ReportsRead::NAME),      || web::to(learnt_rate::as_chart)),
    Route::new(Kind::List,   "/v1/rates/learnt",                    "listLearntRates",    Access::Scope(ReportsRead::NAME),      || web::to(learnt_rate::list)),
    Route::new(Kind::Create, "/v1/readings",                        "recordReading",      Access::Scope(ReadingsWrite::NAME),    || web::to(reading::record)),
    Route::new(Kind::List,   "/v1/readings",                        "listReadings",       Access::Scope(ReadingsRead::NAME),     || web::to(reading::list)),
    Route::new(Kind::Read,   "/v1/readings/{reading_id}",           "getReading",         Access::Scope(ReadingsRead::NAME),     || web::to(reading::get)),
    Route::new(Kind::Record, "/v1/readings/{reading_id}/supersede", "supersedeReading",   Access::Scope(ReadingsWrite::NAME),    || web::to(reading::supersede))
        .also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Amend,  "/v1/readings/{reading_id}/void",      "voidReading",        Access::Scope(ReadingsWrite::NAME),    || web::to(reading::void)),
    Route::new(Kind::List,   "/v1/rules",                          "listRules",          Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::rules)),
    Route::new(Kind::Read,   "/v1/rules/{key}",                    "getRule",            Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::rule)),
    Route::new(Kind::Create, "/v1/report-links",                    "makeReportLink",     Access::Scope(ReportsShare::NAME),     || web::to(report_link::make)),
    Route::new(Kind::List,   "/v1/report-links",                    "listReportLinks",    Access::Scope(ReportsRead::NAME),      || web::to(report_link::list)),
    Route::new(Kind::Read,   "/v1/report-links/{report_link_id}",   "getReportLink",      Access::Scope(ReportsRead::NAME),      || web::to(report_link::get)),
    Route::new(Kind::Step,   "/v1/report-links/{report_link_id}/revoke", "revokeReportLink", Access::Scope(ReportsShare::NAME),   || web::to(report_link::revoke)),
    Route::new(Kind::Report, "/v1/shared-reports/{address}",        "pullSharedReport",   Access::Public,                        || web::to(report_link::shared)).also(&[Code::NotFound, Code::NotAcceptable]),
    Route::new(Kind::Report, "/v1/reports/costs",                   "reportCosts",        Access::Scope(ReportsRead::NAME),      || web::to(report::costs)).also(&[Code::NotAcceptable]),
    Route::new(Kind::Report, "/v1/reports/costs/waterfall",         "drawVariance",       Access::Scope(ReportsRead::NAME),      || web::to(report::waterfall)),
    Route::new(Kind::List,   "/v1/reports/costs/completions",       "listReportedCompletions", Access::Scope(ReportsRead::NAME), || web::to(report::completions)),
    Route::new(Kind::Create, "/v1/revocations",                     "revokeTokens",       Access::Scope(TokensRevoke::NAME),     || web::to(revocation::revoke)),
    Route::new(Kind::List,   "/v1/revocations",                     "listRevocations",    Access::Scope(TokensRevoke::NAME),     || web::to(revocation::list)),
    Route::new(Kind::Read,   "/v1/revocations/{revocation_id}",     "getRevocation",      Access::Scope(TokensRevoke::NAME),     || web::to(revocation::get)),
    Route::new(Kind::Record, "/v1/schedules",                       "askForSchedule",     Access::Scope(PlansWrite::NAME),       || web::to(schedule::ask)).also(&[Code::TooManyJobs]).long(),
    Route::new(Kind::List,   "/v1/schedules",                       "listSchedules",      Access::Scope(PlansRead::NAME),        || web::to(schedule::list)),
    Route::new(Kind::Read,   "/v1/schedules/{schedule_id}",         "getSchedule",        Access::Scope(PlansRead::NAME),        || web::to(schedule::get)),
    Route::new(Kind::Cancel, "/v1/schedules/{schedule_id}/cancel",  "cancelSchedule",     Access::Scope(PlansWrite::NAME),       || web::to(schedule::cancel)),
    Route::new(Kind::Amend,  "/v1/schedules/{schedule_id}/choose",  "chooseSchedule",     Access::Scope(PlansWrite::NAME),       || web::to(schedule::choose)),
    Route::new(Kind::List,   "/v1/schedules/{schedule_id}/tasks",   "listScheduleTasks",  Access::Scope(PlansRead::NAME),        || web::to(schedule::tasks)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Amend,  "/v1/schedules/{schedule_id}/replan",  "replanSchedule",     Access::Scope(PlansWrite::NAME),       || web::to(replan::replan)).long(),
    Route::new(Kind::List,   "/v1/schedules/{schedule_id}/revisions", "listScheduleRevisions", Access::Scope(PlansRead::NAME),   || web::to(replan::revisions)).also(&[Code::NotFound]),
    Route::new(Kind::List,   "/v1/schedules/{schedule_id}/moves",   "listScheduleMoves",  Access::Scope(PlansRead::NAME),        || web::to(replan::moves)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Report, "/v1/schedules/{schedule_id}/table",   "getScheduleTable",   Access::Scope(PlansRead::NAME),        || web::to(schedule_out::as_table)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Report, "/v1/schedules/{schedule_id}/calendar", "getScheduleCalendar", Access::Scope(PlansRead::NAME),      || web::to(schedule_out::as_calendar)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Report, "/v1/schedules/{schedule_id}/chart",   "drawSchedule",       Access::Scope(PlansRead::NAME),        || web::to(schedule_out::as_chart)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::Report, "/v1/schedules/{schedule_id}/sheet",   "showScheduleSheet",  Access::Scope(PlansRead::NAME),        || web::to(schedule_out::as_sheet)).also(&[Code::NotFound, Code::NotAcceptable, Code::StateConflict]),
    Route::new(Kind::Create, "/v1/sites",                           "registerSite",       Access::Scope(SitesWrite::NAME),       || web::to(site::register)),
    Route::new(Kind::List,   "/v1/sites",                           "listSites",          Access::Scope(SitesRead::NAME),        || web::to(site::list)),
    Route::new(Kind::Read,   "/v1/sites/{site_id}",                 "getSite",            Access::Scope(SitesRead::NAME),        || web::to(site::get)),
    Route::new(Kind::Change, "/v1/sites/{site_id}",                 "changeSite",         Access::Scope(SitesWrite::NAME),       || web::to(site::change)),
    Route::new(Kind::Report, "/v1/sites/{site_id}/surface-table",   "exportSurfaceTable", Access::Scope(SurfacesRead::NAME),     || web::to(register::as_table)).also(&[Code::NotFound]),
    Route::new(Kind::Report, "/v1/sites/{site_id}/surface-workbook", "exportSurfaceWorkbook", Access::Scope(SurfacesRead::NAME), || web::to(register::as_workbook)).also(&[Code::NotFound]),
    Route::new(Kind::Create, "/v1/sites/{site_id}/rate-cards",      "issueRateCard",      Access::Scope(SitesWrite::NAME),       || web::to(rate_card::issue)).also(&[Code::NotFound]),
    Route::new(Kind::List,   "/v1/sites/{site_id}/rate-cards",      "listRateCards",      Access::Scope(SitesRead::NAME),        || web::to(rate_card::list)).also(&[Code::NotFound]),
    Route::new(Kind::Read,   "/v1/sites/{site_id}/rate-cards/{rate_card_id}", "getRateCard", Access::Scope(SitesRead::NAME),     || web::to(rate_card::get)),
    Route::new(Kind::Create, "/v1/sites/{site_id}/budgets",         "setBudget",          Access::Scope(SitesWrite::NAME),       || web::to(budget::set)).also(&[Code::NotFound]),
    Route::new(Kind::List,   "/v1/sites/{site_id}/budgets",         "listBudgets",        Access::Scope(ReportsRead::NAME),      || web::to(budget::list)).also(&[Code::NotFound]),
    Route::new(Kind::Create, "/v1/sites/{site_id}/stock-items",     "registerStockItem",  Access::Scope(StockWrite::NAME),       || web::to(stock_item::register)).also(&[Code::NotFound, Code::StateConflict]),
    Route::new(Kind::List,   "/v1/sites/{site_id}/stock-items",     "listStockItems",     Access::Scope(StockRead::NAME),        || web::to(stock_item::list)).also(&[Code::NotFound]),
    Route::new(Kind::Read,   "/v1/stock-items/{stock_item_id}",     "getStockItem",       Access::Scope(StockRead::NAME),        || web::to(stock_item::get)),
    Route::new(Kind::Change, "/v1/stock-items/{stock_item_id}",     "changeStockItem",    Access::Scope(StockWrite::NAME),       || web::to(stock_item::change)),
    Route::new(Kind::Delete, "/v1/stock-items/{stock_item_id}",     "deleteStockItem",    Access::Scope(StockWrite::NAME),       || web::to(stock_item::delete)),
    Route::new(Kind::Create, "/v1/subscriptions",                   "makeSubscription",   Access::Scope(SubscriptionsWrite::NAME), || web::to(subscription::make)).also(&[Code::StateConflict]),
    Route::new(Kind::List,   "/v1/subscriptions",                   "listSubscriptions",  Access::Scope(SubscriptionsRead::NAME), || web::to(subscription::list)),
    Route::new(Kind::Read,   "/v1/subscriptions/{subscription_id}", "getSubscription",    Access::Scope(SubscriptionsRead::NAME), || web::to(subscription::get)),
    Route::new(Kind::Change, "/v1/subscriptions/{subscription_id}", "changeSubscription", Access::Scope(SubscriptionsWrite::NAME), || web::to(subscription::change)),
    Route::new(Kind::Amend,  "/v1/subscriptions/{subscription_id}/rotate", "rotateSubscriptionSecret", Access::Scope(SubscriptionsWrite::NAME), || web::to(subscription::rotate)),
    Route::new(Kind::Act,    "/v1/subscriptions/{subscription_id}/ping", "pingSubscription", Access::Scope(SubscriptionsWrite::NAME), || web::to(subscription::ping)),
    Route::new(Kind::Request, "/v1/subscriptions/{subscription_id}/replay", "replayEvents", Access::Scope(SubscriptionsWrite::NAME), || web::to(subscription::replay)),
    Route::new(Kind::Delete, "/v1/subscriptions/{subscription_id}", "deleteSubscription", Access::Scope(SubscriptionsWrite::NAME), || web::to(subscription::delete)),
    Route::new(Kind::Create, "/v1/surfaces",                        "registerSurface",    Access::Scope(SurfacesWrite::NAME),    || web::to(surface::register)),
    Route::new(Kind::List,   "/v1/surfaces",                        "listSurfaces",       Access::Scope(SurfacesRead::NAME),     || web::to(surface::list)),
    Route::new(Kind::Batch,  "/v1/surfaces/batch",                  "storeSurfaces",      Access::Scope(SurfacesWrite::NAME),    || web::to(surface::batch)),
    Route::new(Kind::Read,   "/v1/surfaces/{surface_id}",           "getSurface",         Access::Scope(SurfacesRead::NAME),     || web::to(surface::get))
        .also(&[Code::InvalidParameter, Code::ParameterOutOfRange]),
    Route::new(Kind::Change, "/v1/surfaces/{surface_id}",           "changeSurface",      Access::Scope(SurfacesWrite::NAME),    || web::to(surface::change)),
    Route::new(Kind::List,   "/v1/surfaces/{surface_id}/history",   "listSurfaceHistory", Access::Scope(SurfacesRead::NAME),     || web::to(film::history)).also(&[Code::NotFound]),
    Route::new(Kind::Record, "/v1/surfaces/{surface_id}/observations", "recordObservation", Access::Scope(ReadingsWrite::NAME),   || web::to(observation::record)).also(&[Code::NotFound]),
    Route::new(Kind::List,   "/v1/surfaces/{surface_id}/observations", "listObservations", Access::Scope(ReadingsRead::NAME),     || web::to(observation::list)).also(&[Code::NotFound]),
    Route::new(Kind::Report, "/v1/surfaces/{surface_id}/state",     "getSurfaceState",    Access::Scope(SurfacesRead::NAME),     || web::to(film::state)).also(&[Code::NotFound]),
    Route::new(Kind::Read,   "/v1/tools",                          "listTools",          Access::Scope(KnowledgeRead::NAME),    || web::to(knowledge::tools)),
];
