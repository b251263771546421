//! What the tests share: the running service of one test, a client, things to send, and the clinic walk-through.
//!
//! Everything here sees the service from outside, over real sockets; [`app::TestApp`] alone knows how it is started.

pub mod app;
pub mod build;
pub mod client;
pub mod clinic;
pub mod ground;
pub mod inbound;
pub mod link;
pub mod pdf;
pub mod raw;
pub mod read;
pub mod receiver;
pub mod snapshot;
