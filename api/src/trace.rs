//! The trace that a request is part of (W3C Trace Context, the header `traceparent`): its id is in every log line.

use actix_web::http::header::{HeaderMap, HeaderName};
use infra::clock::{IdSource as _, UuidV7Source};
use uuid::Uuid;

/// The header.
pub(crate) const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");
/// How long a header of the version that we know is, in bytes.
const LENGTH: usize = 55;

/// The id of the caller's trace, or of a new one where he names none or in a way that is not valid.
pub(crate) fn id_of(headers: &HeaderMap) -> String {
    let mut sent = headers.get_all(TRACEPARENT);
    let only = sent.next().filter(|_| sent.next().is_none());
    let found = only.and_then(|value| value.to_str().ok()).and_then(read);
    let new = || UuidV7Source.uuid().simple().to_string();
    found.map_or_else(new, str::to_owned)
}

/// The header of a message about an event: all attempts to hand it over are one trace, which has the event's own id, and each
/// attempt is a span of it.
pub(crate) fn parent(event: Uuid, attempt: Uuid) -> String {
    // The second half of a version 7 id is random, and the mark of its variant keeps it from being zero.
    let (_, span) = attempt.as_u64_pair();
    format!("00-{}-{span:016x}-01", event.simple())
}

/// The trace id of a header, if all of it is valid. A later version may go on after what we know.
fn read(text: &str) -> Option<&str> {
    let mut parts = text.split('-');
    let (version, id) = (parts.next()?, parts.next()?);
    let (parent, flags) = (parts.next()?, parts.next()?);
    let is_hex = |part: &str, length| {
        let is_digit = |byte: u8| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte);
        part.len() == length && part.bytes().all(is_digit)
    };
    let is_named = |part: &str| part.bytes().any(|byte| byte != b'0');
    let is_known = version != "00" || text.len() == LENGTH;
    let is_valid = is_hex(version, 2)
        && version != "ff"
        && is_hex(id, 32)
        && is_hex(parent, 16)
        && is_hex(flags, 2)
        && is_named(id)
        && is_named(parent);
    (is_valid && is_known).then_some(id)
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::{parent, read};

    #[test]
    fn o_03_what_is_told_of_an_event_is_one_trace_and_each_attempt_a_span() {
        let event = Uuid::from_u128(0x0193_e8a0_0000_7000_8000_0000_dead_beef);
        let attempts =
            [1_u64, 2].map(|n| parent(event, Uuid::from_u64_pair(7, 0x8000_0000_0000_0000 | n)));
        assert_ne!(attempts[0], attempts[1]);
        for header in &attempts {
            assert_eq!(
                read(header),
                Some(
                    "0193e8a000007000800000 00deadbeef"
                        .replace(' ', "")
                        .as_str()
                )
            );
        }
    }

    /// The header that the recommendation shows (W3C Trace Context, section 3.2), and others by its rules; from memory.
    #[test]
    fn o_03_a_trace_is_taken_over_only_if_all_of_its_name_is_valid() {
        let id = "4bf92f3577b34da6a3ce929d0e0e4736";
        for good in [
            format!("00-{id}-00f067aa0ba902b7-01"),
            format!("00-{id}-00f067aa0ba902b7-00"),
            format!("01-{id}-00f067aa0ba902b7-01-more"),
        ] {
            assert_eq!(read(&good), Some(id), "{good}");
        }
        for bad in [
            String::new(),
            format!("ff-{id}-00f067aa0ba902b7-01"),
            format!("00-{id}-00f067aa0ba902b7"),
            format!("00-{id}-00f067aa0ba902b7-01-more"),
            format!("00-{}-00f067aa0ba902b7-01", id.to_uppercase()),
            format!("00-{}-00f067aa0ba902b7-01", "0".repeat(32)),
            format!("00-{id}-0000000000000000-01"),
            format!("00-{id}\u{1b}-00f067aa0ba902b7-01"),
        ] {
            assert_eq!(read(&bad), None, "{bad}");
        }
    }
}
