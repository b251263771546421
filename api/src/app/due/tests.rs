//! Events of what comes due: once for each date, whoever looks. On a real database: a file, or a server when one is named.

use std::sync::Arc;

use chrono::TimeDelta;
use domain::id::{SurfaceId, TenantId};
use infra::{
    clock::{Clock as _, IdSource as _},
    row::{EventRow, TenantRow},
    testing::{ManualClock, SeededIds, TestStore},
};
use serde_json::{Value, json};

use super::tell;
use crate::{
    app::{site, surface},
    bootstrap,
    config::Config,
    context::{Context, Parts},
    wire,
};

/// One tenant with one floor, seen by two processes of the service.
struct World {
    _database: TestStore,
    replicas: [Arc<Context>; 2],
    clock: Arc<ManualClock>,
    tenant: TenantId,
    floor: SurfaceId,
}

impl World {
    async fn new() -> Self {
        let database = TestStore::new().await;
        let (clock, ids) = (
            Arc::new(ManualClock::default()),
            Arc::new(SeededIds::new(1)),
        );
        let tenant = TenantId::from_uuid(ids.uuid());
        let row = TenantRow {
            id: tenant,
            key: "north".to_owned(),
            name: "North".to_owned(),
            created_at: clock.now(),
        };
        database.add_tenant(&row).await;
        let secret = "a secret that only these tests know";
        let config = Config::from_vars([("WEARCOURSE_AUTH_SECRET", secret)]).unwrap();
        let replica = || {
            let parts = Parts {
                store: database.store().clone(),
                clock: clock.clone(),
                ids: ids.clone(),
            };
            Arc::new(bootstrap::context(&config, parts).unwrap())
        };
        let (ctx, other) = (replica(), replica());
        let tx = ctx.store.begin(tenant).await.unwrap();
        let place = json!({"name": "Clinic", "country": "GB", "time_zone": "Europe/London", "currency": "GBP"});
        let place = wire::stored(&place.to_string()).unwrap();
        let site = site::register(&ctx, &tx, &place).await.unwrap().id;
        // The clock of tests begins on 1 June 2026: buffing is due in 14 days, new coats in 90.
        let floor = json!({
            "site_id": site.to_string(), "name": "Corridor", "storey": "2", "material": "vinyl_composition_tile",
            "area_m2": 240, "space": "corridor", "built_year": 2010, "traffic": "heavy", "soil": "normal",
            "film": {"kind": "polish", "coats": 6, "condition": "sound"},
        });
        let floor = wire::stored(&floor.to_string()).unwrap();
        let floor = surface::register(&ctx, &tx, &floor).await.unwrap().id;
        tx.commit().await.unwrap();
        Self {
            _database: database,
            replicas: [ctx, other],
            clock,
            tenant,
            floor,
        }
    }

    /// Both processes look at the same time until neither finds anything.
    async fn look(&self) {
        let [one, other] = &self.replicas;
        loop {
            let found = tokio::join!(tell::next(one), tell::next(other));
            let found = (found.0.unwrap(), found.1.unwrap());
            if found == (false, false) {
                return;
            }
        }
    }

    async fn told(&self) -> Vec<EventRow> {
        let tx = self.replicas[0].store.read(self.tenant).await.unwrap();
        let events = tx.outbox().list(100).await.unwrap();
        let due = |event: &EventRow| event.kind == "wearcourse.surface.due.v1";
        events.into_iter().filter(due).collect()
    }
}

fn process_and_day(event: &EventRow) -> (String, String) {
    let body: Value = serde_json::from_str(&event.payload).unwrap();
    let text = |pointer: &str| body.pointer(pointer).unwrap().as_str().unwrap().to_owned();
    (text("/data/process"), text("/data/due_on"))
}

#[tokio::test]
async fn each_due_date_is_told_once_by_two_that_look_at_the_same_time() {
    let world = World::new().await;
    world.look().await;
    let told = world.told().await;
    let days: Vec<_> = told.iter().map(process_and_day).collect();
    let buff = ("spray_buff".to_owned(), "2026-06-15".to_owned());
    assert_eq!(days, std::slice::from_ref(&buff));
    assert_eq!(told[0].subject, world.floor.to_string());
    // A day later the same date is told no more; 76 days later that of new coats is.
    world.clock.advance(TimeDelta::days(1));
    world.look().await;
    assert_eq!(world.told().await.len(), 1);
    world.clock.advance(TimeDelta::days(75));
    world.look().await;
    let days: Vec<_> = world.told().await.iter().map(process_and_day).collect();
    let coats = ("scrub_and_recoat".to_owned(), "2026-08-30".to_owned());
    assert_eq!(days, [buff, coats]);
}

#[tokio::test]
async fn a_date_that_moves_is_told_anew_and_one_that_stays_is_not() {
    let world = World::new().await;
    world.look().await;
    assert_eq!(world.told().await.len(), 1);
    // What is told of a floor marks it; its date stays.
    let [ctx, _] = &world.replicas;
    let tx = ctx.store.begin(world.tenant).await.unwrap();
    let mut row = tx.surfaces().get(world.floor).await.unwrap().unwrap();
    row.version = 2;
    tx.surfaces().update(&row, 1).await.unwrap();
    tx.commit().await.unwrap();
    world.look().await;
    assert_eq!(world.told().await.len(), 1);
    // More people walk there now: every 7 days.
    let tx = ctx.store.begin(world.tenant).await.unwrap();
    row.document = row.document.replace("\"heavy\"", "\"very_heavy\"");
    row.version = 3;
    tx.surfaces().update(&row, 2).await.unwrap();
    tx.commit().await.unwrap();
    world.look().await;
    let days: Vec<_> = world.told().await.iter().map(process_and_day).collect();
    assert_eq!(days.len(), 2);
    assert_eq!(days[1], ("spray_buff".to_owned(), "2026-06-08".to_owned()));
}
