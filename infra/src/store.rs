//! The store: one concrete type for SQLite and PostgreSQL, and the transaction that every read and write runs in.
//!
//! A [`Tx`] belongs to one tenant and commits or leaves nothing behind: dropping it rolls back. Reads that feed a
//! write happen on the same `Tx`. An error inside a writing `Tx` ends it; begin another to try again.

mod completion;
mod contractor;
mod contractor_source;
mod error;
mod estimate;
mod estimate_job;
mod glance;
mod held;
mod history;
mod idempotency;
mod inbound;
mod migrate;
mod observation;
mod open;
mod outbox;
mod page;
mod plan;
mod product;
mod rate_card;
mod reading;
mod report;
mod report_link;
mod rollup;
mod site;
mod stock_item;
mod surface;
mod table;
mod tenant;
#[cfg(test)]
mod tests;

use std::sync::{Arc, Mutex, PoisonError};

use domain::id::TenantId;
use sea_orm::{
    AccessMode, ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend,
    IsolationLevel, SqliteTransactionMode, Statement, TransactionOptions, TransactionTrait,
};

pub use self::completion::{CompletionFilter, Completions};
pub use self::contractor::Contractors;
pub use self::contractor_source::ContractorSources;
pub use self::error::{Constraint, OpenError, StoreError};
pub use self::estimate::{EstimateFilter, Estimates};
pub use self::estimate_job::{DueJob, EstimateJobFilter, EstimateJobs, Lease};
pub use self::glance::{Access, Glance};
use self::held::Held;
pub use self::history::{Histories, HistoryFilter, HistoryKey};
pub use self::idempotency::{Begin, Idempotency, StoredReply};
pub use self::inbound::{Arrival, Arrived, Inbounds};
pub use self::observation::Observations;
pub use self::outbox::Outbox;
pub use self::page::Page;
pub use self::plan::{PlanFilter, Plans};
pub use self::product::Products;
pub use self::rate_card::RateCards;
pub use self::reading::{ReadingFilter, Readings};
pub use self::report::{
    Again, CostFilter, CostKey, CostRow, CostSums, CostsError, Dim, MAX_GROUPS, Reports, Wanted,
};
pub use self::report_link::ReportLinks;
pub use self::rollup::Rollups;
pub use self::site::{SiteFilter, Sites};
pub use self::stock_item::{StockItemFilter, StockItems};
pub use self::surface::{SurfaceFilter, Surfaces};
pub use self::tenant::Tenants;
use crate::config::DatabaseConfig;

/// The open database. Clones share its connections.
#[derive(Debug, Clone)]
pub struct Store {
    /// On SQLite one connection, so that writers queue here and not at the file's lock.
    writer: DatabaseConnection,
    /// On PostgreSQL the same pool as `writer`.
    reader: DatabaseConnection,
    /// Connections of `reader` on which single statements read.
    glances: Arc<Held>,
    config: Arc<DatabaseConfig>,
}

impl Store {
    /// Opens the database and checks that what it acknowledges survives a crash. Applies no migration.
    ///
    /// # Errors
    /// [`OpenError`]: a URL of no known kind, a setting that is too weak, or no answer.
    pub async fn open(config: &DatabaseConfig) -> Result<Self, OpenError> {
        let (writer, reader) = open::connect(config).await?;
        let n_held = open::n_held(config);
        Ok(Self {
            glances: Arc::new(Held::new(&reader, n_held)),
            writer,
            reader,
            config: Arc::new(config.clone()),
        })
    }

    /// Starts a transaction that only reads. It sees what is committed and blocks no writer.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]: no connection within two seconds.
    pub async fn read(&self, tenant: TenantId) -> Result<Tx, StoreError> {
        let inner = self
            .reader
            .begin_with_options(TransactionOptions::default())
            .await?;
        Tx::enter(inner, tenant, "on").await
    }

    /// Starts a transaction that only reads and sees one state of the database however many statements it takes: for sums
    /// that have to agree. On PostgreSQL it asks twice more than [`Store::read`], which sees what was committed before
    /// each statement.
    ///
    /// # Errors
    /// As [`Store::read`].
    pub async fn snapshot(&self, tenant: TenantId) -> Result<Tx, StoreError> {
        // SQLite reads a snapshot as it is, and its driver knows no other way.
        let is_server = self.backend() == DbBackend::Postgres;
        let options = TransactionOptions {
            isolation_level: is_server.then_some(IsolationLevel::RepeatableRead),
            access_mode: is_server.then_some(AccessMode::ReadOnly),
            ..TransactionOptions::default()
        };
        let inner = self.reader.begin_with_options(options).await?;
        Tx::enter(inner, tenant, "on").await
    }

    /// Reads by single statements. Each sees what is committed when it runs; for one record or one page this is all
    /// that is needed, and a good deal cheaper than [`Store::read`].
    pub fn glance(&self, tenant: TenantId) -> Glance<'_> {
        Glance {
            reader: &self.glances,
            tenant,
        }
    }

    /// Starts a transaction that may write. On SQLite it holds the one write lock from here on.
    ///
    /// # Errors
    /// [`StoreError::Contended`]: another writer held SQLite for too long. [`StoreError::Unavailable`]: no
    /// connection within two seconds.
    pub async fn begin(&self, tenant: TenantId) -> Result<Tx, StoreError> {
        let options = TransactionOptions {
            sqlite_transaction_mode: Some(SqliteTransactionMode::Immediate),
            ..TransactionOptions::default()
        };
        match self
            .writer
            .begin_with_options(options)
            .await
            .map_err(StoreError::from)
        {
            Ok(inner) => Tx::enter(inner, tenant, "off").await,
            // The pool of writers is the queue for the write lock, so waiting too long there is contention.
            Err(StoreError::Unavailable { .. }) if self.backend() == DbBackend::Sqlite => {
                Err(StoreError::Contended)
            }
            Err(error) => Err(error),
        }
    }

    /// The only door to rows that belong to no tenant.
    pub fn tenants(&self) -> Tenants<'_> {
        Tenants(self)
    }

    /// Asks the database for an answer.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]: none came.
    pub async fn ping(&self) -> Result<(), StoreError> {
        Ok(self.reader.ping().await?)
    }

    /// Gives all connections back; later calls fail as unavailable.
    ///
    /// # Errors
    /// What the driver answered.
    pub async fn close(&self) -> Result<(), StoreError> {
        self.glances.close();
        self.reader.close_by_ref().await?;
        Ok(self.writer.close_by_ref().await?)
    }

    /// Does to the database what no code of ours would do.
    ///
    /// # Errors
    /// What the database answered.
    #[cfg(any(test, feature = "testing"))]
    pub async fn execute(&self, sql: &str) -> Result<(), StoreError> {
        self.writer.execute_unprepared(sql).await?;
        Ok(())
    }

    fn backend(&self) -> DbBackend {
        self.writer.get_database_backend()
    }
}

/// Who writes: kept with each row for its last change, and with each event for good.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct By {
    /// The program.
    pub client: String,
    /// On whose behalf, in the words of who issued the token; no name of a person is meant to be here.
    pub subject: String,
}

/// A transaction of one tenant. Dropping it without [`Tx::commit`] rolls everything back.
#[derive(Debug)]
pub struct Tx {
    inner: DatabaseTransaction,
    tenant: TenantId,
    /// Who writes here.
    by: Option<By>,
    /// The key that was started here and has no answer yet: client and key.
    started_key: Mutex<Option<(String, String)>>,
}

impl Tx {
    /// Names the tenant to the database, so that row-level security can be switched on without a change here.
    async fn enter(
        inner: DatabaseTransaction,
        tenant: TenantId,
        read_only: &str,
    ) -> Result<Self, StoreError> {
        if inner.get_database_backend() == DbBackend::Postgres {
            let sql = "SELECT set_config('app.tenant_id', $1, true), set_config('transaction_read_only', $2, true)";
            let values = [
                tenant.uuid().to_string().into(),
                read_only.to_owned().into(),
            ];
            let statement = Statement::from_sql_and_values(DbBackend::Postgres, sql, values);
            inner.execute_raw(statement).await?;
        }
        Ok(Self {
            inner,
            tenant,
            by: None,
            started_key: Mutex::new(None),
        })
    }

    /// Everything that is written from here on is written down as theirs.
    #[must_use]
    pub fn signed_by(mut self, by: By) -> Self {
        self.by = Some(by);
        self
    }

    /// The tenant whose rows are seen here.
    pub const fn tenant(&self) -> TenantId {
        self.tenant
    }

    /// Makes all of it last, or none of it.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: an idempotency key was started and never finished, which is a mistake in the
    /// caller. Otherwise what the database answered; nothing has changed then, unless the connection was lost.
    pub async fn commit(self) -> Result<(), StoreError> {
        if let Some((client, key)) = self.take_started_key() {
            return Err(idempotency::unfinished(&client, &key));
        }
        Ok(self.inner.commit().await?)
    }

    /// Places with a time zone and a currency.
    pub const fn sites(&self) -> Sites<'_> {
        Sites(self)
    }

    /// Editions of the sites' rates.
    pub const fn rate_cards(&self) -> RateCards<'_> {
        RateCards(self)
    }

    /// Products of the tenant's own.
    pub const fn products(&self) -> Products<'_> {
        Products(self)
    }

    /// What sites have left over of their products.
    pub const fn stock_items(&self) -> StockItems<'_> {
        StockItems(self)
    }

    /// Organisations that do the work.
    pub const fn contractors(&self) -> Contractors<'_> {
        Contractors(self)
    }

    /// Where contractors' own systems send what happened.
    pub const fn contractor_sources(&self) -> ContractorSources<'_> {
        ContractorSources(self)
    }

    /// What contractors' own systems sent.
    pub const fn inbound(&self) -> Inbounds<'_> {
        Inbounds(self)
    }

    /// Floors.
    pub const fn surfaces(&self) -> Surfaces<'_> {
        Surfaces(self)
    }

    /// Plans and their lines.
    pub const fn plans(&self) -> Plans<'_> {
        Plans(self)
    }

    /// Estimates over many surfaces.
    pub const fn estimates(&self) -> Estimates<'_> {
        Estimates(self)
    }

    /// Estimates that are made in the background.
    pub const fn estimate_jobs(&self) -> EstimateJobs<'_> {
        EstimateJobs(self)
    }

    /// Reports of work done and their lines.
    pub const fn completions(&self) -> Completions<'_> {
        Completions(self)
    }

    /// Measured values.
    pub const fn readings(&self) -> Readings<'_> {
        Readings(self)
    }

    /// What was known of films.
    pub const fn observations(&self) -> Observations<'_> {
        Observations(self)
    }

    /// What happened to surfaces.
    pub const fn histories(&self) -> Histories<'_> {
        Histories(self)
    }

    /// Events on their way out.
    pub const fn outbox(&self) -> Outbox<'_> {
        Outbox(self)
    }

    /// Answers kept for repeated requests.
    pub const fn idempotency(&self) -> Idempotency<'_> {
        Idempotency(self)
    }

    /// Sums over completions.
    pub const fn reports(&self) -> Reports<'_> {
        Reports(self)
    }

    /// Links to reports.
    pub const fn report_links(&self) -> ReportLinks<'_> {
        ReportLinks(self)
    }

    /// Sums over completions by month, as they are kept.
    pub const fn rollups(&self) -> Rollups<'_> {
        Rollups(self)
    }

    fn take_started_key(&self) -> Option<(String, String)> {
        self.started_key
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    fn set_started_key(&self, client: &str, key: &str) {
        let started = Some((client.to_owned(), key.to_owned()));
        *self
            .started_key
            .lock()
            .unwrap_or_else(PoisonError::into_inner) = started;
    }
}
