//! The program as it ships, built together with the tests that start and kill it, so that it is never older than they are.

use std::process::ExitCode;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    api::run(std::env::args().skip(1))
}
