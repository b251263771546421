//! Figures with their units, as people write them.

use super::answer::Money;

/// `1,234.50 GBP`.
pub(super) fn money(money: &Money) -> String {
    format!("{} {}", grouped(&money.amount), money.currency)
}

/// `1,234.50`, for a column whose title says the currency.
pub(super) fn grouped(amount: &str) -> String {
    let (sign, digits) = amount
        .strip_prefix('-')
        .map_or(("", amount), |digits| ("-", digits));
    let (whole, fraction) = digits
        .split_once('.')
        .map_or((digits, None), |(whole, fraction)| (whole, Some(fraction)));
    let mut text = sign.to_owned();
    let length = whole.chars().count();
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && length.saturating_sub(at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    if let Some(fraction) = fraction {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// `232.44 m²`.
pub(super) fn square_metres(area_m2: f64) -> String {
    format!("{} m²", grouped(&format!("{area_m2:.2}")))
}

/// `12.30 L`.
pub(super) fn litres(litres: f64) -> String {
    format!("{} L", grouped(&format!("{litres:.2}")))
}

/// `8.75 h`.
pub(super) fn hours(hours: f64) -> String {
    format!("{hours:.2} h")
}

/// `45 min`, `2 h`, `6 h 05 min` or `2 d 4 h`.
pub(super) fn minutes(minutes: i64) -> String {
    let (hours, rest) = (minutes / 60, minutes % 60);
    match (hours, rest) {
        (0, rest) => format!("{rest} min"),
        (48.., _) if hours % 24 == 0 => format!("{} d", hours / 24),
        (48.., _) => format!("{} d {} h", hours / 24, hours % 24),
        (hours, 0) => format!("{hours} h"),
        (hours, rest) => format!("{hours} h {rest:02} min"),
    }
}

/// `6:05` after closing, for a column of times.
pub(super) fn clock(minutes: i64) -> String {
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// `allowed with warnings` for `allowed_with_warnings`.
pub(super) fn spoken(word: &str) -> String {
    word.replace('_', " ")
}

/// `1 coat` or `3 coats`.
pub(super) fn count(n: impl Into<i64>, one: &str) -> String {
    let n = n.into();
    let plural = if n == 1 { "" } else { "s" };
    format!("{n} {one}{plural}")
}

/// How far a source can be trusted, in words.
pub(super) fn source(source: &str, grade: &str) -> String {
    format!("{source} ({})", spoken(grade))
}

#[cfg(test)]
mod tests {
    use super::{clock, count, grouped, minutes, square_metres};

    #[test]
    fn thousands_are_set_apart() {
        assert_eq!(grouped("1234567.50"), "1,234,567.50");
        assert_eq!(grouped("-1000"), "-1,000");
        assert_eq!(grouped("999.99"), "999.99");
        assert_eq!(square_metres(2350.486), "2,350.49 m²");
    }

    #[test]
    fn minutes_become_hours_and_days() {
        let shown = [0, 45, 120, 365, 2879, 2880, 3000].map(minutes);
        let expected = ["0 min", "45 min", "2 h", "6 h 05 min", "47 h 59 min", "2 d", "2 d 2 h"];
        assert_eq!(shown, expected);
        assert_eq!(clock(365), "6:05");
    }

    #[test]
    fn one_thing_is_singular() {
        assert_eq!(count(1, "coat"), "1 coat");
        assert_eq!(count(0, "coat"), "0 coats");
    }
}
