//! The service seen from outside: one binary, a module for each resource and promise, and the rules of the house.

#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test that meets what it did not expect must stop there"
)]

mod contractor;
mod lockfile;
mod tidy;
