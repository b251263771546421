//! Schedules: one lease, one result, and a choice of what there is.

use chrono::TimeDelta;
use domain::id::{ScheduleId, SiteId};

use super::{Checked, World};
use crate::clock::IdSource as _;
use crate::row::{JobStatus, RevisionRow, ScheduleRow};
use crate::store::{Lease, StoreError, Tx};

fn queued(world: &World, site_id: SiteId) -> ScheduleRow {
    ScheduleRow {
        id: ScheduleId::from_uuid(world.ids.uuid()),
        site_id,
        version: 1,
        status: JobStatus::Queued,
        request: "{}".to_owned(),
        n_done: 0,
        n_total: 100,
        best_until: None,
        chosen: None,
        result: None,
        n_attempts: 0,
        lease_owner: None,
        lease_until: None,
        problem: None,
        created_at: world.now,
        started_at: None,
        finished_at: None,
    }
}

/// A schedule with two choices.
async fn made(world: &World, tx: &Tx, site_id: SiteId) -> Result<ScheduleRow, StoreError> {
    let row = queued(world, site_id);
    tx.schedules().insert(&row).await?;
    let lease = Lease {
        owner: "one",
        until: world.now + TimeDelta::seconds(60),
    };
    assert!(tx.schedules().claim(&row, lease, world.now).await?);
    let end = (100, "{}", vec!["[1]".to_owned(), "[2]".to_owned()]);
    assert!(
        tx.schedules()
            .succeed(row.id, "one", end, world.now)
            .await?
    );
    let found = tx.schedules().get(row.id).await?;
    Ok(found.expect("it was inserted"))
}

#[tokio::test]
async fn a_schedule_is_its_owners_until_the_lease_has_run_out() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    let row = queued(&world, site.id);
    tx.schedules().insert(&row).await?;
    tx.commit().await?;
    let (now, later) = (world.now, world.now + TimeDelta::seconds(61));
    let lease = |owner| Lease {
        owner,
        until: now + TimeDelta::seconds(60),
    };
    let due = world.store().due_schedules(now).await?;
    assert_eq!((due.len(), &due[0].row), (1, &row));
    let tx = world.begin().await;
    assert!(tx.schedules().claim(&row, lease("one"), now).await?);
    assert!(!tx.schedules().claim(&row, lease("two"), now).await?);
    let best = Some(later);
    assert!(tx.schedules().keep(row.id, lease("one"), 7, best).await?);
    assert!(!tx.schedules().keep(row.id, lease("two"), 8, None).await?);
    tx.commit().await?;
    assert!(world.store().due_schedules(now).await?.is_empty());
    let due = world.store().due_schedules(later).await?;
    assert_eq!((due[0].row.n_done, due[0].row.best_until), (7, best));
    let tx = world.begin().await;
    assert!(
        tx.schedules()
            .claim(&due[0].row, lease("two"), later)
            .await?
    );
    let end = |result| (9, result, vec!["[]".to_owned()]);
    assert!(
        !tx.schedules()
            .succeed(row.id, "one", end("1"), later)
            .await?
    );
    assert!(
        tx.schedules()
            .succeed(row.id, "two", end("2"), later)
            .await?
    );
    assert!(!tx.schedules().cancel(row.id, later).await?);
    let found = tx.schedules().get(row.id).await?.expect("it is there");
    assert_eq!(
        (found.status, found.result.as_deref(), found.n_done),
        (JobStatus::Succeeded, Some("2"), 9)
    );
    Ok(())
}

#[tokio::test]
async fn what_was_made_is_chosen_as_it_was_read_and_swept_with_its_choices() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    let row = made(&world, &tx, site.id).await?;
    assert_eq!(
        tx.schedules().tasks(row.id, 2).await?.as_deref(),
        Some("[2]")
    );
    assert_eq!(tx.schedules().tasks(row.id, 3).await?, None);
    assert!(tx.schedules().choose(row.id, row.version, 2).await?);
    assert!(!tx.schedules().choose(row.id, row.version, 1).await?);
    let found = tx.schedules().get(row.id).await?.expect("it is there");
    assert_eq!(found.chosen, Some(2));
    tx.commit().await?;
    assert_eq!(world.store().sweep_schedules(world.now).await?, 0);
    let later = world.now + TimeDelta::seconds(1);
    assert_eq!(world.store().sweep_schedules(later).await?, 1);
    let tx = world.begin().await;
    assert_eq!(tx.schedules().get(row.id).await?, None);
    assert_eq!(tx.schedules().tasks(row.id, 1).await?, None);
    Ok(())
}

/// A schedule that was chosen from and planned again.
pub(super) async fn revised(world: &World, tx: &Tx, site_id: SiteId) -> Result<(), StoreError> {
    let row = made(world, tx, site_id).await?;
    assert!(tx.schedules().choose(row.id, row.version, 1).await?);
    let row = tx.schedules().get(row.id).await?.expect("it is there");
    assert!(tx.schedules().revise(&revision(world, &row)).await?);
    Ok(())
}

/// A first revision of a schedule.
fn revision(world: &World, row: &ScheduleRow) -> RevisionRow {
    let text = |text: &str| text.to_owned();
    RevisionRow {
        schedule_id: row.id,
        number: 1,
        version: row.version + 1,
        as_of: world.now,
        request: text("{}"),
        summary: text("{}"),
        moves: text("[1]"),
        tasks: text("[2]"),
        visits: text("[3]"),
        created_at: world.now,
    }
}

#[tokio::test]
async fn a_revision_follows_the_version_that_it_was_made_from_and_is_swept_with_it() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    let row = made(&world, &tx, site.id).await?;
    assert!(!tx.schedules().revise(&revision(&world, &row)).await?);
    assert!(tx.schedules().choose(row.id, row.version, 1).await?);
    let row = tx.schedules().get(row.id).await?.expect("it is there");
    let first = revision(&world, &row);
    assert!(tx.schedules().revise(&first).await?);
    assert!(
        !tx.schedules().revise(&first).await?,
        "made from what is over"
    );
    let second = RevisionRow {
        number: 2,
        version: row.version + 2,
        ..first.clone()
    };
    assert!(tx.schedules().revise(&second).await?);
    let found = tx.schedules().get(row.id).await?.expect("it is there");
    assert_eq!(found.version, second.version);
    let last = tx.schedules().revision(row.id, None).await?;
    assert_eq!(last.as_ref(), Some(&second));
    let named = tx.schedules().revision(row.id, Some(1)).await?;
    assert_eq!(named.as_ref(), Some(&first));
    assert_eq!(tx.schedules().revision(row.id, Some(3)).await?, None);
    let page = tx.schedules().revisions(row.id, 0, 1).await?;
    assert_eq!((page.items, page.next), (vec![(1, first.summary)], Some(1)));
    let page = tx.schedules().revisions(row.id, 1, 1).await?;
    assert_eq!((page.items, page.next), (vec![(2, second.summary)], None));
    tx.commit().await?;
    let later = world.now + TimeDelta::seconds(1);
    assert_eq!(world.store().sweep_schedules(later).await?, 1);
    let tx = world.begin().await;
    assert_eq!(tx.schedules().revision(row.id, None).await?, None);
    Ok(())
}
