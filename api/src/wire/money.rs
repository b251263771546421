//! Money on the wire: a decimal text and a currency, never a float.

use domain::money::{self, Currency, Money, ParseAmountError};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    body::{Fault, Faults},
    problem::{Code, Problem},
};

/// An amount that a caller sends: not negative, with at most four digits behind the point.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Price, example = json!({"amount": "16.50", "currency": "GBP"}))]
pub(crate) struct MoneyRequest {
    /// The amount in units of the currency, such as `16.50`, without grouping.
    #[schema(max_length = 18, pattern = r"^[0-9]{1,13}(\.[0-9]{1,4})?$")]
    pub(crate) amount: String,
    /// The currency's ISO 4217 code.
    #[schema(min_length = 3, max_length = 3, pattern = "^[A-Z]{3}$")]
    pub(crate) currency: String,
}

/// Goes on if these amounts can be counted together.
///
/// # Errors
/// `invalid_body` at `pointer`: rates, hours and litres within their own limits came to more than any ledger holds.
pub(crate) fn check_counted(
    pointer: &'static str,
    amounts: impl IntoIterator<Item = i64>,
) -> Result<(), Problem> {
    if money::is_counted(amounts) {
        return Ok(());
    }
    let detail = "The work comes to more than a million million units of the currency: look at its hours, litres and \
                  area, and at the site's rate card.";
    let fault = Fault::at(pointer, "amount_out_of_range", detail);
    Err(Problem::with_faults(Code::InvalidBody, vec![fault]))
}

impl MoneyRequest {
    /// A rate as it is sent back, with every digit that it has.
    pub(crate) fn rate(money: Money) -> Self {
        Self {
            amount: money.rate_text(),
            currency: money.currency.code().to_owned(),
        }
    }

    /// Reads a rate, which may have four digits behind the point; faults go to `pointer` and below.
    pub(crate) fn read_rate(
        &self,
        currency: Currency,
        pointer: &str,
        faults: &mut Faults,
    ) -> Option<Money> {
        let amount = match Money::parse(&self.amount, currency) {
            Ok(money) => Some(money),
            Err(error) => {
                faults.push(format!("{pointer}/amount"), code(&error), sentence(&error));
                None
            }
        };
        if self.currency == currency.code() {
            return amount;
        }
        let detail = format!("The site's currency is {currency}.");
        faults.push(format!("{pointer}/currency"), "currency_mismatch", detail);
        None
    }

    /// Reads an amount that is owed or paid: no more digits than the currency's minor unit has.
    pub(crate) fn read_amount(
        &self,
        currency: Currency,
        pointer: &str,
        faults: &mut Faults,
    ) -> Option<Money> {
        let money = self.read_rate(currency, pointer, faults)?;
        if money.shown() == money {
            return Some(money);
        }
        let allowed = currency.minor_digits();
        let error = ParseAmountError::Digits { allowed };
        faults.push(format!("{pointer}/amount"), code(&error), sentence(&error));
        None
    }
}

const fn code(error: &ParseAmountError) -> &'static str {
    match error {
        ParseAmountError::Syntax => "malformed_amount",
        ParseAmountError::Digits { .. } => "too_many_digits",
        ParseAmountError::Range => "amount_out_of_range",
    }
}

/// The error as a sentence of an answer.
fn sentence(error: &ParseAmountError) -> String {
    match error {
        ParseAmountError::Syntax => "Write an amount like 1234.50, without grouping.".to_owned(),
        ParseAmountError::Digits { allowed } => {
            format!("At most {allowed} digits may stand behind the point.")
        }
        ParseAmountError::Range => "The amount is beyond a million million units.".to_owned(),
    }
}

/// An amount that is sent, rounded to the currency's minor unit.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = Money, example = json!({"amount": "384.47", "currency": "GBP"}))]
pub(crate) struct MoneyView {
    /// The amount in units of the currency.
    #[schema(max_length = 20, pattern = r"^-?[0-9]{1,15}(\.[0-9]{1,4})?$")]
    pub(crate) amount: String,
    /// The currency's ISO 4217 code.
    #[schema(min_length = 3, max_length = 3, pattern = "^[A-Z]{3}$")]
    pub(crate) currency: String,
}

impl From<Money> for MoneyView {
    fn from(money: Money) -> Self {
        Self {
            amount: money.text(),
            currency: money.currency.code().to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use domain::money::{Currency, Money};

    use super::{MoneyRequest, MoneyView};
    use crate::body::Faults;

    fn sent(amount: &str, currency: &str) -> MoneyRequest {
        MoneyRequest {
            amount: amount.to_owned(),
            currency: currency.to_owned(),
        }
    }

    fn told(faults: Faults) -> Vec<(String, &'static str)> {
        let faults = faults.into_inner().into_iter();
        faults.map(|f| (f.pointer.unwrap(), f.code)).collect()
    }

    #[test]
    fn an_amount_is_read_to_the_last_digit_and_never_rounded() {
        let gbp: Currency = "GBP".parse().unwrap();
        let mut faults = Faults::new();
        let rate = sent("0.0525", "GBP").read_rate(gbp, "#/x", &mut faults);
        assert_eq!(rate.map(|money| money.amount), Some(525));
        assert_eq!(MoneyRequest::rate(rate.unwrap()).amount, "0.0525");
        let owed = sent("16.5", "GBP").read_amount(gbp, "#/x", &mut faults);
        assert_eq!(MoneyView::from(owed.unwrap()).amount, "16.50");
        assert!(told(faults).is_empty());
        let mut faults = Faults::new();
        assert_eq!(
            sent("16.505", "GBP").read_amount(gbp, "#/charged", &mut faults),
            None
        );
        let too_many = ("#/charged/amount".to_owned(), "too_many_digits");
        assert_eq!(told(faults), [too_many]);
    }

    #[test]
    fn s_115_every_fault_of_an_amount_is_told_where_it_stands() {
        let jpy: Currency = "JPY".parse().unwrap();
        let mut faults = Faults::new();
        assert_eq!(sent("1e3", "GBP").read_rate(jpy, "#/a", &mut faults), None);
        assert_eq!(
            sent("10.5", "JPY").read_amount(jpy, "#/b", &mut faults),
            None
        );
        assert_eq!(
            sent("9999999999999", "JPY").read_rate(jpy, "#/c", &mut faults),
            None
        );
        let expected = [
            ("#/a/amount", "malformed_amount"),
            ("#/a/currency", "currency_mismatch"),
            ("#/b/amount", "too_many_digits"),
            ("#/c/amount", "amount_out_of_range"),
        ];
        assert_eq!(
            told(faults),
            expected.map(|(at, code)| (at.to_owned(), code))
        );
        assert_eq!(
            MoneyView::from(Money {
                amount: -12_345,
                currency: jpy
            })
            .amount,
            "-1"
        );
    }
}
