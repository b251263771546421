//! A text that must not be shown: keys and addresses that hold passwords.

use std::fmt;

/// A secret. It shows nothing of itself; [`Secret::expose`] is the one way to what it holds.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// Hides a text.
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// The text: for the one place that needs it, never for a log.
    pub fn expose(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret([redacted])")
    }
}
