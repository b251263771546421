//! A database for each test: a file by default, a copy of a migrated template on a server if one is named.

use std::thread;

use sea_orm::{ConnectOptions, ConnectionTrait, Database, DatabaseConnection, DbErr, Statement};
use tempfile::TempDir;
use tokio::sync::OnceCell;

use crate::config::DatabaseConfig;
use crate::row::TenantRow;
use crate::store::{OpenError, Store, StoreError};

/// The variable that names a server for tests: `postgres://user@host:port/database`, where `user` is a superuser and
/// `database` one to connect to for creating and dropping others.
pub const TEST_DATABASE_URL: &str = "WEARCOURSE_TEST_DATABASE_URL";

/// Whose the tables are, and who uses them: neither is a superuser, so that every test runs behind the fences.
const OWNER: &str = "wearcourse_test_owner";
const RUNTIME: &str = "wearcourse_test_runtime";

/// Names the lock of template making among the advisory locks of a server: `wctestdb` in ASCII.
const LOCK: i64 = 0x7763_7465_7374_6462;

/// The template is made once per process and kept on the server for the next one.
static TEMPLATE: OnceCell<String> = OnceCell::const_new();

/// An open, migrated, empty database that goes away with this value.
#[derive(Debug)]
pub struct TestStore {
    store: Store,
    config: DatabaseConfig,
    place: Place,
}

#[derive(Debug)]
enum Place {
    File { _directory: TempDir },
    Server { url: String, database: String },
}

#[expect(
    clippy::expect_used,
    reason = "a test that gets no database cannot go on"
)]
impl TestStore {
    /// A migrated database: on the server that [`TEST_DATABASE_URL`] names, else a file.
    ///
    /// # Panics
    /// If it cannot be made.
    pub async fn new() -> Self {
        match server_url() {
            Some(url) => Self::on_server(url, true)
                .await
                .expect("a database on the test server"),
            None => Self::in_file(true)
                .await
                .expect("a database in a temporary directory"),
        }
    }

    /// A migrated database in a file, whatever server is named.
    ///
    /// # Panics
    /// If it cannot be made.
    pub async fn file() -> Self {
        Self::in_file(true)
            .await
            .expect("a database in a temporary directory")
    }

    /// A database of the same kind to which no migration was applied.
    ///
    /// # Panics
    /// If it cannot be made.
    pub async fn bare() -> Self {
        match server_url() {
            Some(url) => Self::on_server(url, false)
                .await
                .expect("a database on the test server"),
            None => Self::in_file(false)
                .await
                .expect("a database in a temporary directory"),
        }
    }

    async fn in_file(migrated: bool) -> Result<Self, OpenError> {
        let directory = TempDir::new().expect("a temporary directory");
        let path = directory.path().join("wearcourse.sqlite");
        let config = DatabaseConfig::new(format!("sqlite://{}", path.display()));
        let store = Store::open(&config).await?;
        if migrated {
            store.migrate().await?;
        }
        Ok(Self {
            store,
            config,
            place: Place::File {
                _directory: directory,
            },
        })
    }

    async fn on_server(url: String, migrated: bool) -> Result<Self, OpenError> {
        let database = format!("wearcourse_test_{}", fresh_name());
        let admin = connect(&url).await?;
        // Also for a database without tables: it makes the roles.
        let template = TEMPLATE.get_or_try_init(|| template(&admin, &url)).await?;
        let template = if migrated { template } else { "template0" };
        let create = format!("CREATE DATABASE {database} OWNER {OWNER} TEMPLATE {template}");
        run(&admin, &create).await?;
        admin.close().await?;
        let config = config_of(&url, &database);
        let store = Store::open(&config).await?;
        Ok(Self {
            store,
            config,
            place: Place::Server { url, database },
        })
    }
}

#[expect(
    clippy::expect_used,
    reason = "a test whose database does not answer cannot go on"
)]
impl TestStore {
    /// The open store.
    pub const fn store(&self) -> &Store {
        &self.store
    }

    /// How to open the same database again, as a second process would.
    pub const fn config(&self) -> &DatabaseConfig {
        &self.config
    }

    /// The same database as the owner of its tables opens it.
    ///
    /// # Panics
    /// If it cannot be opened.
    pub async fn as_owner(&self) -> Store {
        let opened = self.store.as_owner().await;
        opened.expect("the owner opens the database")
    }

    /// Adds a tenant, as its owner does.
    ///
    /// # Panics
    /// If it cannot be added.
    pub async fn add_tenant(&self, row: &TenantRow) {
        let owner = self.as_owner().await;
        owner.tenants().add(row).await.expect("a tenant is added");
        if self.is_server() {
            owner.close().await.expect("closed");
        }
    }

    /// Does to the database what no code of ours would do, past every fence.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn execute(&self, sql: &str) -> Result<(), StoreError> {
        match &self.place {
            Place::File { .. } => self.store.execute(sql).await,
            Place::Server { url, database } => {
                let admin = connect(&address(url, None, database)).await?;
                run(&admin, sql).await?;
                Ok(admin.close().await?)
            }
        }
    }

    /// What the database says past every fence: the first column, a text, of the first row.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn ask(&self, sql: &str) -> Result<String, StoreError> {
        let url = match &self.place {
            Place::File { .. } => self.config.url.clone(),
            Place::Server { url, database } => address(url, None, database),
        };
        let admin = connect(&url).await?;
        let asked = Statement::from_string(admin.get_database_backend(), sql);
        let row = admin.query_one_raw(asked).await?;
        let told = row.map(|row| row.try_get_by_index(0)).transpose()?;
        admin.close().await?;
        Ok(told.unwrap_or_default())
    }

    /// Whether it is on a server; else it is a file.
    pub const fn is_server(&self) -> bool {
        matches!(self.place, Place::Server { .. })
    }
}

impl Drop for TestStore {
    /// A file goes with its directory. A server is asked from a thread of its own, because the runtime of the test
    /// may be ending; a database that stays behind does no harm, so a failure is left alone.
    fn drop(&mut self) {
        if let Place::Server { url, database } = &self.place {
            let (url, sql) = (
                url.clone(),
                format!("DROP DATABASE IF EXISTS {database} WITH (FORCE)"),
            );
            let dropper = thread::spawn(move || {
                let runtime = tokio::runtime::Builder::new_current_thread()
                    .enable_all()
                    .build()
                    .ok()?;
                runtime.block_on(async { run(&connect(&url).await.ok()?, &sql).await.ok() })
            });
            let _done = dropper.join();
        }
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "tests choose their database here and nowhere else"
)]
fn server_url() -> Option<String> {
    std::env::var(TEST_DATABASE_URL)
        .ok()
        .filter(|url| !url.is_empty())
}

#[expect(
    clippy::disallowed_methods,
    reason = "a name that no other process has used"
)]
fn fresh_name() -> String {
    uuid::Uuid::now_v7().simple().to_string()
}

/// Makes the template unless this build's migrations already have one. It is migrated under another name and then
/// renamed, so that a process that is killed halfway leaves no half template.
async fn template(admin: &DatabaseConnection, url: &str) -> Result<String, OpenError> {
    let name = format!("wearcourse_template_{:016x}", migrations::fingerprint());
    run(admin, &format!("SELECT pg_advisory_lock({LOCK})")).await?;
    for role in [OWNER, RUNTIME] {
        let password = password(url).map_or(String::new(), |word| format!("PASSWORD '{word}'"));
        let sql = format!(
            "DO $$ BEGIN IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '{role}') THEN
             CREATE ROLE {role} LOGIN {password}; END IF; END $$"
        );
        run(admin, &sql).await?;
    }
    let sql = format!("SELECT 1 FROM pg_database WHERE datname = '{name}'");
    let statement = Statement::from_string(admin.get_database_backend(), sql);
    if admin.query_one_raw(statement).await?.is_none() {
        let draft = format!("{name}_draft");
        run(
            admin,
            &format!("DROP DATABASE IF EXISTS {draft} WITH (FORCE)"),
        )
        .await?;
        run(admin, &format!("CREATE DATABASE {draft} OWNER {OWNER}")).await?;
        let store = Store::open(&config_of(url, &draft)).await?;
        store.migrate().await?;
        store.close().await?;
        run(admin, &format!("ALTER DATABASE {draft} RENAME TO {name}")).await?;
    }
    run(admin, &format!("SELECT pg_advisory_unlock({LOCK})")).await?;
    Ok(name)
}

async fn connect(url: &str) -> Result<DatabaseConnection, DbErr> {
    let mut options = ConnectOptions::new(url);
    options.max_connections(1).sqlx_logging(false);
    Database::connect(options).await
}

async fn run(admin: &DatabaseConnection, sql: &str) -> Result<(), DbErr> {
    admin.execute_unprepared(sql).await.map(|_| ())
}

/// The same server, another database. Few connections, since many tests run side by side.
fn config_of(url: &str, database: &str) -> DatabaseConfig {
    DatabaseConfig {
        max_connections: 5,
        owner_url: Some(address(url, Some(OWNER), database)),
        ..DatabaseConfig::new(address(url, Some(RUNTIME), database))
    }
}

/// The address of another database of the same server, by another user if one is named.
fn address(url: &str, user: Option<&str>, database: &str) -> String {
    let (place, query) = url.split_once('?').unwrap_or((url, ""));
    let server = place.rsplit_once('/').map_or(place, |(server, _)| server);
    let mark = if query.is_empty() { "" } else { "?" };
    let server = match (user, server.rsplit_once('@')) {
        (Some(user), Some((_, host))) => {
            let password = password(url).map_or(String::new(), |word| format!(":{word}"));
            format!("postgres://{user}{password}@{host}")
        }
        _ => server.to_owned(),
    };
    format!("{server}/{database}{mark}{query}")
}

/// The password in an address, if there is one.
fn password(url: &str) -> Option<&str> {
    let (who, _) = url.split_once("://")?.1.split_once('@')?;
    who.split_once(':').map(|(_, password)| password)
}
