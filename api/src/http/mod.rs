//! Every route of the service, as data: what is served, what is documented and what is guarded is this list.
//!
//! [`crate::server`] makes the resources from it, [`crate::openapi`] adds to each operation what its kind implies
//! (problems, headers, security), and a test compares it with the API description.

pub(crate) mod contractor;
pub(crate) mod description;
pub(crate) mod estimate;
mod external;
pub(crate) mod health;
pub(crate) mod plan;
pub(crate) mod problem;
mod route;
pub(crate) mod site;

pub(crate) use route::{Access, Kind, Route, Verb, allow};

use actix_web::web;

use crate::auth::{
    Scope,
    scope::{ContractorsRead, ContractorsWrite, EstimatesRead, EstimatesWrite, PlansRead, PlansWrite, SitesRead, SitesWrite},
};

/// The routes, by path.
#[rustfmt::skip]
pub(crate) static ROUTES: &[Route] = &[
    Route::new(Kind::Public, "/livez",                              "isAlive",            Access::Public,                        || web::to(health::live)),
    Route::new(Kind::Public, "/readyz",                             "isReady",            Access::Public,                        || web::to(health::ready)),
    Route::new(Kind::Public, "/openapi.json",                       "describeApi",        Access::Public,                        || web::to(description::document)),
    Route::new(Kind::Page,   "/docs/{file:.*}",                     "showDescription",    Access::Public,                        || web::to(description::page)),
    Route::new(Kind::Public, "/problems/{code}",                    "explainProblem",     Access::Public,                        || web::to(problem::explain)),
    Route::new(Kind::Create, "/v1/contractors",                     "registerContractor", Access::Scope(ContractorsWrite::NAME), || web::to(contractor::register)),
    Route::new(Kind::List,   "/v1/contractors",                     "listContractors",    Access::Scope(ContractorsRead::NAME),  || web::to(contractor::list)),
    Route::new(Kind::Read,   "/v1/contractors/{contractor_id}",     "getContractor",      Access::Scope(ContractorsRead::NAME),  || web::to(contractor::get)),
    Route::new(Kind::Create, "/v1/estimates",                       "makeEstimate",       Access::Scope(EstimatesWrite::NAME),   || web::to(estimate::make)),
    Route::new(Kind::List,   "/v1/estimates",                       "listEstimates",      Access::Scope(EstimatesRead::NAME),    || web::to(estimate::list)),
    Route::new(Kind::Read,   "/v1/estimates/{estimate_id}",         "getEstimate",        Access::Scope(EstimatesRead::NAME),    || web::to(estimate::get)),
    Route::new(Kind::Create, "/v1/plans",                           "proposePlan",        Access::Scope(PlansWrite::NAME),       || web::to(plan::propose)),
    Route::new(Kind::List,   "/v1/plans",                           "listPlans",          Access::Scope(PlansRead::NAME),        || web::to(plan::list)),
    Route::new(Kind::Read,   "/v1/plans/{plan_id}",                 "getPlan",            Access::Scope(PlansRead::NAME),        || web::to(plan::get)),
    Route::new(Kind::Create, "/v1/sites",                           "registerSite",       Access::Scope(SitesWrite::NAME),       || web::to(site::register)),
    Route::new(Kind::List,   "/v1/sites",                           "listSites",          Access::Scope(SitesRead::NAME),        || web::to(site::list)),
    Route::new(Kind::Read,   "/v1/sites/{site_id}",                 "getSite",            Access::Scope(SitesRead::NAME),        || web::to(site::get)),
    Route::new(Kind::Change, "/v1/sites/{site_id}",                 "changeSite",         Access::Scope(SitesWrite::NAME),       || web::to(site::change)),
];
