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

/// `45 min`, `2 h`, `6 h 05 min` or `2 d 4 h 05 min`.
pub(super) fn minutes(minutes: i64) -> String {
    let (hours, rest) = (minutes / 60, minutes % 60);
    let (days, hours) = if hours < 48 {
        (0, hours)
    } else {
        (hours / 24, hours % 24)
    };
    let parts = [
        (days > 0).then(|| format!("{days} d")),
        (hours > 0).then(|| format!("{hours} h")),
        match (rest, days + hours) {
            (rest, 0) => Some(format!("{rest} min")),
            (0, _) => None,
            (rest, _) => Some(format!("{rest:02} min")),
        },
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// `allowed with warnings` for `allowed_with_warnings`.
pub(super) fn spoken(word: &str) -> String {
    word.replace('_', " ")
}

/// `1 coat` or `3 coats`.
pub(super) fn count(n: impl Into<i64>, one: &str) -> String {
    match (n.into(), one.strip_suffix(['s', 'x', 'h'])) {
        (1, _) => format!("1 {one}"),
        (n, Some(_)) => format!("{n} {one}es"),
        (n, None) => format!("{n} {one}s"),
    }
}

/// How many there are.
pub(super) fn length<T>(things: &[T]) -> i64 {
    i64::try_from(things.len()).unwrap_or(i64::MAX)
}

/// A source and how far it can be trusted, unless it says so itself.
pub(super) fn source(source: &str, grade: &str) -> String {
    let grade = spoken(grade);
    if source.starts_with(&grade) {
        return source.to_owned();
    }
    format!("{source} ({grade})")
}

#[cfg(test)]
mod tests {
    use super::{count, grouped, minutes, source, square_metres};

    #[test]
    fn thousands_are_set_apart() {
        assert_eq!(grouped("1234567.50"), "1,234,567.50");
        assert_eq!(grouped("-1000"), "-1,000");
        assert_eq!(grouped("999.99"), "999.99");
        assert_eq!(square_metres(2350.486), "2,350.49 m²");
    }

    #[test]
    fn minutes_become_hours_and_days() {
        let shown = [0, 45, 120, 365, 2879, 2880, 3005].map(minutes);
        let expected = [
            "0 min",
            "45 min",
            "2 h",
            "6 h 05 min",
            "47 h 59 min",
            "2 d",
            "2 d 2 h 05 min",
        ];
        assert_eq!(shown, expected);
    }

    #[test]
    fn a_grade_is_not_said_twice() {
        assert_eq!(
            source("common practice, no source", "common_practice"),
            "common practice, no source"
        );
        assert_eq!(source("a manual", "from_memory"), "a manual (from memory)");
    }

    #[test]
    fn one_thing_is_singular() {
        assert_eq!(count(1, "coat"), "1 coat");
        assert_eq!(count(0, "coat"), "0 coats");
        assert_eq!(count(2, "process"), "2 processes");
    }
}
