//! The store: one concrete type for SQLite and PostgreSQL, and the transaction that every read and write runs in.
//!
//! A [`Tx`] belongs to one tenant and commits or leaves nothing behind: dropping it rolls back. Reads that feed a
//! write happen on the same `Tx`. An error inside a writing `Tx` ends it; begin another to try again.

mod audit;
mod budget;
mod completion;
mod completion_link;
mod contractor;
mod contractor_source;
mod courier;
mod delivery;
mod due;
mod error;
mod estimate;
mod estimate_job;
mod extract;
mod finish_synonym;
mod glance;
mod grant;
mod held;
mod history;
mod idempotency;
mod import;
mod inbound;
mod job;
mod migrate;
mod observation;
mod open;
mod outbox;
mod pace;
mod page;
mod plan;
mod product;
mod rate_card;
mod reading;
mod report;
mod report_link;
mod revocation;
mod rollup;
mod schedule;
mod site;
mod stock_item;
mod subscription;
mod surface;
mod table;
mod tenant;
#[cfg(test)]
mod tests;
mod turn;
mod tx;
mod wait;

use std::{sync::Arc, time::Duration};

use domain::id::TenantId;
use sea_orm::{
    AccessMode, ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend,
    IsolationLevel, SqliteTransactionMode, Statement, TransactionOptions, TransactionTrait,
};

pub use self::audit::{AuditEnd, AuditFilter, Audits};
pub use self::budget::Budgets;
pub use self::completion::{CompletionFilter, Completions, DeviationFilter};
pub use self::completion_link::CompletionLinks;
pub use self::contractor::Contractors;
pub use self::contractor_source::ContractorSources;
pub use self::courier::Backlog;
pub use self::delivery::{Deliveries, DeliveryFilter, Recorded, Span};
pub use self::due::{Covering, DueFilter, DueKey, Dues, NoDueKey, Unreckoned};
pub use self::error::{Constraint, OpenError, StoreError};
pub use self::estimate::{EstimateFilter, Estimates};
pub use self::estimate_job::EstimateJobs;
pub use self::extract::{Extracts, LedgerLine};
pub use self::finish_synonym::{FinishSynonyms, MAX_FINISH_SYNONYMS};
pub use self::glance::{Access, Glance};
use self::held::Held;
pub use self::history::{ChangedSince, Histories, HistoryFilter, HistoryKey};
pub use self::idempotency::{Begin, Idempotency, StoredReply};
pub use self::import::{ImportEnd, Imports};
pub use self::inbound::{Arrival, Arrived, Inbounds};
pub use self::job::{DueJob, JobFilter, Lease};
pub use self::observation::Observations;
pub use self::outbox::Outbox;
pub use self::pace::{Paces, ToldFigure};
pub use self::page::Page;
pub use self::plan::{InputVersions, PlanFilter, Plans};
pub use self::product::Products;
pub use self::rate_card::RateCards;
pub use self::reading::{ReadingFilter, Readings};
pub use self::report::{
    Again, CostFilter, CostKey, CostRow, CostSums, CostsError, Dim, MAX_GROUPS, Reports, Wanted,
};
pub use self::report_link::ReportLinks;
pub use self::revocation::{MAX_REVOCATIONS, Revocations};
pub use self::rollup::Rollups;
pub use self::schedule::Schedules;
pub use self::site::{SiteFilter, Sites};
pub use self::stock_item::{StockItemFilter, StockItems};
pub use self::subscription::Subscriptions;
pub use self::surface::{RegisterLine, SurfaceFilter, Surfaces};
pub use self::tenant::Tenants;
pub use self::turn::{Order, Place, Turn};
pub use self::tx::{By, Tx};
use self::tx::{LONG_READ, SHORT_READ, WRITE};
use self::wait::Waits;
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
    waits: Waits,
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
            waits: Waits::default(),
        })
    }

    /// Starts a transaction that only reads. It sees what is committed and blocks no writer.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]: no connection within two seconds.
    pub async fn read(&self, tenant: TenantId) -> Result<Tx, StoreError> {
        let begun = self
            .reader
            .begin_with_options(TransactionOptions::default());
        let inner = self.waits.timed(begun).await?;
        Tx::enter(inner, tenant, &SHORT_READ).await
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
        let begun = self.reader.begin_with_options(options);
        let inner = self.waits.timed(begun).await?;
        Tx::enter(inner, tenant, &LONG_READ).await
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
        let begun = self.writer.begin_with_options(options);
        match self.waits.timed(begun).await.map_err(StoreError::from) {
            Ok(inner) => Tx::enter(inner, tenant, &WRITE).await,
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

    /// The store as the owner of the tables opens it, who alone adds and erases tenants; the same where the
    /// configuration names no owner.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub async fn as_owner(&self) -> Result<Self, OpenError> {
        if self.config.owner_url.is_none() {
            return Ok(self.clone());
        }
        Self::open(&self.config.as_owner()).await
    }

    /// Has every wait for a connection told from now on: how long it took until a transaction had begun on one. Whoever
    /// says so first is told, by all clones.
    pub fn tell_waits(&self, to: impl Fn(Duration) + Send + Sync + 'static) {
        self.waits.tell(Box::new(to));
    }

    /// How many connections are open, and how many of them nobody uses.
    pub fn connections(&self) -> Connections {
        let mut found = pool_of(&self.reader);
        if self.backend() == DbBackend::Sqlite {
            let writer = pool_of(&self.writer);
            found.open = found.open.saturating_add(writer.open);
            found.idle = found.idle.saturating_add(writer.idle);
        }
        // Those that rest on the shelf are lent by the pool, but nobody uses them.
        found.idle = found.idle.saturating_add(self.glances.n_resting());
        found
    }

    /// Whether the role that serves requests owns the tables: it could then take their fences down.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn owns_tables(&self) -> Result<bool, StoreError> {
        if self.backend() == DbBackend::Sqlite {
            return Ok(false);
        }
        let sql =
            "SELECT EXISTS (SELECT 1 FROM pg_class WHERE relname = 'tenants' AND relkind = 'r'
                   AND pg_has_role(relowner, 'USAGE'))";
        let asked = Statement::from_string(DbBackend::Postgres, sql);
        let row = self.reader.query_one_raw(asked).await?;
        Ok(row
            .map(|row| row.try_get_by_index(0))
            .transpose()?
            .unwrap_or_default())
    }

    /// A transaction that reads rows of all tenants in the tables through which a worker looks for work, and in no other.
    async fn look_for_work(&self) -> Result<DatabaseTransaction, StoreError> {
        let inner = self
            .reader
            .begin_with_options(TransactionOptions::default())
            .await?;
        if self.backend() == DbBackend::Postgres {
            let sql = "SELECT set_config('app.worker', 'on', true), set_config('transaction_read_only', 'on', true)";
            inner.execute_unprepared(sql).await?;
        }
        Ok(inner)
    }

    /// Whether a transaction that writes keeps all others from writing.
    pub fn has_one_writer(&self) -> bool {
        self.backend() == DbBackend::Sqlite
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

/// How the connections to the database are used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Connections {
    /// Those that are open.
    pub open: usize,
    /// Those of them that nobody uses.
    pub idle: usize,
}

fn pool_of(pool: &DatabaseConnection) -> Connections {
    let (open, idle) = if pool.get_database_backend() == DbBackend::Postgres {
        let pool = pool.get_postgres_connection_pool();
        (pool.size(), pool.num_idle())
    } else {
        let pool = pool.get_sqlite_connection_pool();
        (pool.size(), pool.num_idle())
    };
    Connections {
        open: usize::try_from(open).unwrap_or(usize::MAX),
        idle,
    }
}
