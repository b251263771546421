//! Calendars.

#![no_main]

use chrono::DateTime;
use chrono_tz::America::New_York;
use domain::{
    ical::{self, MAX_DAYS, MAX_OCCURRENCES},
    placing::Span,
};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let text = String::from_utf8_lossy(bytes);
    let moment = |seconds| DateTime::from_timestamp(seconds, 0).unwrap_or_default();
    // From 1997 on, as the examples of RFC 5545, two years long.
    let within = Span {
        from: moment(852_076_800),
        to: moment(915_148_800),
    };
    let mut days = MAX_DAYS;
    match ical::expand(&text, New_York, within, &mut days) {
        Ok(spans) => {
            assert!(days <= MAX_DAYS && spans.len() <= MAX_OCCURRENCES);
            for span in &spans {
                // Whole events: those that reach into what was asked for.
                assert!(span.from < span.to && span.from < within.to && span.to > within.from);
            }
            for pair in spans.windows(2) {
                assert!(
                    pair[0].to < pair[1].from,
                    "in order, and joined where they meet"
                );
            }
        }
        Err(faults) => {
            let n_lines = text.split('\n').count() + 1;
            assert!(!faults.is_empty());
            assert!(
                faults
                    .iter()
                    .all(|fault| (1..=n_lines).contains(&fault.line))
            );
        }
    }
});
