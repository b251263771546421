//! Models in STEP text.

#![no_main]

use domain::handover::Format;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| fuzz::read(Format::Ifc, bytes));
