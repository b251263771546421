//! A calendar month, `YYYY-MM`.

use std::{fmt, str::FromStr};

/// A month of the years 0000 to 9999.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Month {
    year: u16,
    month: u16,
}

/// A text is no month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct NoMonth;

impl Month {
    /// How many months lie from this one up to, not including, another; negative if that one is earlier.
    pub(crate) fn until(self, other: Self) -> i32 {
        let months = |at: Self| i32::from(at.year) * 12 + i32::from(at.month);
        months(other) - months(self)
    }
}

impl FromStr for Month {
    type Err = NoMonth;

    fn from_str(text: &str) -> Result<Self, NoMonth> {
        let digits = |part: &str, n: usize| {
            let plain = part.len() == n && part.bytes().all(|byte| byte.is_ascii_digit());
            plain.then(|| part.parse::<u16>().ok()).flatten()
        };
        let (year, month) = text.split_once('-').ok_or(NoMonth)?;
        let year = digits(year, 4);
        let month = digits(month, 2).filter(|month| (1..=12).contains(month));
        let both = year.zip(month).map(|(year, month)| Self { year, month });
        both.ok_or(NoMonth)
    }
}

impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}", self.year, self.month)
    }
}

#[cfg(test)]
mod tests {
    use super::Month;

    #[test]
    fn months_are_read_in_one_spelling_and_counted_across_years() {
        let month = |text: &str| text.parse::<Month>().unwrap();
        assert_eq!(month("2026-01").to_string(), "2026-01");
        assert_eq!(month("2025-11").until(month("2026-02")), 3);
        assert_eq!(month("2026-02").until(month("2026-02")), 0);
        assert_eq!(month("2026-02").until(month("2025-12")), -2);
        assert!(month("2025-12") < month("2026-01"));
        for bad in [
            "",
            "2026",
            "2026-1",
            "2026-13",
            "2026-00",
            "26-01",
            "2026-01-01",
            "+026-01",
            "2026-+1",
            "2026/01",
            " 2026-01",
            "٢٠٢٦-٠١",
        ] {
            assert!(bad.parse::<Month>().is_err(), "{bad}");
        }
    }
}
