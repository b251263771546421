//! What every request can reach: the store, the time, fresh ids, and the keys that the service holds.

use std::sync::Arc;

use domain::knowledge::KnowledgeBase;
use infra::{
    clock::{Clock, IdSource},
    store::Store,
};

use tokio::sync::Notify;

use crate::{
    app::{import::Headway, learning::Lately},
    auth::{Accepted, Published, Revoked, Tenants, Verifier},
    config::Deadlines,
    cursor::CursorKey,
    egress::Egress,
    limit::Limits,
    metrics::Metrics,
    paper::Press,
    readiness::Readiness,
    running::Running,
    seal::SealKeys,
};

/// The parts that the service is made of and that tests replace.
#[derive(Clone)]
pub struct Parts {
    /// Where the records are; open and migrated.
    pub store: Store,
    /// What time it is.
    pub clock: Arc<dyn Clock>,
    /// Where ids of records come from.
    pub ids: Arc<dyn IdSource>,
}

impl std::fmt::Debug for Parts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Parts { .. }")
    }
}

/// What every request can reach; shared by all threads.
pub(crate) struct Context {
    /// Where the records are.
    pub(crate) store: Store,
    /// What time it is: the only clock of the service.
    pub(crate) clock: Arc<dyn Clock>,
    /// Where ids of records come from.
    pub(crate) ids: Arc<dyn IdSource>,
    /// What is known of materials, products and processes.
    pub(crate) knowledge: &'static KnowledgeBase,
    /// Signs the cursors of lists.
    pub(crate) cursors: CursorKey,
    /// Seals the secrets that are kept.
    pub(crate) seals: SealKeys,
    /// The rules for tokens.
    pub(crate) verifier: Verifier,
    /// The keys that the issuer publishes, if they are not in the configuration.
    pub(crate) published: Option<Published>,
    /// The tokens that were accepted lately.
    pub(crate) accepted: Accepted,
    /// The tenants that called lately.
    pub(crate) tenants: Tenants,
    /// Whose tokens are refused before they end.
    pub(crate) revoked: Revoked,
    /// What was learnt lately of production rates.
    pub(crate) learnt: Lately,
    /// How much one caller may take.
    pub(crate) limits: Limits,
    /// How long things may take.
    pub(crate) deadlines: Deadlines,
    /// What is counted.
    pub(crate) metrics: Metrics,
    /// Whether the service can work.
    pub(crate) readiness: Readiness,
    /// The idempotency keys that are being worked on.
    pub(crate) running: Running,
    /// How far the worker is with a file.
    pub(crate) headway: Headway,
    /// Told when there is work for the worker.
    pub(crate) jobs: Notify,
    /// Told when there is a schedule to be made.
    pub(crate) schedules: Notify,
    /// Told when there is something for the courier.
    pub(crate) outbound: Notify,
    /// What sheets are printed with.
    pub(crate) press: Arc<Press>,
    /// The way out.
    pub(crate) egress: Egress,
    /// What comes before a path to make it absolute; empty if not configured.
    pub(crate) base: String,
    /// Whether `/docs/` is shown.
    pub(crate) docs: bool,
}
