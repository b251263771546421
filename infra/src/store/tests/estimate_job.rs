//! Estimates in the background: one lease, one set of lines.

use chrono::TimeDelta;
use domain::id::{EstimateJobId, SiteId, SurfaceId};

use super::{Checked, World};
use crate::clock::IdSource as _;
use crate::row::{EstimateJobRow, JobStatus};
use crate::store::{JobFilter, Lease};

/// A job over surfaces of a site that nobody has begun.
pub(super) fn job(world: &World, site_id: SiteId) -> EstimateJobRow {
    EstimateJobRow {
        id: EstimateJobId::from_uuid(world.ids.uuid()),
        site_id,
        version: 1,
        status: JobStatus::Queued,
        request: "{}".to_owned(),
        n_done: 0,
        n_total: 3,
        n_attempts: 0,
        lease_owner: None,
        lease_until: None,
        problem: None,
        created_at: world.now,
        started_at: None,
        finished_at: None,
    }
}

async fn queued(world: &World, parts: &[&[SurfaceId]]) -> EstimateJobRow {
    let site = world.site();
    let row = job(world, site.id);
    let tx = world.begin().await;
    tx.sites().insert(&site).await.expect("inserted");
    tx.estimate_jobs()
        .insert(&row, parts)
        .await
        .expect("inserted");
    tx.commit().await.expect("committed");
    row
}

#[tokio::test]
async fn a_job_is_taken_by_one_and_by_another_once_its_lease_has_run_out() -> Checked {
    let world = World::new().await;
    let ids: Vec<_> = (0..3)
        .map(|_| SurfaceId::from_uuid(world.ids.uuid()))
        .collect();
    let parts: Vec<&[SurfaceId]> = ids.chunks(2).collect();
    let job = queued(&world, &parts).await;
    let (now, later) = (world.now, world.now + TimeDelta::seconds(61));
    let lease = |owner| Lease {
        owner,
        until: now + TimeDelta::seconds(60),
    };
    let due = world.store().due_estimate_jobs(now).await?;
    assert_eq!(due.len(), 1);
    assert_eq!((due[0].tenant, &due[0].row), (world.ours, &job));

    let tx = world.begin().await;
    let jobs = tx.estimate_jobs();
    assert!(jobs.claim(&job, lease("one"), now).await?);
    assert!(
        !jobs.claim(&job, lease("two"), now).await?,
        "it has changed"
    );
    assert_eq!(jobs.surfaces(job.id, 2).await?, Some(ids[2..].to_vec()));
    assert_eq!(jobs.surfaces(job.id, 3).await?, None);
    assert!(
        jobs.keep(job.id, lease("one"), 2, (1, "a".to_owned()))
            .await?
    );
    assert!(
        !jobs
            .keep(job.id, lease("two"), 2, (1, "b".to_owned()))
            .await?
    );
    assert_eq!(jobs.lines(job.id, 1).await?.as_deref(), Some("a"));
    tx.commit().await?;

    assert_eq!(world.store().due_estimate_jobs(now).await?, []);
    let due = world.store().due_estimate_jobs(later).await?.remove(0).row;
    let tx = world.begin().await;
    let jobs = tx.estimate_jobs();
    assert!(jobs.claim(&due, lease("two"), later).await?);
    assert_eq!(jobs.lines(job.id, 1).await?, None, "it begins anew");
    // Who was taken for dead comes back.
    assert!(
        !jobs
            .keep(job.id, lease("one"), 3, (2, "c".to_owned()))
            .await?
    );
    assert!(
        !jobs
            .succeed(job.id, "one", (3, "end".to_owned()), later)
            .await?
    );
    assert!(!jobs.fail(job.id, "one", "{}", later).await?);
    assert!(
        jobs.succeed(job.id, "two", (3, "end".to_owned()), later)
            .await?
    );
    assert!(!jobs.cancel(job.id, later).await?, "it has come to its end");
    let told = jobs.get(job.id).await?.expect("there");
    assert_eq!(
        (told.status, told.n_attempts, told.n_done),
        (JobStatus::Succeeded, 2, 0)
    );
    assert_eq!(jobs.n_unfinished().await?, 0);
    tx.commit().await?;
    Ok(())
}

#[tokio::test]
async fn a_job_is_its_tenants_own_and_is_swept_with_its_parts() -> Checked {
    let world = World::new().await;
    let job = queued(&world, &[&[SurfaceId::from_uuid(world.ids.uuid())]]).await;
    let theirs = world.read_theirs().await;
    let jobs = theirs.estimate_jobs();
    let all = JobFilter::default();
    assert_eq!(jobs.get(job.id).await?, None);
    assert_eq!(jobs.surfaces(job.id, 1).await?, None);
    assert_eq!(jobs.list(&all, None, 9).await?.items, []);
    drop(theirs);
    let tx = world.begin().await;
    assert!(tx.estimate_jobs().cancel(job.id, world.now).await?);
    tx.commit().await?;
    let store = world.store();
    assert_eq!(
        store.sweep_estimate_jobs(world.now).await?,
        0,
        "not before its end"
    );
    let after = world.now + TimeDelta::milliseconds(1);
    assert_eq!(store.sweep_estimate_jobs(after).await?, 1);
    let tx = world.read().await;
    assert_eq!(tx.estimate_jobs().get(job.id).await?, None);
    assert_eq!(tx.estimate_jobs().surfaces(job.id, 1).await?, None);
    Ok(())
}
