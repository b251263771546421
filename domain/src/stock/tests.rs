//! What is taken first, what is not counted, and that what is taken is never more than there is or is needed.

use proptest::prelude::*;
use uuid::Uuid;

use super::*;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn item(n: u128, ml: i64) -> StockItem {
    StockItem {
        id: StockItemId::from_uuid(Uuid::from_u128(n)),
        product: "polish".to_owned(),
        left: Volume::from_ml(ml),
        batch: Some(format!("B{n}")),
        expires_on: None,
        opening: None,
    }
}

fn until(item: StockItem, text: &str) -> StockItem {
    StockItem {
        expires_on: Some(day(text)),
        ..item
    }
}

fn opened(item: StockItem, on: &str, keeps_days: u32) -> StockItem {
    let opening = Opening {
        on: Some(day(on)),
        keeps_days: Some(keeps_days),
    };
    StockItem {
        opening: Some(opening),
        ..item
    }
}

/// A batch by its number, with what is said of it.
type Batch<T> = (String, T);

/// The batches that are taken with mL, and those that are not counted with the reason.
fn told(items: &[StockItem], on: &str, ml: i64) -> (Vec<Batch<i64>>, Vec<Batch<&'static str>>) {
    let stock = Stock { items, on: day(on) };
    let found = stock.take("polish", Volume::from_ml(ml));
    let batch = |batch: Option<String>| batch.unwrap_or_default();
    (
        found
            .taken
            .into_iter()
            .map(|taken| (batch(taken.batch), taken.volume.ml_half_even()))
            .collect(),
        found
            .not_counted
            .into_iter()
            .map(|item| (batch(item.batch), item.reason.word()))
            .collect(),
    )
}

fn named(list: &[(&str, i64)]) -> Vec<(String, i64)> {
    list.iter()
        .map(|(name, ml)| ((*name).to_owned(), *ml))
        .collect()
}

#[test]
fn what_spoils_first_goes_first_and_what_is_open_before_what_is_sealed() {
    let items = [
        item(1, 1_000),
        until(item(2, 1_000), "2026-12-31"),
        opened(until(item(3, 1_000), "2026-12-31"), "2026-06-01", 400),
        opened(until(item(4, 1_000), "2027-12-31"), "2026-06-01", 30),
    ];
    let (taken, not_counted) = told(&items, "2026-06-15", 3_500);
    assert_eq!(
        taken,
        named(&[("B4", 1_000), ("B3", 1_000), ("B2", 1_000), ("B1", 500)])
    );
    assert!(not_counted.is_empty());
}

#[test]
fn a_batch_is_good_on_its_last_day_and_not_on_the_next() {
    let items = [
        until(item(1, 1_000), "2026-06-15"),
        opened(item(2, 1_000), "2026-06-01", 14),
    ];
    let (taken, not_counted) = told(&items, "2026-06-15", 5_000);
    assert_eq!((taken.len(), not_counted.len()), (2, 0));
    let (taken, not_counted) = told(&items, "2026-06-16", 5_000);
    assert!(taken.is_empty());
    let spoilt = [("B1", "expired"), ("B2", "open_too_long")];
    assert_eq!(
        not_counted,
        spoilt.map(|(name, why)| (name.to_owned(), why))
    );
}

#[test]
fn another_product_and_what_nobody_needs_are_not_taken() {
    let other = StockItem {
        product: "stripper".to_owned(),
        ..item(1, 1_000)
    };
    let (taken, not_counted) = told(&[other, item(2, 1_000), item(3, 1_000)], "2026-06-15", 800);
    assert_eq!((taken, not_counted), (named(&[("B2", 800)]), Vec::new()));
}

proptest! {
    #[test]
    fn what_is_taken_is_the_smaller_of_what_is_needed_and_what_is_good(
        demand in 0..20_000_i64,
        lots in proptest::collection::vec((1..6_000_i64, -40..40_i64), 0..8),
    ) {
        let on = day("2026-06-15");
        let dated = |(n, (ml, days)): (usize, &(i64, i64))| StockItem {
            expires_on: on.checked_add_signed(chrono::TimeDelta::days(*days)),
            ..item(u128::try_from(n).unwrap_or(0), *ml)
        };
        let items: Vec<StockItem> = lots.iter().enumerate().map(dated).collect();
        let found = Stock { items: &items, on }.take("polish", Volume::from_ml(demand));
        let good: i64 = lots.iter().filter(|(_, days)| *days >= 0).map(|(ml, _)| ml).sum();
        prop_assert_eq!(found.total(), Volume::from_ml(good.min(demand)));
        prop_assert_eq!(found.good, Volume::from_ml(good));
        for taken in &found.taken {
            let whole = items.iter().find(|item| item.id == taken.item).map(|item| item.left);
            prop_assert_eq!(whole, Some(taken.volume.plus(taken.left)));
        }
        prop_assert_eq!(found.not_counted.len(), lots.iter().filter(|(_, days)| *days < 0).count());
    }
}
