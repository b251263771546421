//! Events on their way out: leases, spans and how the log is cut.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::{DeliveryId, SubscriptionId};
use uuid::Uuid;

use super::{Checked, World};
use crate::clock::IdSource as _;
use crate::row::{
    AttemptRow, DeliveryRow, DeliveryStatus, EventRow, SubscriptionRow, SubscriptionStatus,
};
use crate::store::{DeliveryFilter, Recorded, Span, Tx};

/// A subscription that is told of events.
fn subscription(world: &World) -> SubscriptionRow {
    SubscriptionRow {
        id: SubscriptionId::from_uuid(world.ids.uuid()),
        version: 1,
        name: "Works orders".to_owned(),
        status: SubscriptionStatus::Enabled,
        disabled_because: None,
        document: "{}".to_owned(),
        secret: "sealed".to_owned(),
        previous: None,
        failing_since: None,
        created_at: world.now,
        updated_at: world.now,
    }
}

fn delivery(world: &World, subscription: &SubscriptionRow, event: &EventRow) -> DeliveryRow {
    DeliveryRow {
        id: DeliveryId::from_uuid(world.ids.uuid()),
        subscription_id: subscription.id,
        event_id: event.id,
        event_type: event.kind.clone(),
        event_at: event.created_at,
        version: 1,
        status: DeliveryStatus::Pending,
        n_attempts: 0,
        n_round: 0,
        due_at: Some(world.now),
        lease: None,
        created_at: world.now,
        finished_at: None,
    }
}

pub(super) fn attempt(delivery: &DeliveryRow, number: i64, now: DateTime<Utc>) -> AttemptRow {
    AttemptRow {
        delivery_id: delivery.id,
        number,
        started_at: now,
        duration_ms: Some(84),
        http_status: Some(503),
        outcome: "refused".to_owned(),
        answer: Some("Later.".to_owned()),
    }
}

/// A subscription with deliveries of `n` events, in a transaction that goes on.
pub(super) async fn told(
    world: &World,
    tx: &Tx,
    n: usize,
) -> Result<(SubscriptionRow, Vec<DeliveryRow>), Box<dyn std::error::Error>> {
    let subscription = subscription(world);
    tx.subscriptions().insert(&subscription).await?;
    let events: Vec<_> = (0..n).map(|n| world.event(&format!("sit_{n}"))).collect();
    tx.outbox().append_many(&events).await?;
    let rows: Vec<_> = events
        .iter()
        .map(|event| delivery(world, &subscription, event))
        .collect();
    tx.deliveries().insert(&rows).await?;
    tx.outbox()
        .set_handed_out(
            &events.iter().map(|event| event.id).collect::<Vec<_>>(),
            world.now,
        )
        .await?;
    if let Some(first) = rows.first() {
        let lease = (Uuid::from_u128(1), world.now + TimeDelta::seconds(30));
        tx.deliveries()
            .lease(subscription.id, lease, world.now, 1)
            .await?;
        let again = Recorded {
            status: DeliveryStatus::Pending,
            due_at: Some(world.now),
            now: world.now,
        };
        let tried = attempt(first, 1, world.now);
        assert!(tx.deliveries().record(lease.0, &tried, again).await?);
    }
    Ok((subscription, rows))
}

pub(super) async fn world_with(n: usize) -> (World, SubscriptionRow, Vec<DeliveryRow>) {
    let world = World::new().await;
    let tx = world.begin().await;
    let (subscription, rows) = told(&world, &tx, n).await.expect("told");
    tx.commit().await.expect("committed");
    (world, subscription, rows)
}

async fn lease(
    world: &World,
    of: &SubscriptionRow,
    token: u128,
    at: DateTime<Utc>,
) -> Vec<DeliveryRow> {
    let tx = world.begin().await;
    let locked = tx.subscriptions().take(of.id).await.expect("asked");
    if locked.is_none() {
        return Vec::new();
    }
    let lease = (Uuid::from_u128(token), at + TimeDelta::seconds(30));
    let rows = tx
        .deliveries()
        .lease(of.id, lease, at, 4)
        .await
        .expect("leased");
    tx.commit().await.expect("committed");
    rows
}

#[tokio::test]
async fn f_40_a_result_counts_only_while_its_lease_is_there() -> Checked {
    let (world, to, _) = world_with(1).await;
    let (now, later) = (world.now, world.now + TimeDelta::seconds(31));
    let mine = lease(&world, &to, 7, now).await;
    assert_eq!(mine.len(), 1);
    assert!(
        lease(&world, &to, 8, now).await.is_empty(),
        "somebody has it"
    );
    assert_eq!(world.store().due_subscriptions(now, 4).await?, []);
    // Whoever had it is taken for dead, and another has it.
    assert_eq!(
        world.store().due_subscriptions(later, 4).await?,
        [(world.ours, to.id)]
    );
    assert_eq!(lease(&world, &to, 9, later).await.len(), 1);
    let after = |status, due_at| Recorded {
        status,
        due_at,
        now: later,
    };
    let tried = attempt(&mine[0], 2, now);
    let tx = world.begin().await;
    let late = after(DeliveryStatus::Delivered, None);
    assert!(
        !tx.deliveries()
            .record(Uuid::from_u128(7), &tried, late)
            .await?
    );
    let due = later + TimeDelta::seconds(300);
    let newer = after(DeliveryStatus::Pending, Some(due));
    assert!(
        tx.deliveries()
            .record(Uuid::from_u128(9), &tried, newer)
            .await?
    );
    assert!(
        !tx.deliveries()
            .record(Uuid::from_u128(9), &tried, newer)
            .await?,
        "once"
    );
    tx.commit().await?;
    let tx = world.read().await;
    let row = tx.deliveries().get(mine[0].id).await?.expect("there");
    assert_eq!(
        (row.status, row.n_attempts, row.n_round, row.due_at),
        (DeliveryStatus::Pending, 2, 2, Some(due))
    );
    let attempts = tx.deliveries().attempts(row.id, 9).await?;
    assert_eq!(
        attempts
            .iter()
            .map(|attempt| attempt.number)
            .collect::<Vec<_>>(),
        [2, 1]
    );
    assert_eq!(attempts[0], tried);
    assert_eq!(
        world.read_theirs().await.deliveries().get(row.id).await?,
        None
    );
    Ok(())
}

#[tokio::test]
async fn f_38_four_couriers_lease_each_delivery_once_and_four_at_a_time() -> Checked {
    let (world, to, rows) = world_with(50).await;
    let (mut seen, mut round) = (BTreeSet::new(), 0_u128);
    while seen.len() < rows.len() {
        round += 1;
        assert!(round < 100, "only {} were leased", seen.len());
        let token = |n: u128| round * 10 + n;
        let (a, b, c, d) = tokio::join!(
            lease(&world, &to, token(1), world.now),
            lease(&world, &to, token(2), world.now),
            lease(&world, &to, token(3), world.now),
            lease(&world, &to, token(4), world.now),
        );
        let leased: Vec<_> = [a, b, c, d].concat();
        assert!(leased.len() <= 4, "{}", leased.len());
        let tx = world.begin().await;
        for row in leased {
            assert!(seen.insert(row.id), "{} was leased twice", row.id);
            let done = Recorded {
                status: DeliveryStatus::Delivered,
                due_at: None,
                now: world.now,
            };
            let tried = attempt(&row, row.n_attempts + 1, world.now);
            assert!(
                tx.deliveries()
                    .record(row.lease.expect("a lease"), &tried, done)
                    .await?
            );
        }
        tx.commit().await?;
    }
    assert_eq!(world.store().due_subscriptions(world.now, 4).await?, []);
    Ok(())
}

#[tokio::test]
async fn f_35_a_subscription_whose_receiver_hangs_is_passed_over() -> Checked {
    let (world, to, _) = world_with(9).await;
    assert_eq!(
        world.store().due_subscriptions(world.now, 4).await?,
        [(world.ours, to.id)]
    );
    assert_eq!(lease(&world, &to, 7, world.now).await.len(), 4);
    assert_eq!(
        world.store().due_subscriptions(world.now, 4).await?,
        [],
        "four are out"
    );
    assert_eq!(
        world.store().due_subscriptions(world.now, 5).await?.len(),
        1
    );
    Ok(())
}

#[tokio::test]
async fn events_are_handed_out_once_and_only_where_somebody_subscribes() -> Checked {
    let world = World::new().await;
    let event = world.event("sit");
    let tx = world.begin().await;
    tx.outbox().append(&event).await?;
    tx.commit().await?;
    assert_eq!(
        world.store().tenants_with_events().await?,
        [],
        "nobody wants to know"
    );
    let tx = world.begin().await;
    tx.subscriptions().insert(&subscription(&world)).await?;
    tx.commit().await?;
    assert_eq!(world.store().tenants_with_events().await?, [world.ours]);
    let backlog = world
        .store()
        .backlog(world.now + TimeDelta::minutes(20))
        .await?;
    assert_eq!(
        (backlog.n_events, backlog.oldest_event),
        (1, TimeDelta::minutes(20))
    );
    let tx = world.begin().await;
    assert_eq!(
        tx.outbox().take_waiting(9).await?,
        std::slice::from_ref(&event)
    );
    tx.outbox().set_handed_out(&[event.id], world.now).await?;
    assert_eq!(tx.outbox().take_waiting(9).await?, []);
    tx.commit().await?;
    assert_eq!(world.store().tenants_with_events().await?, []);
    assert_eq!(
        world.store().backlog(world.now).await?,
        crate::store::Backlog::default()
    );
    Ok(())
}

#[tokio::test]
async fn a_span_is_sent_again_without_what_is_being_tried() -> Checked {
    let (world, to, rows) = world_with(6).await;
    let tx = world.begin().await;
    let leased = lease_in(&tx, &to, world.now).await;
    for (row, status) in leased
        .iter()
        .zip([DeliveryStatus::Dead, DeliveryStatus::Delivered])
    {
        let done = Recorded {
            status,
            due_at: None,
            now: world.now,
        };
        assert!(
            tx.deliveries()
                .record(Uuid::from_u128(5), &attempt(row, 9, world.now), done)
                .await?
        );
    }
    let span = |with_delivered| Span {
        from: world.now,
        to: world.now + TimeDelta::seconds(1),
        with_delivered,
    };
    assert_eq!(tx.deliveries().count_span(to.id, span(true)).await?, 2);
    assert_eq!(
        tx.deliveries()
            .replay_span(to.id, span(false), world.now)
            .await?,
        1
    );
    assert_eq!(
        tx.deliveries()
            .replay_span(to.id, span(true), world.now)
            .await?,
        1
    );
    let row = tx.deliveries().get(leased[0].id).await?.expect("there");
    assert_eq!(
        (row.status, row.n_attempts, row.n_round),
        (DeliveryStatus::Pending, 9, 0)
    );
    // One that is being tried is left to that.
    let busy = leased[2].id;
    tx.deliveries().replay(busy, world.now).await?;
    let row = tx.deliveries().get(busy).await?.expect("there");
    assert_eq!(
        (row.lease, row.version),
        (Some(Uuid::from_u128(5)), leased[2].version)
    );
    let missed = tx
        .outbox()
        .list_missed(
            to.id,
            (world.now, world.now + TimeDelta::seconds(1)),
            None,
            9,
        )
        .await?;
    assert_eq!(missed, [], "all have their deliveries");
    tx.deliveries().cancel(to.id, world.now).await?;
    let pending = DeliveryFilter {
        status: Some(DeliveryStatus::Pending),
        ..DeliveryFilter::default()
    };
    assert_eq!(tx.deliveries().list(&pending, (None, 9)).await?.items, []);
    let all = tx
        .deliveries()
        .list(&DeliveryFilter::default(), (None, 4))
        .await?;
    assert_eq!((all.items.len(), all.next), (4, Some(rows[3].id)));
    Ok(())
}

pub(super) async fn lease_in(
    tx: &Tx,
    to: &SubscriptionRow,
    now: DateTime<Utc>,
) -> Vec<DeliveryRow> {
    let lease = (Uuid::from_u128(5), now + TimeDelta::seconds(30));
    tx.deliveries()
        .lease(to.id, lease, now, 4)
        .await
        .expect("leased")
}
