//! The one concrete store of Wearcourse, its clock and its source of ids.
//!
//! Every read and write goes through a [`store::Tx`], which belongs to one tenant: there is no other door to a
//! tenant's rows. This crate refuses to know HTTP and the rules of floor care; documents are opaque text. Beside the
//! store stand the readers of files that are handed over with buildings, and the depot for files that are handed out.

pub mod clock;
pub mod config;
pub mod depot;
pub mod handover;
pub mod row;
pub mod store;
#[cfg(any(test, feature = "testing"))]
pub mod testing;
