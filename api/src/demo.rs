//! The demonstration: a service with example records and a token to try it with.

use crate::config::Config;

/// What the demonstration was asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct DemoOptions {
    /// Show the example and end, instead of serving on.
    pub(crate) once: bool,
    /// The port to listen on; 0 takes a free one.
    pub(crate) port: u16,
}

/// Why there is no demonstration.
#[derive(Debug, thiserror::Error)]
#[error("the demonstration is not built yet")]
pub(crate) struct DemoError;

/// Runs the demonstration.
///
/// # Errors
/// [`DemoError`].
#[expect(clippy::unused_async, reason = "it serves once it is built")]
pub(crate) async fn run(_config: Config, _options: DemoOptions) -> Result<(), DemoError> {
    Err(DemoError)
}
