//! How far a figure or a rule can be trusted.

use serde::Deserialize;

/// The grade of the evidence for a row of the knowledge base.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Published, in a text that the source names.
    Published,
    /// Published, but read only as another text quotes it.
    AsQuoted,
    /// Common practice of the trade without a published source.
    CommonPractice,
    /// From memory; nobody has verified it.
    FromMemory,
}

impl Grade {
    /// All of them, surest first.
    pub const ALL: &'static [Self] = &[
        Self::Published,
        Self::AsQuoted,
        Self::CommonPractice,
        Self::FromMemory,
    ];

    /// The word on the wire and in the data files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::AsQuoted => "as_quoted",
            Self::CommonPractice => "common_practice",
            Self::FromMemory => "from_memory",
        }
    }
}
