//! The configuration: environment variables that start with `WEARCOURSE_`, read once.
//!
//! One struct for each concern. Nothing has to be set to try the service; `serve` needs a key for tokens. A
//! variable with our prefix that nobody knows is an error, and all faults are reported together.

mod audit;
mod auth;
mod database;
mod http;
mod limit;
mod outbound;
mod paper;
mod seal;
mod secret;
mod source;
mod telemetry;

pub use audit::AuditConfig;
pub use auth::{AuthConfig, AuthKey, JwksSource};
pub use database::DatabaseConfig;
pub use http::{Deadlines, HttpConfig};
pub use limit::{LimitConfig, Network, NoNetwork, Rate};
pub use outbound::OutboundConfig;
pub use paper::PaperConfig;
pub use seal::{SealConfig, SealKeyConfig};
pub use secret::Secret;
pub use source::{ConfigFaults, Variable};
pub use telemetry::TelemetryConfig;

use source::Source;

/// Every variable that is read, in the order in which the README lists them.
#[rustfmt::skip]
pub static VARIABLES: &[Variable] = &[
    Variable::new("WEARCOURSE_BIND", "127.0.0.1:8080", "Address and port that the service listens on."),
    Variable::new("WEARCOURSE_METRICS_BIND", "127.0.0.1:9464", "Address and port of `/metrics`; `off` for none."),
    Variable::new("WEARCOURSE_PUBLIC_URL", "none", "Address under which callers see the service; makes links absolute."),
    Variable::new("WEARCOURSE_DOCS", "off", "Whether `/docs/` and `/guide` show the API description: `on` or `off`; `demo` has it on."),
    Variable::new("WEARCOURSE_WORKERS", "0", "Threads that serve requests, 1 to 512; 0 for one for each core."),
    Variable::new("WEARCOURSE_MAX_CONNECTIONS", "4096", "Connections that one thread holds open, 1 to 100000."),
    Variable::new("WEARCOURSE_DRAIN_S", "5", "Seconds for which requests are still taken after `/readyz` says no, 0 to 300."),
    Variable::new("WEARCOURSE_SHUTDOWN_S", "10", "Seconds that running requests have to finish when the service stops, 1 to 600."),
    Variable::new("WEARCOURSE_RATE_PER_S", "50", "Requests of one tenant that one process answers in a second, 1 to 100000; 0 for no limit."),
    Variable::new("WEARCOURSE_RATE_BURST", "100", "Requests of one tenant that may come at once, 1 to 1000000."),
    Variable::new("WEARCOURSE_FAILED_AUTH_PER_MIN", "10", "Tokens and signatures from one address that may be refused in a minute before that is answered with 429, 1 to 100000; 0 for no limit."),
    Variable::new("WEARCOURSE_TRUSTED_PROXIES", "none", "Addresses and networks (`10.0.0.0/8`), separated by spaces, of proxies that are believed in `X-Forwarded-For`. Set it behind a proxy, or all callers count as one address."),
    Variable::secret("WEARCOURSE_DATABASE_URL", "sqlite://wearcourse.sqlite", "`sqlite://` and a path, or a `postgres://` address."),
    Variable::secret("WEARCOURSE_DATABASE_OWNER_URL", "none", "The same server as the owner of the tables: makes and changes them, adds and erases tenants. With it, `WEARCOURSE_DATABASE_URL` needs no more than to read and write rows. For `migrate` and `tenant`; `serve` is better off without it."),
    Variable::new("WEARCOURSE_DATABASE_TLS", "on", "`on`: a server that is not this machine must prove who it is (`sslmode=verify-full`); `off` for a private network."),
    Variable::new("WEARCOURSE_DATABASE_POOL", "8", "Connections to a database server, 1 to 200."),
    Variable::new("WEARCOURSE_DATABASE_UNSAFE", "off", "`on` opens a server that may lose acknowledged rows in a crash, or as a role that row-level security does not bind; for measurements."),
    Variable::new("WEARCOURSE_AUTH_ALGORITHM", "HS256", "The one algorithm of tokens: `HS256`, `EdDSA`, `ES256` or `RS256`."),
    Variable::secret("WEARCOURSE_AUTH_SECRET", "none", "The secret of `HS256` tokens, at least 32 bytes."),
    Variable::new("WEARCOURSE_AUTH_PUBLIC_KEY_FILE", "none", "File with the issuer's public key in PEM, for the other algorithms."),
    Variable::new("WEARCOURSE_AUTH_KEY_ID", "none", "The `kid` of that key; without it, tokens that carry a `kid` are refused."),
    Variable::secret("WEARCOURSE_AUTH_PREVIOUS_SECRET", "none", "The secret before the last rotation, as long as its tokens live."),
    Variable::new("WEARCOURSE_AUTH_PREVIOUS_PUBLIC_KEY_FILE", "none", "File with the public key before the last rotation."),
    Variable::new("WEARCOURSE_AUTH_PREVIOUS_KEY_ID", "none", "The `kid` of the key before the last rotation."),
    Variable::new("WEARCOURSE_AUTH_JWKS_FILE", "none", "File with the issuer's key set (JWKS) in place of single keys; read again every 5 minutes."),
    Variable::new("WEARCOURSE_AUTH_JWKS_URL", "none", "The `https` address of that key set; read again as its `Cache-Control` says, after 5 minutes to 24 hours."),
    Variable::new("WEARCOURSE_AUTH_ISSUER", "wearcourse", "What `iss` must be."),
    Variable::new("WEARCOURSE_AUTH_AUDIENCE", "wearcourse", "What `aud` must be or hold."),
    Variable::new("WEARCOURSE_AUTH_TENANT_CLAIM", "tenant", "Name of the claim with the tenant's key."),
    Variable::new("WEARCOURSE_AUTH_SCOPE_CLAIM", "scope", "Name of the claim with the scopes."),
    Variable::new("WEARCOURSE_AUTH_CONTRACTOR_CLAIM", "contractor", "Name of the claim that binds a token to one contractor, by its id."),
    Variable::new("WEARCOURSE_AUTH_TOKEN_TYPE", "at+jwt", "What `typ` must be: `at+jwt` or `JWT`."),
    Variable::secret("WEARCOURSE_CURSOR_SECRET", "made from the auth secret", "Signs cursors of lists, at least 32 bytes; the same for all replicas. Must be set on PostgreSQL unless tokens are `HS256`."),
    Variable::secret("WEARCOURSE_SEAL_KEYS", "none", "Keys that seal secrets at rest: `name:` and the base64 of 32 random bytes, several separated by spaces; the first seals, all open. Must be set on PostgreSQL."),
    Variable::new("WEARCOURSE_OUTBOUND", "on", "Whether this process sends events to subscriptions; `off`: they wait for one that does."),
    Variable::new("WEARCOURSE_OUTBOUND_PORTS", "443", "Ports that subscriptions may name, separated by commas."),
    Variable::new("WEARCOURSE_OUTBOUND_INSECURE", "off", "`on` lets subscriptions name plain HTTP, private addresses and every port: for trying out, never where others may subscribe."),
    Variable::new("WEARCOURSE_FONTS", "none", "A folder with fonts (`.ttf`, `.otf`, `.ttc`, `.otc`; 256 MiB at most): PDFs take letters from them that the own fonts do not have."),
    Variable::new("WEARCOURSE_AUDIT_DAYS", "0", "For how many days `wearcourse audit prune` keeps who did what, 1 to 36500; 0: as long as the tenant."),
    Variable::new("WEARCOURSE_LOG", "info", "What is logged: `error`, `warn`, `info`, `debug`, or directives by module."),
];

/// The whole configuration.
#[derive(Debug, Clone)]
pub struct Config {
    /// What the service listens on.
    pub http: HttpConfig,
    /// How much one caller may take.
    pub limits: LimitConfig,
    /// Where the records are.
    pub database: DatabaseConfig,
    /// Whose tokens are accepted.
    pub auth: AuthConfig,
    /// What secrets are sealed with.
    pub seal: SealConfig,
    /// Whether and where events go out.
    pub outbound: OutboundConfig,
    /// What sheets are printed with.
    pub paper: PaperConfig,
    /// How long it is kept who did what.
    pub audit: AuditConfig,
    /// What is logged.
    pub telemetry: TelemetryConfig,
}

impl Config {
    /// Reads the environment of the process.
    ///
    /// # Errors
    /// [`ConfigFaults`] with every fault.
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the one place that reads the environment"
    )]
    pub fn from_env() -> Result<Self, ConfigFaults> {
        Self::read(
            std::env::vars_os().filter_map(|(name, value)| {
                Some((name.into_string().ok()?, value.into_string().ok()))
            }),
        )
    }

    /// Reads variables; those without our prefix are nobody's business here.
    ///
    /// # Errors
    /// [`ConfigFaults`] with every fault.
    pub fn from_vars<N: Into<String>, V: Into<String>>(
        variables: impl IntoIterator<Item = (N, V)>,
    ) -> Result<Self, ConfigFaults> {
        let variables = variables.into_iter();
        Self::read(variables.map(|(name, value)| (name.into(), Some(value.into()))))
    }

    /// Goes on if what is configured is enough to serve requests: a key for tokens and, where replicas may share a
    /// database, one for cursors and one for sealed secrets that they can share too.
    ///
    /// # Errors
    /// [`ConfigFaults`] with every variable that is missing.
    pub fn require_to_serve(&self) -> Result<(), ConfigFaults> {
        let key = self.auth.require_key().err();
        let mut faults = key.map_or_else(Vec::new, |fault| fault.sentences().to_vec());
        let is_server = self.database.is_server();
        if is_server && !self.auth.can_share_cursors() {
            faults.push(
                "WEARCOURSE_CURSOR_SECRET must be set to serve on PostgreSQL unless tokens are HS256: replicas read each \
                 other's cursors"
                    .to_owned(),
            );
        }
        if is_server && self.seal.keys.is_empty() {
            faults.push(
                "WEARCOURSE_SEAL_KEYS must be set to serve on PostgreSQL: replicas open what the others sealed".to_owned(),
            );
        }
        ConfigFaults::finish(faults)
    }

    /// Reads variables; the value is none where it is not UTF-8.
    fn read(
        variables: impl Iterator<Item = (String, Option<String>)>,
    ) -> Result<Self, ConfigFaults> {
        let mut source = Source::new(variables);
        let config = Self {
            http: HttpConfig::from_source(&mut source),
            limits: LimitConfig::from_source(&mut source),
            database: DatabaseConfig::from_source(&mut source),
            auth: AuthConfig::from_source(&mut source),
            seal: SealConfig::from_source(&mut source),
            outbound: OutboundConfig::from_source(&mut source),
            paper: PaperConfig::from_source(&mut source),
            audit: AuditConfig::from_source(&mut source),
            telemetry: TelemetryConfig::from_source(&mut source),
        };
        source.finish().map(|()| config)
    }
}

#[cfg(test)]
mod tests;
