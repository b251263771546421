//! What sites have left over.

use domain::id::StockItemId;

use super::{Checked, World, day};
use crate::clock::IdSource as _;
use crate::row::{SiteRow, StockItemRow};
use crate::store::{StockItemFilter, StoreError};

pub(super) fn item(world: &World, site: &SiteRow, product: &str) -> StockItemRow {
    StockItemRow {
        id: StockItemId::from_uuid(world.ids.uuid()),
        site_id: site.id,
        version: 1,
        product: product.to_owned(),
        expires_on: None,
        document: "{}".to_owned(),
        created_at: world.now,
        updated_at: world.now,
    }
}

#[tokio::test]
async fn what_is_left_over_is_found_by_site_product_and_date() -> Checked {
    let world = World::new().await;
    let (site, other) = (world.site(), world.site());
    let rows = [
        StockItemRow {
            expires_on: Some(day("2026-09-30")),
            ..item(&world, &site, "polish_emulsion")
        },
        StockItemRow {
            expires_on: Some(day("2026-10-01")),
            ..item(&world, &site, "polish_emulsion")
        },
        item(&world, &site, "polish_emulsion"),
        item(&world, &site, "stripper_alkaline"),
    ];
    let tx = world.begin().await;
    for site in [&site, &other] {
        tx.sites().insert(site).await?;
    }
    for row in &rows {
        tx.stock_items().insert(row).await?;
    }
    let elsewhere = item(&world, &other, "polish_emulsion");
    tx.stock_items().insert(&elsewhere).await?;
    tx.commit().await?;
    let tx = world.read().await;
    let all = StockItemFilter::default();
    let page = tx.stock_items().list(site.id, &all, None, 3).await?;
    assert_eq!(
        (page.items.as_slice(), page.next),
        (&rows[..3], Some(rows[2].id))
    );
    let rest = tx.stock_items().list(site.id, &all, page.next, 3).await?;
    assert_eq!((rest.items.as_slice(), rest.next), (&rows[3..], None));
    let polish = StockItemFilter {
        product: Some("polish_emulsion".to_owned()),
        expires_by: Some(day("2026-09-30")),
    };
    let found = tx.stock_items().list(site.id, &polish, None, 9).await?;
    assert_eq!(found.items, rows[..1]);
    assert_eq!(
        tx.stock_items().get(rows[0].id).await?.as_ref(),
        Some(&rows[0])
    );
    let theirs = world.read_theirs().await;
    assert_eq!(theirs.stock_items().get(rows[0].id).await?, None);
    let none = theirs.stock_items().list(site.id, &all, None, 9).await?;
    assert!(none.items.is_empty());
    Ok(())
}

#[tokio::test]
async fn what_is_left_over_is_changed_and_deleted_by_its_version() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let mut row = item(&world, &site, "polish_emulsion");
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.stock_items().insert(&row).await?;
    row.version = 2;
    tx.stock_items().update(&row, 1).await?;
    tx.commit().await?;
    let foreign = world.store().begin(world.theirs).await?;
    let done = foreign.stock_items().delete(row.id, 2).await;
    assert!(matches!(done, Err(StoreError::StaleVersion)), "{done:?}");
    drop(foreign);
    let tx = world.begin().await;
    let late = tx.stock_items().delete(row.id, 1).await;
    assert!(matches!(late, Err(StoreError::StaleVersion)), "{late:?}");
    drop(tx);
    let tx = world.begin().await;
    assert_eq!(tx.stock_items().get(row.id).await?, Some(row.clone()));
    tx.stock_items().delete(row.id, 2).await?;
    tx.commit().await?;
    assert_eq!(world.read().await.stock_items().get(row.id).await?, None);
    Ok(())
}
