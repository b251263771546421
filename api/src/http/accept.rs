//! Which of the forms that an answer can take a caller likes best (RFC 9110, section 12.5.1).

use actix_web::http::header::{self, HeaderMap};

/// A form with the two halves of its media type.
pub(super) type Offer<F> = (F, &'static str, &'static str);

/// The form that the caller likes best, the first of those that he likes as much; the first of all if he does not say, and
/// none if he takes none.
pub(super) fn best<F: Copy>(headers: &HeaderMap, offered: &[Offer<F>]) -> Option<F> {
    let sent: Vec<&str> = headers
        .get_all(header::ACCEPT)
        .map(|value| value.to_str().unwrap_or_default())
        .collect();
    choose(&sent.join(","), offered)
}

/// As [`best`], of the text of the header.
pub(super) fn choose<F: Copy>(accept: &str, offered: &[Offer<F>]) -> Option<F> {
    if accept.trim().is_empty() {
        return offered.first().map(|(form, ..)| *form);
    }
    let ranges: Vec<Range<'_>> = accept.split(',').filter_map(Range::read).collect();
    let mut best = None;
    for &(form, kind, subtype) in offered {
        // The most specific range decides, whatever a wider one says.
        let matching = ranges.iter().filter(|range| range.covers(kind, subtype));
        let weight = matching.max_by_key(|range| range.specificity());
        let weight = weight.map_or(0, |range| range.weight);
        if weight > 0 && best.is_none_or(|(most, _)| weight > most) {
            best = Some((weight, form));
        }
    }
    best.map(|(_, form)| form)
}

/// One media range with its weight in thousandths.
struct Range<'a> {
    kind: &'a str,
    subtype: &'a str,
    weight: u16,
}

impl<'a> Range<'a> {
    /// Reads a range; parameters other than the weight narrow nothing that we send. What cannot be read is passed over.
    fn read(text: &'a str) -> Option<Self> {
        let mut parts = text.split(';').map(str::trim);
        let (kind, subtype) = parts.next()?.split_once('/')?;
        let weight = parts.find_map(|part| part.strip_prefix("q=").or(part.strip_prefix("Q=")));
        Some(Self {
            kind,
            subtype,
            weight: weight.map_or(Some(1_000), thousandths)?,
        })
    }

    fn covers(&self, kind: &str, subtype: &str) -> bool {
        let is = |range: &str, value: &str| range == "*" || range.eq_ignore_ascii_case(value);
        is(self.kind, kind)
            && is(self.subtype, subtype)
            && (self.kind != "*" || self.subtype == "*")
    }

    fn specificity(&self) -> u8 {
        u8::from(self.kind != "*") + u8::from(self.subtype != "*")
    }
}

/// A weight: `0` to `1` with up to three digits behind the point.
fn thousandths(text: &str) -> Option<u16> {
    let (whole, rest) = text.split_once('.').unwrap_or((text, ""));
    let plain = rest.len() <= 3 && rest.bytes().all(|byte| byte.is_ascii_digit());
    let weight: u16 = match whole {
        "0" | "1" if plain => format!("{whole}{rest:0<3}").parse().ok()?,
        _ => return None,
    };
    (weight <= 1_000).then_some(weight)
}
