//! The running service of one test: its own database, clock, ids and port.

#![expect(
    clippy::expect_used,
    reason = "a test whose service does not start cannot go on"
)]

use std::{sync::Arc, thread, time::Duration};

use api::{Application, AuthConfig, Config, Grant, Parts, SCOPES, mint};
use chrono::{DateTime, Utc};
use domain::id::TenantId;
use infra::{
    clock::{Clock as _, IdSource as _},
    config::DatabaseConfig,
    row::TenantRow,
    store::{Store, StoreError},
    testing::{ManualClock, SeededIds, TestStore},
};
use tokio::sync::oneshot;

use crate::{client::Caller, link::Link};

/// The tenant whose records most tests make.
pub const NORTH: &str = "north";
/// The other tenant, who must see none of them.
pub const SOUTH: &str = "south";

/// The program that callers of tests are.
pub const CLIENT: &str = "tests";

/// Signs the tokens of tests.
pub(crate) const SECRET: &str = "a secret that only the tests of this service know";

/// Seals the secrets of tests; made with `openssl rand -base64 32` and used nowhere else.
pub(crate) const SEAL_KEYS: &str = "tests:/Ks5klZIxV+HRT8TOfAVu85MuQVTn02nrS7tjnppGts=";

/// The service, serving on a port of its own until this is dropped.
///
/// Its clock stands at noon on 1 June 2026 until it is moved, and its ids are the same in every run, so that two runs
/// of one test get the same answers, whatever database they use.
pub struct TestApp {
    http: reqwest::Client,
    base: String,
    auth: AuthConfig,
    clock: Arc<ManualClock>,
    tenants: [(&'static str, TenantId); 2],
    /// Dropped to stop the service.
    _stop: oneshot::Sender<()>,
    store: TestStore,
}

impl TestApp {
    /// Starts the service on an empty database with two tenants, [`NORTH`] and [`SOUTH`].
    ///
    /// # Panics
    /// If it does not start.
    pub async fn start() -> Self {
        Self::start_with(&[("WEARCOURSE_AUTH_SECRET", SECRET)]).await
    }

    /// The same with variables of the configuration that say whose tokens are accepted; with other keys than those of
    /// tests, callers bring their own tokens ([`TestApp::with_token`]).
    ///
    /// # Panics
    /// If it does not start.
    pub async fn start_with(variables: &[(&str, &str)]) -> Self {
        Self::start_changed(variables, |_| {}).await
    }

    /// The service of tests with other variables, and a change of what no variable sets.
    ///
    /// # Panics
    /// If it does not start.
    pub async fn start_as(variables: &[(&str, &str)], change: impl FnOnce(&mut Config)) -> Self {
        let secret = [("WEARCOURSE_AUTH_SECRET", SECRET)];
        Self::start_changed(&[&secret, variables].concat(), change).await
    }

    async fn start_changed(variables: &[(&str, &str)], change: impl FnOnce(&mut Config)) -> Self {
        let store = TestStore::new().await;
        let used = store.store().clone();
        Self::start_on(store, used, variables, change).await
    }

    /// The service of tests on a file, whatever server the tests run on.
    ///
    /// # Panics
    /// If it does not start.
    pub async fn start_on_file() -> Self {
        let store = TestStore::file().await;
        let used = store.store().clone();
        let secret = [("WEARCOURSE_AUTH_SECRET", SECRET)];
        Self::start_on(store, used, &secret, |_| {}).await
    }

    /// The service of tests, whose line to its database server can be cut; none where the database is a file.
    ///
    /// # Panics
    /// If it does not start.
    pub async fn start_on_a_line() -> Option<(Link, Self)> {
        let store = TestStore::new().await;
        if !store.is_server() {
            return None;
        }
        let url = &store.config().url;
        let server = url.split(['@', '/']).nth(3).expect("a host and a port");
        let link = Link::to(server);
        let config = DatabaseConfig {
            url: url.replacen(server, &link.address(), 1),
            ..store.config().clone()
        };
        let used = Store::open(&config).await.expect("the database opens");
        let secret = [("WEARCOURSE_AUTH_SECRET", SECRET)];
        let app = Self::start_on(store, used, &secret, |_| {}).await;
        Some((link, app))
    }

    /// Starts the service on a database, which it uses by the store that is given.
    async fn start_on(
        store: TestStore,
        used: Store,
        variables: &[(&str, &str)],
        change: impl FnOnce(&mut Config),
    ) -> Self {
        let (clock, ids) = (Arc::new(ManualClock::default()), SeededIds::new(1));
        let tenants = [NORTH, SOUTH].map(|key| (key, TenantId::from_uuid(ids.uuid())));
        for (key, id) in tenants {
            let row = TenantRow {
                id,
                key: key.to_owned(),
                name: format!("Tenant {key}"),
                created_at: clock.now(),
            };
            store.add_tenant(&row).await;
        }
        let mut config = config(variables);
        change(&mut config);
        let auth = config.auth.clone();
        let parts = Parts {
            store: used,
            clock: clock.clone(),
            ids: Arc::new(ids),
        };
        let (port, stop) = serve(config, parts);
        let port = port.await.expect("the service starts");
        Self {
            http: Caller::http().expect("a client"),
            base: format!("http://127.0.0.1:{port}"),
            auth,
            clock,
            tenants,
            _stop: stop,
            store,
        }
    }

    /// The same service sending events to subscriptions, with more variables of the configuration.
    ///
    /// # Panics
    /// If it does not start.
    pub async fn start_sending(variables: &[(&str, &str)]) -> Self {
        let own = [
            ("WEARCOURSE_AUTH_SECRET", SECRET),
            ("WEARCOURSE_OUTBOUND", "on"),
        ];
        Self::start_with(&[&own[..], variables].concat()).await
    }

    /// A caller of a tenant whose token carries these scopes; it is good for a day of the app's clock.
    ///
    /// # Panics
    /// If the token cannot be signed.
    pub fn as_(&self, tenant: &str, scopes: &[&str]) -> Caller {
        self.caller(Some(self.token_for(tenant, scopes, None)))
    }

    /// A token of a tenant for everything, for who speaks HTTP himself.
    pub fn token(&self, tenant: &str) -> String {
        let scopes: Vec<&str> = SCOPES.iter().map(|scope| scope.name).collect();
        self.token_for(tenant, &scopes, None)
    }

    fn token_for(&self, tenant: &str, scopes: &[&str], contractor: Option<&str>) -> String {
        self.token_called("tester", (tenant, scopes), contractor)
    }

    fn token_called(
        &self,
        subject: &str,
        (tenant, scopes): (&str, &[&str]),
        contractor: Option<&str>,
    ) -> String {
        let grant = Grant {
            tenant,
            subject,
            client_id: CLIENT,
            scope: &scopes.join(" "),
            contractor,
            life_s: 86_400,
        };
        mint(&self.auth, &grant, self.clock.now()).expect("a token")
    }

    /// As [`TestApp::as_`], with a token that is bound to a contractor.
    ///
    /// # Panics
    /// If the token cannot be signed.
    pub fn bound_to(&self, contractor: &str, scopes: &[&str]) -> Caller {
        self.caller(Some(self.token_for(NORTH, scopes, Some(contractor))))
    }

    /// A caller of a tenant who may do everything.
    pub fn admin_of(&self, tenant: &str) -> Caller {
        self.caller(Some(self.token(tenant)))
    }

    /// A caller of [`NORTH`] who may do everything.
    pub fn admin(&self) -> Caller {
        self.admin_of(NORTH)
    }

    /// A caller of a tenant who may do everything, by the name that a token has for people.
    pub fn admin_called(&self, tenant: &str, subject: &str) -> Caller {
        let scopes: Vec<&str> = SCOPES.iter().map(|scope| scope.name).collect();
        self.caller(Some(self.token_called(subject, (tenant, &scopes), None)))
    }

    /// A caller without a token.
    pub fn stranger(&self) -> Caller {
        self.caller(None)
    }

    /// A caller with a token of somebody else's making.
    pub fn with_token(&self, token: &str) -> Caller {
        self.caller(Some(token.to_owned()))
    }

    /// What time the service believes it is.
    pub fn now(&self) -> DateTime<Utc> {
        self.clock.now()
    }

    fn caller(&self, token: Option<String>) -> Caller {
        Caller::new(self.http.clone(), self.base.clone(), token)
    }

    /// Where the service listens, without a slash at the end.
    pub fn url(&self) -> &str {
        &self.base
    }

    /// The clock of the service.
    pub fn clock(&self) -> &ManualClock {
        &self.clock
    }

    /// How another process opens that database.
    pub const fn database(&self) -> &DatabaseConfig {
        self.store.config()
    }

    /// The database behind the service, for what no route shows.
    pub fn store(&self) -> &Store {
        self.store.store()
    }

    /// Does to that database what no code of the service would do.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn execute(&self, sql: &str) -> Result<(), StoreError> {
        self.store.execute(sql).await
    }

    /// What that database says past every fence: the first column, a text, of the first row.
    ///
    /// # Panics
    /// If it does not answer.
    pub async fn ask(&self, sql: &str) -> String {
        self.store.ask(sql).await.expect("an answer")
    }

    /// Whether the database is on a server; else it is a file.
    pub const fn is_server(&self) -> bool {
        self.store.is_server()
    }

    /// Erases a tenant, as `wearcourse tenant erase` does.
    ///
    /// # Panics
    /// If that fails.
    pub async fn erase_tenant(&self, key: &str) {
        let owner = self.store.as_owner().await;
        let erased = owner.tenants().erase(self.tenant(key)).await;
        assert!(erased.expect("an erasure"), "there is such a tenant");
    }

    /// The id of one of the tenants.
    ///
    /// # Panics
    /// If there is no such tenant.
    pub fn tenant(&self, key: &str) -> TenantId {
        let found = self.tenants.iter().find(|(name, _)| *name == key);
        found.expect("north or south").1
    }
}

impl std::fmt::Debug for TestApp {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("TestApp")
            .field("base", &self.base)
            .finish_non_exhaustive()
    }
}

fn config(more: &[(&str, &str)]) -> Config {
    let variables = [
        ("WEARCOURSE_BIND", "127.0.0.1:0"),
        ("WEARCOURSE_METRICS_BIND", "off"),
        ("WEARCOURSE_WORKERS", "1"),
        ("WEARCOURSE_DRAIN_S", "0"),
        ("WEARCOURSE_SEAL_KEYS", SEAL_KEYS),
        // A test that wants events to go out says so.
        ("WEARCOURSE_OUTBOUND", "off"),
        // Tests ask as fast as they can.
        ("WEARCOURSE_RATE_PER_S", "0"),
        ("WEARCOURSE_FAILED_AUTH_PER_MIN", "0"),
    ];
    let variables = variables.iter().chain(more).copied();
    let mut config = Config::from_vars(variables).expect("a configuration");
    // Whoever drops the service has its answers already.
    config.http.shutdown = Duration::ZERO;
    config
}

/// Serves on a thread of its own, so that the service outlives nobody and blocks nobody: it stops when the sender is
/// dropped. Says on which port it listens.
fn serve(config: Config, parts: Parts) -> (oneshot::Receiver<u16>, oneshot::Sender<()>) {
    let (tell, port) = oneshot::channel();
    let (stop, stopped) = oneshot::channel();
    thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .expect("a runtime");
        runtime.block_on(async {
            let service = Application::build(&config, parts).expect("a service");
            tell.send(service.addr().port())
                .expect("somebody waits for it");
            let until = async {
                // Dropping the sender is the signal.
                let _dropped = stopped.await;
            };
            service
                .run(until)
                .await
                .expect("a service that stops in order");
        });
    });
    (port, stop)
}
