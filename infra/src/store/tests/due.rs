//! When what is due on floors, the marks of floors that wait to be reckoned, and budgets.

use domain::due::{CountedFrom, Due, Why};
use domain::id::BudgetId;
use domain::money::Money;

use super::{Checked, World, day, gbp};
use crate::clock::IdSource as _;
use crate::row::{BudgetRow, DueRow, SiteRow, SurfaceRow};
use crate::store::{Constraint, DueFilter, StoreError, Tx};

/// The edition that these tests reckon with.
const EDITION: &str = "2026-07";

pub(super) fn budget(world: &World, site: &SiteRow) -> BudgetRow {
    BudgetRow {
        id: BudgetId::from_uuid(world.ids.uuid()),
        site_id: site.id,
        year: 2026,
        version: 1,
        net: Money {
            amount: 80_000_000,
            currency: gbp(),
        },
        document: "{}".to_owned(),
        created_at: world.now,
        updated_at: world.now,
    }
}

fn row(floor: &SurfaceRow, process: &str, due_on: &str) -> DueRow {
    DueRow {
        surface_id: floor.id,
        site_id: floor.site_id,
        due: Due {
            process: process.to_owned(),
            routine: process == "mop",
            last_done_on: None,
            due_on: day(due_on),
            why: Why::NeverDone,
            counted_from: CountedFrom::FirstSurvey,
            counted_from_on: day(due_on),
            interval_days: 30,
        },
        gone_on: None,
        told_due_on: None,
    }
}

/// Reckons a floor.
pub(super) async fn reckoned(tx: &Tx, floor: &SurfaceRow) -> Checked {
    let rows = vec![
        row(floor, "buff", "2026-06-01"),
        row(floor, "mop", "2026-06-01"),
    ];
    Ok(tx.dues().put(EDITION, &[floor.id], rows).await?)
}

async fn two_floors(world: &World) -> Result<(SiteRow, [SurfaceRow; 2]), StoreError> {
    let site = world.site();
    let floors = [world.surface(&site), world.surface(&site)];
    let floors = floors.map(|floor| SurfaceRow {
        external: None,
        ..floor
    });
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.surfaces().insert_many(&floors).await?;
    tx.commit().await?;
    Ok((site, floors))
}

#[tokio::test]
async fn a_floor_waits_until_it_is_reckoned_and_again_once_something_is_told_of_it() -> Checked {
    let world = World::new().await;
    let (site, floors) = two_floors(&world).await?;
    let tx = world.begin().await;
    let both = floors.each_ref().map(|floor| floor.id);
    assert_eq!(tx.dues().take(EDITION, site.id, 9).await?, both);
    assert_eq!(tx.dues().take(EDITION, site.id, 1).await?, both[..1]);
    for floor in &floors {
        reckoned(&tx, floor).await?;
    }
    assert!(tx.dues().unreckoned_sites(EDITION, None).await?.is_empty());
    // Another edition of the knowledge base says other things of all floors.
    assert_eq!(
        tx.dues().unreckoned_sites("2026-08", Some(site.id)).await?,
        [site.id]
    );
    tx.commit().await?;
    let tx = world.begin().await;
    let seen = super::film::observation(&world, &floors[1]);
    tx.observations().insert(&seen).await?;
    assert_eq!(tx.dues().take(EDITION, site.id, 9).await?, both[1..]);
    reckoned(&tx, &floors[1]).await?;
    let patched = SurfaceRow {
        version: 2,
        ..floors[0].clone()
    };
    tx.surfaces().update(&patched, 1).await?;
    assert_eq!(tx.dues().take(EDITION, site.id, 9).await?, both[..1]);
    reckoned(&tx, &floors[0]).await?;
    // Its clock may be another now, and with it the day of everything.
    let moved = SiteRow {
        version: 2,
        ..site.clone()
    };
    tx.sites().update(&moved, 1).await?;
    assert_eq!(tx.dues().take(EDITION, site.id, 9).await?, both);
    tx.commit().await?;
    assert_eq!(world.store().unreckoned(EDITION).await?.len(), 1);
    let theirs = world.read_theirs().await;
    assert!(
        theirs
            .dues()
            .unreckoned_sites(EDITION, None)
            .await?
            .is_empty()
    );
    Ok(())
}

#[tokio::test]
async fn what_is_told_while_a_floor_is_reckoned_marks_it_again() -> Checked {
    let world = World::new().await;
    if !world.database.is_server() {
        // A file has one writer: nothing is told meanwhile.
        return Ok(());
    }
    let (site, floors) = two_floors(&world).await?;
    let reckoning = world.begin().await;
    let both = reckoning.dues().take(EDITION, site.id, 9).await?;
    // Another that reckons passes by what is being reckoned.
    let other = world.begin().await;
    assert!(other.dues().take(EDITION, site.id, 9).await?.is_empty());
    other.commit().await?;
    let telling = async {
        let tx = world.begin().await;
        let seen = super::film::observation(&world, &floors[0]);
        tx.observations().insert(&seen).await?;
        tx.commit().await
    };
    let finishing = async {
        for floor in &floors {
            let rows = vec![row(floor, "buff", "2026-06-01")];
            reckoning.dues().put(EDITION, &[floor.id], rows).await?;
        }
        reckoning.commit().await
    };
    let (told, finished) = tokio::join!(telling, finishing);
    told?;
    finished?;
    let tx = world.begin().await;
    assert_eq!(tx.dues().take(EDITION, site.id, 9).await?, both[..1]);
    Ok(())
}

#[tokio::test]
async fn dates_are_listed_in_their_order_and_told_once() -> Checked {
    let world = World::new().await;
    let (site, floors) = two_floors(&world).await?;
    let tx = world.begin().await;
    let of_first = vec![
        row(&floors[0], "coat", "2026-08-30"),
        row(&floors[0], "mop", "2026-06-02"),
    ];
    let of_second = vec![
        row(&floors[1], "buff", "2026-06-15"),
        row(&floors[1], "coat", "2026-06-15"),
    ];
    tx.dues().put(EDITION, &[floors[0].id], of_first).await?;
    tx.dues()
        .put(EDITION, &[floors[1].id], of_second.clone())
        .await?;
    let list = async |filter: DueFilter| {
        let (mut found, mut after) = (Vec::new(), None);
        loop {
            let page = tx.dues().list(&filter, after, 1).await?;
            found.extend(page.items.into_iter().map(|row| row.due.process));
            after = page.next;
            if after.is_none() {
                return Ok::<_, StoreError>(found);
            }
        }
    };
    assert_eq!(list(DueFilter::default()).await?, ["buff", "coat", "coat"]);
    let routine = DueFilter {
        routine: true,
        ..DueFilter::default()
    };
    assert_eq!(list(routine).await?, ["mop", "buff", "coat", "coat"]);
    let some = DueFilter {
        site_id: Some(site.id),
        by: Some(day("2026-06-30")),
        process: Some("coat".to_owned()),
        ..DueFilter::default()
    };
    assert_eq!(list(some).await?, ["coat"]);
    let untold = tx.dues().untold(day("2026-06-15"), 9).await?;
    assert_eq!(untold, of_second);
    assert!(tx.dues().tell(&untold[0]).await?);
    assert!(!tx.dues().tell(&untold[0]).await?);
    // The same date, reckoned again, stays told; another date does not.
    let moved = vec![
        row(&floors[1], "buff", "2026-06-15"),
        row(&floors[1], "coat", "2026-06-14"),
    ];
    tx.dues().put(EDITION, &[floors[1].id], moved).await?;
    let untold = tx.dues().untold(day("2026-06-15"), 9).await?;
    assert_eq!(untold, [row(&floors[1], "coat", "2026-06-14")]);
    tx.commit().await?;
    let tenants = world.store().tenants_with_untold(day("2026-06-14")).await?;
    assert_eq!(tenants, [world.ours]);
    assert_eq!(
        world.store().tenants_with_untold(day("2026-06-13")).await?,
        []
    );
    Ok(())
}

#[tokio::test]
async fn a_site_has_one_budget_a_year() -> Checked {
    let world = World::new().await;
    let (site, _) = two_floors(&world).await?;
    let first = budget(&world, &site);
    let tx = world.begin().await;
    tx.budgets().insert(&first).await?;
    let changed = BudgetRow {
        version: 2,
        ..first.clone()
    };
    tx.budgets().update(&changed, 1).await?;
    let stale = tx.budgets().update(&changed, 1).await;
    assert!(matches!(stale, Err(StoreError::StaleVersion)));
    assert_eq!(
        tx.budgets().of_sites(&[site.id], (2026, 2027)).await?,
        [changed]
    );
    assert!(
        tx.budgets()
            .of_sites(&[site.id], (2027, 2028))
            .await?
            .is_empty()
    );
    tx.commit().await?;
    let tx = world.begin().await;
    let again = tx.budgets().insert(&budget(&world, &site)).await;
    assert!(matches!(
        again,
        Err(StoreError::Conflict {
            constraint: Constraint::BudgetYear
        })
    ));
    Ok(())
}
