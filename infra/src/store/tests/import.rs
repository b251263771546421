//! Files that were handed over with buildings: held by one, ended once, and forgotten with all that was made of them.

use chrono::TimeDelta;
use domain::id::{FinishSynonymId, ImportId, SiteId};

use super::{
    Checked, World,
    record::{Floor, floor},
};
use crate::{
    clock::IdSource as _,
    row::{FinishSynonymRow, HandedOver, ImportRow, ImportStage, JobStatus, OutcomeRow},
    store::{ImportEnd, Lease, StoreError, Tx},
};

fn import(world: &World, site: SiteId) -> ImportRow {
    ImportRow {
        id: ImportId::from_uuid(world.ids.uuid()),
        site_id: site,
        version: 1,
        status: JobStatus::Queued,
        format: "csv".to_owned(),
        n_bytes: 3,
        applies: false,
        n_attempts: 0,
        stage: ImportStage::Waiting,
        n_done: 0,
        n_total: 0,
        summary: None,
        problem: None,
        by: None,
        lease_owner: None,
        lease_until: None,
        created_at: world.now,
        started_at: None,
        finished_at: None,
    }
}

fn outcome(number: i64, outcome: &str) -> OutcomeRow {
    OutcomeRow {
        number,
        outcome: outcome.to_owned(),
        document: format!("{{\"number\":{number}}}"),
    }
}

/// A file that was read, with what it said of a floor, and a word of the tenant's own.
pub(super) async fn read(world: &World, tx: &Tx, floor: &Floor) -> Result<(), StoreError> {
    let row = import(world, floor.site.id);
    tx.imports().insert(&row, b"a,b".to_vec()).await?;
    tx.imports()
        .put_rows(row.id, &[outcome(1, "created")])
        .await?;
    let said = HandedOver {
        surface_id: floor.surface.id,
        document: "{}".to_owned(),
    };
    tx.imports().keep_handed_over(&[said]).await?;
    let synonym = FinishSynonymRow {
        id: FinishSynonymId::from_uuid(world.ids.uuid()),
        version: 1,
        word: "VCT-2".to_owned(),
        means: "vinyl_composition_tile".to_owned(),
        created_at: world.now,
    };
    tx.finish_synonyms().insert(&synonym).await
}

#[tokio::test]
async fn a_file_is_held_by_one_ended_by_him_and_forgotten_with_its_rows() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let row = import(&world, floor.site.id);
    let tx = world.begin().await;
    tx.imports().insert(&row, b"a,b".to_vec()).await?;
    assert_eq!(tx.imports().n_unfinished().await?, 1);
    tx.commit().await?;
    let due = world.store().due_imports(world.now).await?.remove(0);
    assert_eq!((due.tenant, &due.row), (world.ours, &row));
    let until = world.now + TimeDelta::minutes(1);
    let lease = |owner| Lease { owner, until };
    let tx = world.begin().await;
    assert!(tx.imports().claim(&row, lease("a"), world.now).await?);
    // As it was found it is there no more.
    assert!(!tx.imports().claim(&row, lease("b"), world.now).await?);
    tx.commit().await?;
    assert_eq!(world.store().due_imports(world.now).await?, []);
    let late = until + TimeDelta::seconds(1);
    assert_eq!(world.store().due_imports(late).await?.len(), 1);
    // Only who holds it says how far it is.
    let tx = world.begin().await;
    let told = (ImportStage::Applying, 400, 600);
    assert!(!tx.imports().tell(row.id, lease("b"), told).await?);
    assert!(tx.imports().tell(row.id, lease("a"), told).await?);
    let at = tx.imports().get(row.id).await?.expect("it is there");
    assert_eq!((at.stage, at.n_done, at.n_total), told);
    let end = ImportEnd::Succeeded("{}".to_owned());
    assert!(!tx.imports().finish(row.id, "b", &end, world.now).await?);
    tx.imports()
        .put_rows(row.id, &[outcome(9, "updated")])
        .await?;
    let becomes = |n| ["created", "out_of_scope"][usize::from(n % 2 != 0)];
    let rows: Vec<OutcomeRow> = (1..=600).map(|n| outcome(n, becomes(n))).collect();
    tx.imports().put_rows(row.id, &rows).await?;
    assert!(tx.imports().finish(row.id, "a", &end, world.now).await?);
    let ended = tx.imports().get(row.id).await?.expect("it is there");
    assert_eq!(ended.n_done, 600, "all of it");
    assert!(!tx.imports().cancel(row.id, world.now).await?, "too late");
    assert_eq!(tx.imports().n_unfinished().await?, 0);
    assert_eq!(tx.imports().content(row.id).await?, Some(b"a,b".to_vec()));
    tx.commit().await?;
    let tx = world.read().await;
    let page = tx
        .imports()
        .rows(row.id, Some("created"), Some(2), 2)
        .await?;
    assert_eq!(page.items, [rows[3].clone(), rows[5].clone()]);
    assert_eq!(page.next, Some(6));
    let all = tx.imports().rows(row.id, None, None, 1_000).await?;
    assert_eq!(all.items, rows);
    drop(tx);
    let theirs = world.read_theirs().await;
    assert_eq!(theirs.imports().get(row.id).await?, None);
    drop(theirs);
    // What was tried is made true once.
    let tx = world.begin().await;
    let tried = tx.imports().get(row.id).await?.expect("it is there");
    assert!(tx.imports().apply(&tried).await?);
    assert!(!tx.imports().apply(&tried).await?);
    let queued = tx.imports().get(row.id).await?.expect("it is there");
    assert_eq!((queued.status, queued.applies), (JobStatus::Queued, true));
    assert_eq!((queued.stage, queued.n_done), (ImportStage::Waiting, 0));
    assert!(tx.imports().claim(&queued, lease("a"), world.now).await?);
    assert!(tx.imports().finish(row.id, "a", &end, world.now).await?);
    tx.commit().await?;
    assert_eq!(world.store().sweep_imports(world.now).await?, 0);
    assert_eq!(world.store().sweep_imports(late).await?, 1);
    let tx = world.read().await;
    assert_eq!(tx.imports().get(row.id).await?, None);
    assert_eq!(tx.imports().rows(row.id, None, None, 9).await?.items, []);
    Ok(())
}

#[tokio::test]
async fn a_file_that_is_taken_back_is_nobodys_to_end() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let row = import(&world, floor.site.id);
    let tx = world.begin().await;
    tx.imports().insert(&row, b"a,b".to_vec()).await?;
    let lease = Lease {
        owner: "a",
        until: world.now + TimeDelta::minutes(1),
    };
    assert!(tx.imports().claim(&row, lease, world.now).await?);
    assert!(tx.imports().cancel(row.id, world.now).await?);
    assert!(!tx.imports().cancel(row.id, world.now).await?);
    let told = (ImportStage::Matching, 0, 600);
    assert!(!tx.imports().tell(row.id, lease, told).await?);
    let end = ImportEnd::Succeeded("{}".to_owned());
    assert!(!tx.imports().finish(row.id, "a", &end, world.now).await?);
    let found = tx.imports().get(row.id).await?.expect("it is there");
    assert_eq!(
        (found.status, found.stage),
        (JobStatus::Cancelled, ImportStage::Reading)
    );
    assert_eq!(tx.imports().n_unfinished().await?, 0);
    Ok(())
}
