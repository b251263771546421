//! Connections for single statements that read, kept at hand.
//!
//! To give a connection back to the driver's pool costs a task and one more exchange with the database, by which the pool
//! learns that the connection is still good. A connection whose last statement went well is therefore kept here and lent
//! again. After a fault, or when who asked went away half-way, it falls back to the pool, which looks after it. What that
//! saves is read from the driver's source and has yet to be measured (`bash tests/run load`).

use std::fmt;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use async_trait::async_trait;
use sea_orm::sqlx::pool::PoolConnection;
use sea_orm::sqlx::query::Query;
use sea_orm::sqlx::{
    self, AssertSqlSafe, Database, Executor, IntoArguments, Pool, Postgres, Sqlite,
};
use sea_orm::{
    ConnAcquireErr, ConnectionTrait, DatabaseConnection, DbBackend, DbErr, ExecResult, QueryResult,
    RuntimeErr, Statement,
};
use sea_query_sqlx::SqlxValues;
use tokio::sync::{Semaphore, SemaphorePermit};
use tokio::time::timeout;

use super::open::{ACQUIRE, RESTED};

/// Connections of a pool, each lent for one statement.
#[derive(Debug)]
pub struct Held {
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

#[async_trait]
impl ConnectionTrait for Held {
    fn get_database_backend(&self) -> DbBackend {
        self.pool.get_database_backend()
    }

    async fn execute_raw(&self, statement: Statement) -> Result<ExecResult, DbErr> {
        self.pool.execute_raw(statement).await
    }

    async fn execute_unprepared(&self, sql: &str) -> Result<ExecResult, DbErr> {
        self.pool.execute_unprepared(sql).await
    }

    async fn query_one_raw(&self, statement: Statement) -> Result<Option<QueryResult>, DbErr> {
        match &self.shelf {
            Kind::Sqlite(file) => file.one(statement).await,
            Kind::Postgres(server) => server.one(statement).await,
        }
    }

    async fn query_all_raw(&self, statement: Statement) -> Result<Vec<QueryResult>, DbErr> {
        match &self.shelf {
            Kind::Sqlite(file) => file.all(statement).await,
            Kind::Postgres(server) => server.all(statement).await,
        }
    }
}

/// Connections that rest, each with the moment at which it was put here.
type Idle<D> = Vec<(PoolConnection<D>, Instant)>;

/// Connections of one driver.
struct Shelf<D: Database> {
    pool: Pool<D>,
    /// None once it is closed.
    idle: Mutex<Option<Idle<D>>>,
    /// The most that are kept.
    room: usize,
    turns: Semaphore,
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
        }
    }

    fn idle(&self) -> MutexGuard<'_, Option<Idle<D>>> {
        // A poisoned lock is an earlier panic elsewhere; the list itself is whole between two statements.
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A connection, and the turn to use it.
    async fn borrow(&self) -> Result<(SemaphorePermit<'_>, PoolConnection<D>), DbErr> {
        let late = |_| DbErr::ConnectionAcquire(ConnAcquireErr::Timeout);
        let closed = |_| DbErr::ConnectionAcquire(ConnAcquireErr::ConnectionClosed);
        let turn = match self.turns.try_acquire() {
            Ok(turn) => turn,
            Err(_taken) => timeout(ACQUIRE, self.turns.acquire())
                .await
                .map_err(late)?
                .map_err(closed)?,
        };
        let kept = self.idle().as_mut().and_then(Vec::pop);
        // One that rested for long may be dead by now: the pool finds out.
        let connection = match kept.filter(|(_, since)| since.elapsed() < RESTED) {
            Some((connection, _)) => connection,
            None => self.pool.acquire().await.map_err(not_acquired)?,
        };
        Ok((turn, connection))
    }

    /// Keeps a connection whose statement went well.
    fn put_back(&self, connection: PoolConnection<D>) {
        if let Some(idle) = self.idle().as_mut()
            && idle.len() < self.room
        {
            idle.push((connection, Instant::now()));
        }
    }
}

impl<D> Shelf<D>
where
    D: Database<Row: Into<QueryResult>>,
    SqlxValues: IntoArguments<D>,
    for<'a> &'a mut D::Connection: Executor<'a, Database = D>,
{
    async fn one(&self, statement: Statement) -> Result<Option<QueryResult>, DbErr> {
        let (_turn, mut connection) = self.borrow().await?;
        let row = query(statement).fetch_optional(&mut *connection).await;
        let row = row.map_err(failed)?;
        self.put_back(connection);
        Ok(row.map(Into::into))
    }

    async fn all(&self, statement: Statement) -> Result<Vec<QueryResult>, DbErr> {
        let (_turn, mut connection) = self.borrow().await?;
        let rows = query(statement).fetch_all(&mut *connection).await;
        let rows = rows.map_err(failed)?;
        self.put_back(connection);
        Ok(rows.into_iter().map(Into::into).collect())
    }
}

/// When the last clone of the store goes without having been closed, there may be no runtime left on which the pool
/// could take connections back.
impl<D: Database> Drop for Shelf<D> {
    fn drop(&mut self) {
        let rest = self.idle().take().into_iter().flatten();
        rest.for_each(|(connection, _)| drop(connection.leak()));
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
