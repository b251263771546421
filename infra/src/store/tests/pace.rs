//! What completions tell of rates, coverage and dry times.

use super::record::floor;
use super::{Checked, World, pace};
use crate::{
    row::CompletionPaceRow,
    store::{StoreError, Tx},
};
use domain::{id::SiteId, learning::Kind};

/// What completions tell of, with how many tell of each.
async fn told_at(tx: &Tx, site: SiteId, least: u64) -> Result<Vec<String>, StoreError> {
    let told = tx.paces().told(site, least).await?;
    let told = told.iter();
    Ok(told
        .map(|told| format!("{} {} {}", told.kind.word(), told.subject, told.n_jobs))
        .collect())
}

/// Six completions on one floor, each with a figure of stripping and the first with one of coating and of the litres for it.
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
        subject: "polish_coat".to_owned(),
        ..pace(&done[0], 2)
    };
    let litres = CompletionPaceRow {
        kind: Kind::Coverage,
        subject: "polish".to_owned(),
        ..pace(&done[0], 3)
    };
    tx.paces().insert(&[coat, litres.clone()]).await?;
    tx.commit().await?;
    let told = world.read().await;
    assert_eq!(told_at(&told, site, 6).await?, ["rate strip_machine 6"]);
    assert_eq!(told_at(&told, site, 7).await?, [""; 0]);
    assert_eq!(
        told_at(&told, site, 1).await?,
        [
            "coverage polish 1",
            "rate polish_coat 1",
            "rate strip_machine 6"
        ]
    );
    let newest = told.paces().told(site, 1).await?;
    assert!(newest.iter().all(|told| told.newest == done[5].id));
    let latest = told.paces().latest(Kind::Rate, None, 3).await?;
    let expected: Vec<_> = done.iter().rev().take(3).map(|row| pace(row, 1)).collect();
    assert_eq!(latest, expected);
    // A kind that is rarely told is found however much there is of the others.
    let coverage = told.paces().latest(Kind::Coverage, None, 1).await?;
    assert_eq!(coverage, [litres]);
    let none = told.paces().latest(Kind::DryTime, None, 9).await?;
    assert!(none.is_empty());
    let by = told.paces().latest(Kind::Rate, Some(crew.id), 9).await?;
    assert_eq!(by, [pace(&done[5], 1)]);
    drop(told);

    let tx = world.begin().await;
    let voided = super::voided(&done[0]);
    tx.completions().amend(&done[0], &voided).await?;
    tx.commit().await?;
    let told = world.read().await;
    assert_eq!(told_at(&told, site, 6).await?, [""; 0]);
    assert_eq!(told_at(&told, site, 1).await?, ["rate strip_machine 5"]);
    assert_eq!(told.paces().latest(Kind::Rate, None, 9).await?.len(), 5);
    // Another tenant's work tells nothing.
    let theirs = world.read_theirs().await;
    assert!(theirs.paces().latest(Kind::Rate, None, 9).await?.is_empty());
    assert!(theirs.paces().told(site, 1).await?.is_empty());
    Ok(())
}
