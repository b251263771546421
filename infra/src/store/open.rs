//! Opening the database: how its connections are set up, and the settings without which it is not opened.

use std::time::Duration;

use sea_orm::sqlx::sqlite::{SqliteJournalMode, SqliteSynchronous};
use sea_orm::{ConnectOptions, ConnectionTrait, Database, DatabaseConnection, DbErr, Statement};

use super::OpenError;
use crate::config::DatabaseConfig;

/// How long to wait for a connection.
pub(super) const ACQUIRE: Duration = Duration::from_secs(2);
const BUSY: Duration = Duration::from_secs(5);
/// A connection that has rested this long is asked for a sign of life before it is used.
pub(super) const RESTED: Duration = Duration::from_secs(30);
const READERS: u32 = 4;
/// The most connections that are kept for single statements; one process asks for no more at a time.
const HELD: u32 = 4;

/// How long a server works at a statement before it is given up.
pub(super) const STATEMENT: &str = "5s";

/// What a server's connection is told when it is made. A statement or lock that takes longer is given up.
const POSTGRES_SETTINGS: [(&str, &str); 3] = [
    ("lock_timeout", "2s"),
    ("statement_timeout", STATEMENT),
    ("idle_in_transaction_session_timeout", "10s"),
];

/// The pool that writes and the pool that reads.
pub(super) async fn connect(
    config: &DatabaseConfig,
) -> Result<(DatabaseConnection, DatabaseConnection), OpenError> {
    if config.url.starts_with("sqlite:")
        && !config.url.contains(":memory:")
        && !config.url.contains("mode=memory")
    {
        sqlite(config).await
    } else if is_postgres(&config.url) {
        let pool = postgres(config, config.max_connections, &POSTGRES_SETTINGS).await?;
        check_postgres(&pool, config.allow_unsafe_durability).await?;
        Ok((pool.clone(), pool))
    } else {
        Err(OpenError::Url)
    }
}

/// How many connections of the pool that reads are kept for single statements. A file's pool has more for them; of a
/// server's, which has as many as the configuration says, half are left to transactions.
pub(super) fn n_held(config: &DatabaseConfig) -> usize {
    let n = if is_postgres(&config.url) {
        HELD.min(config.max_connections / 2)
    } else {
        HELD
    };
    usize::try_from(n).unwrap_or_default()
}

/// Whether the URL names a server.
pub(super) fn is_postgres(url: &str) -> bool {
    url.starts_with("postgres://") || url.starts_with("postgresql://")
}

/// A pool of connections to a server with these settings.
pub(super) async fn postgres(
    config: &DatabaseConfig,
    max_connections: u32,
    settings: &'static [(&'static str, &'static str)],
) -> Result<DatabaseConnection, DbErr> {
    // The ORM knows the scheme by its short name only.
    let url = config.url.replacen("postgresql://", "postgres://", 1);
    let mut options = ConnectOptions::new(url);
    options
        .max_connections(max_connections)
        .acquire_timeout(ACQUIRE)
        .test_before_acquire_if_idle_for(RESTED)
        .sqlx_logging(false)
        .set_application_name("wearcourse")
        .map_sqlx_postgres_opts(|options| options.options(settings.iter().copied()));
    Database::connect(options).await
}

async fn check_postgres(pool: &DatabaseConnection, allow_unsafe: bool) -> Result<(), OpenError> {
    for setting in ["fsync", "full_page_writes", "synchronous_commit"] {
        let found = show(pool, &format!("SHOW {setting}")).await?;
        if found == "off" && !allow_unsafe {
            return Err(OpenError::Weak {
                setting,
                found,
                wanted: "on",
            });
        }
    }
    if !allow_unsafe {
        check_role(pool).await?;
    }
    Ok(())
}

/// Row-level security does not bind every role.
async fn check_role(pool: &DatabaseConnection) -> Result<(), OpenError> {
    let sql =
        "SELECT CASE WHEN rolsuper THEN 'superuser' WHEN rolbypassrls THEN 'bypassrls' ELSE '' END
               FROM pg_roles WHERE rolname = current_user";
    let found = show(pool, sql).await?;
    if found.is_empty() {
        return Ok(());
    }
    Err(OpenError::Weak {
        setting: "role",
        found,
        wanted: "one that row-level security binds",
    })
}

async fn sqlite(
    config: &DatabaseConfig,
) -> Result<(DatabaseConnection, DatabaseConnection), OpenError> {
    // The writer is first: it makes the file and its journal mode, which readers cannot.
    let writer = sqlite_pool(config, 1, BUSY, "OFF").await?;
    let reader = sqlite_pool(config, READERS.saturating_add(HELD), ACQUIRE, "ON").await?;
    for pool in [&writer, &reader] {
        check_sqlite(pool).await?;
    }
    Ok((writer, reader))
}

async fn sqlite_pool(
    config: &DatabaseConfig,
    max_connections: u32,
    acquire: Duration,
    query_only: &'static str,
) -> Result<DatabaseConnection, DbErr> {
    let mut options = ConnectOptions::new(config.url.clone());
    options
        .max_connections(max_connections)
        .acquire_timeout(acquire)
        // A file does not go away, and reopening it would throw its cache away.
        .idle_timeout(None)
        .max_lifetime(None)
        .test_before_acquire(false)
        .sqlx_logging(false)
        .map_sqlx_sqlite_opts(move |options| {
            options
                .create_if_missing(true)
                .journal_mode(SqliteJournalMode::Wal)
                .synchronous(SqliteSynchronous::Full)
                .foreign_keys(true)
                .busy_timeout(BUSY)
                .pragma("query_only", query_only)
        });
    Database::connect(options).await
}

/// Some file systems refuse the write-ahead log, and SQLite then goes on without it and says nothing.
async fn check_sqlite(pool: &DatabaseConnection) -> Result<(), OpenError> {
    let wanted = [
        ("journal_mode", "wal"),
        ("synchronous", "2"),
        ("foreign_keys", "1"),
    ];
    for (setting, wanted) in wanted {
        let found = show(
            pool,
            &format!("SELECT CAST({setting} AS text) FROM pragma_{setting}"),
        )
        .await?;
        if found != wanted {
            return Err(OpenError::Weak {
                setting,
                found,
                wanted,
            });
        }
    }
    Ok(())
}

/// The first column of the first row, as text.
async fn show(pool: &DatabaseConnection, sql: &str) -> Result<String, DbErr> {
    let statement = Statement::from_string(pool.get_database_backend(), sql);
    match pool.query_one_raw(statement).await? {
        Some(row) => row.try_get_by_index(0),
        None => Ok(String::new()),
    }
}
