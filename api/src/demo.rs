//! The demonstration: a service with an invented estate, the main job done on it, and a token to try the rest.
//!
//! What is printed was answered over HTTP by the same application that `serve` runs. The records are in a folder of
//! their own below the machine's folder for temporary files, which is removed at the end; database, key and addresses
//! of the environment are left alone.

mod answer;
mod client;
mod estate;
mod fill;
mod folder;
mod history;
mod paper;
mod record;
mod story;
mod words;

use std::{
    io::{self, Write as _},
    net::SocketAddr,
    path::PathBuf,
};

use domain::id::TenantId;
use infra::{
    clock::{Clock as _, IdSource as _, SystemClock, UuidV7Source},
    row::TenantRow,
    store::StoreError,
};
use jsonwebtoken::Algorithm;

use crate::{
    auth::{BUNDLES, Grant, MintError, mint},
    bootstrap::{Application, StartError},
    command,
    config::{
        AuthConfig, AuthKey, Config, DatabaseConfig, LimitConfig, OutboundConfig, PaperConfig,
        SealConfig, Secret,
    },
    context::Parts,
    seal::SealError,
};
use client::{CallError, Client};
use folder::Folder;
use paper::Paper;
use story::Closing;

/// Where the demonstration listens if nobody says otherwise.
const PORT: u16 = 8080;
/// The key of its tenant.
const TENANT: &str = "demo";
/// How long its token lives, in seconds: as long as the service accepts.
const TOKEN_LIFE_S: u32 = 24 * 3600;

/// What the demonstration was asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct DemoOptions {
    /// Show the example and end, instead of serving on.
    pub(crate) once: bool,
    /// The port to listen on; 0 takes a free one. Without it 8080, or a free one where that is taken.
    pub(crate) port: Option<u16>,
}

/// Why the demonstration ended before its time.
#[derive(Debug, thiserror::Error)]
pub(crate) enum DemoError {
    /// The folder for the records.
    #[error("the folder {} cannot be used", folder.display())]
    Folder {
        /// Which.
        folder: PathBuf,
        /// Why not.
        source: io::Error,
    },
    /// The service does not start.
    #[error(transparent)]
    Start(#[from] StartError),
    /// The tenant cannot be added, or the database not be closed.
    #[error("the database of the demonstration cannot be used")]
    Store(#[from] StoreError),
    /// No key for secrets.
    #[error(transparent)]
    Seal(#[from] SealError),
    /// No token.
    #[error(transparent)]
    Token(#[from] MintError),
    /// A call went wrong.
    #[error(transparent)]
    Call(Box<dyn std::error::Error + Send + Sync>),
    /// A plan of the history has no work.
    #[error("the plan for {floor} has no work: {summary}")]
    NoWork {
        /// The floor.
        floor: &'static str,
        /// What the plan says.
        summary: String,
    },
    /// An answer said something else than it must.
    #[error("unexpected: {0}")]
    Unexpected(String),
    /// Something of the estate is not there.
    #[error("{what} was not registered")]
    Unknown {
        /// What.
        what: &'static str,
    },
    /// The printout cannot be written, or a listener failed.
    #[error("input or output failed")]
    Io(#[from] io::Error),
    /// Somebody stopped it.
    #[error("stopped before the demonstration was over")]
    Stopped,
}

impl From<CallError> for DemoError {
    fn from(error: CallError) -> Self {
        Self::Call(Box::new(error))
    }
}

/// Runs the demonstration until it is over (`once`) or somebody stops it.
///
/// # Errors
/// [`DemoError`]: whatever keeps it from showing all that it shows.
pub(crate) async fn run(config: Config, options: DemoOptions) -> Result<(), DemoError> {
    let folder = Folder::make()?;
    let config = own(config, &folder, options, SealConfig::made_up()?);
    let parts = Parts::open(&config).await?;
    parts
        .store
        .tenants()
        .add(&TenantRow {
            id: TenantId::from_uuid(parts.ids.uuid()),
            key: TENANT.to_owned(),
            name: "Demonstration".to_owned(),
            created_at: parts.clock.now(),
        })
        .await?;
    let store = parts.store.clone();
    let application = listen(config.clone(), parts, options.port)?;
    let stage = Stage {
        address: application.addr(),
        metrics: application.metrics_addr(),
        has_docs: config.http.docs == Some(true),
        is_other_port: options.port.is_none() && application.addr().port() != PORT,
    };
    let mut outcome = Ok(());
    // On the heap: the story is a long one.
    let told = Box::pin(async { outcome = play(&config, &stage, options.once).await });
    let served = application.run(told).await;
    // Closed before its folder goes; what went wrong before is the better story.
    let closed = store.close().await;
    outcome?;
    served?;
    closed?;
    folder.remove()
}

/// What the printout says of the service itself.
struct Stage {
    address: SocketAddr,
    metrics: Option<SocketAddr>,
    has_docs: bool,
    is_other_port: bool,
}

/// Tells the story, then serves on unless it is to be told once.
async fn play(config: &Config, stage: &Stage, once: bool) -> Result<(), DemoError> {
    tokio::select! {
        told = tell(config, stage, once) => told?,
        () = command::signal() => return Err(DemoError::Stopped),
    }
    if !once {
        command::signal().await;
    }
    Ok(())
}

async fn tell(config: &Config, stage: &Stage, once: bool) -> Result<(), DemoError> {
    let now = SystemClock.now();
    let scope = BUNDLES.iter().find(|(name, _)| *name == "admin");
    let grant = Grant {
        tenant: TENANT,
        subject: "demo-lead",
        client_id: "wearcourse-demo",
        scope: scope.map_or("", |(_, scope)| scope),
        contractor: None,
        life_s: TOKEN_LIFE_S,
    };
    let token = mint(&config.auth, &grant, now)?;
    let client = Client::new(stage.address, token.clone())?;
    let mut paper = Paper::new(io::stdout().lock());
    let base = format!("http://{}", stage.address);
    let occupied = stage.is_other_port.then_some(PORT);
    story::open(&mut paper, &base, occupied)?;
    let estate = fill::register(&client, now).await?;
    history::live(&client, &estate, now).await?;
    story::tell(&client, &mut paper, &estate, now).await?;
    if !once {
        let metrics = stage
            .metrics
            .map(|address| format!("http://{address}/metrics"));
        story::close(
            &mut paper,
            &Closing {
                base,
                token,
                token_h: TOKEN_LIFE_S / 3600,
                has_docs: stage.has_docs,
                metrics,
            },
        )?;
    }
    Ok(io::stdout().flush()?)
}

/// The configuration of the environment with records, key and addresses of the demonstration's own.
fn own(config: Config, folder: &Folder, options: DemoOptions, seal: SealConfig) -> Config {
    let Config {
        mut http,
        audit,
        telemetry,
        outbound,
        ..
    } = config;
    // Who tries it out listens on this machine, and nobody else has a token.
    let outbound = OutboundConfig {
        is_insecure: true,
        ..outbound
    };
    http.bind = SocketAddr::from(([127, 0, 0, 1], options.port.unwrap_or(PORT)));
    http.metrics_bind = (!options.once).then_some(SocketAddr::from(([127, 0, 0, 1], 0)));
    http.public_url = String::new();
    // No balancer has to notice that a demonstration is over.
    http.drain = std::time::Duration::ZERO;
    http.docs = http.docs.or(Some(true));
    let random: Vec<_> = (0..4).map(|_| UuidV7Source.uuid().to_string()).collect();
    Config {
        http,
        outbound,
        paper: PaperConfig::default(),
        // What it shows is sent as fast as it can be.
        limits: LimitConfig::default(),
        database: DatabaseConfig {
            url: Secret::new(format!(
                "sqlite://{}",
                folder.path().join("demo.sqlite").display()
            )),
            owner_url: None,
            pool: 4,
            allow_unsafe: false,
        },
        auth: AuthConfig {
            algorithm: Algorithm::HS256,
            keys: vec![AuthKey {
                id: None,
                material: Secret::new(random.concat()),
            }],
            jwks: None,
            issuer: "wearcourse".to_owned(),
            audience: "wearcourse".to_owned(),
            tenant_claim: "tenant".to_owned(),
            scope_claim: "scope".to_owned(),
            contractor_claim: "contractor".to_owned(),
            token_type: "at+jwt".to_owned(),
            cursor_secret: None,
        },
        seal,
        audit,
        telemetry,
    }
}

/// Listens where it was told, or on a free port where nobody told and the usual one is taken.
fn listen(mut config: Config, parts: Parts, port: Option<u16>) -> Result<Application, StartError> {
    let first = Application::build(&config, parts.clone());
    match first {
        Err(StartError::Listen { source, .. })
            if port.is_none() && source.kind() == io::ErrorKind::AddrInUse =>
        {
            config.http.bind.set_port(0);
            Application::build(&config, parts)
        }
        other => other,
    }
}
