//! A glance: one statement that reads the rows of one tenant, and is its own transaction.
//!
//! A statement sees one state of the database with or without `BEGIN` around it, so what reads a single record or a
//! single page need not pay for three more exchanges with the database. What reads twice and needs both to agree takes
//! [`Store::read`](super::Store::read). What writes takes a [`Tx`]: no accessor writes through a glance.

use async_trait::async_trait;
use domain::id::TenantId;
use sea_orm::{
    ConnectionTrait, DatabaseTransaction, DbBackend, DbErr, ExecResult, QueryResult, Statement,
};

use super::held::Held;
use super::{
    CompletionLinks, Completions, ContractorSources, Contractors, Deliveries, Dues, EstimateJobs,
    Estimates, Imports, Plans, RateCards, Readings, ReportLinks, Schedules, Sites, Subscriptions,
    Surfaces, Tx,
};

/// From where the rows of one tenant are read.
pub trait Access: std::fmt::Debug + Send + Sync {
    /// What statements run on.
    type On: ConnectionTrait;

    /// What statements run on.
    fn on(&self) -> &Self::On;

    /// Whose rows these are.
    fn tenant(&self) -> TenantId;
}

impl Access for Tx {
    type On = DatabaseTransaction;

    fn on(&self) -> &DatabaseTransaction {
        &self.inner
    }

    fn tenant(&self) -> TenantId {
        self.tenant
    }
}

/// Reads the rows of one tenant, each statement by itself.
///
/// The tenant is in the condition of every statement, as in a [`Tx`], and PostgreSQL is told it beforehand.
#[derive(Debug)]
pub struct Glance<'a> {
    pub(super) reader: &'a Held,
    pub(super) tenant: TenantId,
}

impl Access for Glance<'_> {
    type On = Self;

    fn on(&self) -> &Self {
        self
    }

    fn tenant(&self) -> TenantId {
        self.tenant
    }
}

#[async_trait]
impl ConnectionTrait for Glance<'_> {
    fn get_database_backend(&self) -> DbBackend {
        self.reader.backend()
    }

    async fn execute_raw(&self, _: Statement) -> Result<ExecResult, DbErr> {
        Err(only_reads())
    }

    async fn execute_unprepared(&self, _: &str) -> Result<ExecResult, DbErr> {
        Err(only_reads())
    }

    async fn query_one_raw(&self, statement: Statement) -> Result<Option<QueryResult>, DbErr> {
        self.reader.one(self.tenant, statement).await
    }

    async fn query_all_raw(&self, statement: Statement) -> Result<Vec<QueryResult>, DbErr> {
        self.reader.all(self.tenant, statement).await
    }
}

fn only_reads() -> DbErr {
    DbErr::Custom("a glance only reads".to_owned())
}

impl Glance<'_> {
    /// Places with a time zone and a currency.
    pub const fn sites(&self) -> Sites<'_, Self> {
        Sites(self)
    }

    /// Editions of the sites' rates.
    pub const fn rate_cards(&self) -> RateCards<'_, Self> {
        RateCards(self)
    }

    /// Organisations that do the work.
    pub const fn contractors(&self) -> Contractors<'_, Self> {
        Contractors(self)
    }

    /// Where contractors' own systems send what happened.
    pub const fn contractor_sources(&self) -> ContractorSources<'_, Self> {
        ContractorSources(self)
    }

    /// Floors.
    pub const fn surfaces(&self) -> Surfaces<'_, Self> {
        Surfaces(self)
    }

    /// Plans and their lines.
    pub const fn plans(&self) -> Plans<'_, Self> {
        Plans(self)
    }

    /// Estimates over many surfaces.
    pub const fn estimates(&self) -> Estimates<'_, Self> {
        Estimates(self)
    }

    /// Schedules.
    pub const fn schedules(&self) -> Schedules<'_, Self> {
        Schedules(self)
    }

    /// Estimates that are made in the background.
    pub const fn estimate_jobs(&self) -> EstimateJobs<'_, Self> {
        EstimateJobs(self)
    }

    /// Files that were handed over with buildings.
    pub const fn imports(&self) -> Imports<'_, Self> {
        Imports(self)
    }

    /// Reports of work done and their lines.
    pub const fn completions(&self) -> Completions<'_, Self> {
        Completions(self)
    }

    /// Links to completion forms.
    pub const fn completion_links(&self) -> CompletionLinks<'_, Self> {
        CompletionLinks(self)
    }

    /// Links to reports.
    pub const fn report_links(&self) -> ReportLinks<'_, Self> {
        ReportLinks(self)
    }

    /// When what is due on floors.
    pub const fn dues(&self) -> Dues<'_, Self> {
        Dues(self)
    }

    /// Measured values.
    pub const fn readings(&self) -> Readings<'_, Self> {
        Readings(self)
    }

    /// Who wants to be told of events.
    pub const fn subscriptions(&self) -> Subscriptions<'_, Self> {
        Subscriptions(self)
    }

    /// Events on their way to them.
    pub const fn deliveries(&self) -> Deliveries<'_, Self> {
        Deliveries(self)
    }
}
