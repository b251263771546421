//! Sums over completions.

use domain::money::Currency;

use super::record::{Floor, floor};
use super::{Checked, World, commitment, line, plan_line};
use crate::row::{CompletionLineRow, CompletionRow, PlanLineRow, PlanStatus, SurfaceRow};
use crate::store::{CostFilter, CostRow, CostSums, CostsError, Dim, MAX_GROUPS, Wanted};

/// Three lines: 1,000 and 2,000 planned, and 3,000 planned tax.
fn lines(of: &CompletionRow, surface: &SurfaceRow) -> Vec<CompletionLineRow> {
    vec![
        line(of, surface, 1, "labour"),
        line(of, surface, 2, "product"),
        line(of, surface, 3, "tax"),
    ]
}

fn of_2026() -> CostFilter {
    CostFilter {
        from_month: "2026-01".to_owned(),
        to_month: "2027-01".to_owned(),
        ..CostFilter::default()
    }
}

async fn costs(world: &World, filter: &CostFilter, dims: &[Dim]) -> Vec<CostRow> {
    world
        .read()
        .await
        .reports()
        .costs(filter, dims)
        .await
        .expect("a report")
}

/// Two completions in June (one planned, one not), one in July in another currency, one superseded.
async fn record(world: &World) -> Floor {
    let floor = floor(world).await;
    let make = || world.completion(&floor.surface, &floor.card);
    let planned = CompletionRow {
        plan_id: Some(floor.plan.id),
        ..make()
    };
    let wrong = make();
    let corrected = CompletionRow {
        supersedes: Some(wrong.id),
        ..make()
    };
    let euros: Currency = "EUR".parse().expect("a currency");
    let july = CompletionRow {
        month: "2026-07".to_owned(),
        currency: euros,
        ..make()
    };
    let tx = world.begin().await;
    for completion in [&planned, &wrong, &corrected, &july] {
        tx.completions()
            .insert(completion, &lines(completion, &floor.surface))
            .await
            .expect("inserted");
    }
    tx.completions()
        .supersede(wrong.id, corrected.id)
        .await
        .expect("superseded");
    tx.commit().await.expect("committed");
    floor
}

#[tokio::test]
async fn sums_count_each_completion_once_and_tax_apart() -> Checked {
    let world = World::new().await;
    let floor = record(&world).await;
    let rows = costs(&world, &of_2026(), &[]).await;
    assert_eq!(
        rows.iter()
            .map(|row| row.currency.code())
            .collect::<Vec<_>>(),
        ["EUR", "GBP"]
    );
    let expected = CostSums {
        n_completions: 2,
        n_unplanned: 1,
        area_mm2: 2 * floor.surface.area.mm2(),
        planned_seconds: 360,
        actual_seconds: 540,
        planned_ml: 60,
        actual_ml: 90,
        water_ml: 900,
        voc_mg: 42,
        voc_unknown_ml: 90,
        planned_net: 6_000,
        computed_net: 9_000,
        actual_net: 12_000,
        planned_tax: 6_000,
        actual_tax: 12_000,
        // They have no share of a plan.
        quantity_net: 0,
        productivity_net: 0,
        overheads_net: 0,
        unplanned_net: 6_000,
    };
    assert_eq!(rows[1].sums, expected);
    assert_eq!(rows[1].floor_mm2, floor.surface.area.mm2());
    assert_eq!(rows[1].sums.price_net(), 0);
    Ok(())
}

#[tokio::test]
async fn groups_come_in_the_order_of_their_dimensions() -> Checked {
    let world = World::new().await;
    let floor = record(&world).await;
    let all = [
        Dim::Month,
        Dim::Site,
        Dim::Storey,
        Dim::Material,
        Dim::Process,
    ];
    let rows = costs(&world, &of_2026(), &all).await;
    let keys: Vec<_> = rows
        .iter()
        .map(|row| {
            (
                row.key.month.as_deref(),
                row.key.site_id,
                row.sums.n_completions,
            )
        })
        .collect();
    assert_eq!(
        keys,
        [
            (Some("2026-06"), Some(floor.site.id), 2),
            (Some("2026-07"), Some(floor.site.id), 1)
        ]
    );
    assert_eq!(rows[0].key.storey.as_deref(), Some("1"));
    assert_eq!(rows[0].key.material.as_deref(), Some("linoleum"));
    assert_eq!(rows[0].key.process.as_deref(), Some("strip_and_refinish"));
    let twice = costs(&world, &of_2026(), &[Dim::Month, Dim::Month]).await;
    assert_eq!(twice.len(), 2);
    Ok(())
}

#[tokio::test]
async fn a_report_covers_its_months_its_site_and_its_tenant() -> Checked {
    let world = World::new().await;
    let floor = record(&world).await;
    let june = CostFilter {
        from_month: "2026-06".to_owned(),
        to_month: "2026-07".to_owned(),
        ..of_2026()
    };
    assert_eq!(costs(&world, &june, &[Dim::Month]).await.len(), 1);
    let here = CostFilter {
        site_id: Some(floor.site.id),
        ..of_2026()
    };
    assert_eq!(costs(&world, &here, &[Dim::Month]).await.len(), 2);
    let elsewhere = CostFilter {
        site_id: Some(world.site().id),
        ..of_2026()
    };
    assert_eq!(costs(&world, &elsewhere, &[Dim::Site]).await, []);
    let theirs = world.read_theirs().await;
    assert_eq!(theirs.reports().costs(&of_2026(), &[Dim::Site]).await?, []);
    Ok(())
}

#[tokio::test]
async fn a_report_with_too_many_groups_is_refused() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let completion = world.completion(&floor.surface, &floor.card);
    let many: Vec<_> = (0..=i64::try_from(MAX_GROUPS).expect("small"))
        .map(|n| CompletionLineRow {
            storey: n.to_string(),
            ..line(&completion, &floor.surface, n, "labour")
        })
        .collect();
    let tx = world.begin().await;
    tx.completions().insert(&completion, &many).await?;
    tx.commit().await?;
    let tx = world.read().await;
    let refused = tx.reports().costs(&of_2026(), &[Dim::Storey]).await;
    assert!(
        matches!(refused, Err(CostsError::TooManyGroups)),
        "{refused:?}"
    );
    assert_eq!(costs(&world, &of_2026(), &[Dim::Material]).await.len(), 1);
    Ok(())
}

#[tokio::test]
async fn a_completion_stands_in_each_group_in_which_it_has_a_line() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let contractor = world.contractor();
    let completion = CompletionRow {
        contractor_id: Some(contractor.id),
        ..world.completion(&floor.surface, &floor.card)
    };
    let staged = |n: i64, stage: &str, class: Option<&str>| CompletionLineRow {
        stage: Some(stage.to_owned()),
        product_class: class.map(str::to_owned),
        ..line(&completion, &floor.surface, n, "labour")
    };
    let lines = [
        staged(1, "prepare", None),
        staged(2, "prepare", Some("stripper")),
        staged(3, "protect", Some("polish")),
        line(&completion, &floor.surface, 4, "tax"),
    ];
    let tx = world.begin().await;
    tx.contractors().insert(&contractor).await?;
    tx.completions().insert(&completion, &lines).await?;
    tx.commit().await?;
    let rows = costs(&world, &of_2026(), &[Dim::Stage]).await;
    let shown = |rows: &[CostRow]| {
        let mut shown: Vec<_> = rows
            .iter()
            .map(|row| {
                let key = row
                    .key
                    .stage
                    .clone()
                    .or_else(|| row.key.product_class.clone());
                let (n, area) = (row.sums.n_completions, row.sums.area_mm2);
                assert_eq!((n, area), (1, completion.area.mm2()));
                (key, row.sums.planned_net, row.sums.planned_tax)
            })
            .collect();
        shown.sort();
        shown
    };
    let of = |key: &str| Some(key.to_owned());
    assert_eq!(
        shown(&rows),
        [
            (None, 0, 4_000),
            (of("prepare"), 3_000, 0),
            (of("protect"), 3_000, 0)
        ]
    );
    let rows = costs(&world, &of_2026(), &[Dim::ProductClass]).await;
    assert_eq!(
        shown(&rows),
        [
            (None, 1_000, 4_000),
            (of("polish"), 3_000, 0),
            (of("stripper"), 2_000, 0)
        ]
    );
    let rows = costs(&world, &of_2026(), &[Dim::Surface, Dim::Contractor]).await;
    assert_eq!(rows[0].key.surface_id, Some(floor.surface.id));
    assert_eq!(rows[0].key.contractor_id, Some(contractor.id));
    let own = CostFilter {
        contractor_id: Wanted::This(contractor.id),
        material: Some("linoleum".to_owned()),
        process: Some("strip_and_refinish".to_owned()),
        site_id: Some(floor.site.id),
        ..of_2026()
    };
    assert_eq!(costs(&world, &own, &[]).await.len(), 1);
    let other = CostFilter {
        process: Some("scrub".to_owned()),
        ..own
    };
    assert_eq!(costs(&world, &other, &[]).await, []);
    Ok(())
}

#[tokio::test]
async fn what_is_committed_is_what_is_left_of_accepted_plans() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let (open, withdrawn) = (world.plan(&floor.surface), world.plan(&floor.surface));
    let tx = world.begin().await;
    for plan in [&open, &withdrawn] {
        let tax = PlanLineRow {
            stage: None,
            amount: 5_000,
            ..plan_line(plan, 2, "tax")
        };
        tx.plans()
            .insert(plan, &[plan_line(plan, 1, "labour"), tax])
            .await?;
        let row = commitment(plan, &floor.surface, "restore");
        tx.plans().commit(&row).await?;
        tx.plans()
            .set_status(plan.id, PlanStatus::Accepted, (1, world.now))
            .await?;
    }
    tx.plans()
        .set_status(withdrawn.id, PlanStatus::Withdrawn, (2, world.now))
        .await?;
    tx.commit().await?;
    let committed = async |dims: &[Dim]| {
        let rows = costs(&world, &of_2026(), dims).await;
        let sums = rows
            .iter()
            .map(|row| (row.committed_net, row.committed_tax));
        sums.collect::<Vec<_>>()
    };
    assert_eq!(committed(&[]).await, [(165_000, 5_000)]);
    assert_eq!(
        committed(&[Dim::Month, Dim::Surface, Dim::Contractor]).await,
        [(165_000, 5_000)]
    );
    let mut by_stage = committed(&[Dim::Stage]).await;
    by_stage.sort_unstable();
    assert_eq!(by_stage, [(0, 5_000), (165_000, 0)]);

    let half = CompletionRow {
        plan_id: Some(open.id),
        planned_share_ppm: 400_000,
        ..world.completion(&floor.surface, &floor.card)
    };
    let tx = world.begin().await;
    tx.completions()
        .insert(&half, &lines(&half, &floor.surface))
        .await?;
    tx.commit().await?;
    assert_eq!(committed(&[]).await, [(162_000, 2_000)]);
    let rest = CompletionRow {
        planned_share_ppm: 600_000,
        plan_id: Some(open.id),
        ..world.completion(&floor.surface, &floor.card)
    };
    let tx = world.begin().await;
    tx.completions().insert(&rest, &[]).await?;
    tx.commit().await?;
    assert_eq!(committed(&[]).await, [(0, 0)]);
    let theirs = world.read_theirs().await;
    assert_eq!(theirs.reports().costs(&of_2026(), &[]).await?, []);
    Ok(())
}

#[tokio::test]
async fn a_snapshot_does_not_move_under_a_report() -> Checked {
    let world = World::new().await;
    let floor = record(&world).await;
    let tx = world.store().snapshot(world.ours).await?;
    let before = tx.reports().costs(&of_2026(), &[Dim::Month]).await?;
    let more = world.completion(&floor.surface, &floor.card);
    let other = world.begin().await;
    let lines = lines(&more, &floor.surface);
    other.completions().insert(&more, &lines).await?;
    other.commit().await?;
    assert_eq!(tx.reports().costs(&of_2026(), &[Dim::Month]).await?, before);
    drop(tx);
    assert_ne!(costs(&world, &of_2026(), &[Dim::Month]).await, before);
    let tx = world.store().snapshot(world.ours).await?;
    let written = tx.sites().insert(&world.site()).await;
    assert!(written.is_err(), "it only reads");
    Ok(())
}
