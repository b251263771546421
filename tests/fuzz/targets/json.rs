//! Bodies of JSON, as strictly as they are read: what is read is what another reader reads, and it is read again as it was.

#![no_main]

use libfuzzer_sys::fuzz_target;

#[path = "../../../api/src/body/fault/pointer.rs"]
#[allow(dead_code)]
mod fault;
#[path = "../../../api/src/body/strict.rs"]
mod strict;

use strict::{JsonFault, MAX_DEPTH, parse};

fuzz_target!(|bytes: &[u8]| {
    match parse(bytes) {
        Ok(value) => {
            let other: Result<serde_json::Value, _> = serde_json::from_slice(bytes);
            assert_eq!(other.ok().as_ref(), Some(&value));
            let written = value.to_string();
            // The last digit of a fraction is read by a fast way that may be off by one: such values are not compared.
            let again = parse(written.as_bytes());
            assert!(
                again == Ok(value) || written.contains(['.', 'e']),
                "{again:?}"
            );
            let deepest = written
                .bytes()
                .fold((0, 0), |(depth, most): (usize, usize), byte| {
                    // Brackets within texts count too and only make the bound weaker.
                    match byte {
                        b'[' | b'{' => (depth + 1, most.max(depth + 1)),
                        b']' | b'}' => (depth.saturating_sub(1), most),
                        _ => (depth, most),
                    }
                });
            let has_text = written.contains('"');
            assert!(has_text || deepest.1 <= MAX_DEPTH);
        }
        Err(JsonFault::Duplicate { pointer } | JsonFault::Reserved { pointer }) => {
            assert!(pointer.starts_with("#/") && pointer.is_ascii());
        }
        Err(JsonFault::Syntax { line, .. }) => {
            assert!(line <= bytes.split(|byte| *byte == b'\n').count());
        }
        Err(JsonFault::TooDeep | JsonFault::NumberTooLarge) => {}
    }
});
