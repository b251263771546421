//! Lists go in the order that is asked for, by ranges of indexes.

use chrono::TimeDelta;
use sea_orm::{
    Condition, ConnectionTrait, DbBackend, EntityTrait, QueryFilter, QuerySelect, QueryTrait,
    Select, Statement,
};

use super::{Checked, World};
use crate::row::{CompletionRow, DeviationState, PlanRow, PlanStatus, Stored};
use crate::store::{
    Access, CompletionFilter, DeviationFilter, Order, Place, PlanFilter, Turn, Tx, completion,
    plan, table,
};

/// How many rows of each kind there are: enough for a scan to be dearer than a range.
const MANY: usize = 3_000;

/// Plans and completions, each changed a second after the one before; one in a hundred is worth looking for.
async fn filled(world: &World) -> Checked {
    let site = world.site();
    let (surface, card) = (
        world.surface(&site),
        world.rate_card(&site, 1, "2020-01-01"),
    );
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.surfaces().insert(&surface).await?;
    tx.rate_cards().insert(&card).await?;
    let (mut plans, mut completions) = (Vec::new(), Vec::new());
    let mut at = world.now;
    for number in 0..MANY {
        at += TimeDelta::seconds(1);
        let is_rare = number % 100 == 0;
        plans.push(PlanRow {
            status: if is_rare {
                PlanStatus::Accepted
            } else {
                PlanStatus::Proposed
            },
            planned_on: at.date_naive() + TimeDelta::days(i64::try_from(number % 100)?),
            changed_at: at,
            ..world.plan(&surface)
        });
        completions.push(CompletionRow {
            deviation_state: if is_rare {
                DeviationState::Open
            } else {
                DeviationState::None
            },
            deviations: if is_rare {
                vec!["other_product".to_owned()]
            } else {
                Vec::new()
            },
            plan_id: plans.last().map(|plan| plan.id),
            changed_at: at,
            ..world.completion(&surface, &card)
        });
    }
    table::insert_many(&tx, &plans).await?;
    table::insert_many(&tx, &completions).await?;
    tx.commit().await?;
    Ok(())
}

/// How the database goes about a page.
async fn way<E: EntityTrait>(tx: &Tx, select: Select<E>) -> Result<String, sea_orm::DbErr> {
    let backend = tx.on().get_database_backend();
    let explain = match backend {
        DbBackend::Sqlite => "EXPLAIN QUERY PLAN",
        _ => "EXPLAIN",
    };
    let sql = select.limit(51).build(backend);
    let mut explained = Statement::from_string(backend, format!("{explain} {}", sql.sql));
    explained.values = sql.values;
    let rows = tx.on().query_all_raw(explained).await?;
    let column = if backend == DbBackend::Sqlite { 3 } else { 0 };
    let lines: Result<Vec<String>, _> = rows
        .iter()
        .map(|row| row.try_get_by_index(column))
        .collect();
    Ok(lines?.join("\n"))
}

fn page<R: Stored>(tx: &Tx, condition: Condition, turn: Turn) -> Select<R::Entity> {
    turn.apply(table::rows::<R>(tx).filter(condition), R::CHANGED)
}

#[tokio::test]
async fn a_page_is_a_range_of_an_index_however_it_is_asked_for() -> Checked {
    let world = World::new().await;
    filled(&world).await?;
    world.database.execute("ANALYZE").await?;
    let tx = world.read().await;
    let tenant = tx.tenant().uuid();
    let since = |seconds| Turn {
        order: Order::Changed(world.now + TimeDelta::seconds(seconds)),
        after: None,
    };
    let newest = Turn {
        order: Order::Newest,
        after: None,
    };
    let open = PlanFilter {
        is_open: true,
        ..PlanFilter::default()
    };
    let on = PlanFilter {
        planned_on: Some(world.now.date_naive() + TimeDelta::days(5)),
        ..PlanFilter::default()
    };
    let all = PlanFilter::default();
    let late = i64::try_from(MANY)? - 20;
    let plans = [
        (&all, since(late), "ix_plans_changed"),
        (&all, newest, "pk_plans"),
        (&open, Turn::default(), "ix_plans_status"),
        (&on, Turn::default(), "ix_plans_planned_on"),
    ];
    for (filter, turn, index) in plans {
        let select = page::<PlanRow>(&tx, plan::condition(filter, tenant), turn);
        must_go_by(&way(&tx, select).await?, index, filter);
    }
    let deviating = |deviation| CompletionFilter {
        deviation: Some(deviation),
        ..CompletionFilter::default()
    };
    let completions = [
        (
            CompletionFilter::default(),
            since(late),
            "ix_completions_changed",
        ),
        (
            deviating(DeviationFilter::Open),
            Turn::default(),
            "ix_completions_deviation",
        ),
    ];
    for (filter, turn, index) in completions {
        let select = page::<CompletionRow>(&tx, completion::condition(&filter), turn);
        must_go_by(&way(&tx, select).await?, index, &filter);
    }
    Ok(())
}

#[track_caller]
fn must_go_by(way: &str, index: &str, filter: &impl std::fmt::Debug) {
    // SQLite names the index of a primary key after the table.
    let is_key = index
        .strip_prefix("pk_")
        .is_some_and(|table| way.contains(&format!("sqlite_autoindex_{table}_1")));
    assert!(
        way.contains(index) || is_key,
        "{filter:?} by {index}:\n{way}"
    );
    for slow in ["Seq Scan", "SCAN"] {
        assert!(!way.contains(slow), "{filter:?}:\n{way}");
    }
}

#[tokio::test]
async fn rows_that_changed_at_one_moment_are_told_once_each() -> Checked {
    let world = World::new().await;
    let site = world.site();
    let surface = world.surface(&site);
    let tx = world.begin().await;
    tx.sites().insert(&site).await?;
    tx.surfaces().insert(&surface).await?;
    // Two moments, three plans each; those of the later moment have the earlier ids.
    let later = world.now + TimeDelta::seconds(1);
    let mut ids = Vec::new();
    for changed_at in [later, later, later, world.now, world.now, world.now] {
        let plan = PlanRow {
            changed_at,
            ..world.plan(&surface)
        };
        tx.plans().insert(&plan, &[]).await?;
        ids.push(plan.id);
    }
    tx.commit().await?;
    let tx = world.read().await;
    let walk = async |order: Order| {
        let (mut seen, mut after): (Vec<_>, Option<Place>) = (Vec::new(), None);
        loop {
            let turn = Turn { order, after };
            let page = tx.plans().list(&PlanFilter::default(), turn, 2).await?;
            seen.extend(page.items.iter().map(|plan| plan.id));
            after = page.next;
            if after.is_none() {
                return Ok::<_, crate::store::StoreError>(seen);
            }
        }
    };
    let by_change = [&ids[3..], &ids[..3]].concat();
    assert_eq!(walk(Order::Changed(world.now)).await?, by_change);
    assert_eq!(walk(Order::Changed(later)).await?, ids[..3]);
    assert_eq!(walk(Order::Oldest).await?, ids);
    ids.reverse();
    assert_eq!(walk(Order::Newest).await?, ids);
    let place = Turn::default().place(ids[0].uuid(), later);
    assert_eq!(place.to_string().parse::<Place>()?, place);
    let place = Place {
        changed_at: Some(later),
        ..place
    };
    assert_eq!(place.to_string().parse::<Place>()?, place);
    for other in ["", ".", "1.", "x.0193e8a0000070008000000000000001", "1"] {
        assert!(other.parse::<Place>().is_err(), "{other}");
    }
    Ok(())
}
