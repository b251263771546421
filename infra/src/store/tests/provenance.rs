//! Who wrote what.

use sea_orm::{ConnectionTrait, Statement};

use super::record::floor;
use super::{Checked, World};
use crate::row::{PlanStatus, SiteRow};
use crate::store::By;

async fn signatures(world: &World, table: &str) -> Vec<Option<String>> {
    let sql = format!("SELECT by_client || '/' || by_subject AS by_whom FROM {table} ORDER BY id");
    let tx = world.read().await;
    let statement = Statement::from_string(tx.inner.get_database_backend(), sql);
    let rows = tx.inner.query_all_raw(statement).await.expect("asked");
    rows.iter()
        .map(|row| row.try_get("", "by_whom").expect("a text"))
        .collect()
}

#[tokio::test]
async fn a_row_says_who_changed_it_last_and_an_event_who_made_it_true() -> Checked {
    let world = World::new().await;
    let by = |client: &str, subject: &str| By {
        client: client.to_owned(),
        subject: subject.to_owned(),
    };
    let floor = floor(&world).await;
    assert_eq!(signatures(&world, "sites").await, [None]);
    let tx = world.begin().await.signed_by(by("fm", "u-1"));
    let site = SiteRow {
        version: floor.site.version + 1,
        ..floor.site.clone()
    };
    tx.sites().update(&site, floor.site.version).await?;
    tx.outbox().append(&world.event("sit")).await?;
    tx.commit().await?;
    let tx = world.begin().await.signed_by(by("crew", "u-2"));
    let plan = &floor.plan;
    tx.plans()
        .set_status(plan.id, PlanStatus::Accepted, (plan.version, world.now))
        .await?;
    let done = world.completion(&floor.surface, &floor.card);
    tx.completions().insert(&done, &[]).await?;
    tx.outbox().append(&world.event("pln")).await?;
    tx.commit().await?;
    let (fm, crew) = (Some("fm/u-1".to_owned()), Some("crew/u-2".to_owned()));
    assert_eq!(signatures(&world, "sites").await, std::slice::from_ref(&fm));
    for table in ["plans", "completions"] {
        assert_eq!(signatures(&world, table).await, std::slice::from_ref(&crew));
    }
    assert_eq!(signatures(&world, "outbox").await, [fm, crew]);
    Ok(())
}
