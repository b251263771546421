//! Answers kept for repeated requests.

use chrono::TimeDelta;

use super::{Checked, World};
use crate::store::{Begin, StoreError, StoredReply};

fn reply() -> StoredReply {
    StoredReply {
        status: 201,
        headers: r#"{"etag":"1"}"#.to_owned(),
        body: vec![0, 159, 146, 150],
    }
}

async fn keep(world: &World, client: &str, key: &str) {
    let tx = world.begin().await;
    assert_eq!(
        tx.idempotency()
            .begin(client, key, "print", world.now)
            .await
            .expect("begun"),
        Begin::Started
    );
    let reply = reply();
    tx.idempotency()
        .finish(reply.status, &reply.headers, &reply.body)
        .await
        .expect("finished");
    tx.commit().await.expect("committed");
}

#[tokio::test]
async fn a_repeat_gets_the_first_answer_byte_for_byte() -> Checked {
    let world = World::new().await;
    keep(&world, "client", "key").await;
    let tx = world.begin().await;
    let again = tx
        .idempotency()
        .begin("client", "key", "print", world.now)
        .await?;
    assert_eq!(again, Begin::Stored(reply()));
    let other = tx
        .idempotency()
        .begin("client", "key", "another", world.now)
        .await?;
    assert_eq!(other, Begin::OtherFingerprint);
    Ok(())
}

#[tokio::test]
async fn a_key_belongs_to_one_client_of_one_tenant() -> Checked {
    let world = World::new().await;
    keep(&world, "client", "key").await;
    keep(&world, "another", "key").await;
    keep(&world, "client", "Key").await;
    let tx = world.store().begin(world.theirs).await?;
    let theirs = tx
        .idempotency()
        .begin("client", "key", "print", world.now)
        .await?;
    assert_eq!(theirs, Begin::Started);
    Ok(())
}

#[tokio::test]
async fn a_rolled_back_effect_leaves_no_memory() -> Checked {
    let world = World::new().await;
    let tx = world.begin().await;
    assert_eq!(
        tx.idempotency()
            .begin("client", "key", "print", world.now)
            .await?,
        Begin::Started
    );
    tx.idempotency().finish(201, "{}", b"").await?;
    drop(tx);
    keep(&world, "client", "key").await;
    Ok(())
}

#[tokio::test]
async fn a_key_is_new_again_after_48_hours() -> Checked {
    let world = World::new().await;
    keep(&world, "client", "key").await;
    let almost = world.now + TimeDelta::hours(48) - TimeDelta::milliseconds(1);
    let begun = world
        .begin()
        .await
        .idempotency()
        .begin("client", "key", "other", almost)
        .await?;
    assert_eq!(begun, Begin::OtherFingerprint);
    let later = world.now + TimeDelta::hours(48);
    let tx = world.begin().await;
    assert_eq!(
        tx.idempotency()
            .begin("client", "key", "other", later)
            .await?,
        Begin::Started
    );
    tx.idempotency().finish(204, "{}", b"new").await?;
    tx.commit().await?;
    let tx = world.begin().await;
    let Begin::Stored(stored) = tx
        .idempotency()
        .begin("client", "key", "other", later)
        .await?
    else {
        panic!("the new answer is kept");
    };
    assert_eq!(
        (stored.status, stored.body.as_slice()),
        (204, b"new".as_slice())
    );
    Ok(())
}

#[tokio::test]
async fn a_key_without_an_answer_is_not_committed() -> Checked {
    let world = World::new().await;
    let tx = world.begin().await;
    tx.idempotency()
        .begin("client", "key", "print", world.now)
        .await?;
    assert!(matches!(
        tx.commit().await,
        Err(StoreError::Corrupt {
            column: "status",
            ..
        })
    ));
    keep(&world, "client", "key").await;
    let unstarted = world
        .begin()
        .await
        .idempotency()
        .finish(200, "{}", b"")
        .await;
    assert!(
        matches!(unstarted, Err(StoreError::StaleVersion)),
        "{unstarted:?}"
    );
    Ok(())
}

#[tokio::test]
async fn a_repeat_of_a_request_in_flight_is_told_so() -> Checked {
    let world = World::new().await;
    let first = world.begin().await;
    first
        .idempotency()
        .begin("client", "key", "print", world.now)
        .await?;
    // On SQLite the second cannot begin; on PostgreSQL it waits at the key.
    match world.store().begin(world.ours).await {
        Ok(second) => {
            let begun = second
                .idempotency()
                .begin("client", "key", "print", world.now)
                .await?;
            assert_eq!(begun, Begin::InFlight);
        }
        Err(error) => assert!(matches!(error, StoreError::Contended), "{error:?}"),
    }
    first.idempotency().finish(201, "{}", b"").await?;
    first.commit().await?;
    Ok(())
}

#[tokio::test]
async fn a_repeat_that_comes_while_the_first_commits_gets_its_answer() -> Checked {
    let world = World::new().await;
    let first = world.begin().await;
    first
        .idempotency()
        .begin("client", "key", "print", world.now)
        .await?;
    let second = async {
        let tx = world.begin().await;
        let keys = tx.idempotency();
        keys.begin("client", "key", "print", world.now).await
    };
    let first = async {
        let StoredReply {
            status,
            headers,
            body,
        } = reply();
        first.idempotency().finish(status, &headers, &body).await?;
        first.commit().await
    };
    let (second, first) = tokio::join!(second, first);
    first?;
    assert_eq!(second?, Begin::Stored(reply()));
    Ok(())
}

#[tokio::test]
async fn old_answers_are_swept() -> Checked {
    let world = World::new().await;
    keep(&world, "client", "key").await;
    let tx = world.begin().await;
    let kept = TimeDelta::hours(48);
    assert_eq!(tx.idempotency().sweep(world.now + kept).await?, 0);
    let over = kept + TimeDelta::milliseconds(1);
    assert_eq!(tx.idempotency().sweep(world.now + over).await?, 1);
    tx.commit().await?;
    keep(&world, "client", "key").await;
    Ok(())
}
