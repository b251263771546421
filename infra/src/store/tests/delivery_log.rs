//! How the log of deliveries is cut to its length.

use chrono::TimeDelta;
use uuid::Uuid;

use super::Checked;
use super::delivery::{attempt, lease_in, world_with};
use crate::row::{DeliveryStatus, SubscriptionRow, SubscriptionStatus};
use crate::store::{DeliveryFilter, Recorded};

#[tokio::test]
async fn the_log_is_cut_to_its_length_and_what_waits_stays() -> Checked {
    let (world, to, rows) = world_with(3).await;
    let tx = world.begin().await;
    let leased = lease_in(&tx, &to, world.now).await;
    let done = Recorded {
        status: DeliveryStatus::Dead,
        due_at: None,
        now: world.now,
    };
    for row in &leased[..2] {
        let tried = attempt(row, row.n_attempts + 1, world.now);
        assert!(
            tx.deliveries()
                .record(Uuid::from_u128(5), &tried, done)
                .await?
        );
    }
    tx.commit().await?;
    let sweep = async |before| {
        let mut n = 0;
        loop {
            match world.store().sweep_deliveries(world.ours, before).await? {
                0 => return Ok::<u64, crate::store::StoreError>(n),
                more => n += more,
            }
        }
    };
    assert_eq!(sweep(world.now).await?, 0, "nothing is older than itself");
    // Three attempts, two deliveries, two events; the third waits.
    assert_eq!(sweep(world.now + TimeDelta::days(1)).await?, 7);
    let tx = world.read().await;
    let left = tx
        .deliveries()
        .list(&DeliveryFilter::default(), (None, 9))
        .await?;
    assert_eq!(
        left.items.iter().map(|row| row.id).collect::<Vec<_>>(),
        [rows[2].id]
    );
    assert_eq!(tx.outbox().list(9).await?.len(), 1);
    drop(tx);
    // A deleted subscription goes with the last of its deliveries.
    let tx = world.begin().await;
    let gone = SubscriptionRow {
        status: SubscriptionStatus::Deleted,
        version: 2,
        ..to.clone()
    };
    tx.subscriptions().update(&gone, 1).await?;
    tx.deliveries().cancel(to.id, world.now).await?;
    assert_eq!(tx.subscriptions().get(to.id).await?, None);
    assert_eq!(tx.subscriptions().count().await?, 0);
    tx.commit().await?;
    assert_eq!(sweep(world.now + TimeDelta::days(1)).await?, 3);
    Ok(())
}
