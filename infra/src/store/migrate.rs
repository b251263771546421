//! Applying migrations so that two processes that start together do it once.

use migrations::Standing;
use sea_orm::{
    ConnectionTrait, DatabaseConnection, DbBackend, SqliteTransactionMode, TransactionOptions,
    TransactionTrait,
};
use tracing::info;

use super::{Store, StoreError, grant, open};

/// Names the lock of migrations among the advisory locks of a server: `wearcour` in ASCII.
const LOCK: i64 = 0x7765_6172_636f_7572;

/// A step may take long, but not wait long for others to let go of a table.
const SETTINGS: [(&str, &str); 2] = [("lock_timeout", "60s"), ("statement_timeout", "0")];

#[derive(Clone, Copy)]
enum Direction {
    Up,
    Down,
}

impl Store {
    /// Applies all pending steps and returns how many there were; waits for another process that is doing so.
    ///
    /// # Errors
    /// [`StoreError::Contended`]: the other process took more than a minute. Otherwise what the database answered.
    pub async fn migrate(&self) -> Result<usize, StoreError> {
        let unknown = self.standing().await?.unknown;
        if !unknown.is_empty() {
            info!(?unknown, "the database has seen steps of a newer release");
        }
        let n_applied = self.run(Direction::Up).await?;
        self.grant().await?;
        info!(n_applied, "migrations are applied");
        Ok(n_applied)
    }

    /// Takes back all steps, and with them every row. For tests.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn migrate_down(&self) -> Result<(), StoreError> {
        self.run(Direction::Down).await?;
        Ok(())
    }

    /// Which steps were not applied yet, and which were that this build does not know; changes nothing.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn standing(&self) -> Result<Standing, StoreError> {
        Ok(migrations::standing(&self.reader).await?)
    }

    async fn run(&self, direction: Direction) -> Result<usize, StoreError> {
        if self.backend() == DbBackend::Sqlite {
            return self.run_on_sqlite(direction).await;
        }
        // A pool of one is one session, and the lock belongs to the session.
        let session = self.owner_session().await?;
        let result = run_locked(&session, direction).await;
        session.close().await?;
        result
    }

    /// One session of the owner of the tables.
    async fn owner_session(&self) -> Result<DatabaseConnection, StoreError> {
        Ok(open::postgres(&self.config.as_owner(), 1, &SETTINGS).await?)
    }

    /// Where the tables have an owner of their own, lets the role that serves requests do what it needs, and no more.
    async fn grant(&self) -> Result<(), StoreError> {
        if self.backend() == DbBackend::Sqlite || self.config.owner_url.is_none() {
            return Ok(());
        }
        // Two that grant the same at once would get in each other's way: the lock ends with the session.
        let session = self.owner_session().await?;
        session
            .execute_unprepared(&format!("SELECT pg_advisory_lock({LOCK})"))
            .await?;
        let granted = grant::to_role_of(&self.writer, &session).await;
        session.close().await?;
        granted
    }

    async fn run_on_sqlite(&self, direction: Direction) -> Result<usize, StoreError> {
        let options = TransactionOptions {
            sqlite_transaction_mode: Some(SqliteTransactionMode::Exclusive),
            ..TransactionOptions::default()
        };
        let tx = self.writer.begin_with_options(options).await?;
        let n_steps = match direction {
            Direction::Up => migrations::up(&tx).await?,
            Direction::Down => migrations::down(&tx).await.map(|()| 0)?,
        };
        tx.commit().await?;
        Ok(n_steps)
    }
}

async fn run_locked(
    session: &DatabaseConnection,
    direction: Direction,
) -> Result<usize, StoreError> {
    session
        .execute_unprepared(&format!("SELECT pg_advisory_lock({LOCK})"))
        .await?;
    let result = match direction {
        Direction::Up => migrations::up(session).await,
        Direction::Down => migrations::down(session).await.map(|()| 0),
    };
    session
        .execute_unprepared(&format!("SELECT pg_advisory_unlock({LOCK})"))
        .await?;
    Ok(result?)
}
