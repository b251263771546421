//! Documents that are read together where connections are scarce: each asker gets his own, whoever reads it.

use domain::id::{SurfaceId, TenantId};
use futures_util::FutureExt as _;
use futures_util::future::{join, join_all};

use super::{Checked, World};
use crate::config::DatabaseConfig;
use crate::store::Store;

#[tokio::test]
async fn each_gets_the_document_he_asked_for_however_many_ask_at_once() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let surfaces: Vec<_> = (1..=90)
        .map(|version| {
            let mut surface = world.surface(&site);
            surface.version = version;
            surface.document = format!("{{\"n\":{version}}}");
            surface
        })
        .collect();
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.surfaces().insert_many(&surfaces).await?;
    tx.commit().await?;

    // One connection for glances, so that nearly all have to wait.
    let config = DatabaseConfig {
        max_connections: 2,
        ..world.database.config().clone()
    };
    let store = Store::open(&config).await?;
    let nobody = SurfaceId::from_uuid(site.id.uuid());
    let ask = async |tenant: TenantId, id| store.glance(tenant).surfaces().document(id).await;
    for round in 0..20 {
        // The first takes the connection, the second waits for it at the head of all others, and both give up.
        let mut given_up = [
            Box::pin(ask(world.ours, surfaces[0].id)),
            Box::pin(ask(world.ours, surfaces[1].id)),
        ];
        for asked in &mut given_up {
            let early = asked.now_or_never();
            assert!(early.is_none_or(|found| found.is_ok()), "round {round}");
        }
        let ours = surfaces.iter().chain(&surfaces[..7]).map(|surface| async {
            let found = ask(world.ours, surface.id).await?;
            let own = (surface.version, surface.document.clone());
            assert_eq!(found, Some(own), "round {round}");
            // Neither a tenant who has it not nor an id of nothing finds one, beside those who do.
            assert_eq!(ask(world.theirs, surface.id).await?, None);
            assert_eq!(ask(world.ours, nobody).await?, None);
            Checked::Ok(())
        });
        let (asked, ()) = join(join_all(ours), async { drop(given_up) }).await;
        asked.into_iter().collect::<Checked>()?;
    }
    store.close().await?;
    Ok(())
}
