//! Field tests of floors on the wire.

use domain::knowledge::{IdentificationTest, TestReading};
use serde::Serialize;
use utoipa::ToSchema;

use super::lists;

/// A field test that tells what a floor is made of or what lies on it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct IdentificationTestView {
    /// The word that names it everywhere.
    #[schema(max_length = 60)]
    key: String,
    /// Its name for people.
    #[schema(max_length = 200)]
    name: String,
    /// The facts that it helps to find out.
    #[schema(max_items = 20)]
    tells: Vec<String>,
    /// How it is done.
    #[schema(max_length = 1000)]
    how: String,
    /// What is seen, and what it says.
    #[schema(max_items = 20)]
    readings: Vec<TestReadingView>,
    /// Where the row comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

/// What is seen in a test, and what it says.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct TestReadingView {
    /// What is seen.
    #[schema(max_length = 500)]
    reading: String,
    /// What it says of the floor.
    #[schema(max_length = 500)]
    means: String,
    /// Keys of materials and, as `film:polish`, kinds of film that it speaks for.
    #[schema(max_items = 20)]
    points_to: Vec<String>,
}

impl From<&IdentificationTest> for IdentificationTestView {
    fn from(row: &IdentificationTest) -> Self {
        Self {
            key: row.key.clone(),
            name: row.name.clone(),
            tells: row.tells.clone(),
            how: row.how.clone(),
            readings: row.readings.iter().map(Into::into).collect(),
            source: row.source.clone(),
            grade: row.grade.word(),
        }
    }
}

impl From<&TestReading> for TestReadingView {
    fn from(row: &TestReading) -> Self {
        Self {
            reading: row.reading.clone(),
            means: row.means.clone(),
            points_to: row.points_to.clone(),
        }
    }
}

lists! {
    /// All field tests.
    IdentificationTestList of IdentificationTestView;
}
