//! Connections for single statements that read, kept at hand.
//!
//! To give a connection back to the driver's pool costs a task and one more exchange with the database, by which the pool
//! learns that the connection is still good. A connection whose last statement went well is therefore kept here and lent
//! again. Before tenants were told to the server, reading a surface took 81 us of PostgreSQL's time so, and 130 us by way of
//! the pool (`bash tests/run load`).
//!
//! A server is told the tenant before the first statement for it, for the session: one more exchange whenever the tenant
//! changes, where a transaction would take three. Such a connection never goes back to the pool, where somebody
//! might ask on it without saying for whom: after a fault, or when who asked went away half-way, it is closed.

mod together;

use std::fmt;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use domain::id::TenantId;
use sea_orm::sqlx::pool::PoolConnection;
use sea_orm::sqlx::query::Query;
use sea_orm::sqlx::{
    self, AssertSqlSafe, Database, Executor, IntoArguments, Pool, Postgres, Sqlite,
};
use sea_orm::{
    ConnAcquireErr, DatabaseConnection, DbBackend, DbErr, QueryResult, RuntimeErr, Statement,
};
use sea_query_sqlx::SqlxValues;
use tokio::sync::{Semaphore, SemaphorePermit};
use tokio::time::timeout;
use uuid::Uuid;

use self::together::{Found, Waiting};
use super::open::{ACQUIRE, RESTED};

/// Connections of a pool, each lent for one statement of a tenant.
#[derive(Debug)]
pub(super) struct Held {
    pool: DatabaseConnection,
    shelf: Kind,
}

#[derive(Debug)]
enum Kind {
    Sqlite(Shelf<Sqlite>),
    Postgres(Shelf<Postgres>),
}

impl Held {
    /// Keeps up to `n` connections of the pool; with none, each statement takes one from there.
    pub(super) fn new(pool: &DatabaseConnection, n: usize) -> Self {
        let shelf = if pool.get_database_backend() == DbBackend::Postgres {
            Kind::Postgres(Shelf::new(pool.get_postgres_connection_pool(), n))
        } else {
            Kind::Sqlite(Shelf::new(pool.get_sqlite_connection_pool(), n))
        };
        Self {
            pool: pool.clone(),
            shelf,
        }
    }

    /// Gives the connections back to the pool and keeps none from now on.
    pub(super) fn close(&self) {
        match &self.shelf {
            Kind::Sqlite(file) => drop(file.idle().take()),
            Kind::Postgres(server) => drop(server.idle().take()),
        }
    }
}

impl Held {
    /// How many connections are kept and not lent.
    pub(super) fn n_resting(&self) -> usize {
        match &self.shelf {
            Kind::Sqlite(file) => file.idle().as_ref().map_or(0, Vec::len),
            Kind::Postgres(server) => server.idle().as_ref().map_or(0, Vec::len),
        }
    }

    /// Which kind of database it is.
    pub(super) fn backend(&self) -> DbBackend {
        self.pool.get_database_backend()
    }

    /// The first row that a statement of a tenant finds.
    pub(super) async fn one(
        &self,
        tenant: TenantId,
        statement: Statement,
    ) -> Result<Option<QueryResult>, DbErr> {
        match &self.shelf {
            Kind::Sqlite(file) => file.one(tenant, statement).await,
            Kind::Postgres(server) => server.one(tenant, statement).await,
        }
    }

    /// The rows that a statement of a tenant finds.
    pub(super) async fn all(
        &self,
        tenant: TenantId,
        statement: Statement,
    ) -> Result<Vec<QueryResult>, DbErr> {
        match &self.shelf {
            Kind::Sqlite(file) => file.all(tenant, statement).await,
            Kind::Postgres(server) => server.all(tenant, statement).await,
        }
    }

    /// Version and document of a row of a tenant.
    pub(super) async fn document(
        &self,
        tenant: TenantId,
        table: &'static str,
        id: Uuid,
    ) -> Result<Found, DbErr> {
        match &self.shelf {
            Kind::Sqlite(file) => file.document((tenant, table), id).await,
            Kind::Postgres(server) => server.document((tenant, table), id).await,
        }
    }
}

/// A connection that rests, or is lent.
struct Resting<D: Database> {
    /// There until it is dropped.
    connection: Option<PoolConnection<D>>,
    /// The moment at which it was put here.
    since: Instant,
    /// The tenant that its session was told last.
    told: Option<TenantId>,
    /// Whether its session was told of any tenant, or may have been.
    is_ours: bool,
}

impl<D: Database> Resting<D> {
    fn new(connection: PoolConnection<D>) -> Self {
        Self {
            connection: Some(connection),
            since: Instant::now(),
            told: None,
            is_ours: false,
        }
    }

    fn connection(&mut self) -> Result<&mut D::Connection, DbErr> {
        let closed = || DbErr::ConnectionAcquire(ConnAcquireErr::ConnectionClosed);
        self.connection.as_deref_mut().ok_or_else(closed)
    }
}

/// A session that was told of a tenant ends here.
impl<D: Database> Drop for Resting<D> {
    fn drop(&mut self) {
        if let Some(connection) = self.connection.take()
            && self.is_ours
        {
            drop(connection.detach());
        }
    }
}

/// Connections that rest.
type Idle<D> = Vec<Resting<D>>;

/// Connections of one driver.
struct Shelf<D: Database> {
    pool: Pool<D>,
    /// None once it is closed.
    idle: Mutex<Option<Idle<D>>>,
    /// The most that are kept.
    room: usize,
    turns: Semaphore,
    /// Who waits for a turn to read a document.
    waiting: Waiting,
}

impl<D: Database> fmt::Debug for Shelf<D> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Shelf")
            .field("turns", &self.turns)
            .finish_non_exhaustive()
    }
}

impl<D: Database> Shelf<D> {
    fn new(pool: &Pool<D>, n: usize) -> Self {
        Self {
            pool: pool.clone(),
            idle: Mutex::new(Some(Vec::new())),
            room: n,
            turns: Semaphore::new(n.max(1)),
            waiting: Waiting::default(),
        }
    }

    fn idle(&self) -> MutexGuard<'_, Option<Idle<D>>> {
        // A poisoned lock is an earlier panic elsewhere; the list itself is whole between two statements.
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The right to use a connection.
    async fn turn(&self) -> Result<SemaphorePermit<'_>, DbErr> {
        let closed = |_closed| DbErr::ConnectionAcquire(ConnAcquireErr::ConnectionClosed);
        match self.turns.try_acquire() {
            Ok(turn) => Ok(turn),
            Err(_taken) => timeout(ACQUIRE, self.turns.acquire())
                .await
                .map_err(|_elapsed| DbErr::ConnectionAcquire(ConnAcquireErr::Timeout))?
                .map_err(closed),
        }
    }

    /// A connection for who has a turn: one whose session was told of the tenant before, if there is one.
    async fn borrow(&self, tenant: TenantId) -> Result<Resting<D>, DbErr> {
        let kept = self.take_from_shelf(tenant);
        // One that rested for long may be dead by now: the pool finds out.
        match kept.filter(|kept| kept.since.elapsed() < RESTED) {
            Some(kept) => Ok(kept),
            None => Ok(Resting::new(
                self.pool.acquire().await.map_err(not_acquired)?,
            )),
        }
    }

    fn take_from_shelf(&self, tenant: TenantId) -> Option<Resting<D>> {
        let mut idle = self.idle();
        let idle = idle.as_mut()?;
        let place = idle.iter().rposition(|kept| kept.told == Some(tenant));
        match place {
            Some(place) => Some(idle.swap_remove(place)),
            None => idle.pop(),
        }
    }

    /// Keeps a connection whose statement went well.
    fn put_back(&self, mut resting: Resting<D>) {
        if let Some(idle) = self.idle().as_mut()
            && idle.len() < self.room
        {
            resting.since = Instant::now();
            idle.push(resting);
        }
    }
}

impl<D> Shelf<D>
where
    D: Database<Row: Into<QueryResult>> + Driver,
    SqlxValues: IntoArguments<D>,
    for<'a> &'a mut D::Connection: Executor<'a, Database = D>,
{
    async fn one(
        &self,
        tenant: TenantId,
        statement: Statement,
    ) -> Result<Option<QueryResult>, DbErr> {
        let _turn = self.turn().await?;
        let mut resting = self.borrow(tenant).await?;
        tell(&mut resting, tenant).await?;
        let row = query(statement).fetch_optional(resting.connection()?).await;
        let row = row.map_err(failed)?;
        self.put_back(resting);
        Ok(row.map(Into::into))
    }

    async fn all(&self, tenant: TenantId, statement: Statement) -> Result<Vec<QueryResult>, DbErr> {
        let _turn = self.turn().await?;
        self.rows(tenant, vec![statement]).await
    }

    /// What statements of a tenant find, one after the other, for who has a turn.
    async fn rows(
        &self,
        tenant: TenantId,
        statements: Vec<Statement>,
    ) -> Result<Vec<QueryResult>, DbErr> {
        let mut resting = self.borrow(tenant).await?;
        tell(&mut resting, tenant).await?;
        let mut found = Vec::new();
        for statement in statements {
            let rows = query(statement).fetch_all(resting.connection()?).await;
            found.extend(rows.map_err(failed)?.into_iter().map(Into::into));
        }
        self.put_back(resting);
        Ok(found)
    }
}

/// A driver of one of the two databases; only the server asks its session for the tenant.
trait Driver {
    /// Which it is.
    const BACKEND: DbBackend;
}

impl Driver for Sqlite {
    const BACKEND: DbBackend = DbBackend::Sqlite;
}

impl Driver for Postgres {
    const BACKEND: DbBackend = DbBackend::Postgres;
}

/// Names the tenant to the session, unless it is the one that it knows.
async fn tell<D>(resting: &mut Resting<D>, tenant: TenantId) -> Result<(), DbErr>
where
    D: Database + Driver,
    SqlxValues: IntoArguments<D>,
    for<'a> &'a mut D::Connection: Executor<'a, Database = D>,
{
    if D::BACKEND != DbBackend::Postgres || resting.told == Some(tenant) {
        return Ok(());
    }
    // From here on it is nobody else's: whatever goes wrong, it is closed.
    (resting.is_ours, resting.told) = (true, None);
    let sql = "SELECT set_config('app.tenant_id', $1, false)";
    let values = [tenant.uuid().to_string().into()];
    let statement = Statement::from_sql_and_values(DbBackend::Postgres, sql, values);
    let told = query(statement).execute(resting.connection()?).await;
    told.map_err(failed)?;
    resting.told = Some(tenant);
    Ok(())
}

/// When the last clone of the store goes without having been closed, there may be no runtime left on which the pool
/// could take connections back.
impl<D: Database> Drop for Shelf<D> {
    fn drop(&mut self) {
        let rest = self.idle().take().into_iter().flatten();
        rest.for_each(|mut resting| drop(resting.connection.take().map(PoolConnection::leak)));
    }
}

fn query<'q, D>(statement: Statement) -> Query<'q, D, SqlxValues>
where
    D: Database,
    SqlxValues: IntoArguments<D>,
{
    let values = statement
        .values
        .unwrap_or_else(|| sea_orm::Values(Vec::new()));
    sqlx::query_with(AssertSqlSafe(statement.sql), SqlxValues(values))
}

fn failed(error: sqlx::Error) -> DbErr {
    DbErr::Query(RuntimeErr::SqlxError(error.into()))
}

fn not_acquired(error: sqlx::Error) -> DbErr {
    match error {
        sqlx::Error::PoolTimedOut => DbErr::ConnectionAcquire(ConnAcquireErr::Timeout),
        sqlx::Error::PoolClosed => DbErr::ConnectionAcquire(ConnAcquireErr::ConnectionClosed),
        other => DbErr::Conn(RuntimeErr::SqlxError(other.into())),
    }
}
