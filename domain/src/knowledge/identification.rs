//! Field tests that tell what a floor is made of and what lies on it.

use serde::Deserialize;

use super::evidence::Grade;

/// What is seen in a test, and what it says.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TestReading {
    /// What is seen.
    pub reading: String,
    /// What it says of the floor.
    pub means: String,
    /// Keys of materials and, as `film:polish`, kinds of film that it speaks for.
    pub points_to: Vec<String>,
}

/// A field test in a hidden corner.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IdentificationTest {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// Whether it scratches, wets or knocks loose: then it is not handed out where asbestos is presumed.
    #[serde(default)]
    pub disturbs: bool,
    /// The facts that it helps to find out, by name.
    pub tells: Vec<String>,
    /// How it is done.
    pub how: String,
    /// What is seen, and what it says.
    pub readings: Vec<TestReading>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}
