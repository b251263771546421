//! Tenants' own products.

use domain::id::ProductId;

use super::{Checked, World};
use crate::clock::IdSource as _;
use crate::row::{ProductRow, ProductStatus};
use crate::store::{Constraint, StoreError};

pub(super) fn product(world: &World, key: &str) -> ProductRow {
    ProductRow {
        id: ProductId::from_uuid(world.ids.uuid()),
        key: key.to_owned(),
        version: 1,
        class: "polish".to_owned(),
        name: "Night polish".to_owned(),
        status: ProductStatus::InUse,
        document: "{}".to_owned(),
        created_at: world.now,
        updated_at: world.now,
    }
}

#[tokio::test]
async fn products_come_in_the_order_of_their_registration() -> Checked {
    let world = World::new().await;
    let rows = ["zinc_polish", "acryl_polish", "matt_polish"].map(|key| product(&world, key));
    let tx = world.begin().await;
    for row in &rows {
        tx.products().insert(row).await?;
    }
    tx.commit().await?;
    let tx = world.read().await;
    assert_eq!(tx.products().first(10).await?, rows);
    assert_eq!(tx.products().first(2).await?, rows[..2]);
    let found = tx.products().get("acryl_polish").await?;
    assert_eq!(found.as_ref(), Some(&rows[1]));
    assert_eq!(tx.products().get("Acryl_polish").await?, None);
    let theirs = world.read_theirs().await;
    assert!(theirs.products().first(10).await?.is_empty());
    assert_eq!(theirs.products().get("acryl_polish").await?, None);
    Ok(())
}

#[tokio::test]
async fn a_key_is_taken_once_by_each_tenant() -> Checked {
    let world = World::new().await;
    let tx = world.begin().await;
    tx.products().insert(&product(&world, "polish_n")).await?;
    tx.commit().await?;
    let tx = world.begin().await;
    let again = tx.products().insert(&product(&world, "polish_n")).await;
    let constraint = Constraint::ProductKey;
    assert!(
        matches!(&again, Err(StoreError::Conflict { constraint: c }) if *c == constraint),
        "{again:?}"
    );
    drop(tx);
    let tx = world.store().begin(world.theirs).await?;
    tx.products().insert(&product(&world, "polish_n")).await?;
    tx.commit().await?;
    Ok(())
}

#[tokio::test]
async fn a_product_changes_by_its_version_and_is_kept_when_it_is_withdrawn() -> Checked {
    let world = World::new().await;
    let mut row = product(&world, "polish_n");
    let tx = world.begin().await;
    tx.products().insert(&row).await?;
    row.version = 2;
    row.status = ProductStatus::Withdrawn;
    tx.products().update(&row, 1).await?;
    tx.commit().await?;
    let tx = world.begin().await;
    let late = tx.products().update(&row, 1).await;
    assert!(matches!(late, Err(StoreError::StaleVersion)), "{late:?}");
    assert_eq!(tx.products().get("polish_n").await?, Some(row));
    Ok(())
}
