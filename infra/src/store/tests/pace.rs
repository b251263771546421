//! What completions tell of production rates.

use super::record::floor;
use super::{Checked, World, pace};
use crate::{
    row::CompletionPaceRow,
    store::{StoreError, Tx},
};
use domain::id::SiteId;

/// The activities with how many completions tell of each.
async fn activities(tx: &Tx, site: SiteId, least: u64) -> Result<Vec<String>, StoreError> {
    let told = tx.paces().activities(site, least).await?;
    let told = told.iter();
    Ok(told
        .map(|told| format!("{} {}", told.activity, told.n_jobs))
        .collect())
}

/// Six completions on one floor, each with a figure of stripping and the first with one of coating.
#[tokio::test]
async fn only_completions_that_count_are_learnt_from_and_the_last_come_first() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let site = floor.site.id;
    let crew = world.contractor();
    let mut done: Vec<_> = (0..6)
        .map(|_| world.completion(&floor.surface, &floor.card))
        .collect();
    done[5].contractor_id = Some(crew.id);
    let tx = world.begin().await;
    tx.contractors().insert(&crew).await?;
    for row in &done {
        tx.completions().insert(row, &[]).await?;
        tx.paces().insert(&[pace(row, 1)]).await?;
    }
    let coat = CompletionPaceRow {
        activity: "polish_coat".to_owned(),
        ..pace(&done[0], 2)
    };
    tx.paces().insert(&[coat]).await?;
    tx.commit().await?;
    let told = world.read().await;
    assert_eq!(activities(&told, site, 6).await?, ["strip_machine 6"]);
    assert_eq!(activities(&told, site, 7).await?, [""; 0]);
    assert_eq!(
        activities(&told, site, 1).await?,
        ["polish_coat 1", "strip_machine 6"]
    );
    let newest = told.paces().activities(site, 1).await?;
    assert!(newest.iter().all(|told| told.newest == done[5].id));
    let latest = told.paces().latest(None, 3).await?;
    let expected: Vec<_> = done.iter().rev().take(3).map(|row| pace(row, 1)).collect();
    assert_eq!(latest, expected);
    let by = told.paces().latest(Some(crew.id), 9).await?;
    assert_eq!(by, [pace(&done[5], 1)]);
    drop(told);

    let tx = world.begin().await;
    let voided = super::voided(&done[0]);
    tx.completions().amend(&done[0], &voided).await?;
    tx.commit().await?;
    let told = world.read().await;
    assert_eq!(activities(&told, site, 6).await?, [""; 0]);
    assert_eq!(activities(&told, site, 1).await?, ["strip_machine 5"]);
    assert_eq!(told.paces().latest(None, 9).await?.len(), 5);
    // Another tenant's work tells nothing.
    let theirs = world.read_theirs().await;
    assert!(theirs.paces().latest(None, 9).await?.is_empty());
    assert!(theirs.paces().activities(site, 1).await?.is_empty());
    Ok(())
}
