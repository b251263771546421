//! What holds for every operation, tested over the list of routes, so that a new route is tested or breaks the build.

mod authz;
mod bare;
mod framing;
mod hostile;
mod idempotency;
mod openapi;
mod operation;
mod problem;
mod text;
