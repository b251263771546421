//! Files of real buildings, hostile files, and files that were changed at random.

#![expect(
    clippy::float_cmp,
    reason = "figures of the ledger are whole in its own units, so their decimals are exact"
)]

mod book;
mod hostile;
mod limit;
mod mutated;
mod outlines;
mod samples;
