//! The transaction of one tenant, and every kind of row that it leads to.

use std::sync::{Mutex, PoisonError};

use domain::id::TenantId;
use sea_orm::{ConnectionTrait, DatabaseTransaction, DbBackend, Statement};

use super::{
    Audits, Budgets, CompletionLinks, Completions, ContractorSources, Contractors, Deliveries,
    Dues, EstimateJobs, Estimates, Extracts, FinishSynonyms, Histories, Idempotency, Imports,
    Inbounds, Observations, Outbox, Paces, Plans, Products, RateCards, Readings, ReportLinks,
    Reports, Revocations, Rollups, Schedules, Sites, StockItems, StoreError, Subscriptions,
    Surfaces, idempotency, open,
};

/// Who writes: kept with each row for its last change, and with each event for good.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct By {
    /// The program.
    pub client: String,
    /// On whose behalf, in the words of who issued the token; no name of a person is meant to be here.
    pub subject: String,
}

/// What a transaction of a server is told of itself when it begins.
pub(super) struct Manner {
    read_only: &'static str,
    statement_timeout: &'static str,
    /// Memory in bytes that a sort or a hash may take, unless the server grants more.
    work_mem: i64,
}

pub(super) const SHORT_READ: Manner = Manner {
    read_only: "on",
    statement_timeout: open::STATEMENT,
    work_mem: 0,
};
/// Sums over many rows may take longer, and are added up in memory: by a server's usual 4 MB the rows of a year (48,000 of 200 bytes) are
/// sorted on disk first, which took 1.7 times as long.
pub(super) const LONG_READ: Manner = Manner {
    read_only: "on",
    statement_timeout: "20s",
    work_mem: 32 << 20,
};
pub(super) const WRITE: Manner = Manner {
    read_only: "off",
    statement_timeout: open::STATEMENT,
    work_mem: 0,
};

/// A transaction of one tenant. Dropping it without [`Tx::commit`] rolls everything back.
#[derive(Debug)]
pub struct Tx {
    pub(super) inner: DatabaseTransaction,
    pub(super) tenant: TenantId,
    /// Who writes here.
    pub(super) by: Option<By>,
    /// The key that was started here and has no answer yet: client and key.
    started_key: Mutex<Option<(String, String)>>,
}

impl Tx {
    /// Names the tenant to the database, so that row-level security can be switched on without a change here.
    pub(super) async fn enter(
        inner: DatabaseTransaction,
        tenant: TenantId,
        manner: &Manner,
    ) -> Result<Self, StoreError> {
        if inner.get_database_backend() == DbBackend::Postgres {
            let sql = "SELECT set_config('app.tenant_id', $1, true), set_config('transaction_read_only', $2, true), \
                       set_config('statement_timeout', $3, true), set_config('work_mem', \
                       GREATEST(pg_size_bytes(current_setting('work_mem')), $4) / 1024 || 'kB', true)";
            let values = [
                tenant.uuid().to_string().into(),
                manner.read_only.into(),
                manner.statement_timeout.into(),
                manner.work_mem.into(),
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

    /// Which kind of database it is.
    pub(super) fn backend(&self) -> DbBackend {
        self.inner.get_database_backend()
    }

    /// Lets each statement from here on take so long (`20s`). SQLite has no such limit.
    pub(super) async fn allow_time(&self, most: &str) -> Result<(), StoreError> {
        self.set("statement_timeout", most).await
    }

    /// Lets the session rest so long (`20s`) between two statements, for who hands on what he has read meanwhile.
    pub(super) async fn allow_rest(&self, most: &str) -> Result<(), StoreError> {
        self.set("idle_in_transaction_session_timeout", most).await
    }

    /// Sets what SQLite does not have, until the transaction ends.
    async fn set(&self, name: &str, value: &str) -> Result<(), StoreError> {
        if self.inner.get_database_backend() == DbBackend::Postgres {
            let sql = "SELECT set_config($1, $2, true)";
            let values = [name.into(), value.into()];
            let statement = Statement::from_sql_and_values(DbBackend::Postgres, sql, values);
            self.inner.execute_raw(statement).await?;
        }
        Ok(())
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

    /// Who writes here, if that was said.
    pub const fn by(&self) -> Option<&By> {
        self.by.as_ref()
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

    /// What completions tell of production rates.
    pub const fn paces(&self) -> Paces<'_> {
        Paces(self)
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

    /// Schedules.
    pub const fn schedules(&self) -> Schedules<'_> {
        Schedules(self)
    }

    /// Estimates that are made in the background.
    pub const fn estimate_jobs(&self) -> EstimateJobs<'_> {
        EstimateJobs(self)
    }

    /// Files that were handed over with buildings.
    pub const fn imports(&self) -> Imports<'_> {
        Imports(self)
    }

    /// Whose tokens are refused before they end.
    pub const fn revocations(&self) -> Revocations<'_> {
        Revocations(self)
    }

    /// Finish words of the tenant's own.
    pub const fn finish_synonyms(&self) -> FinishSynonyms<'_> {
        FinishSynonyms(self)
    }

    /// Reports of work done and their lines.
    pub const fn completions(&self) -> Completions<'_> {
        Completions(self)
    }

    /// Measured values.
    pub const fn readings(&self) -> Readings<'_> {
        Readings(self)
    }

    /// When what is due on floors.
    pub const fn dues(&self) -> Dues<'_> {
        Dues(self)
    }

    /// What may be spent at sites.
    pub const fn budgets(&self) -> Budgets<'_> {
        Budgets(self)
    }

    /// What was known of films.
    pub const fn observations(&self) -> Observations<'_> {
        Observations(self)
    }

    /// What happened to surfaces.
    pub const fn histories(&self) -> Histories<'_> {
        Histories(self)
    }

    /// Who wants to be told of events.
    pub const fn subscriptions(&self) -> Subscriptions<'_> {
        Subscriptions(self)
    }

    /// Events on their way to them.
    pub const fn deliveries(&self) -> Deliveries<'_> {
        Deliveries(self)
    }

    /// Events on their way out.
    pub const fn outbox(&self) -> Outbox<'_> {
        Outbox(self)
    }

    /// Who did what.
    pub const fn audits(&self) -> Audits<'_> {
        Audits(self)
    }

    /// Answers kept for repeated requests.
    pub const fn idempotency(&self) -> Idempotency<'_> {
        Idempotency(self)
    }

    /// Links to completion forms.
    pub const fn completion_links(&self) -> CompletionLinks<'_> {
        CompletionLinks(self)
    }

    /// Links to reports.
    pub const fn report_links(&self) -> ReportLinks<'_> {
        ReportLinks(self)
    }

    /// Sums over completions by month, as they are kept.
    pub const fn rollups(&self) -> Rollups<'_> {
        Rollups(self)
    }

    /// Lines of completions as programs take them out.
    pub const fn extracts(&self) -> Extracts<'_> {
        Extracts(self)
    }

    /// Sums over completions.
    pub const fn reports(&self) -> Reports<'_> {
        Reports(self)
    }

    pub(super) fn take_started_key(&self) -> Option<(String, String)> {
        self.started_key
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    pub(super) fn set_started_key(&self, client: &str, key: &str) {
        let started = Some((client.to_owned(), key.to_owned()));
        *self
            .started_key
            .lock()
            .unwrap_or_else(PoisonError::into_inner) = started;
    }
}
