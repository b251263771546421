//! A calendar month, `YYYY-MM`.

use std::{fmt, str::FromStr};

use chrono::{Datelike, NaiveDate};

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
    /// The month of a day; `None` for years that are not written with four digits.
    pub(crate) fn of(day: NaiveDate) -> Option<Self> {
        let year = u16::try_from(day.year())
            .ok()
            .filter(|year| *year <= 9_999)?;
        let month = u16::try_from(day.month()).ok()?;
        Some(Self { year, month })
    }

    /// The month that comes so many months later, or earlier; `None` beyond the years 0000 to 9999.
    pub(crate) fn plus(self, months: i32) -> Option<Self> {
        let all = i32::from(self.year) * 12 + i32::from(self.month) - 1;
        let all = all.checked_add(months)?;
        let year = u16::try_from(all.div_euclid(12))
            .ok()
            .filter(|year| *year <= 9_999)?;
        let month = u16::try_from(all.rem_euclid(12)).ok()?;
        Some(Self {
            year,
            month: month + 1,
        })
    }

    /// The quarter that it lies in, `YYYY-Qn`.
    pub(crate) fn quarter(self) -> String {
        format!("{:04}-Q{}", self.year, self.month.div_ceil(3))
    }

    /// The year that it lies in, `YYYY`.
    pub(crate) fn year(self) -> String {
        format!("{:04}", self.year)
    }

    /// Its first day; `None` beyond the days that can be reckoned with.
    pub(crate) fn first_day(self) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(i32::from(self.year), u32::from(self.month), 1)
    }

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
        assert_eq!(month("2025-11").plus(2), Some(month("2026-01")));
        assert_eq!(month("2026-01").plus(-13), Some(month("2024-12")));
        assert_eq!(
            (month("9999-12").plus(1), month("0000-01").plus(-1)),
            (None, None)
        );
        let quarters = ["2026-03", "2026-04", "2026-12"].map(|text| month(text).quarter());
        assert_eq!(quarters, ["2026-Q1", "2026-Q2", "2026-Q4"]);
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
