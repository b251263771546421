//! Tables of comma-separated values.

#![no_main]

use domain::handover::Format;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| fuzz::read(Format::Csv, bytes));
