//! What sites, contractors and surfaces have in common.

use super::{Checked, World, external};
use crate::store::{Constraint, SiteFilter, StoreError, SurfaceFilter, Turn};

#[tokio::test]
async fn a_site_is_read_as_it_was_written() -> Checked {
    let world = World::new().await;
    let mut site = world.site();
    site.external = Some(external("cafm", "A/1 é\u{1F9F9}"));
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.commit().await?;
    assert_eq!(
        world.read().await.sites().get(site.id).await?,
        Some(site.clone())
    );
    let filter = SiteFilter {
        external: site.external.clone(),
    };
    let page = world
        .read()
        .await
        .sites()
        .list(&filter, Turn::default(), 10)
        .await?;
    assert_eq!(page.items, [site]);
    Ok(())
}

#[tokio::test]
async fn another_tenant_sees_and_changes_nothing() -> Checked {
    let world = World::new().await;
    let (site, contractor) = (world.site(), world.contractor());
    let surface = world.surface(&site);
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.contractors().insert(&contractor).await?;
    tx.surfaces().insert(&surface).await?;
    tx.rate_cards()
        .insert(&world.rate_card(&site, 1, "2026-01-01"))
        .await?;
    tx.commit().await?;

    let tx = world.read_theirs().await;
    assert_eq!(tx.sites().get(site.id).await?, None);
    assert_eq!(tx.contractors().get(contractor.id).await?, None);
    assert_eq!(tx.surfaces().get(surface.id).await?, None);
    assert_eq!(tx.surfaces().get_many(&[surface.id]).await?, []);
    assert_eq!(tx.rate_cards().latest(site.id).await?, None);
    assert!(
        tx.sites()
            .list(&SiteFilter::default(), Turn::default(), 9)
            .await?
            .items
            .is_empty()
    );
    assert!(tx.contractors().list(None, 9).await?.items.is_empty());
    assert!(
        tx.surfaces()
            .list(&SurfaceFilter::default(), None, 9)
            .await?
            .items
            .is_empty()
    );
    drop(tx);

    let tx = world.store().begin(world.theirs).await?;
    assert!(matches!(
        tx.sites().update(&site, 1).await,
        Err(StoreError::StaleVersion)
    ));
    drop(tx);
    // Composite keys: a row cannot even name another tenant's.
    let tx = world.store().begin(world.theirs).await?;
    let refused = tx.surfaces().insert(&world.surface(&site)).await;
    assert!(
        matches!(
            refused,
            Err(StoreError::Conflict {
                constraint: Constraint::Reference
            })
        ),
        "{refused:?}"
    );
    Ok(())
}

#[tokio::test]
async fn an_external_name_is_taken_once_per_tenant_and_byte_by_byte() -> Checked {
    let world = World::new().await;
    let named = |id: &str| {
        let mut site = world.site();
        site.external = Some(external("cafm", id));
        site
    };
    let tx = world.begin().await;
    for id in ["a", "A", "a ", "\u{e9}", "e\u{301}"] {
        tx.sites().insert(&named(id)).await?;
    }
    tx.sites().insert(&world.site()).await?;
    tx.sites().insert(&world.site()).await?;
    tx.commit().await?;

    let tx = world.store().begin(world.theirs).await?;
    tx.sites().insert(&named("a")).await?;
    drop(tx);
    let tx = world.begin().await;
    let refused = tx.sites().insert(&named("a")).await;
    assert!(
        matches!(
            refused,
            Err(StoreError::Conflict {
                constraint: Constraint::SiteExternal
            })
        ),
        "{refused:?}"
    );
    Ok(())
}

#[tokio::test]
async fn each_broken_rule_is_told_by_name() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let (mut contractor, mut surface) = (world.contractor(), world.surface(&site));
    contractor.external = Some(external("x", "1"));
    surface.external = Some(external("x", "1"));
    let card = world.rate_card(&site, 1, "2026-01-01");
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.contractors().insert(&contractor).await?;
    tx.surfaces().insert(&surface).await?;
    tx.rate_cards().insert(&card).await?;
    tx.commit().await?;

    let told = |result: Result<(), StoreError>| match result {
        Err(StoreError::Conflict { constraint }) => constraint,
        other => panic!("{other:?} is no conflict"),
    };
    let again = world.begin().await.sites().insert(&site).await;
    assert_eq!(told(again), Constraint::Identity);
    contractor.id = world.contractor().id;
    let again = world.begin().await.contractors().insert(&contractor).await;
    assert_eq!(told(again), Constraint::ContractorExternal);
    surface.id = world.surface(&site).id;
    let again = world.begin().await.surfaces().insert(&surface).await;
    assert_eq!(told(again), Constraint::SurfaceExternal);
    let again = world
        .begin()
        .await
        .rate_cards()
        .insert(&world.rate_card(&site, 1, "2026-02-01"))
        .await;
    assert_eq!(told(again), Constraint::RateCardNumber);
    Ok(())
}

#[tokio::test]
async fn a_stale_version_changes_nothing() -> Checked {
    let world = World::new().await;
    let (mut site, mut contractor) = (world.site(), world.contractor());
    let mut surface = world.surface(&site);
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.contractors().insert(&contractor).await?;
    tx.surfaces().insert(&surface).await?;
    (site.version, contractor.version, surface.version) = (2, 2, 2);
    (surface.perimeter, surface.storey) = (None, "2".to_owned());
    tx.sites().update(&site, 1).await?;
    tx.contractors().update(&contractor, 1).await?;
    tx.surfaces().update_many(&[(surface.clone(), 1)]).await?;
    tx.commit().await?;

    let tx = world.begin().await;
    assert!(matches!(
        tx.sites().update(&site, 1).await,
        Err(StoreError::StaleVersion)
    ));
    assert!(matches!(
        tx.contractors().update(&contractor, 1).await,
        Err(StoreError::StaleVersion)
    ));
    assert!(matches!(
        tx.surfaces().update(&surface, 1).await,
        Err(StoreError::StaleVersion)
    ));
    assert_eq!(tx.sites().get(site.id).await?, Some(site));
    assert_eq!(tx.contractors().get(contractor.id).await?, Some(contractor));
    assert_eq!(tx.surfaces().get(surface.id).await?, Some(surface));
    Ok(())
}

#[tokio::test]
async fn what_is_dropped_without_a_commit_never_was() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    drop(tx);
    assert_eq!(world.read().await.sites().get(site.id).await?, None);
    Ok(())
}

#[tokio::test]
async fn a_reading_transaction_cannot_write() -> Checked {
    let world = World::new().await;
    let refused = world.read().await.sites().insert(&world.site()).await;
    assert!(
        matches!(refused, Err(StoreError::Driver { .. })),
        "{refused:?}"
    );
    Ok(())
}

#[tokio::test]
async fn pages_follow_the_order_of_registration() -> Checked {
    let world = World::new().await;
    let sites: Vec<_> = (0..5).map(|_| world.site()).collect();
    let tx = world.begin().await;
    for site in &sites {
        tx.sites().insert(site).await?;
    }
    tx.commit().await?;
    let tx = world.read().await;
    let (mut seen, mut after) = (Vec::new(), None);
    loop {
        let turn = Turn {
            after,
            ..Turn::default()
        };
        let page = tx.sites().list(&SiteFilter::default(), turn, 2).await?;
        assert!(page.items.len() <= 2);
        seen.extend(page.items);
        after = page.next;
        if after.is_none() {
            break;
        }
    }
    assert_eq!(seen, sites);
    Ok(())
}
