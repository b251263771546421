//! What holds for every operation, tested over the list of routes, so that a new route is tested or breaks the build.

mod authz;
mod bare;
mod cut;
mod example;
mod framing;
mod guide;
mod hostile;
mod idempotency;
mod lost_update;
mod openapi;
mod operation;
mod path;
mod problem;
mod text;
