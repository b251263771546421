//! Rate cards.

use super::{Checked, World, day};
use crate::row::RateCardRow;

#[tokio::test]
async fn the_rate_card_of_a_day_is_the_last_that_became_valid() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let cards: Vec<RateCardRow> = [
        (1, "2026-01-01"),
        (2, "2026-07-01"),
        (3, "2026-03-01"),
        (4, "2026-03-01"),
    ]
    .into_iter()
    .map(|(number, from)| world.rate_card(&site, number, from))
    .collect();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    for card in &cards {
        tx.rate_cards().insert(card).await?;
    }
    tx.commit().await?;
    let tx = world.read().await;
    for (on, number) in [
        ("2026-02-28", 1),
        ("2026-03-01", 4),
        ("2026-06-30", 4),
        ("2026-07-01", 2),
    ] {
        let card = tx
            .rate_cards()
            .current(site.id, day(on))
            .await?
            .expect("a card");
        assert_eq!(card.number, number, "on {on}");
    }
    assert_eq!(
        tx.rate_cards().current(site.id, day("2025-12-31")).await?,
        None
    );
    assert_eq!(
        tx.rate_cards().latest(site.id).await?.as_ref(),
        cards.last()
    );
    assert_eq!(
        tx.rate_cards().get(cards[0].id).await?,
        Some(cards[0].clone())
    );
    let page = tx.rate_cards().list(site.id, None, 3).await?;
    assert_eq!(
        page.items
            .iter()
            .map(|card| card.number)
            .collect::<Vec<_>>(),
        [4, 3, 2]
    );
    let rest = tx.rate_cards().list(site.id, page.next, 3).await?;
    assert_eq!(
        rest.items
            .iter()
            .map(|card| card.number)
            .collect::<Vec<_>>(),
        [1]
    );
    Ok(())
}
