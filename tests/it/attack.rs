//! Attacks that take more than one request: crowds, faults of the database, secrets where they do not belong, hostile text
//! and hostile surroundings.

mod crowd;
mod fault;
mod naughty;
mod outgoing;
mod secret;
