//! The service under fire: real processes that are killed, disks that forget, lines that are cut.
//!
//! The short forms run with every change. `bash tests/run heavy` runs the long ones and adds the totals up that each test
//! prints as a line `fire: ...`.

mod disk;
mod kill;
mod limit;
mod replicas;
mod trail;
mod writers;

/// The program that is started and killed.
const PROGRAM: &str = env!("CARGO_BIN_EXE_service");

/// One of two sizes: the short form, or the long one where `WEARCOURSE_TEST_FIRE` says `long`.
#[expect(
    clippy::disallowed_methods,
    reason = "how long the tests may take is said here and nowhere else"
)]
pub(crate) fn size(short: usize, long: usize) -> usize {
    let is_long = std::env::var("WEARCOURSE_TEST_FIRE").is_ok_and(|size| size == "long");
    if is_long { long } else { short }
}

/// Prints what a test came to: names and numbers, which `tests/run heavy` adds up over all tests.
#[expect(clippy::print_stdout, reason = "the figures are what the run is for")]
pub(crate) fn tell(what: &str, figures: &[(&str, usize)]) {
    let figures: Vec<String> = figures
        .iter()
        .map(|(name, n)| format!("{name}={n}"))
        .collect();
    println!("fire: {what}: {}", figures.join(" "));
}
