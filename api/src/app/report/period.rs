//! Stretches of time in a report: months without anything, and how many months a row goes over.

use std::collections::HashSet;

use infra::store::{CostKey, CostRow, Dim};

use super::Asked;
use crate::wire::report::Month;

/// Adds a row of zeros for each month, quarter or year that is grouped by and that a group has nothing in, so that a series
/// has no holes. `None` if there would be more than `most` rows.
pub(super) fn fill(rows: &mut Vec<CostRow>, asked: &Asked, most: usize) -> Option<()> {
    let by = |dim| asked.group_by.contains(&dim);
    if !asked.group_by.iter().any(|dim| dim.is_period()) {
        return Some(());
    }
    let mut groups = HashSet::new();
    for row in rows.iter() {
        let key = CostKey {
            month: None,
            quarter: None,
            year: None,
            ..row.key.clone()
        };
        groups.insert((row.currency, key));
    }
    let mut known: HashSet<_> = rows
        .iter()
        .map(|row| (row.currency, row.key.clone()))
        .collect();
    let each = months_from(asked.from).take(usize::try_from(asked.from.until(asked.to)).ok()?);
    for month in each {
        for (currency, group) in &groups {
            let key = CostKey {
                month: by(Dim::Month).then(|| month.to_string()),
                quarter: by(Dim::Quarter).then(|| month.quarter()),
                year: by(Dim::Year).then(|| month.year()),
                ..group.clone()
            };
            if known.insert((*currency, key.clone())) {
                rows.push(CostRow::empty(key, *currency));
            }
        }
        if rows.len() > most {
            return None;
        }
    }
    Some(())
}

fn months_from(first: Month) -> impl Iterator<Item = Month> {
    std::iter::successors(Some(first), |month| month.plus(1))
}

/// Over how many of the report's months a row goes.
pub(super) fn months(key: &CostKey, asked: &Asked) -> i32 {
    let whole = asked.from.until(asked.to);
    let n = usize::try_from(whole).unwrap_or(0);
    let lies_in = |month: &Month| {
        let is =
            |asked: &Option<String>, own: String| asked.as_ref().is_none_or(|asked| *asked == own);
        is(&key.month, month.to_string())
            && is(&key.quarter, month.quarter())
            && is(&key.year, month.year())
    };
    let count = months_from(asked.from).take(n).filter(lies_in).count();
    i32::try_from(count).unwrap_or(whole)
}

#[cfg(test)]
mod tests {
    use infra::store::{CostFilter, CostKey, CostRow, Dim};

    use super::{Asked, fill, months};

    fn asked(from: &str, to: &str, group_by: &[Dim]) -> Asked {
        Asked {
            from: from.parse().unwrap(),
            to: to.parse().unwrap(),
            group_by: group_by.to_vec(),
            filter: CostFilter::default(),
            top: None,
            skip_empty: false,
            rework_days: None,
        }
    }

    fn of_month(month: &str, currency: &str) -> CostRow {
        let key = CostKey {
            month: Some(month.to_owned()),
            ..CostKey::default()
        };
        CostRow::empty(key, currency.parse().unwrap())
    }

    #[test]
    fn an_empty_month_is_a_row_of_zeros_in_each_currency() {
        let asked = asked("2025-12", "2026-03", &[Dim::Month]);
        let mut rows = vec![of_month("2026-01", "EUR"), of_month("2026-02", "GBP")];
        assert_eq!(fill(&mut rows, &asked, 6), Some(()));
        let mut told: Vec<_> = rows
            .iter()
            .map(|row| (row.currency.code(), row.key.month.clone().unwrap()))
            .collect();
        told.sort();
        let all = ["EUR", "GBP"].into_iter().flat_map(|currency| {
            ["2025-12", "2026-01", "2026-02"].map(|month| (currency, month.to_owned()))
        });
        assert_eq!(told, all.collect::<Vec<_>>());
        let mut rows = vec![of_month("2026-01", "EUR"), of_month("2026-02", "GBP")];
        assert_eq!(fill(&mut rows, &asked, 5), None);
        assert_eq!(fill(&mut Vec::new(), &asked, 0), Some(()));
    }

    #[test]
    fn a_row_goes_over_the_months_of_its_period_that_the_report_has() {
        let of = |quarter: Option<&str>, year: Option<&str>| {
            let key = CostKey {
                quarter: quarter.map(str::to_owned),
                year: year.map(str::to_owned),
                ..CostKey::default()
            };
            months(&key, &asked("2025-11", "2026-06", &[]))
        };
        assert_eq!(of(None, None), 7);
        assert_eq!(of(Some("2025-Q4"), None), 2);
        assert_eq!(of(Some("2026-Q1"), Some("2026")), 3);
        assert_eq!(of(None, Some("2026")), 5);
        let month = &of_month("2026-01", "EUR").key;
        assert_eq!(months(month, &asked("2025-11", "2026-06", &[])), 1);
    }
}
