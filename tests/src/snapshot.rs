//! Expected answers in files, compared line by line.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a snapshot that cannot be read or differs ends the test"
)]

use std::{fs, path::PathBuf};

/// The variable that has snapshots written anew: read what changed before you commit it.
pub const REWRITE: &str = "WEARCOURSE_TEST_REWRITE";

/// Compares a text with the file of this name in `tests/fixtures`.
///
/// # Panics
/// At the first line that differs, or if the file cannot be read.
#[track_caller]
pub fn check(name: &str, found: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name);
    if rewrites() {
        fs::write(&path, found).expect("a snapshot that can be written");
        return;
    }
    let expected = fs::read_to_string(&path).unwrap_or_default();
    let (mut expected, mut found) = (expected.lines(), found.lines());
    for number in 1_u32.. {
        match (expected.next(), found.next()) {
            (None, None) => return,
            (expected, found) if expected == found => {}
            (expected, found) => panic!(
                "{name}:{number} differs; {REWRITE}=1 writes it anew\n expected: {}\n found:    {}",
                expected.unwrap_or("(end)"),
                found.unwrap_or("(end)"),
            ),
        }
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "the only switch of the tests beside the one that names a database"
)]
fn rewrites() -> bool {
    std::env::var(REWRITE).is_ok_and(|value| value == "1")
}
