//! The service seen from outside: one binary, a module for each resource and promise, and the rules of the house.

#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test that meets what it did not expect must stop there"
)]

mod batch;
mod clinic;
mod contract;
mod contractor;
mod estimate;
mod knowledge;
mod lockfile;
mod plan;
mod plan_facts;
mod site;
mod surface;
mod tidy;
