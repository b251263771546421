//! What tells that something has changed that plans are made from.

use super::{Checked, World, stock_item::item, voided};
use crate::row::{ProductRow, SiteRow, SurfaceRow};
use crate::store::InputVersions;

async fn versions(world: &World, site: &SiteRow, floors: &[&SurfaceRow]) -> InputVersions {
    let ids: Vec<_> = floors.iter().map(|floor| floor.id).collect();
    let tx = world.read().await;
    let found = tx.plans().input_versions(site.id, &ids).await;
    found.expect("versions")
}

#[tokio::test]
async fn versions_are_others_after_each_change_and_the_same_without_one() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let (floor, beside) = (world.surface(&site), world.surface(&site));
    let card = world.rate_card(&site, 1, "2026-01-01");
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.rate_cards().insert(&card).await?;
    tx.surfaces().insert(&floor).await?;
    tx.surfaces().insert(&beside).await?;
    tx.commit().await?;
    let first = versions(&world, &site, &[&floor]).await;
    let mut seen = vec![first.clone()];
    macro_rules! changes {
        ($($what:literal: $tx:ident => $write:expr;)*) => {$(
            let $tx = world.begin().await;
            $write;
            $tx.commit().await?;
            let now = versions(&world, &site, &[&floor]).await;
            assert!(!seen.contains(&now), "{}", $what);
            assert_eq!(now, versions(&world, &site, &[&floor]).await);
            seen.push(now);
        )*};
    }
    let product: ProductRow = super::product::product(&world, "night_polish");
    let (old, new) = (
        item(&world, &site, "polish_emulsion"),
        item(&world, &site, "polish_emulsion"),
    );
    let done = world.completion(&floor, &card);
    let observation = super::film::observation(&world, &floor);
    changes! {
        "a surface": tx => tx.surfaces().update(&SurfaceRow { version: 2, ..floor.clone() }, 1).await?;
        "the site": tx => tx.sites().update(&SiteRow { version: 2, ..site.clone() }, 1).await?;
        "an edition": tx => tx.rate_cards().insert(&world.rate_card(&site, 2, "2026-02-01")).await?;
        "a product": tx => tx.products().insert(&product).await?;
        "a product's figures": tx => tx.products().update(&ProductRow { version: 2, ..product.clone() }, 1).await?;
        "what is left over": tx => tx.stock_items().insert(&old).await?;
        "one for another that is left over": tx => {
            tx.stock_items().delete(old.id, 1).await?;
            tx.stock_items().insert(&new).await?;
        };
        "a completion": tx => tx.completions().insert(&done, &[]).await?;
        "what it tells of a rate": tx => tx.paces().insert(&[super::pace(&done, 1)]).await?;
        "a completion's end": tx => tx.completions().amend(&done, &voided(&done)).await?;
        "an observation": tx => tx.observations().insert(&observation).await?;
        "an observation's end": tx => tx.observations().void(&observation).await?;
    }
    // Nor does it count what happens beside the floor, or among others.
    let before = versions(&world, &site, &[&floor]).await;
    let tx = world.begin().await;
    let other = world.completion(&beside, &card);
    tx.completions().insert(&other, &[]).await?;
    tx.commit().await?;
    assert_eq!(versions(&world, &site, &[&floor]).await, before);
    assert_ne!(versions(&world, &site, &[&floor, &beside]).await, before);
    let theirs = world.read_theirs().await;
    let nothing = theirs.plans().input_versions(site.id, &[floor.id]).await?;
    assert!(!seen.contains(&nothing));
    Ok(())
}

#[tokio::test]
async fn a_change_of_the_last_of_a_thousand_surfaces_is_seen() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let mut floors: Vec<SurfaceRow> = (0..1_000).map(|_| world.surface(&site)).collect();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.surfaces().insert_many(&floors).await?;
    tx.commit().await?;
    let all: Vec<&SurfaceRow> = floors.iter().collect();
    let before = versions(&world, &site, &all).await;
    let last = floors.last_mut().expect("the last");
    last.version = 2;
    let tx = world.begin().await;
    tx.surfaces().update(last, 1).await?;
    tx.commit().await?;
    let all: Vec<&SurfaceRow> = floors.iter().collect();
    assert_ne!(versions(&world, &site, &all).await, before);
    Ok(())
}
