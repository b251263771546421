//! What the service does: load, decide, save, tell, in the transaction that the caller opened.
//!
//! Knows no framework and no header; `http` does. Each file has the name of its resource.

pub(crate) mod completion;
pub(crate) mod contractor;
pub(crate) mod estimate;
pub(crate) mod film;
pub(crate) mod history;
pub(crate) mod observation;
pub(crate) mod plan;
pub(crate) mod product;
pub(crate) mod rate_card;
pub(crate) mod reading;
pub(crate) mod report;
pub(crate) mod site;
pub(crate) mod surface;
