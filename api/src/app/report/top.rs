//! The first rows in some measure, and all others as one, so that they still add up to the total.

use std::collections::BTreeMap;

use domain::money::Currency;
use infra::store::{CostKey, CostRow};

/// By what rows are ranked, the most first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Measure {
    /// What it cost before tax.
    ActualNet,
    /// What was planned, before tax.
    PlannedNet,
    /// What it cost beyond what was planned.
    VarianceNet,
    /// What is left to do of accepted plans, before tax.
    CommittedNet,
    /// Area that was worked on.
    Area,
    /// Reported hours.
    Hours,
    /// Reported litres.
    Litres,
    /// Water.
    Water,
    /// Volatile organic compounds.
    Voc,
    /// How many completions.
    Completions,
}

impl Measure {
    const fn of(self, row: &CostRow) -> i64 {
        let sums = &row.sums;
        match self {
            Self::ActualNet => sums.actual_net,
            Self::PlannedNet => sums.planned_net,
            Self::VarianceNet => sums.variance_net(),
            Self::CommittedNet => row.committed_net,
            Self::Area => sums.area_mm2,
            Self::Hours => sums.actual_seconds,
            Self::Litres => sums.actual_ml,
            Self::Water => sums.water_ml,
            Self::Voc => sums.voc_mg,
            Self::Completions => sums.n_completions,
        }
    }
}

/// How many rows of each currency, and by what.
#[derive(Debug, Clone, Copy)]
pub(super) struct Top {
    pub(super) n: usize,
    pub(super) measure: Measure,
}

/// The rows with whether each is the sum of the rest: that is told only where rows are ranked. Amounts of two currencies are not
/// compared, so each has its own first ones. `None` if a sum lies outside the ledger.
pub(super) fn cut(rows: Vec<CostRow>, top: Option<Top>) -> Option<Vec<(CostRow, Option<bool>)>> {
    let Some(Top { n, measure }) = top else {
        return Some(rows.into_iter().map(|row| (row, None)).collect());
    };
    let mut currencies: BTreeMap<&str, Vec<CostRow>> = BTreeMap::new();
    for row in rows {
        currencies.entry(row.currency.code()).or_default().push(row);
    }
    let mut cut = Vec::new();
    for mut rows in currencies.into_values() {
        // Rows that are equal keep their order.
        rows.sort_by_key(|row| std::cmp::Reverse(measure.of(row)));
        let rest = rows.split_off(n.min(rows.len()));
        cut.extend(rows.into_iter().map(|row| (row, Some(false))));
        if let Some(first) = rest.first() {
            let other = together(first.currency, &rest)?;
            cut.push((other, Some(true)));
        }
    }
    Some(cut)
}

/// All rows of a currency as one; `None` if a sum lies outside the ledger.
fn together(currency: Currency, rows: &[CostRow]) -> Option<CostRow> {
    let mut sum = CostRow::empty(CostKey::default(), currency);
    for row in rows {
        sum.sums = sum.sums.plus(&row.sums)?;
        sum.rework_mm2 = sum.rework_mm2.checked_add(row.rework_mm2)?;
        sum.committed_net = sum.committed_net.checked_add(row.committed_net)?;
        sum.committed_tax = sum.committed_tax.checked_add(row.committed_tax)?;
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use infra::store::{CostKey, CostRow, CostSums};

    use super::{Measure, Top, cut};

    fn row(storey: &str, currency: &str, amount: i64) -> CostRow {
        let key = CostKey {
            storey: Some(storey.to_owned()),
            ..CostKey::default()
        };
        CostRow {
            sums: CostSums {
                actual_net: amount,
                n_completions: 1,
                ..CostSums::default()
            },
            committed_net: 1,
            ..CostRow::empty(key, currency.parse().unwrap())
        }
    }

    /// Currency, storey, what it cost and what is committed.
    type Told = (&'static str, Option<String>, i64, i64);

    fn ranked(rows: Vec<CostRow>, n: usize) -> Option<Vec<Told>> {
        let measure = Measure::ActualNet;
        let rows = cut(rows, Some(Top { n, measure }))?;
        let told = rows.into_iter().map(|(row, is_other)| {
            assert_eq!(is_other, Some(row.key.storey.is_none()));
            (
                row.currency.code(),
                row.key.storey.clone(),
                row.sums.actual_net,
                row.committed_net,
            )
        });
        Some(told.collect())
    }

    #[test]
    fn the_first_of_each_currency_and_the_rest_add_up_to_all() {
        let rows = vec![
            row("a", "GBP", 3),
            row("b", "EUR", 1),
            row("c", "GBP", 5),
            row("d", "GBP", 3),
            row("e", "GBP", -9),
        ];
        let named = |name: &str| Some(name.to_owned());
        let expected = vec![
            ("EUR", named("b"), 1, 1),
            ("GBP", named("c"), 5, 1),
            ("GBP", named("a"), 3, 1),
            ("GBP", None, -6, 2),
        ];
        assert_eq!(ranked(rows.clone(), 2), Some(expected));
        assert_eq!(ranked(rows, 9).unwrap().len(), 5, "no rest, no row of it");
        let beyond = vec![row("a", "EUR", i64::MAX), row("b", "EUR", 1)];
        assert_eq!(ranked(beyond, 0), None);
    }
}
