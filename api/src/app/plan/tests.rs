//! Plans and estimates that were prepared outside of the transaction that keeps them: kept where nothing has changed in
//! between, made anew whatever has. On a real database: a file, or a server when one is named.

use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::{SiteId, SurfaceId, TenantId};
use infra::{
    clock::{Clock as _, IdSource as _},
    row::TenantRow,
    store::{By, Turn, Tx},
    testing::{ManualClock, SeededIds, TestStore},
};
use serde_json::{Value, json};

use super::{prepare, propose};
use crate::{
    app::{completion, estimate, observation, product, site, stock_item, surface},
    bootstrap,
    config::Config,
    context::{Context, Parts},
    wire,
};

/// One tenant with one floor at one site.
struct World {
    _database: TestStore,
    ctx: Arc<Context>,
    clock: Arc<ManualClock>,
    tenant: TenantId,
    site: SiteId,
    floor: SurfaceId,
}

/// What JSON asks for.
macro_rules! read {
    ($value:expr) => {
        wire::stored(&$value.to_string()).unwrap()
    };
}

fn corridor(site: SiteId) -> Value {
    json!({
        "site_id": site.to_string(), "name": "Corridor", "storey": "2", "material": "vinyl_composition_tile",
        "area_m2": 240, "perimeter_m": 76, "space": "corridor", "built_year": 2010, "traffic": "heavy",
        "soil": "normal", "obstruction": "light", "film": {"kind": "polish", "coats": 6, "condition": "worn"},
    })
}

/// An edition of a rate card that is dearer than that of the knowledge base.
fn card() -> Value {
    let pounds = |amount: &str| json!({"amount": amount, "currency": "GBP"});
    json!({
        "valid_from": "2026-01-01", "labour_per_h": pounds("31.00"), "allowance_pct": 10, "contingency_pct": 0,
        "overhead_pct": 12, "margin_pct": 10, "tax_pct": 0, "crew_size": 2, "setup_min": 30, "clean_down_min": 30,
        "waste_per_l": pounds("0"), "consumables": [{"consumable": "black", "price": pounds("6.00")}],
        "machines": [{"machine": "rotary_43", "per_h": pounds("0")}],
        "packs": [{"product": "polish_emulsion", "size_l": 5, "price": pounds("21.00")}],
    })
}

fn work(floor: SurfaceId) -> Value {
    json!({
        "surface_id": floor.to_string(), "process": "machine_strip_and_refinish",
        "started_at": "2026-05-11T20:00:00Z", "finished_at": "2026-05-12T10:00:00Z",
        "labour": [{"stage": "prepare", "hours": 14.25}], "polish_coats": 4,
        "products": [{"product": "polish_emulsion", "volume_l": 23.2, "stage": "protect"}],
    })
}

impl World {
    async fn new() -> Self {
        let database = TestStore::new().await;
        let (clock, ids) = (Arc::new(ManualClock::default()), SeededIds::new(1));
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
        let parts = Parts {
            store: database.store().clone(),
            clock: clock.clone(),
            ids: Arc::new(ids),
        };
        let ctx = Arc::new(bootstrap::context(&config, parts).unwrap());
        let tx = ctx.store.begin(tenant).await.unwrap();
        let place = json!({"name": "Clinic", "country": "GB", "time_zone": "Europe/London", "currency": "GBP"});
        let site = site::register(&ctx, &tx, &read!(place)).await.unwrap().id;
        let floor = surface::register(&ctx, &tx, &read!(corridor(site))).await;
        tx.commit().await.unwrap();
        Self {
            _database: database,
            floor: floor.unwrap().id,
            ctx,
            clock,
            tenant,
            site,
        }
    }

    /// Does something to what plans are made from.
    async fn apply(&self, change: Change) {
        let (ctx, by) = (&*self.ctx, by());
        let tx = ctx.store.begin(self.tenant).await.unwrap();
        let tx = tx.signed_by(by.clone());
        self.write(&tx, change, &by).await;
        tx.commit().await.unwrap();
    }

    async fn empty_stock(&self, tx: &Tx) {
        let all = stock_item::StockItemFilter::default();
        let items = tx
            .stock_items()
            .list(self.site, &all, None, 1)
            .await
            .unwrap();
        stock_item::delete(&self.ctx, tx, &items.items[0])
            .await
            .unwrap();
    }

    async fn write(&self, tx: &Tx, change: Change, by: &By) {
        let ctx = &*self.ctx;
        match change {
            Change::Surface => {
                let row = surface::find(tx, self.floor).await.unwrap();
                let mut request = corridor(self.site);
                request["area_m2"] = json!(120);
                request["perimeter_m"] = json!(46);
                surface::change(ctx, tx, &row, &read!(request))
                    .await
                    .unwrap();
            }
            Change::OtherSurface => {
                let mut request = corridor(self.site);
                request["name"] = json!("Hall");
                surface::register(ctx, tx, &read!(request)).await.unwrap();
            }
            Change::Site => {
                let row = site::find(tx, self.site).await.unwrap();
                let mut request = site::patchable(&row, false).unwrap();
                request["climate"] = json!({"air_c": 12, "humidity_pct": 70});
                site::change(ctx, tx, &row, &read!(request)).await.unwrap();
            }
            Change::RateCard => {
                let row = site::find(tx, self.site).await.unwrap();
                let card = card();
                site::issue(ctx, tx, &row, &read!(card)).await.unwrap();
            }
            Change::StockItem => {
                let item = json!({"product": "polish_emulsion", "left_l": 10});
                stock_item::register(ctx, tx, self.site, &read!(item))
                    .await
                    .unwrap();
            }
            Change::NoStockItem => self.empty_stock(tx).await,
            Change::Product => {
                let product = json!({
                    "key": "night_polish", "class": "polish", "name": "Polish", "suits": ["vinyl_composition_tile"],
                    "coverage_first": {"none": 60, "low": 60, "medium": 40, "high": 30},
                    "coverage_next": {"none": 60, "low": 60, "medium": 40, "high": 30},
                    "water_share": 0.75, "coat_wait_min": 50, "foot_wait_min": 150, "ph_in_use": 8.2, "ppe": ["gloves"],
                    "packs": [{"size_l": 10, "example_price": "48.00"}],
                    "sheet": {"reference": "TDS 114", "edition": "2026-02"},
                });
                product::register(ctx, tx, &read!(product)).await.unwrap();
            }
            Change::Observation => {
                let seen = json!({
                    "at": "2026-05-12T09:30:00Z", "origin": "seen",
                    "film": {"kind": "polish", "coats": 2, "condition": "sound"},
                });
                observation::record(ctx, tx, self.floor, &read!(seen))
                    .await
                    .unwrap();
            }
            Change::Completion => {
                let report = read!(work(self.floor));
                let origin = completion::Origin::Caller(None);
                completion::record(ctx, tx, (&report, origin))
                    .await
                    .unwrap();
            }
            Change::Void => {
                let all = completion::CompletionFilter::default();
                let done = tx
                    .completions()
                    .list(&all, Turn::default(), 1)
                    .await
                    .unwrap();
                let said = (by, "Reported twice.");
                completion::void(ctx, tx, (done.items[0].id, None), said)
                    .await
                    .unwrap();
            }
        }
    }

    /// What is kept where a change comes between preparing and keeping: for which moment the plan says what the film is, and
    /// how many floors the estimate has and what it costs.
    async fn kept(&self, change: Option<Change>) -> (DateTime<Utc>, Value, Value) {
        let ctx = &self.ctx;
        let wish = json!({"goal": "restore"});
        let plan = read!(json!({"surface_id": self.floor.to_string(), "wish": wish}));
        let estimate = read!(json!({"site_id": self.site.to_string(), "wish": wish}));
        let prepared = prepare(ctx, self.tenant, &plan).await.unwrap();
        let pooled = estimate::prepare(ctx, self.tenant, &estimate)
            .await
            .unwrap();
        assert!(prepared.is_some() && pooled.is_some());
        self.clock.advance(TimeDelta::minutes(1));
        if let Some(change) = change {
            self.apply(change).await;
        }
        let tx = ctx.store.begin(self.tenant).await.unwrap();
        let row = propose(ctx, &tx, &plan, prepared.as_ref()).await.unwrap();
        let rows = estimate::make(ctx, &tx, &estimate, pooled.as_ref())
            .await
            .unwrap();
        tx.commit().await.unwrap();
        let document: Value = wire::stored(&row.document).unwrap();
        let pooled: Value = wire::stored(&rows.document).unwrap();
        let at = document["film"]["at"].as_str().unwrap().parse().unwrap();
        (at, document, pooled)
    }
}

fn by() -> By {
    By {
        client: "tests".to_owned(),
        subject: "tester".to_owned(),
    }
}

#[derive(Debug, Clone, Copy)]
enum Change {
    Surface,
    OtherSurface,
    Site,
    RateCard,
    StockItem,
    NoStockItem,
    Product,
    Observation,
    Completion,
    Void,
}

#[tokio::test]
async fn what_was_prepared_is_kept_where_nothing_has_changed() {
    let world = World::new().await;
    let begun = world.clock.now();
    let (at, plan, _) = Box::pin(world.kept(None)).await;
    assert_eq!(at, begun);
    let kept_at: DateTime<Utc> = plan["created_at"].as_str().unwrap().parse().unwrap();
    assert_eq!(kept_at, world.clock.now());
    // Another floor of the site is none of this plan's inputs.
    let begun = world.clock.now();
    let (at, _, estimate) = Box::pin(world.kept(Some(Change::OtherSurface))).await;
    assert_eq!(at, begun);
    assert_eq!(estimate["n_surfaces"], 2);
}

#[tokio::test]
async fn whatever_changes_after_it_was_prepared_a_plan_is_made_anew() {
    let world = World::new().await;
    for change in [
        Change::Surface,
        Change::Site,
        Change::RateCard,
        Change::StockItem,
        Change::NoStockItem,
        Change::Product,
        Change::Observation,
        Change::Completion,
        Change::Void,
    ] {
        let (at, plan, estimate) = Box::pin(world.kept(Some(change))).await;
        assert_eq!(at, world.clock.now(), "{change:?}");
        // An answer that nothing comes between is the same.
        let (_, again, pooled) = Box::pin(world.kept(None)).await;
        let told = |plan: &Value| (plan["work"]["cost"].clone(), plan["verdict"].clone());
        assert_eq!(told(&plan), told(&again), "{change:?}");
        assert_eq!(estimate["cost"], pooled["cost"], "{change:?}");
        assert_eq!(plan["surface_version"], 2, "{change:?}");
    }
}
