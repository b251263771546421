//! Money in 1/10,000 of a currency's unit, always with its currency.

use std::{fmt, str::FromStr};

use crate::quantity::{Labour, Rounding, Volume, divide};

/// How many ledger units make one unit of any currency.
pub const UNITS: i64 = 10_000;

/// The largest amount, in ledger units: a million million units of a currency. Sums of many such fit into 64 bits.
pub const MOST: i64 = 1_000_000_000_000 * UNITS;

/// Whether these amounts, and so their sum, are of a size that is counted.
///
/// What is beyond 64 bits stays at their end ([`Money::times`]), so amounts that grew too large are seen here at last.
pub fn is_counted(amounts: impl IntoIterator<Item = i64>) -> bool {
    let sizes = amounts.into_iter().map(|amount| i128::from(amount).abs());
    sizes.sum::<i128>() <= i128::from(MOST)
}

/// A currency of ISO 4217 with the number of digits of its minor unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency {
    code: &'static str,
    digits: u32,
}

/// Why a text names no currency that can be kept here.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is not the code of a current ISO 4217 currency")]
pub struct UnknownCurrency {
    /// What was given.
    pub text: String,
}

/// Current ISO 4217 codes whose minor unit has 0 or 3 digits; all others here have 2.
const ZERO_DIGITS: &[&str] = &[
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV",
    "XAF", "XOF", "XPF",
];
const THREE_DIGITS: &[&str] = &["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"];
const TWO_DIGITS: &[&str] = &[
    "AED", "AFN", "ALL", "AMD", "AOA", "ARS", "AUD", "AWG", "AZN", "BAM", "BBD", "BDT", "BMD",
    "BND", "BOB", "BRL", "BSD", "BTN", "BWP", "BYN", "BZD", "CAD", "CDF", "CHF", "CNY", "COP",
    "CRC", "CUP", "CVE", "CZK", "DKK", "DOP", "DZD", "EGP", "ERN", "ETB", "EUR", "FJD", "FKP",
    "GBP", "GEL", "GHS", "GIP", "GMD", "GTQ", "GYD", "HKD", "HNL", "HTG", "HUF", "IDR", "ILS",
    "INR", "IRR", "JMD", "KES", "KGS", "KHR", "KPW", "KYD", "KZT", "LAK", "LBP", "LKR", "LRD",
    "LSL", "MAD", "MDL", "MGA", "MKD", "MMK", "MNT", "MOP", "MRU", "MUR", "MVR", "MWK", "MXN",
    "MYR", "MZN", "NAD", "NGN", "NIO", "NOK", "NPR", "NZD", "PAB", "PEN", "PGK", "PHP", "PKR",
    "PLN", "QAR", "RON", "RSD", "RUB", "SAR", "SBD", "SCR", "SDG", "SEK", "SGD", "SHP", "SLE",
    "SOS", "SRD", "SSP", "STN", "SVC", "SYP", "SZL", "THB", "TJS", "TMT", "TOP", "TRY", "TTD",
    "TWD", "TZS", "UAH", "USD", "UYU", "UZS", "VES", "WST", "XCD", "YER", "ZAR", "ZMW",
];

impl Currency {
    /// The three-letter code.
    pub const fn code(self) -> &'static str {
        self.code
    }

    /// How many digits stand behind the point when money of this currency is shown (0, 2 or 3).
    pub const fn minor_digits(self) -> u32 {
        self.digits
    }

    /// How many ledger units make one minor unit.
    const fn minor(self) -> i64 {
        match self.digits {
            0 => UNITS,
            2 => 100,
            _ => 10,
        }
    }
}

impl FromStr for Currency {
    type Err = UnknownCurrency;

    fn from_str(text: &str) -> Result<Self, UnknownCurrency> {
        [(TWO_DIGITS, 2), (ZERO_DIGITS, 0), (THREE_DIGITS, 3)]
            .into_iter()
            .find_map(|(codes, digits)| {
                let code = codes.iter().find(|code| **code == text)?;
                Some(Self { code, digits })
            })
            .ok_or_else(|| UnknownCurrency {
                text: text.to_owned(),
            })
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code)
    }
}

/// An amount of one currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Money {
    /// In 1/10,000 of the currency's unit.
    pub amount: i64,
    /// What it is an amount of.
    pub currency: Currency,
}

/// Why two amounts were not added.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AddMoneyError {
    /// Money of two currencies is never added.
    #[error("{left} and {right} cannot be added")]
    CurrencyMismatch {
        /// The currency of the first amount.
        left: Currency,
        /// The currency of the second amount.
        right: Currency,
    },
    /// The sum lies outside the ledger.
    #[error("the sum lies outside the ledger")]
    Overflow,
}

/// Why a decimal text is not an amount of a currency.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseAmountError {
    /// Not digits with at most one point and an optional minus.
    #[error("an amount is written like 1234.50, without grouping")]
    Syntax,
    /// More digits behind the point than the ledger keeps.
    #[error("at most {allowed} digits may stand behind the point")]
    Digits {
        /// How many are allowed.
        allowed: u32,
    },
    /// Beyond 10^12 units.
    #[error("the amount is beyond a million million units")]
    Range,
}

impl Money {
    /// Nothing, in a currency.
    pub const fn zero(currency: Currency) -> Self {
        Self {
            amount: 0,
            currency,
        }
    }

    /// Reads a decimal text such as `16.50`. Rates may have up to 4 digits behind the point.
    pub fn parse(text: &str, currency: Currency) -> Result<Self, ParseAmountError> {
        let (negative, digits) = text
            .strip_prefix('-')
            .map_or((false, text), |rest| (true, rest));
        let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
        let plain = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        if !plain(whole) || !plain(fraction) {
            return Err(ParseAmountError::Syntax);
        }
        if fraction.len() > 4 {
            return Err(ParseAmountError::Digits { allowed: 4 });
        }
        if whole.len() > 13 {
            return Err(ParseAmountError::Range);
        }
        let number = |digits: &str| digits.parse::<i64>().ok();
        let places = 4_u32.saturating_sub(u32::try_from(fraction.len()).unwrap_or(4));
        let parts = number(whole).zip(number(fraction));
        // 13 and 4 digits at most, so nothing overflows.
        let units = parts.map(|(whole, fraction)| whole * 10_000 + fraction * 10_i64.pow(places));
        let units = units.ok_or(ParseAmountError::Range)?;
        if units > MOST {
            return Err(ParseAmountError::Range);
        }
        Ok(Self {
            amount: if negative { -units } else { units },
            currency,
        })
    }

    /// Rounded to the minor unit, a tie away from zero: what a person is shown.
    #[must_use]
    pub fn shown(self) -> Self {
        let minor = self.currency.minor();
        let whole = divide(
            i128::from(self.amount),
            i128::from(minor),
            Rounding::HalfAwayFromZero,
        );
        Self {
            amount: whole.unwrap_or(0).saturating_mul(minor),
            currency: self.currency,
        }
    }

    /// The sum of two amounts of one currency.
    ///
    /// # Errors
    /// [`AddMoneyError`]: another currency, or beyond the ledger.
    pub fn plus(self, other: Self) -> Result<Self, AddMoneyError> {
        if self.currency != other.currency {
            return Err(AddMoneyError::CurrencyMismatch {
                left: self.currency,
                right: other.currency,
            });
        }
        let amount = self
            .amount
            .checked_add(other.amount)
            .ok_or(AddMoneyError::Overflow)?;
        Ok(Self { amount, ..self })
    }

    /// This amount per hour, for a working time; rounded to the minor unit.
    #[must_use]
    pub fn for_labour(self, time: Labour) -> Self {
        self.times(time.us(), 3_600_000_000)
    }

    /// This amount per litre, for a volume; rounded to the minor unit.
    #[must_use]
    pub fn for_volume(self, volume: Volume) -> Self {
        self.times(volume.ul(), 1_000_000)
    }

    /// This amount `numerator / denominator` times; rounded to the minor unit, zero for a zero denominator. A result
    /// beyond 64 bits is the last amount within them, which [`is_counted`] refuses.
    #[must_use]
    pub fn times(self, numerator: i64, denominator: i64) -> Self {
        let minor = i128::from(self.currency.minor());
        let product = i128::from(self.amount) * i128::from(numerator);
        let divisor = i128::from(denominator) * minor;
        let whole = divide(product, divisor, Rounding::HalfAwayFromZero);
        let end = || match product.signum() * divisor.signum() {
            0 => 0,
            1 => i64::MAX,
            _ => i64::MIN,
        };
        Self {
            amount: whole
                .unwrap_or_else(end)
                .saturating_mul(self.currency.minor()),
            currency: self.currency,
        }
    }

    /// The decimal text with exactly the digits of the minor unit (`349.52`), after rounding to it.
    pub fn text(self) -> String {
        self.digits(self.currency.minor_digits())
    }

    /// The decimal text of a rate: at least the minor unit's digits, more where they are not zero.
    pub fn rate_text(self) -> String {
        let mut text = self.digits(4);
        let least = usize::try_from(self.currency.minor_digits()).unwrap_or(2);
        let keep = text.find('.').map_or(text.len(), |point| point + 1 + least);
        while text.len() > keep && text.ends_with('0') {
            text.pop();
        }
        if text.ends_with('.') {
            text.pop();
        }
        text
    }

    fn digits(self, digits: u32) -> String {
        let shown = if digits == 4 { self } else { self.shown() };
        let sign = if shown.amount < 0 { "-" } else { "" };
        let size = shown.amount.unsigned_abs();
        let (whole, rest) = (size / 10_000, size % 10_000);
        match digits {
            0 => format!("{sign}{whole}"),
            2 => format!("{sign}{whole}.{:02}", rest / 100),
            3 => format!("{sign}{whole}.{:03}", rest / 10),
            _ => format!("{sign}{whole}.{rest:04}"),
        }
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.text(), self.currency)
    }
}

#[cfg(test)]
mod tests {
    use super::{Currency, Money, ParseAmountError, is_counted};
    use crate::quantity::Labour;

    fn money(text: &str, code: &str) -> Money {
        Money::parse(text, code.parse::<Currency>().expect("a code")).expect("an amount")
    }

    #[test]
    fn amounts_are_shown_with_the_digits_of_their_currency() {
        // ISO 4217: the minor unit of JPY has 0 digits, of EUR 2, of KWD 3.
        assert_eq!(money("1234.5", "EUR").text(), "1234.50");
        assert_eq!(money("1234.5", "JPY").text(), "1235");
        assert_eq!(money("0.0005", "KWD").text(), "0.001");
        assert_eq!(money("-0.005", "EUR").text(), "-0.01");
        assert_eq!(money("4.2", "GBP").rate_text(), "4.20");
        assert_eq!(money("4.2015", "GBP").rate_text(), "4.2015");
        assert_eq!(money("4", "JPY").rate_text(), "4");
    }

    #[test]
    fn labour_costs_its_rate_rounded_once() {
        let pay = money("16.50", "EUR").for_labour(Labour::from_us(76_258_235_294));
        assert_eq!(pay.text(), "349.52");
    }

    #[test]
    fn an_amount_that_grew_too_large_is_seen_and_never_small() {
        let most = money("1000000000000", "EUR");
        assert!(is_counted([most.amount]) && !is_counted([most.amount, 1]));
        let debt = Money {
            amount: -most.amount,
            ..most
        };
        for (n, d) in [(i64::MAX, 1), (i64::MIN, -1), (1_000_000, 1)] {
            assert!(!is_counted([most.times(n, d).amount]), "{n} / {d}");
            assert!(most.times(n, d).amount > 0);
            assert!(debt.times(n, d).amount < 0);
        }
        assert_eq!(most.times(7, 0).amount, 0);
    }

    #[test]
    fn what_is_no_amount_is_refused() {
        let eur: Currency = "EUR".parse().expect("a code");
        assert_eq!(Money::parse("1,5", eur), Err(ParseAmountError::Syntax));
        assert_eq!(Money::parse("", eur), Err(ParseAmountError::Syntax));
        assert_eq!(Money::parse(".5", eur), Err(ParseAmountError::Syntax));
        assert_eq!(
            Money::parse("1.00005", eur),
            Err(ParseAmountError::Digits { allowed: 4 })
        );
        assert_eq!(
            Money::parse("1000000000001", eur),
            Err(ParseAmountError::Range)
        );
        assert!("EURO".parse::<Currency>().is_err());
        assert!(money("1", "EUR").plus(money("1", "USD")).is_err());
    }
}
