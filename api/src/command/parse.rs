//! Reads the command line.

use std::{error::Error, fmt};

use domain::id::ContractorId;

use crate::{
    auth::{BUNDLES, SCOPES},
    demo::DemoOptions,
    wire::report::Month,
};

/// What is wrong with the command line.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct UsageError(pub(super) String);

impl fmt::Display for UsageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; see --help", self.0)
    }
}

impl Error for UsageError {}

/// What to do.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Command {
    Serve,
    Demo(DemoOptions),
    Migrate,
    OpenApi,
    Token {
        tenant: String,
        scope: String,
        subject: String,
        contractor: Option<String>,
        hours: u32,
    },
    AddTenant {
        key: String,
        name: String,
    },
    EraseTenant {
        key: String,
    },
    VerifyAudit {
        key: String,
    },
    ExportAudit {
        key: String,
    },
    PruneAudit {
        key: String,
    },
    VerifyRollups {
        key: String,
    },
    RebuildRollups {
        key: String,
    },
    Extract(ExtractOptions),
    CheckConfig,
    Help,
    Version,
}

/// What to extract, and where to.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct ExtractOptions {
    /// The address of a folder or bucket.
    pub(super) into: String,
    /// The key of the tenant; none for each of them.
    pub(super) tenant: Option<String>,
    /// The first month; none for the first that there is.
    pub(super) from: Option<Month>,
    /// The month after the last; none for all that there are.
    pub(super) to: Option<Month>,
}

/// Reads the arguments.
///
/// # Errors
/// [`UsageError`] for what is not understood.
pub(super) fn parse(arguments: &[String]) -> Result<Command, UsageError> {
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    if words
        .iter()
        .any(|word| ["--help", "-h", "help"].contains(word))
    {
        return Ok(Command::Help);
    }
    match words.as_slice() {
        [] | ["serve"] => Ok(Command::Serve),
        ["demo", options @ ..] => demo_options(options).map(Command::Demo),
        ["migrate"] => Ok(Command::Migrate),
        ["openapi"] => Ok(Command::OpenApi),
        ["token", options @ ..] => token(options),
        ["tenant", "add", key] => Ok(Command::AddTenant {
            key: tenant_key(key)?,
            name: (*key).to_owned(),
        }),
        ["tenant", "add", key, name] => Ok(Command::AddTenant {
            key: tenant_key(key)?,
            name: (*name).to_owned(),
        }),
        ["tenant", "erase", key] => Ok(Command::EraseTenant {
            key: tenant_key(key)?,
        }),
        ["audit", "verify", key] => Ok(Command::VerifyAudit {
            key: tenant_key(key)?,
        }),
        ["audit", "export", key] => Ok(Command::ExportAudit {
            key: tenant_key(key)?,
        }),
        ["audit", "prune", key] => Ok(Command::PruneAudit {
            key: tenant_key(key)?,
        }),
        ["rollup", "verify", key] => Ok(Command::VerifyRollups {
            key: tenant_key(key)?,
        }),
        ["rollup", "rebuild", key] => Ok(Command::RebuildRollups {
            key: tenant_key(key)?,
        }),
        ["extract", options @ ..] => extract_options(options).map(Command::Extract),
        ["check-config" | "--check-config"] => Ok(Command::CheckConfig),
        ["--version" | "-V"] => Ok(Command::Version),
        [first, ..] => Err(UsageError(format!("`{first}` is not understood here"))),
    }
}

fn demo_options(mut words: &[&str]) -> Result<DemoOptions, UsageError> {
    let mut options = DemoOptions {
        once: false,
        port: None,
    };
    while let Some((word, rest)) = words.split_first() {
        words = match (*word, rest) {
            ("--once", rest) => {
                options.once = true;
                rest
            }
            ("--port", [port, rest @ ..]) => {
                options.port = Some(number(port, "--port")?);
                rest
            }
            (other, _) => return Err(UsageError(format!("`demo` does not take `{other}` so"))),
        };
    }
    Ok(options)
}

fn extract_options(mut words: &[&str]) -> Result<ExtractOptions, UsageError> {
    let (mut into, mut tenant, mut is_all, mut from, mut to) = (None, None, false, None, None);
    while let Some((word, rest)) = words.split_first() {
        words = match (*word, rest) {
            ("--all-tenants", rest) => {
                is_all = true;
                rest
            }
            (word, [value, rest @ ..]) => {
                match word {
                    "--into" => into = Some((*value).to_owned()),
                    "--tenant" => tenant = Some(tenant_key(value)?),
                    "--from" => from = Some(month(value)?),
                    "--to" => to = Some(month(value)?),
                    other => return Err(UsageError(format!("`extract` does not take `{other}`"))),
                }
                rest
            }
            (word, []) => return Err(UsageError(format!("`{word}` needs a value"))),
        };
    }
    if tenant.is_some() == is_all {
        let detail = "`extract` needs either --tenant or --all-tenants";
        return Err(UsageError(detail.to_owned()));
    }
    if from.zip(to).is_some_and(|(from, to)| from >= to) {
        let detail = "--to is the month after the last: it must lie behind --from";
        return Err(UsageError(detail.to_owned()));
    }
    let into = into.ok_or_else(|| UsageError("`extract` needs --into".to_owned()))?;
    Ok(ExtractOptions {
        into,
        tenant,
        from,
        to,
    })
}

fn month(text: &str) -> Result<Month, UsageError> {
    text.parse()
        .map_err(|_rejected| UsageError(format!("`{text}` is no month: write YYYY-MM")))
}

fn token(mut words: &[&str]) -> Result<Command, UsageError> {
    let (mut tenant, mut scope, mut subject, mut hours) =
        (None, String::new(), "operator".to_owned(), 1);
    let mut contractor = None;
    while let Some((word, rest)) = words.split_first() {
        let Some((value, rest)) = rest.split_first() else {
            return Err(UsageError(format!("`{word}` needs a value")));
        };
        match *word {
            "--tenant" => tenant = Some(tenant_key(value)?),
            "--scope" => (*value).clone_into(&mut scope),
            "--bundle" => {
                let bundle = BUNDLES.iter().find(|(name, _)| name == value);
                let unknown = || UsageError(format!("`{value}` is not a bundle"));
                bundle.ok_or_else(unknown)?.1.clone_into(&mut scope);
            }
            "--subject" => (*value).clone_into(&mut subject),
            "--contractor" if value.parse::<ContractorId>().is_ok() => {
                contractor = Some((*value).to_owned());
            }
            "--contractor" => {
                return Err(UsageError(format!("`{value}` is no contractor's id")));
            }
            "--hours" => hours = number(value, "--hours")?,
            other => return Err(UsageError(format!("`token` does not take `{other}`"))),
        }
        words = rest;
    }
    let unknown = scope
        .split_whitespace()
        .find(|word| !SCOPES.iter().any(|scope| scope.name == *word));
    if let Some(unknown) = unknown {
        return Err(UsageError(format!("`{unknown}` is not a scope")));
    }
    if !(1..=24).contains(&hours) {
        return Err(UsageError("--hours goes from 1 to 24".to_owned()));
    }
    let tenant = tenant.ok_or_else(|| UsageError("`token` needs --tenant".to_owned()))?;
    Ok(Command::Token {
        tenant,
        scope,
        subject,
        contractor,
        hours,
    })
}

fn number<T: std::str::FromStr>(text: &str, option: &str) -> Result<T, UsageError> {
    text.parse()
        .map_err(|_rejected| UsageError(format!("{option} needs a number")))
}

fn tenant_key(text: &str) -> Result<String, UsageError> {
    let is_key =
        (1..=100).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_graphic());
    if is_key && !text.starts_with('-') {
        return Ok(text.to_owned());
    }
    Err(UsageError(
        "a tenant's key has 1 to 100 visible ASCII characters".to_owned(),
    ))
}

#[cfg(test)]
mod tests {
    use super::{Command, DemoOptions, parse};

    fn parsed(line: &str) -> Option<Command> {
        parse(
            &line
                .split_whitespace()
                .map(str::to_owned)
                .collect::<Vec<_>>(),
        )
        .ok()
    }

    #[test]
    fn a_line_means_one_thing_or_is_refused() {
        assert_eq!(parsed(""), Some(Command::Serve));
        let demo = DemoOptions {
            once: true,
            port: Some(0),
        };
        assert_eq!(parsed("demo --port 0 --once"), Some(Command::Demo(demo)));
        assert_eq!(parsed("tenant erase --help"), Some(Command::Help));
        let add = Command::AddTenant {
            key: "north".to_owned(),
            name: "north".to_owned(),
        };
        assert_eq!(parsed("tenant add north"), Some(add));
        let verify = Command::VerifyRollups {
            key: "north".to_owned(),
        };
        assert_eq!(parsed("rollup verify north"), Some(verify));
        for bad in [
            "server",
            "rollup verify",
            "rollup mend north",
            "demo --port",
            "demo --port x",
            "token",
            "tenant add",
            "token --tenant a --hours 25",
        ] {
            assert_eq!(parsed(bad), None, "{bad}");
        }
    }

    #[test]
    fn an_extract_is_of_one_tenant_or_of_all_and_of_months_that_follow() {
        let one = "extract --into file:///srv/x --tenant north --from 2026-01 --to 2026-04";
        let Some(Command::Extract(options)) = parsed(one) else {
            panic!("it is understood");
        };
        assert_eq!(options.tenant.as_deref(), Some("north"));
        assert_eq!(
            options.to.map(|to| to.to_string()).as_deref(),
            Some("2026-04")
        );
        assert!(parsed("extract --all-tenants --into s3://bucket/x").is_some());
        for bad in [
            "extract",
            "extract --tenant north",
            "extract --into file:///srv/x",
            "extract --into file:///srv/x --tenant north --all-tenants",
            "extract --into file:///srv/x --tenant north --from 2026-13",
            "extract --into file:///srv/x --tenant north --from 2026-04 --to 2026-04",
            "extract --into file:///srv/x --tenant",
        ] {
            assert_eq!(parsed(bad), None, "{bad}");
        }
    }

    #[test]
    fn a_token_is_for_known_scopes() {
        assert!(parsed("token --tenant a --bundle analyst").is_some());
        assert!(parsed("token --tenant a --scope sites:read").is_some());
        assert!(parsed("token --tenant a --scope sites:raed").is_none());
        assert!(parsed("token --tenant a --bundle root").is_none());
        let contractor = "con_01890a5d-ac96-774b-bcce-b302099a8057";
        assert!(parsed(&format!("token --tenant a --contractor {contractor}")).is_some());
        assert!(parsed("token --tenant a --contractor con_1").is_none());
    }
}
