//! Where the records are.

use super::{Secret, source::Source};

/// The database.
#[derive(Debug, Clone)]
pub struct DatabaseConfig {
    /// `WEARCOURSE_DATABASE_URL` or `WEARCOURSE_DATABASE_URL_FILE`, default `sqlite://wearcourse.sqlite`.
    pub url: Secret,
    /// `WEARCOURSE_DATABASE_POOL`, connections, default 8.
    pub pool: u32,
    /// `WEARCOURSE_DATABASE_UNSAFE`, default off: whether a server may lose acknowledged rows in a crash.
    pub allow_unsafe: bool,
}

impl DatabaseConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let name = "WEARCOURSE_DATABASE_URL";
        let url = source
            .secret(name)
            .unwrap_or_else(|| Secret::new("sqlite://wearcourse.sqlite"));
        let known = ["sqlite://", "postgres://", "postgresql://"];
        if !known.iter().any(|scheme| url.expose().starts_with(scheme)) {
            source.fault(name, "must start with `sqlite://` or `postgres://`");
        }
        Self {
            url,
            pool: source.number("WEARCOURSE_DATABASE_POOL", 8, 1..=200),
            allow_unsafe: source.switch("WEARCOURSE_DATABASE_UNSAFE").unwrap_or(false),
        }
    }

    /// The same for the store.
    pub(crate) fn for_store(&self) -> infra::config::DatabaseConfig {
        infra::config::DatabaseConfig {
            url: self.url.expose().to_owned(),
            max_connections: self.pool,
            allow_unsafe_durability: self.allow_unsafe,
        }
    }
}
