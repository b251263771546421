//! Workbooks, bytes of the archive and all.

#![no_main]

use domain::handover::Format;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| fuzz::read(Format::Cobie, bytes));
