//! Completions and their lines.

use chrono::TimeDelta;

use super::{Checked, World, external, line};
use crate::row::{CompletionRow, CompletionStatus, PlanRow, RateCardRow, SiteRow, SurfaceRow};
use crate::store::{CompletionFilter, Constraint, StoreError, Turn};

pub(super) struct Floor {
    pub(super) site: SiteRow,
    pub(super) surface: SurfaceRow,
    pub(super) card: RateCardRow,
    pub(super) plan: PlanRow,
}

pub(super) async fn floor(world: &World) -> Floor {
    let site = world.site();
    let surface = world.surface(&site);
    let card = world.rate_card(&site, 1, "2026-01-01");
    let plan = world.plan(&surface);
    let tx = world.begin().await;
    tx.sites().insert(&site).await.expect("inserted");
    tx.surfaces().insert(&surface).await.expect("inserted");
    tx.rate_cards().insert(&card).await.expect("inserted");
    tx.plans().insert(&plan, &[]).await.expect("inserted");
    tx.commit().await.expect("committed");
    Floor {
        site,
        surface,
        card,
        plan,
    }
}

#[tokio::test]
async fn a_completion_is_read_with_its_lines_in_order() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let contractor = world.contractor();
    let completion = CompletionRow {
        plan_id: Some(floor.plan.id),
        contractor_id: Some(contractor.id),
        external: Some(external("crew app", "77")),
        planned_share_ppm: 500_000,
        ..world.completion(&floor.surface, &floor.card)
    };
    let lines: Vec<_> = (1..=11)
        .map(|n| line(&completion, &floor.surface, n, "product"))
        .collect();
    let shuffled: Vec<_> = lines.iter().rev().cloned().collect();
    let tx = world.begin().await;
    tx.contractors().insert(&contractor).await?;
    tx.completions().insert(&completion, &shuffled).await?;
    tx.commit().await?;

    let tx = world.read().await;
    assert_eq!(
        tx.completions().get(completion.id).await?,
        Some(completion.clone())
    );
    assert_eq!(tx.completions().lines(completion.id).await?, lines);
    let tx = world.read_theirs().await;
    assert_eq!(tx.completions().get(completion.id).await?, None);
    assert_eq!(tx.completions().lines(completion.id).await?, []);
    assert_eq!(
        tx.completions().live_plan_share_ppm(floor.plan.id).await?,
        0
    );
    Ok(())
}

#[tokio::test]
async fn a_correction_takes_the_place_of_the_first_report_once() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let with_share = |planned_share_ppm| CompletionRow {
        plan_id: Some(floor.plan.id),
        planned_share_ppm,
        ..world.completion(&floor.surface, &floor.card)
    };
    let (first, rest) = (with_share(400_000), with_share(250_000));
    let correction = CompletionRow {
        supersedes: Some(first.id),
        ..with_share(300_000)
    };
    let tx = world.begin().await;
    tx.completions().insert(&first, &[]).await?;
    tx.completions().insert(&rest, &[]).await?;
    assert_eq!(
        tx.completions().live_plan_share_ppm(floor.plan.id).await?,
        650_000
    );
    tx.completions().insert(&correction, &[]).await?;
    tx.completions().supersede(first.id, correction.id).await?;
    assert_eq!(
        tx.completions().live_plan_share_ppm(floor.plan.id).await?,
        550_000
    );
    tx.commit().await?;

    let tx = world.begin().await;
    let old = tx.completions().get(first.id).await?.expect("still there");
    assert_eq!(
        (old.status, old.superseded_by),
        (CompletionStatus::Superseded, Some(correction.id))
    );
    assert!(matches!(
        tx.completions().supersede(first.id, rest.id).await,
        Err(StoreError::StaleVersion)
    ));
    let another = CompletionRow {
        supersedes: Some(first.id),
        ..with_share(1)
    };
    let refused = tx.completions().insert(&another, &[]).await;
    let expected = Constraint::CompletionSupersedes;
    assert!(
        matches!(refused, Err(StoreError::Conflict { constraint }) if constraint == expected),
        "{refused:?}"
    );
    Ok(())
}

#[tokio::test]
async fn completions_are_listed_by_what_is_asked() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let make = |hours: i64| CompletionRow {
        started_at: world.now + TimeDelta::hours(hours),
        finished_at: world.now + TimeDelta::hours(hours + 1),
        ..world.completion(&floor.surface, &floor.card)
    };
    let (early, mut late) = (make(1), make(2));
    late.plan_id = Some(floor.plan.id);
    let replacement = CompletionRow {
        supersedes: Some(early.id),
        ..make(3)
    };
    let tx = world.begin().await;
    tx.completions().insert(&early, &[]).await?;
    tx.completions().insert(&late, &[]).await?;
    tx.completions().insert(&replacement, &[]).await?;
    tx.completions().supersede(early.id, replacement.id).await?;
    tx.commit().await?;

    let live = CompletionFilter {
        site_id: Some(floor.site.id),
        ..CompletionFilter::default()
    };
    let planned = CompletionFilter {
        plan_id: Some(floor.plan.id),
        ..live.clone()
    };
    let all = CompletionFilter {
        include_superseded: true,
        ..live.clone()
    };
    let hour = |hours| Some(world.now + TimeDelta::hours(hours));
    let between = CompletionFilter {
        started_from: hour(1),
        started_to: hour(2),
        ..all.clone()
    };
    let crew = CompletionFilter {
        contractor_id: Some(world.contractor().id),
        ..live.clone()
    };
    let cases = [
        (all, vec![early.id, late.id, replacement.id]),
        (live, vec![late.id, replacement.id]),
        (planned, vec![late.id]),
        (between, vec![early.id]),
        (crew, vec![]),
    ];
    let tx = world.read().await;
    for (filter, ids) in cases {
        let page = tx.completions().list(&filter, Turn::default(), 10).await?;
        let found: Vec<_> = page.items.iter().map(|row| row.id).collect();
        assert_eq!(found, ids, "{filter:?}");
    }
    Ok(())
}

#[tokio::test]
async fn moments_are_compared_as_moments_however_many_digits_they_have() -> Checked {
    // SQLite keeps them as text, where a whole second is written without a fraction.
    let world = World::new().await;
    let floor = floor(&world).await;
    let whole = world.now - TimeDelta::milliseconds(250);
    let rows: Vec<_> = [0, 1, 999]
        .map(|ms| CompletionRow {
            started_at: whole + TimeDelta::milliseconds(ms),
            finished_at: whole + TimeDelta::milliseconds(1_000),
            ..world.completion(&floor.surface, &floor.card)
        })
        .into();
    let tx = world.begin().await;
    for row in &rows {
        tx.completions().insert(row, &[]).await?;
    }
    tx.commit().await?;
    for (from_ms, to_ms, n_found) in [
        (0, 1, 1),
        (0, 1_000, 3),
        (1, 999, 1),
        (-1, 0, 0),
        (1_000, 2_000, 0),
    ] {
        let filter = CompletionFilter {
            started_from: Some(whole + TimeDelta::milliseconds(from_ms)),
            started_to: Some(whole + TimeDelta::milliseconds(to_ms)),
            ..CompletionFilter::default()
        };
        let page = world
            .read()
            .await
            .completions()
            .list(&filter, Turn::default(), 10)
            .await?;
        assert_eq!(page.items.len(), n_found, "from {from_ms} to {to_ms}");
    }
    Ok(())
}

#[tokio::test]
async fn a_moment_is_cut_to_the_millisecond_that_both_databases_keep() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let mut row = world.completion(&floor.surface, &floor.card);
    row.finished_at += TimeDelta::nanoseconds(123_456);
    let tx = world.begin().await;
    tx.completions().insert(&row, &[]).await?;
    let read = tx.completions().get(row.id).await?.expect("there");
    assert_eq!(
        read.finished_at,
        row.finished_at - TimeDelta::nanoseconds(123_456)
    );
    Ok(())
}
