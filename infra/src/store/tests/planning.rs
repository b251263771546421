//! Plans, estimates, events.

use domain::money::Money;
use domain::plan::Verdict;

use super::{Checked, World, gbp, plan_line};
use crate::row::{EstimateBrief, PlanBrief, PlanRow, PlanStatus, SiteRow, SurfaceRow};
use crate::store::{EstimateFilter, PlanFilter, StoreError, Turn};

async fn with_surface(world: &World) -> (SiteRow, SurfaceRow) {
    let site = world.site();
    let surface = world.surface(&site);
    let tx = world.begin().await;
    tx.sites().insert(&site).await.expect("inserted");
    tx.surfaces().insert(&surface).await.expect("inserted");
    tx.commit().await.expect("committed");
    (site, surface)
}

fn money(amount: i64) -> Money {
    let currency = gbp();
    Money { amount, currency }
}

fn brief(plan: &PlanRow) -> PlanBrief {
    PlanBrief {
        id: plan.id,
        site_id: plan.site_id,
        surface_id: plan.surface_id,
        surface_version: plan.surface_version,
        version: plan.version,
        status: plan.status,
        goal: plan.goal.clone(),
        verdict: plan.verdict.clone(),
        process: plan.process.clone(),
        knowledge_version: plan.knowledge_version.clone(),
        rate_card_id: plan.rate_card_id,
        planned_on: plan.planned_on,
        done_ppm: 0,
        area: plan.area,
        net: plan.net_amount.map(money),
        created_at: plan.created_at,
        changed_at: plan.changed_at,
    }
}

#[tokio::test]
async fn a_plan_is_read_with_its_lines_in_order() -> Checked {
    let world = World::new().await;
    let (_, surface) = with_surface(&world).await;
    let plan = world.plan(&surface);
    let refused = PlanRow {
        process: None,
        net_amount: None,
        verdict: "refused".to_owned(),
        ..world.plan(&surface)
    };
    let lines: Vec<_> = (1..=12).map(|n| plan_line(&plan, n, "labour")).collect();
    let shuffled: Vec<_> = lines.iter().rev().cloned().collect();
    let tx = world.begin().await;
    tx.plans().insert(&plan, &shuffled).await?;
    tx.plans().insert(&refused, &[]).await?;
    tx.commit().await?;

    let tx = world.read().await;
    assert_eq!(tx.plans().get(plan.id).await?, Some(plan.clone()));
    assert_eq!(tx.plans().get(refused.id).await?, Some(refused.clone()));
    assert_eq!(tx.plans().lines(plan.id).await?, lines);
    let allowed = PlanFilter {
        verdict: Some(Verdict::Allowed),
        ..PlanFilter::default()
    };
    assert_eq!(
        tx.plans().list(&allowed, Turn::default(), 10).await?.items,
        [brief(&plan)]
    );
    let all = PlanFilter {
        surface_id: Some(surface.id),
        status: Some(PlanStatus::Proposed),
        ..PlanFilter::default()
    };
    assert_eq!(
        tx.plans()
            .list(&all, Turn::oldest(Some(plan.id.uuid())), 10)
            .await?
            .items,
        [brief(&refused)]
    );

    let tx = world.read_theirs().await;
    assert_eq!(tx.plans().get(plan.id).await?, None);
    assert_eq!(tx.plans().lines(plan.id).await?, []);
    Ok(())
}

#[tokio::test]
async fn words_that_are_none_are_refused_by_the_table() -> Checked {
    let world = World::new().await;
    let (_, surface) = with_surface(&world).await;
    let plan = PlanRow {
        verdict: "perhaps".to_owned(),
        ..world.plan(&surface)
    };
    let refused = world.begin().await.plans().insert(&plan, &[]).await;
    assert!(
        matches!(refused, Err(StoreError::Driver { .. })),
        "{refused:?}"
    );
    let plan = world.plan(&surface);
    let refused = world
        .begin()
        .await
        .plans()
        .insert(&plan, &[plan_line(&plan, 1, "charged")])
        .await;
    assert!(
        matches!(refused, Err(StoreError::Driver { .. })),
        "{refused:?}"
    );
    Ok(())
}

#[tokio::test]
async fn a_plan_changes_its_status_once_per_version() -> Checked {
    let world = World::new().await;
    let (_, surface) = with_surface(&world).await;
    let plan = world.plan(&surface);
    let accepted = PlanRow {
        status: PlanStatus::Accepted,
        version: 2,
        ..plan.clone()
    };
    let tx = world.begin().await;
    tx.plans().insert(&plan, &[]).await?;
    tx.plans().update(&accepted, 1).await?;
    assert!(matches!(
        tx.plans().update(&accepted, 1).await,
        Err(StoreError::StaleVersion)
    ));
    assert_eq!(tx.plans().get(plan.id).await?, Some(accepted));
    Ok(())
}

#[tokio::test]
async fn accepted_plans_are_found_by_surface_and_goal() -> Checked {
    let world = World::new().await;
    let (_, surface) = with_surface(&world).await;
    let (one, two, three) = (
        world.plan(&surface),
        world.plan(&surface),
        world.plan(&surface),
    );
    let tx = world.begin().await;
    for (plan, goal) in [(&one, "restore"), (&two, "clean"), (&three, "restore")] {
        tx.plans().insert(plan, &[]).await?;
        tx.plans()
            .commit(&super::commitment(plan, &surface, goal))
            .await?;
    }
    for plan in [&one, &two] {
        tx.plans()
            .set_status(plan.id, PlanStatus::Accepted, (1, world.now))
            .await?;
    }
    let stale = tx
        .plans()
        .set_status(one.id, PlanStatus::Withdrawn, (1, world.now))
        .await;
    assert!(matches!(stale, Err(StoreError::StaleVersion)), "{stale:?}");
    let accepted = PlanRow {
        status: PlanStatus::Accepted,
        version: 2,
        ..one.clone()
    };
    assert_eq!(
        tx.plans().accepted(surface.id, "restore").await?,
        [accepted]
    );
    assert_eq!(tx.plans().accepted(surface.id, "protect").await?, []);
    assert!(tx.surfaces().lock(surface.id).await?);
    tx.commit().await?;
    let theirs = world.read_theirs().await;
    assert_eq!(theirs.plans().accepted(surface.id, "restore").await?, []);
    Ok(())
}

#[tokio::test]
async fn a_plan_is_committed_once() -> Checked {
    let world = World::new().await;
    let (_, surface) = with_surface(&world).await;
    let plan = world.plan(&surface);
    let row = super::commitment(&plan, &surface, "restore");
    let tx = world.begin().await;
    tx.plans().insert(&plan, &[]).await?;
    tx.plans().commit(&row).await?;
    let again = tx.plans().commit(&row).await;
    assert!(
        matches!(again, Err(StoreError::Conflict { .. })),
        "{again:?}"
    );
    Ok(())
}

#[tokio::test]
async fn a_locked_plan_makes_the_next_one_wait() -> Checked {
    let world = World::new().await;
    let (_, surface) = with_surface(&world).await;
    let plan = world.plan(&surface);
    let tx = world.begin().await;
    tx.plans().insert(&plan, &[]).await?;
    tx.commit().await?;

    let first = world.begin().await;
    assert!(first.plans().lock_plan(plan.id).await?);
    assert!(!first.plans().lock_plan(world.plan(&surface).id).await?);
    // On SQLite the second cannot even begin; on PostgreSQL it waits at the row.
    let second = match world.store().begin(world.ours).await {
        Ok(second) => second.plans().lock_plan(plan.id).await,
        Err(error) => Err(error),
    };
    assert!(matches!(second, Err(StoreError::Contended)), "{second:?}");
    first.commit().await?;
    assert!(world.begin().await.plans().lock_plan(plan.id).await?);
    assert!(
        !world
            .store()
            .begin(world.theirs)
            .await?
            .plans()
            .lock_plan(plan.id)
            .await?
    );
    Ok(())
}

#[tokio::test]
async fn an_estimate_is_read_as_it_was_written_and_listed_by_site() -> Checked {
    let world = World::new().await;
    let (site, _) = with_surface(&world).await;
    let (other_site, _) = with_surface(&world).await;
    let (estimate, other) = (world.estimate(&site), world.estimate(&other_site));
    let tx = world.begin().await;
    tx.estimates().insert(&estimate).await?;
    tx.estimates().insert(&other).await?;
    tx.commit().await?;
    let tx = world.read().await;
    assert_eq!(
        tx.estimates().get(estimate.id).await?,
        Some(estimate.clone())
    );
    let of_site = EstimateFilter {
        site_id: Some(site.id),
    };
    let brief = EstimateBrief {
        id: estimate.id,
        site_id: site.id,
        n_surfaces: estimate.n_surfaces,
        area: estimate.area,
        net: money(estimate.net_amount),
        knowledge_version: estimate.knowledge_version.clone(),
        created_at: estimate.created_at,
    };
    assert_eq!(
        tx.estimates()
            .list(&of_site, Turn::default(), 10)
            .await?
            .items,
        [brief]
    );
    assert_eq!(
        world
            .read_theirs()
            .await
            .estimates()
            .get(estimate.id)
            .await?,
        None
    );
    Ok(())
}

#[tokio::test]
async fn events_wait_in_order_and_only_if_committed() -> Checked {
    let world = World::new().await;
    let events: Vec<_> = (0..3).map(|n| world.event(&format!("sit_{n}"))).collect();
    let tx = world.begin().await;
    tx.outbox().append(&events[0]).await?;
    tx.outbox().append_many(&events[1..]).await?;
    tx.commit().await?;
    let tx = world.begin().await;
    tx.outbox().append(&world.event("never")).await?;
    drop(tx);
    assert_eq!(world.read().await.outbox().list(10).await?, events);
    assert_eq!(world.read().await.outbox().list(2).await?, events[..2]);
    assert_eq!(world.read_theirs().await.outbox().list(10).await?, []);
    Ok(())
}
