//! A database and the program that works on it, in processes of its own: started, killed and started again as a machine
//! that loses power would, and asked afterwards what is there.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a test whose service does not start cannot go on"
)]

use std::{
    io::{BufRead as _, BufReader},
    process::{Child, Command, Output, Stdio},
    sync::{Arc, Mutex, PoisonError},
    thread,
};

use api::{AuthConfig, Config, Grant, SCOPES, mint};
use chrono::{DateTime, TimeDelta, Utc};
use domain::id::TenantId;
use infra::{
    clock::{Clock as _, IdSource as _, SystemClock, UuidV7Source},
    row::TenantRow,
    testing::TestStore,
};
use serde_json::{Value, json};
use tokio::sync::oneshot;

use crate::{
    app::{NORTH, SEAL_KEYS, SECRET, SOUTH},
    build::{self, with},
    client::Caller,
};

/// A migrated database with two tenants, and how a process is started on it.
pub struct Ground {
    program: &'static str,
    store: TestStore,
    auth: AuthConfig,
    http: reqwest::Client,
    log: Arc<Mutex<Vec<String>>>,
    /// The tenants by their keys.
    pub tenants: [(&'static str, TenantId); 2],
}

impl std::fmt::Debug for Ground {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Ground { .. }")
    }
}

impl Ground {
    /// A database for `program`. Nobody else has it open: what a process leaves behind is what the next one finds.
    ///
    /// # Panics
    /// If it cannot be made.
    pub async fn new(program: &'static str) -> Self {
        let store = TestStore::new().await;
        let tenants = [NORTH, SOUTH].map(|key| (key, TenantId::from_uuid(UuidV7Source.uuid())));
        for (key, id) in tenants {
            let row = TenantRow {
                id,
                key: key.to_owned(),
                name: format!("Tenant {key}"),
                created_at: SystemClock.now(),
            };
            store.add_tenant(&row).await;
        }
        store.store().close().await.expect("closed");
        let config = Config::from_vars([("WEARCOURSE_AUTH_SECRET", SECRET)]);
        Self {
            program,
            store,
            auth: config.expect("a configuration").auth,
            http: Caller::http().expect("a client"),
            log: Arc::default(),
            tenants,
        }
    }

    /// Whether the database is on a server, which several processes may use.
    pub const fn is_server(&self) -> bool {
        self.store.is_server()
    }

    /// The address of the database.
    pub fn database_url(&self) -> &str {
        &self.store.config().url
    }

    fn command(&self, more: &[(&str, &str)]) -> Command {
        let own = [
            ("WEARCOURSE_AUTH_SECRET", SECRET),
            ("WEARCOURSE_SEAL_KEYS", SEAL_KEYS),
            ("WEARCOURSE_DATABASE_URL", self.database_url()),
            ("WEARCOURSE_BIND", "127.0.0.1:0"),
            ("WEARCOURSE_METRICS_BIND", "off"),
            ("WEARCOURSE_WORKERS", "2"),
            ("WEARCOURSE_DRAIN_S", "0"),
            ("WEARCOURSE_RATE_PER_S", "0"),
            ("WEARCOURSE_FAILED_AUTH_PER_MIN", "0"),
            ("WEARCOURSE_OUTBOUND", "off"),
            ("WEARCOURSE_LOG", "warn,api::bootstrap=info"),
        ];
        let mut command = Command::new(self.program);
        command.env_clear().envs(own).envs(more.iter().copied());
        command.stdin(Stdio::null());
        command
    }

    /// Starts a process that serves, with more variables, and waits until it listens.
    ///
    /// # Panics
    /// If it ends before; what it wrote is shown.
    pub async fn start(&self, more: &[(&str, &str)]) -> Process {
        let mut command = self.command(more);
        command.arg("serve").stdout(Stdio::null());
        let mut child = command.stderr(Stdio::piped()).spawn().expect("a process");
        let lines = BufReader::new(child.stderr.take().expect("its log")).lines();
        let (tell, serving) = oneshot::channel();
        let log = Arc::clone(&self.log);
        thread::spawn(move || {
            let mut tell = Some(tell);
            for line in lines.map_while(Result::ok) {
                if let Some(address) = address(&line)
                    && let Some(tell) = tell.take()
                {
                    let _gone = tell.send(address);
                }
                log.lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .push(line);
            }
        });
        let Ok(address) = serving.await else {
            panic!("the service did not start: {:#?}", self.log());
        };
        Process {
            url: format!("http://{address}"),
            child,
        }
    }

    /// Runs the program to its end.
    ///
    /// # Panics
    /// If it cannot be started.
    pub fn run(&self, arguments: &[&str]) -> Output {
        self.run_with(arguments, &[])
    }

    /// The same with more variables.
    ///
    /// # Panics
    /// If it cannot be started.
    pub fn run_with(&self, arguments: &[&str], more: &[(&str, &str)]) -> Output {
        let mut command = self.command(more);
        command.args(arguments).output().expect("an answer")
    }

    /// What the processes are told and must tell nobody.
    pub fn secrets(&self) -> Vec<&str> {
        let (_, key) = SEAL_KEYS.split_once(':').unwrap_or_default();
        vec![SECRET, key]
    }

    /// Every line that any of the processes has written to its log.
    pub fn log(&self) -> Vec<String> {
        let log = self.log.lock().unwrap_or_else(PoisonError::into_inner);
        log.clone()
    }

    /// A caller of a tenant at `url` who may do everything.
    ///
    /// # Panics
    /// If no token can be signed.
    pub fn caller(&self, url: &str, tenant: &str) -> Caller {
        let token = Some(self.token(tenant));
        Caller::new(self.http.clone(), url.to_owned(), token)
    }

    /// A caller without a token.
    pub fn stranger(&self, url: &str) -> Caller {
        Caller::new(self.http.clone(), url.to_owned(), None)
    }

    /// A token of a tenant for everything.
    ///
    /// # Panics
    /// If it cannot be signed.
    pub fn token(&self, tenant: &str) -> String {
        let scopes: Vec<&str> = SCOPES.iter().map(|scope| scope.name).collect();
        let grant = Grant {
            tenant,
            subject: "tester",
            client_id: "tests",
            scope: &scopes.join(" "),
            contractor: None,
            life_s: 86_400,
        };
        mint(&self.auth, &grant, SystemClock.now()).expect("a token")
    }

    /// What the database says past every fence: the first column, a text, of the first row.
    ///
    /// # Panics
    /// If it does not answer.
    pub async fn ask(&self, sql: &str) -> String {
        self.store.ask(sql).await.expect("an answer")
    }

    /// How many rows a table holds, with a condition behind it where only some are meant.
    ///
    /// # Panics
    /// If the database does not answer.
    pub async fn count(&self, rows: &str) -> i64 {
        let sql = format!("SELECT CAST(COUNT(*) AS text) FROM {rows}");
        self.ask(&sql).await.parse().expect("a number")
    }
}

/// Where a line of the log says that the service listens.
fn address(line: &str) -> Option<String> {
    let told: Value = serde_json::from_str(line).ok()?;
    let is_serving = told.get("message")? == "serving";
    let address = told.get("addr")?.as_str()?.to_owned();
    is_serving.then_some(address)
}

/// A process that serves. Dropping it kills it with a signal that cannot be caught (9 on Unix) and waits for its end.
#[derive(Debug)]
pub struct Process {
    /// Where it listens, without a slash at the end.
    pub url: String,
    child: Child,
}

impl Process {
    /// Its number.
    pub fn id(&self) -> u32 {
        self.child.id()
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // One that has ended already is as good as killed.
        let _ended = self.child.kill();
        let _ended = self.child.wait();
    }
}

/// What the clock of this machine shows, less some hours: processes of their own have no other clock.
#[must_use]
pub fn hours_ago(hours: i64) -> DateTime<Utc> {
    SystemClock.now() - TimeDelta::hours(hours)
}

/// A site whose rates are valid whatever day it is.
#[must_use]
pub fn site() -> Value {
    with(
        build::site(),
        json!({"rate_card": {"valid_from": "2001-01-01"}}),
    )
}

/// Work of the last hours on 1 m² of a surface, under a name of the reporter's own.
#[must_use]
pub fn completion(surface: &str, name: &str) -> Value {
    let change = json!({
        "started_at": hours_ago(5).to_rfc3339(), "finished_at": hours_ago(1).to_rfc3339(), "area_m2": 1,
        "external": {"system": "fire", "id": name},
    });
    with(build::completion(surface), change)
}
