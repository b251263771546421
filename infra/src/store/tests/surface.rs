//! Surfaces.

use super::{Checked, World, external};
use crate::row::SurfaceRow;
use crate::store::SurfaceFilter;

#[tokio::test]
async fn many_surfaces_are_written_and_found_by_any_of_their_names() -> Checked {
    let world = World::new().await;
    let site = world.site();
    // More than one statement takes, so that the seams between statements are crossed.
    let surfaces: Vec<SurfaceRow> = (0..1_100)
        .map(|n| {
            let mut surface = world.surface(&site);
            surface.external = Some(external(
                if n % 2 == 0 { "even" } else { "odd" },
                &n.to_string(),
            ));
            surface
        })
        .collect();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.surfaces().insert_many(&surfaces).await?;
    tx.surfaces().insert_many(&[]).await?;
    tx.commit().await?;

    let tx = world.read().await;
    let ids: Vec<_> = surfaces.iter().rev().map(|surface| surface.id).collect();
    assert_eq!(tx.surfaces().get_many(&ids).await?, surfaces);
    let mut names: Vec<_> = surfaces
        .iter()
        .filter_map(|surface| surface.external.clone())
        .collect();
    names.extend([
        external("odd", "0"),
        external("even", "1"),
        names[7].clone(),
    ]);
    let mut found = tx.surfaces().find_external_many(&names).await?;
    found.sort_by_key(|surface| surface.id);
    assert_eq!(found, surfaces);
    assert_eq!(tx.surfaces().find_external_many(&[]).await?, []);
    Ok(())
}

#[tokio::test]
async fn surfaces_are_listed_by_what_is_asked() -> Checked {
    let world = World::new().await;
    let (here, there) = (world.site(), world.site());
    let make = |site, storey: &str, material: &str| SurfaceRow {
        storey: storey.to_owned(),
        material: material.to_owned(),
        ..world.surface(site)
    };
    let surfaces = [
        make(&here, "1", "linoleum"),
        make(&here, "2", "terrazzo"),
        make(&here, "2", "cork"),
        make(&there, "2", "cork"),
    ];
    let tx = world.begin().await;
    tx.sites().insert(&here).await?;
    tx.sites().insert(&there).await?;
    tx.surfaces().insert_many(&surfaces).await?;
    tx.commit().await?;

    let tx = world.read().await;
    let of_here = SurfaceFilter {
        site_id: Some(here.id),
        ..SurfaceFilter::default()
    };
    let storey_2 = SurfaceFilter {
        storey: Some("2".to_owned()),
        ..of_here.clone()
    };
    let either = SurfaceFilter {
        materials: vec!["cork".to_owned(), "linoleum".to_owned()],
        ..of_here.clone()
    };
    let none = SurfaceFilter {
        external: Some(external("x", "y")),
        ..SurfaceFilter::default()
    };
    for (filter, places) in [
        (of_here, vec![0, 1, 2]),
        (storey_2, vec![1, 2]),
        (either, vec![0, 2]),
        (none, vec![]),
    ] {
        let page = tx.surfaces().list(&filter, None, 10).await?;
        let expected: Vec<_> = places
            .into_iter()
            .map(|place: usize| surfaces[place].clone())
            .collect();
        assert_eq!(page.items, expected, "{filter:?}");
    }
    Ok(())
}
