//! Readings.

use chrono::TimeDelta;
use domain::id::ReadingId;
use domain::reading::ReadingKind;

use super::record::floor;
use super::{Checked, World, external};
use crate::clock::IdSource;
use crate::row::{CompletionRow, FactStatus, ReadingRow, SurfaceRow};
use crate::store::{ReadingFilter, StoreError, Turn};

/// A reading of the pH of a surface.
pub(super) fn row(
    world: &World,
    surface: &SurfaceRow,
    completion: Option<&CompletionRow>,
) -> ReadingRow {
    ReadingRow {
        id: ReadingId::from_uuid(world.ids.uuid()),
        site_id: surface.site_id,
        surface_id: surface.id,
        completion_id: completion.map(|row| row.id),
        kind: ReadingKind::SurfacePh,
        thousandths: 7_400,
        status: FactStatus::Recorded,
        supersedes: None,
        superseded_by: None,
        taken_at: world.now - TimeDelta::hours(1),
        external: Some(external("meter", "7")),
        document: "{}".to_owned(),
        voided: String::new(),
        created_at: world.now,
        changed_at: world.now,
    }
}

#[tokio::test]
async fn a_reading_is_read_as_it_was_written_and_listed_by_what_it_is_of() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let completion = world.completion(&floor.surface, &floor.card);
    let (ph, cold) = (
        row(&world, &floor.surface, Some(&completion)),
        ReadingRow {
            kind: ReadingKind::AirC,
            thousandths: -500,
            external: None,
            ..row(&world, &floor.surface, None)
        },
    );
    let tx = world.begin().await;
    tx.completions().insert(&completion, &[]).await?;
    tx.readings().insert(&ph).await?;
    tx.readings().insert(&cold).await?;
    tx.commit().await?;
    let tx = world.read().await;
    assert_eq!(tx.readings().get(ph.id).await?, Some(ph.clone()));
    assert_eq!(tx.readings().get(cold.id).await?, Some(cold.clone()));
    let all = ReadingFilter::default();
    let first = tx.readings().list(&all, Turn::default(), 1).await?;
    assert_eq!(
        (first.items, first.next),
        (vec![ph.clone()], Some(ph.id.uuid().into()))
    );
    let rest = tx
        .readings()
        .list(&all, Turn::oldest(Some(ph.id.uuid())), 1)
        .await?;
    assert_eq!((rest.items, rest.next), (vec![cold.clone()], None));
    for (filter, found) in [
        (
            ReadingFilter {
                kind: Some(ReadingKind::AirC),
                surface_id: Some(floor.surface.id),
                ..all.clone()
            },
            &cold,
        ),
        (
            ReadingFilter {
                completion_id: Some(completion.id),
                site_id: Some(floor.site.id),
                ..all.clone()
            },
            &ph,
        ),
    ] {
        let page = tx.readings().list(&filter, Turn::default(), 10).await?;
        assert_eq!(page.items, std::slice::from_ref(found));
    }
    let theirs = world.read_theirs().await;
    assert_eq!(theirs.readings().get(ph.id).await?, None);
    assert_eq!(
        theirs
            .readings()
            .list(&all, Turn::default(), 10)
            .await?
            .items,
        []
    );
    Ok(())
}

#[tokio::test]
async fn a_reading_of_a_floor_that_is_not_there_is_refused() -> Checked {
    let world = World::new().await;
    let unknown = world.surface(&world.site());
    let reading = row(&world, &unknown, None);
    let refused = world.begin().await.readings().insert(&reading).await;
    assert!(
        matches!(refused, Err(StoreError::Conflict { .. })),
        "{refused:?}"
    );
    Ok(())
}

#[tokio::test]
async fn a_correction_takes_the_place_of_a_reading_once() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let first = row(&world, &floor.surface, None);
    let second = ReadingRow {
        supersedes: Some(first.id),
        ..row(&world, &floor.surface, None)
    };
    let tx = world.begin().await;
    tx.readings().insert(&first).await?;
    tx.readings().supersede(first.id, second.id).await?;
    tx.readings().insert(&second).await?;
    let again = tx.readings().supersede(first.id, second.id).await;
    assert!(matches!(again, Err(StoreError::StaleVersion)), "{again:?}");
    tx.commit().await?;
    let tx = world.read().await;
    let old = tx.readings().get(first.id).await?.expect("still there");
    assert_eq!(
        (old.status, old.superseded_by),
        (FactStatus::Superseded, Some(second.id))
    );
    let live = ReadingFilter::default();
    let all = ReadingFilter {
        include_superseded: true,
        ..live.clone()
    };
    assert_eq!(
        tx.readings().list(&live, Turn::default(), 9).await?.items,
        std::slice::from_ref(&second)
    );
    assert_eq!(
        tx.readings().list(&all, Turn::default(), 9).await?.items,
        [old, second]
    );
    Ok(())
}
