//! Where the records are.

use super::{Secret, source::Source};

/// The database.
#[derive(Debug, Clone)]
pub struct DatabaseConfig {
    /// `WEARCOURSE_DATABASE_URL` or `WEARCOURSE_DATABASE_URL_FILE`, default `sqlite://wearcourse.sqlite`; with the
    /// `sslmode` that `WEARCOURSE_DATABASE_TLS` (`on` or `off`, default `on`) asks for.
    pub url: Secret,
    /// `WEARCOURSE_DATABASE_OWNER_URL`, or `…_FILE`: the same server as the owner of the tables; none: `url` names him.
    pub owner_url: Option<Secret>,
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
        let tls = source.switch("WEARCOURSE_DATABASE_TLS").unwrap_or(true);
        let url = guarded(source, name, url, tls);
        let owner_url = owner_url(source, &url, tls);
        Self {
            url,
            owner_url,
            pool: source.number("WEARCOURSE_DATABASE_POOL", 8, 1..=200),
            allow_unsafe: source.switch("WEARCOURSE_DATABASE_UNSAFE").unwrap_or(false),
        }
    }

    /// Whether it is a server, which other processes may use too.
    pub(super) fn is_server(&self) -> bool {
        is_server(self.url.expose())
    }

    /// The same for the store.
    pub(crate) fn for_store(&self) -> infra::config::DatabaseConfig {
        infra::config::DatabaseConfig {
            url: self.url.expose().to_owned(),
            owner_url: self.owner_url.as_ref().map(|url| url.expose().to_owned()),
            max_connections: self.pool,
            allow_unsafe_durability: self.allow_unsafe,
        }
    }
}

/// The owner's address, for a server only.
fn owner_url(source: &mut Source, url: &Secret, tls: bool) -> Option<Secret> {
    let name = "WEARCOURSE_DATABASE_OWNER_URL";
    let owner = source.secret(name)?;
    if !is_server(owner.expose()) || !is_server(url.expose()) {
        let form = "must start with `postgres://`, and so must WEARCOURSE_DATABASE_URL: a file has no owner";
        source.fault(name, form);
        return None;
    }
    Some(guarded(source, name, owner, tls))
}

fn is_server(url: &str) -> bool {
    url.starts_with("postgres://") || url.starts_with("postgresql://")
}

/// The address with the way in which a server elsewhere is trusted. The driver would go on in the open with whoever says
/// that he cannot do better, and would take `PGSSLMODE` for our configuration.
fn guarded(source: &mut Source, name: &str, secret: Secret, tls: bool) -> Secret {
    const MODE: &str = "sslmode";
    if !is_server(secret.expose()) {
        return secret;
    }
    let Ok(mut url) = reqwest::Url::parse(secret.expose()) else {
        source.fault(name, "is not an address");
        return secret;
    };
    let mode = value(&url, &[MODE, "ssl-mode"]);
    let wanted = match mode.as_deref() {
        Some("verify-full") => return secret,
        Some(_) if !tls || is_here(&url) => return secret,
        Some(_) => {
            let form = "needs `sslmode=verify-full` for a server that is not this machine; for a private network set \
                        WEARCOURSE_DATABASE_TLS to `off`";
            source.fault(name, form);
            return secret;
        }
        None if !tls => "disable",
        None if is_here(&url) => return secret,
        None => "verify-full",
    };
    url.query_pairs_mut().append_pair(MODE, wanted);
    Secret::new(url.as_str())
}

/// The last value of a parameter that the driver knows by several names.
fn value(url: &reqwest::Url, names: &[&str]) -> Option<String> {
    let pairs = url.query_pairs();
    let found = pairs
        .filter(|(name, _)| names.contains(&name.as_ref()))
        .last();
    found.map(|(_, value)| value.into_owned())
}

/// Whether the server is on this machine: a socket, or an address that leads nowhere else.
fn is_here(url: &reqwest::Url) -> bool {
    let host = value(url, &["host", "hostaddr"]);
    let host = host.unwrap_or_else(|| url.host_str().unwrap_or_default().to_owned());
    let address = host.trim_matches(['[', ']']).parse::<std::net::IpAddr>();
    let is_socket = host.is_empty() || host.starts_with('/') || host.starts_with("%2F");
    is_socket || host == "localhost" || address.is_ok_and(|address| address.is_loopback())
}
