//! The command line: a word for what to do, then options; everything else is in the environment.

mod parse;

use std::{
    error::Error,
    fmt::Write as _,
    io::{self, Write as _},
    process::ExitCode,
};

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::TenantId;
use infra::{
    clock::{Clock as _, SystemClock},
    depot::Depot,
    row::TenantRow,
    store::Store,
};

use crate::{
    app,
    auth::{Grant, mint},
    bootstrap::Application,
    config::{Config, VARIABLES, Variable},
    context::Parts,
    demo, openapi,
    paper::Press,
    telemetry,
    wire::audit::AuditView,
};
use parse::{Command, ExtractOptions, UsageError, parse};

const USAGE: &str = "\
Usage: wearcourse [COMMAND]

Commands:
  serve                       serve requests; the default
  demo [--once] [--port N]    serve example records, with a token to try them
  migrate                     bring the database to the tables of this version
  openapi                     print the description of the API
  token --tenant KEY [--scope \"A B\" | --bundle NAME] [--subject S] [--hours N]
        [--contractor ID]
                              print a token signed with WEARCOURSE_AUTH_SECRET
  tenant add KEY [NAME]       add a tenant
  tenant erase KEY            delete a tenant with every record
  audit verify KEY            say whether a tenant's audit trail is as it was written
  audit export KEY            print a tenant's audit trail, one JSON object a line
  audit prune KEY             forget rows older than WEARCOURSE_AUDIT_DAYS
  rollup verify KEY           compare a tenant's sums by month with its completions; 1 if they differ
  rollup rebuild KEY          make them anew, while others write
  extract --into URL (--tenant KEY | --all-tenants) [--from MONTH] [--to MONTH]
                              write the lines behind cost reports as Parquet, by tenant and
                              month, to file:///FOLDER or s3://BUCKET/PREFIX
  check-config                say what is wrong with the configuration

Options:
  --help                      print this, with the variables
  --version                   print the version
";

/// Does what the arguments say. Answers go to standard output, complaints to standard error; 2 is for mistakes in
/// the arguments or the configuration, 1 for everything else that fails.
pub fn run(arguments: impl Iterator<Item = String>) -> ExitCode {
    match parse(&arguments.collect::<Vec<_>>()) {
        Ok(command) => match execute(command) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => complain(error.as_ref()),
        },
        Err(error) => complain(&error),
    }
}

fn complain(error: &(dyn Error + 'static)) -> ExitCode {
    let mut text = format!("wearcourse: {error}");
    let mut cause = error.source();
    while let Some(error) = cause {
        text.push_str(": ");
        text.push_str(&error.to_string());
        cause = error.source();
    }
    // With standard error gone there is nobody left to tell.
    let _ = writeln!(io::stderr(), "{text}");
    let is_mistake = error.is::<UsageError>() || error.is::<crate::config::ConfigFaults>();
    if is_mistake {
        ExitCode::from(2)
    } else {
        ExitCode::FAILURE
    }
}

type Done = Result<(), Box<dyn Error>>;

fn execute(command: Command) -> Done {
    match command {
        Command::Help => say(&help()),
        Command::Version => say(concat!("wearcourse ", env!("CARGO_PKG_VERSION"))),
        Command::OpenApi => say(openapi::text().trim_end()),
        Command::CheckConfig => {
            let config = Config::from_env()?;
            config.require_to_serve()?;
            let _press = Press::new(config.paper.fonts.as_deref())?;
            say("the configuration is in order")
        }
        Command::Token {
            tenant,
            scope,
            subject,
            contractor,
            hours,
        } => {
            let grant = Grant {
                tenant: &tenant,
                subject: &subject,
                client_id: "wearcourse-cli",
                scope: &scope,
                contractor: contractor.as_deref(),
                life_s: hours.saturating_mul(3600),
            };
            say(&mint(&Config::from_env()?.auth, &grant, SystemClock.now())?)
        }
        command => tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?
            .block_on(execute_with_store(command)),
    }
}

/// The commands that need the database.
async fn execute_with_store(command: Command) -> Done {
    let config = Config::from_env()?;
    if let Command::Demo(options) = command {
        telemetry::start(&config.telemetry.quieter());
        return Ok(demo::run(config, options).await?);
    }
    telemetry::start(&config.telemetry);
    if command == Command::Serve {
        // Before a database is made for a service that will not start.
        config.require_to_serve()?;
    }
    let parts = Parts::open(&config).await?;
    if command == Command::Serve && parts.store.owns_tables().await? {
        tracing::warn!(
            "the database role owns the tables and could take their fences down: see WEARCOURSE_DATABASE_OWNER_URL"
        );
    }
    let is_owners = matches!(
        command,
        Command::AddTenant { .. } | Command::EraseTenant { .. } | Command::PruneAudit { .. }
    );
    let store = if is_owners {
        parts.store.as_owner().await?
    } else {
        parts.store.clone()
    };
    let tenants = store.tenants();
    match command {
        Command::Serve => {
            let service = Application::build(&config, parts)?;
            Ok(service.run_until(signal(), signal()).await?)
        }
        Command::Migrate => say("the database has the tables of this version"),
        Command::AddTenant { key, name } => {
            let row = TenantRow {
                id: TenantId::from_uuid(parts.ids.uuid()),
                key,
                name,
                created_at: parts.clock.now(),
            };
            tenants.add(&row).await?;
            say(&row.id.to_string())
        }
        Command::EraseTenant { key } => {
            let tenant = find(&store, &key).await?;
            tenants.erase(tenant).await?;
            say(&format!("{tenant} is erased"))
        }
        Command::VerifyAudit { key } => verify_audit(&store, &key).await,
        Command::ExportAudit { key } => export_audit(&store, &key).await,
        Command::PruneAudit { key } => {
            prune_audit(&store, &key, (config.audit.kept, parts.clock.now())).await
        }
        Command::VerifyRollups { key } => {
            let tenant = find(&store, &key).await?;
            let n_wrong = store.count_wrong_rollups(tenant).await?;
            if n_wrong > 0 {
                let told = "sums by month are not those of the completions; `wearcourse rollup rebuild` makes them anew";
                return Err(format!("{n_wrong} {told}").into());
            }
            say("the sums by month are those of the completions")
        }
        Command::RebuildRollups { key } => {
            let tenant = find(&store, &key).await?;
            let n_parts = store.rebuild_rollups(tenant).await?;
            say(&format!(
                "the sums of {n_parts} months of sites are made anew"
            ))
        }
        Command::Extract(options) => extract(&parts, &options).await,
        Command::Demo(_)
        | Command::OpenApi
        | Command::Token { .. }
        | Command::CheckConfig
        | Command::Help
        | Command::Version => Ok(()),
    }
}

async fn prune_audit(
    store: &Store,
    key: &str,
    (kept, now): (Option<TimeDelta>, DateTime<Utc>),
) -> Done {
    let Some(kept) = kept else {
        return Err(UsageError("WEARCOURSE_AUDIT_DAYS is not set".to_owned()).into());
    };
    let tenant = find(store, key).await?;
    let n_gone = app::audit::prune(store, tenant, (now - kept, now)).await?;
    say(&format!("{n_gone} rows are forgotten"))
}

/// Says for each tenant what was written; goes on with the others where one fails, and fails at the end.
async fn extract(parts: &Parts, options: &ExtractOptions) -> Done {
    let depot = Depot::open(&options.into)?;
    let mut all = parts.store.tenants().all().await?;
    if let Some(key) = &options.tenant {
        all.retain(|tenant| tenant.key == *key);
        if all.is_empty() {
            return Err(UsageError(format!("there is no tenant `{key}`")).into());
        }
    }
    let mut failed = Vec::new();
    for tenant in &all {
        match app::extract::extract(parts, &depot, tenant, (options.from, options.to)).await {
            Ok(told) => say(&format!("{}: {told}", tenant.key))?,
            Err(error) => {
                complain(&error);
                failed.push(tenant.key.as_str());
            }
        }
    }
    if failed.is_empty() {
        return Ok(());
    }
    Err(format!("the extract is not whole for: {}", failed.join(", ")).into())
}

async fn find(store: &Store, key: &str) -> Result<TenantId, Box<dyn Error>> {
    let tenant = store.tenants().find_by_key(key).await?;
    let tenant = tenant.ok_or_else(|| UsageError(format!("there is no tenant `{key}`")))?;
    Ok(tenant.id)
}

/// Tells every break of a chain, and where the chain ends: only who noted an end before can know that nothing was cut off.
async fn verify_audit(store: &Store, key: &str) -> Done {
    let mut breaks = Vec::new();
    let tenant = find(store, key).await?;
    let end = app::audit::walk(store, tenant, |_, wrong| breaks.extend(wrong)).await?;
    for wrong in &breaks {
        say(&wrong.to_string())?;
    }
    say(&format!(
        "{} rows; the last hash is {}",
        end.number, end.hash
    ))?;
    if breaks.is_empty() {
        return Ok(());
    }
    Err(format!(
        "the audit trail is not what was written, at {} places",
        breaks.len()
    )
    .into())
}

async fn export_audit(store: &Store, key: &str) -> Done {
    let mut out = io::BufWriter::new(io::stdout().lock());
    let mut written = Ok(());
    let tenant = find(store, key).await?;
    app::audit::walk(store, tenant, |row, _| {
        if written.is_ok() {
            written = serde_json::to_writer(&mut out, &AuditView::from(row))
                .map_err(io::Error::from)
                .and_then(|()| writeln!(out));
        }
    })
    .await?;
    written?;
    Ok(out.flush()?)
}

/// Ends when the process is told to: interrupted at the terminal or terminated by whoever started it.
pub(crate) async fn signal() {
    use tokio::signal::unix::{SignalKind, signal};
    let terminated = async {
        match signal(SignalKind::terminate()) {
            Ok(mut terminate) => {
                terminate.recv().await;
            }
            // Without the signal there is still the terminal.
            Err(_) => std::future::pending().await,
        }
    };
    tokio::select! {
        _ = tokio::signal::ctrl_c() => {}
        () = terminated => {}
    }
}

fn say(text: &str) -> Done {
    Ok(writeln!(io::stdout(), "{text}")?)
}

fn help() -> String {
    let mut text =
        format!("{USAGE}\nVariables (secrets can come from the file that <name>_FILE names):\n");
    for variable in VARIABLES {
        let Variable {
            name,
            default,
            meaning,
            ..
        } = variable;
        // Writing to a string does not fail.
        let _ = writeln!(text, "  {name}\n      {meaning} [{default}]");
    }
    text
}
