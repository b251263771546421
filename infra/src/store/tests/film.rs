//! Observations, the history of surfaces, and the completions that say what was done to films.

use chrono::TimeDelta;
use domain::film::{Told, Word};
use domain::id::{EventId, ObservationId};
use domain::survey::{FilmCondition, FilmKind};

use super::record::floor;
use super::{Checked, World, external};
use crate::clock::IdSource;
use crate::row::{CompletionRow, FactStatus, HistoryRow, ObservationRow, SurfaceRow};
use crate::store::{HistoryFilter, StoreError};

/// An observation that says all there is to say.
pub(super) fn observation(world: &World, surface: &SurfaceRow) -> ObservationRow {
    ObservationRow {
        id: ObservationId::from_uuid(world.ids.uuid()),
        site_id: surface.site_id,
        surface_id: surface.id,
        status: FactStatus::Recorded,
        supersedes: None,
        superseded_by: None,
        word: Word::Seen,
        observed_at: world.now - TimeDelta::hours(3),
        told: Told {
            kind: Some(FilmKind::SealAndPolish),
            coats: Some(4),
            seal_coats: Some(2),
            condition: Some(FilmCondition::Soiled),
            stripped_on: world.now.date_naive().pred_opt(),
        },
        note: Some("By the door.".to_owned()),
        external: Some(external("round", "7")),
        voided: String::new(),
        created_at: world.now,
    }
}

/// Something that happened `hours` after now.
pub(super) fn happened(world: &World, surface: &SurfaceRow, hours: i64) -> HistoryRow {
    HistoryRow {
        id: EventId::from_uuid(world.ids.uuid()),
        surface_id: surface.id,
        at: world.now + TimeDelta::hours(hours),
        kind: "wearcourse.surface.changed.v1".to_owned(),
        subject: surface.id.to_string(),
        version: 2,
        statement: "Changed: film.".to_owned(),
        created_at: world.now,
        changes: None,
    }
}

#[tokio::test]
async fn an_observation_is_read_as_it_was_written_and_superseded_once() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let surface = &floor.surface;
    let first = observation(&world, surface);
    let second = ObservationRow {
        supersedes: Some(first.id),
        told: Told::default(),
        note: None,
        external: None,
        ..observation(&world, surface)
    };
    let tx = world.begin().await;
    tx.observations().insert(&first).await?;
    tx.observations().supersede(first.id, second.id).await?;
    tx.observations().insert(&second).await?;
    let again = tx.observations().supersede(first.id, second.id).await;
    assert!(matches!(again, Err(StoreError::StaleVersion)), "{again:?}");
    tx.commit().await?;
    let tx = world.read().await;
    let old = ObservationRow {
        status: FactStatus::Superseded,
        superseded_by: Some(second.id),
        ..first.clone()
    };
    assert_eq!(tx.observations().get(first.id).await?, Some(old.clone()));
    let live = tx.observations().list(surface.id, false, None, 9).await?;
    assert_eq!(live.items, std::slice::from_ref(&second));
    let page = tx.observations().list(surface.id, true, None, 1).await?;
    assert_eq!((page.items, page.next), (vec![old.clone()], Some(old.id)));
    let rest = tx
        .observations()
        .list(surface.id, true, Some(old.id), 1)
        .await?;
    assert_eq!((rest.items, rest.next), (vec![second.clone()], None));
    let all = tx.observations().of_surfaces(&[surface.id]).await?;
    assert_eq!(all, [old, second]);
    let theirs = world.read_theirs().await;
    assert_eq!(theirs.observations().get(first.id).await?, None);
    assert_eq!(theirs.observations().of_surfaces(&[surface.id]).await?, []);
    Ok(())
}

#[tokio::test]
async fn a_history_is_told_in_the_order_of_happening_page_by_page() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let surface = &floor.surface;
    let (late, early) = (happened(&world, surface, 2), happened(&world, surface, 0));
    // Two at one moment come in the order of their ids.
    let twin = happened(&world, surface, 0);
    let tx = world.begin().await;
    tx.histories()
        .append_many(&[late.clone(), twin.clone()])
        .await?;
    tx.histories().append(&early).await?;
    tx.commit().await?;
    let order = [early.clone(), twin.clone(), late.clone()];
    let tx = world.read().await;
    let (mut told, mut after) = (Vec::new(), None);
    loop {
        let all = HistoryFilter::default();
        let page = tx.histories().list(surface.id, all, after, 1).await?;
        told.extend(page.items);
        after = page.next;
        if after.is_none() {
            break;
        }
    }
    assert_eq!(told, order);
    let from = HistoryFilter {
        from: Some(late.at),
        to: None,
    };
    let to = HistoryFilter {
        from: None,
        to: Some(late.at),
    };
    let asked = async |filter| tx.histories().list(surface.id, filter, None, 9).await;
    assert_eq!(asked(from).await?.items, [late]);
    assert_eq!(asked(to).await?.items, [early, twin]);
    let theirs = world.read_theirs().await;
    let all = HistoryFilter::default();
    let none = theirs.histories().list(surface.id, all, None, 9).await?;
    assert_eq!(none.items, []);
    Ok(())
}

#[tokio::test]
async fn of_many_surfaces_only_work_by_the_named_processes_is_read() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let by = |process: &str| CompletionRow {
        process: process.to_owned(),
        ..world.completion(&floor.surface, &floor.card)
    };
    let (strip, mop) = (by("strip"), by("mop"));
    let tx = world.begin().await;
    tx.completions().insert(&strip, &[]).await?;
    tx.completions().insert(&mop, &[]).await?;
    tx.commit().await?;
    let tx = world.read().await;
    let ids = [floor.surface.id];
    let found = tx.completions().of_surfaces(&ids, &["strip"]).await?;
    assert_eq!(found, std::slice::from_ref(&strip));
    let found = tx.completions().of_surfaces(&[], &["strip"]).await?;
    assert_eq!(found, []);
    Ok(())
}
