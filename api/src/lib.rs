//! The HTTP face of Wearcourse and its command line.
//!
//! A request passes `edge` (name, limits, headers), the guard of its route (token, tenant, scope), its handler in
//! `http`, a use case in `app`, the store; `wire` holds what goes in and out. Nothing here knows SQL, and nothing
//! here decides how a floor is cared for.

mod app;
mod audit;
mod auth;
mod body;
mod bootstrap;
mod call;
mod command;
mod config;
mod context;
mod courier;
mod cursor;
mod demo;
mod edge;
mod egress;
mod etag;
mod guide;
mod hex;
mod http;
mod limit;
mod metrics;
mod openapi;
mod page;
mod paper;
mod patch;
mod problem;
mod query;
mod readiness;
mod running;
mod seal;
mod server;
mod sheet;
mod signature;
mod telemetry;
mod trace;
mod wire;
mod worker;
mod write;

pub use auth::{BUNDLES, Grant, MintError, SCOPES, ScopeInfo, mint};
pub use bootstrap::{Application, StartError, Stopper};
pub use command::run;
pub use config::{
    AuditConfig, AuthConfig, AuthKey, Config, ConfigFaults, DatabaseConfig, Deadlines, HttpConfig,
    JwksSource, LimitConfig, Network, NoNetwork, OutboundConfig, PaperConfig, Rate, SealConfig,
    SealKeyConfig, Secret, TelemetryConfig, VARIABLES, Variable,
};
pub use context::Parts;
pub use openapi::ApiDoc;
pub use problem::Code;

/// Every route as data: method, path as the API description has it, operation, scope; none for public routes.
pub fn routes() -> impl Iterator<Item = (&'static str, String, &'static str, Option<&'static str>)>
{
    http::ROUTES
        .iter()
        .filter(|route| route.kind.is_described())
        .map(|route| {
            let scope = match route.access {
                http::Access::Public => None,
                http::Access::Scope(scope) => Some(scope),
            };
            (
                route.kind.verb().as_str(),
                route.documented_path(),
                route.operation,
                scope,
            )
        })
}
