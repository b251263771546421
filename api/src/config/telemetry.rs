//! What is logged.

use tracing_subscriber::EnvFilter;

use super::source::Source;

/// Our own doings, and only the trouble of what we stand on.
const DEFAULT: &str = "info,actix_http=off,actix_server=warn,sea_orm_migration=warn";

/// The log, which goes to standard error as one JSON object a line.
#[derive(Debug, Clone)]
pub struct TelemetryConfig {
    /// `WEARCOURSE_LOG`, default `info`: a level or directives such as `info,api=debug`.
    pub filter: String,
}

impl TelemetryConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let name = "WEARCOURSE_LOG";
        let filter = source.text(name).unwrap_or_else(|| DEFAULT.to_owned());
        if EnvFilter::try_new(&filter).is_err() {
            source.fault(name, "must be a level or a list of directives");
        }
        Self { filter }
    }
    /// The same, but only trouble where nobody said what to log: for a command that prints a lot itself.
    pub(crate) fn quieter(&self) -> Self {
        let filter = if self.filter == DEFAULT {
            "warn,actix_http=off"
        } else {
            &self.filter
        };
        Self {
            filter: filter.to_owned(),
        }
    }
}
