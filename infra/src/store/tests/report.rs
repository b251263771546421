//! Sums over completions.

use domain::money::Currency;
use domain::quantity::Area;

use super::record::{Floor, floor};
use super::{Checked, World, line};
use crate::row::{CompletionLineRow, CompletionRow, SurfaceRow};
use crate::store::{CostFilter, CostRow, CostsError, Dim, MAX_GROUPS};

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
        site_id: None,
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
    let expected = CostRow {
        site_id: None,
        storey: None,
        material: None,
        process: None,
        month: None,
        currency: super::gbp(),
        n_completions: 2,
        n_unplanned: 1,
        area: Area::from_mm2(2 * floor.surface.area.mm2()),
        planned_seconds: 360,
        actual_seconds: 540,
        planned_ml: 60,
        actual_ml: 90,
        planned_net: 6_000,
        computed_net: 9_000,
        actual_net: 12_000,
        planned_tax: 6_000,
        actual_tax: 12_000,
    };
    assert_eq!(rows[1], expected);
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
        .map(|row| (row.month.as_deref(), row.site_id, row.n_completions))
        .collect();
    assert_eq!(
        keys,
        [
            (Some("2026-06"), Some(floor.site.id), 2),
            (Some("2026-07"), Some(floor.site.id), 1)
        ]
    );
    assert_eq!(rows[0].storey.as_deref(), Some("1"));
    assert_eq!(rows[0].material.as_deref(), Some("linoleum"));
    assert_eq!(rows[0].process.as_deref(), Some("strip_and_refinish"));
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
        site_id: None,
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
