//! The log: one JSON object a line on standard error, so that standard output stays for answers of commands.

mod line;

use tracing_subscriber::EnvFilter;

use self::line::{Line, Members};
use crate::config::TelemetryConfig;

/// Starts the log; a second start in one process changes nothing.
pub(crate) fn start(config: &TelemetryConfig) {
    let filter = EnvFilter::try_new(&config.filter).unwrap_or_else(|_| EnvFilter::new("info"));
    let log = tracing_subscriber::fmt()
        .event_format(Line)
        .fmt_fields(Members)
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .try_init();
    if log.is_err() {
        tracing::debug!("the log was started before");
    }
    // The default hook writes text between the lines of JSON. What a panic says is told where it is caught.
    std::panic::set_hook(Box::new(|panic| {
        let place = panic.location().map(ToString::to_string);
        tracing::error!(place, "a thread panicked");
    }));
}
