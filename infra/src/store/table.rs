//! What every table of a tenant's rows has in common. Each statement here begins with the tenant.

use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, LockType, Order, SimpleExpr};
use sea_orm::{
    ActiveModelTrait, Condition, ConnectionTrait, EntityTrait, FromQueryResult, IdenStatic,
    IntoActiveModel, Iterable, PartialModelTrait, PrimaryKeyToColumn, QueryFilter, QueryOrder,
    QueryResult, QuerySelect, QueryTrait, Select,
};
use tracing::instrument;
use uuid::Uuid;

use super::site::by_external;
use super::turn::{Place, Turn};
use super::{Access, StoreError, Tx};
use crate::clock::truncate_to_millis;
use crate::row::{External, FactStatus, Stored};

/// The most rows in one statement; more was slower when measured.
const MAX_ROWS: usize = 500;
/// Below what SQLite binds in one statement (32,766) and PostgreSQL (65,535).
const MAX_BINDS: usize = 32_000;
/// The most keys that one lookup names.
pub(super) const MAX_KEYS: usize = 500;

/// `column` is `value`.
pub(super) fn is(column: &'static str, value: impl Into<SimpleExpr>) -> SimpleExpr {
    Expr::col(column).eq(value)
}

/// All rows of the tenant.
pub(super) fn rows<R: Stored>(tx: &impl Access) -> Select<R::Entity> {
    R::Entity::find().filter(is("tenant_id", tx.tenant().uuid()))
}

/// The row as it is written, with who writes it where the table keeps that.
fn signed<R: Stored>(tx: &Tx, row: &R) -> <R::Entity as EntityTrait>::ActiveModel {
    let mut model = row.to_model(tx.tenant.uuid()).into_active_model();
    for column in <R::Entity as EntityTrait>::Column::iter() {
        if let Some((_, value)) = by(tx)
            .into_iter()
            .find(|(name, _)| *name == column.as_str())
        {
            model.set(column, value.into());
        }
    }
    model
}

/// The columns of who writes, and what they are to hold.
pub(super) fn by(tx: &Tx) -> [(&'static str, Option<String>); 2] {
    let by = tx.by.as_ref();
    [
        ("by_client", by.map(|by| by.client.clone())),
        ("by_subject", by.map(|by| by.subject.clone())),
    ]
}

#[instrument(name = "store.insert", level = "debug", skip_all, fields(table = R::TABLE), err(level = "debug"))]
pub(super) async fn insert<R: Stored>(tx: &Tx, row: &R) -> Result<(), StoreError> {
    R::Entity::insert(signed(tx, row))
        .exec_without_returning(&tx.inner)
        .await?;
    Ok(())
}

#[instrument(name = "store.insert_many", level = "debug", skip_all, fields(table = R::TABLE, n_rows = rows.len()))]
pub(super) async fn insert_many<R: Stored>(tx: &Tx, rows: &[R]) -> Result<(), StoreError> {
    let n_columns = <R::Entity as EntityTrait>::Column::iter().count().max(1);
    for chunk in rows.chunks((MAX_BINDS / n_columns).clamp(1, MAX_ROWS)) {
        let models = chunk.iter().map(|row| signed(tx, row));
        R::Entity::insert_many(models)
            .exec_without_returning(&tx.inner)
            .await?;
    }
    Ok(())
}

/// The row with this id. The key makes it one: a `LIMIT` would be a bound value, for which SQLite plans anew each time.
#[instrument(name = "store.get", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn get<R: Stored>(tx: &impl Access, id: Uuid) -> Result<Option<R>, StoreError> {
    Ok(all(tx, rows::<R>(tx).filter(is("id", id))).await?.pop())
}

/// The rows with these ids that are there, in the order of their ids.
#[instrument(name = "store.get_many", level = "debug", skip_all, fields(table = R::TABLE, n_keys = ids.len()))]
pub(super) async fn get_many<R: Stored>(
    tx: &impl Access,
    ids: &[Uuid],
) -> Result<Vec<R>, StoreError> {
    let mut ids = ids.to_vec();
    ids.sort_unstable();
    ids.dedup();
    let mut found = Vec::with_capacity(ids.len());
    for chunk in ids.chunks(MAX_KEYS) {
        let among = Expr::col("id").is_in(chunk.iter().copied());
        found.extend(
            all::<R>(
                tx,
                rows::<R>(tx)
                    .filter(among)
                    .order_by(Expr::col("id"), Order::Asc),
            )
            .await?,
        );
    }
    Ok(found)
}

/// Documents of up to `limit + 1` rows, each with its place.
#[instrument(name = "store.documents", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn documents<R: Stored>(
    tx: &impl Access,
    filter: Condition,
    turn: Turn,
    limit: u64,
) -> Result<Vec<(Place, String)>, StoreError> {
    let select = turned::<R>(tx, filter, turn).select_only();
    let select = select
        .expr(Expr::col("id"))
        .expr(Expr::col("document"))
        .expr(Expr::col(R::CHANGED));
    let rows = first(tx, select, limit).await?;
    let read = |row: &QueryResult| {
        let place = turn.place(row.try_get_by_index(0)?, row.try_get_by_index(2)?);
        Ok((place, row.try_get_by_index(1)?))
    };
    rows.iter().map(read).collect()
}

/// The ids of the first `limit` rows, in their order.
pub(super) async fn ids<R: Stored>(
    tx: &impl Access,
    filter: Condition,
    limit: u64,
) -> Result<Vec<Uuid>, StoreError> {
    let select = rows::<R>(tx).filter(filter).limit(limit).select_only();
    let select = select
        .expr(Expr::col("id"))
        .order_by(Expr::col("id"), Order::Asc);
    Ok(select.into_tuple().all(tx.on()).await?)
}

/// Up to `limit + 1` rows in the order of their ids.
#[instrument(name = "store.list", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn list<R: Stored>(
    tx: &impl Access,
    filter: Condition,
    after: Option<Uuid>,
    limit: u64,
) -> Result<Vec<R>, StoreError> {
    let rows = first(tx, page::<R>(tx, filter, after), limit).await?;
    let read = |row| R::from_model(R::Model::from_query_result(row, "")?);
    rows.iter().map(read).collect()
}

/// Up to `limit + 1` rows in the order of a turn.
#[instrument(name = "store.turn", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn turn<R: Stored>(
    tx: &impl Access,
    filter: Condition,
    turn: Turn,
    limit: u64,
) -> Result<Vec<R>, StoreError> {
    let rows = first(tx, turned::<R>(tx, filter, turn), limit).await?;
    let read = |row| R::from_model(R::Model::from_query_result(row, "")?);
    rows.iter().map(read).collect()
}

fn turned<R: Stored>(tx: &impl Access, filter: Condition, turn: Turn) -> Select<R::Entity> {
    turn.apply(rows::<R>(tx).filter(filter), R::CHANGED)
}

/// What [`turn`] gives, of which only the columns of `M` are read.
#[instrument(name = "store.briefs", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn briefs<R: Stored, M: PartialModelTrait, B: TryFrom<M, Error = StoreError>>(
    tx: &impl Access,
    filter: Condition,
    turn: Turn,
    limit: u64,
) -> Result<Vec<B>, StoreError> {
    let select = M::select_cols(turned::<R>(tx, filter, turn).select_only());
    let rows = first(tx, select, limit).await?;
    let read = |row| B::try_from(M::from_query_result(row, "")?);
    rows.iter().map(read).collect()
}

pub(super) fn page<R: Stored>(
    tx: &impl Access,
    filter: Condition,
    after: Option<Uuid>,
) -> Select<R::Entity> {
    let onwards = Condition::all().add_option(after.map(|id| Expr::col("id").gt(id)));
    rows::<R>(tx)
        .filter(filter)
        .filter(onwards)
        .order_by(Expr::col("id"), Order::Asc)
}

/// Up to `limit + 1` rows of a query. The number is written out: for one that is bound, SQLite plans anew each time.
pub(super) async fn first<E: EntityTrait>(
    tx: &impl Access,
    select: Select<E>,
    limit: u64,
) -> Result<Vec<QueryResult>, StoreError> {
    let mut statement = select.build(tx.on().get_database_backend());
    statement.sql = format!("{} LIMIT {}", statement.sql, limit.saturating_add(1));
    Ok(tx.on().query_all_raw(statement).await?)
}

/// Reads all rows of a query that begins with [`rows`].
pub(super) async fn all<R: Stored>(
    tx: &impl Access,
    select: Select<R::Entity>,
) -> Result<Vec<R>, StoreError> {
    select
        .all(tx.on())
        .await?
        .into_iter()
        .map(R::from_model)
        .collect()
}

/// Writes all columns of a row but its key, if the row still has the expected version.
#[instrument(name = "store.update", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn update<R: Stored>(
    tx: &Tx,
    row: &R,
    id: Uuid,
    expected: i64,
) -> Result<(), StoreError> {
    let mut model = signed(tx, row).reset_all();
    for key in <R::Entity as EntityTrait>::PrimaryKey::iter() {
        model.not_set(key.into_column());
    }
    let done = R::Entity::update_many()
        .set(model)
        .filter(is("tenant_id", tx.tenant.uuid()))
        .filter(is("id", id))
        .filter(is("version", expected))
        .exec(&tx.inner)
        .await?;
    if done.rows_affected == 1 {
        Ok(())
    } else {
        Err(StoreError::StaleVersion)
    }
}

/// Deletes a row, if it still has the expected version.
#[instrument(name = "store.delete", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn delete<R: Stored>(tx: &Tx, id: Uuid, expected: i64) -> Result<(), StoreError> {
    let done = R::Entity::delete_many()
        .filter(is("tenant_id", tx.tenant.uuid()))
        .filter(is("id", id))
        .filter(is("version", expected))
        .exec(&tx.inner)
        .await?;
    if done.rows_affected == 1 {
        Ok(())
    } else {
        Err(StoreError::StaleVersion)
    }
}

/// The row counts: nothing has taken its place.
pub(super) fn is_recorded() -> SimpleExpr {
    is("status", FactStatus::Recorded.as_str())
}

/// Keeps others from locking or changing a row until the transaction ends; false if it is not there. On SQLite whoever
/// writes holds the one lock already, and nothing is asked but whether the row is there.
pub(super) async fn lock<R: Stored>(tx: &Tx, id: Uuid) -> Result<bool, StoreError> {
    let found: Option<Uuid> = rows::<R>(tx)
        .filter(is("id", id))
        .select_only()
        .column_as(Expr::col("id"), "id")
        .lock(LockType::NoKeyUpdate)
        .into_tuple()
        .one(&tx.inner)
        .await?;
    Ok(found.is_some())
}

/// The row that counts and has this external name: there is one at most.
pub(super) async fn find_external<R: Stored>(
    tx: &impl Access,
    external: &External,
) -> Result<Option<R>, StoreError> {
    let select = rows::<R>(tx)
        .filter(by_external(external))
        .filter(is_recorded());
    Ok(all(tx, select).await?.pop())
}

/// Lets `new` count in the place of `old`, if `old` still counts.
#[instrument(name = "store.supersede", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn supersede<R: Stored>(tx: &Tx, old: Uuid, new: Uuid) -> Result<(), StoreError> {
    let why = ("superseded_by", Expr::val(new));
    count_no_more::<R>(tx, old, FactStatus::Superseded, why).await
}

/// Lets a row count no more, if it still counts; `remark` says who said so, when and why.
#[instrument(name = "store.void", level = "debug", skip_all, fields(table = R::TABLE))]
pub(super) async fn void<R: Stored>(tx: &Tx, id: Uuid, remark: &str) -> Result<(), StoreError> {
    let why = ("voided", Expr::val(remark));
    count_no_more::<R>(tx, id, FactStatus::Voided, why).await
}

/// Gives a row that still counts a status by which it does not, and what stands in `column` for it.
async fn count_no_more<R: Stored>(
    tx: &Tx,
    id: Uuid,
    status: FactStatus,
    (column, value): (&'static str, Expr),
) -> Result<(), StoreError> {
    let [client, subject] = by(tx);
    let done = R::Entity::update_many()
        .col_expr(client.0, Expr::val(client.1))
        .col_expr(subject.0, Expr::val(subject.1))
        .col_expr("status", Expr::val(status.as_str()))
        .col_expr(column, value)
        .filter(is("tenant_id", tx.tenant.uuid()))
        .filter(is("id", id))
        .filter(is_recorded())
        .exec(&tx.inner)
        .await?;
    if done.rows_affected == 1 {
        Ok(())
    } else {
        Err(StoreError::StaleVersion)
    }
}

/// Notes when a row was last changed, in a table that keeps that.
pub(super) async fn touch<R: Stored>(
    tx: &Tx,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<(), StoreError> {
    R::Entity::update_many()
        .col_expr(R::CHANGED, Expr::val(truncate_to_millis(at)))
        .filter(is("tenant_id", tx.tenant.uuid()))
        .filter(is("id", id))
        .exec(&tx.inner)
        .await?;
    Ok(())
}

/// All rows of these surfaces that `filter` lets through, in the order of their ids; hundreds of surfaces by each
/// statement.
#[instrument(name = "store.of_surfaces", level = "debug", skip_all, fields(table = R::TABLE, n_keys = ids.len()))]
pub(super) async fn of_surfaces<R: Stored>(
    tx: &impl Access,
    ids: &[Uuid],
    filter: &Condition,
) -> Result<Vec<R>, StoreError> {
    let mut found = Vec::new();
    for chunk in ids.chunks(MAX_KEYS) {
        let select = rows::<R>(tx)
            .filter(Expr::col("surface_id").is_in(chunk.iter().copied()))
            .filter(filter.clone())
            .order_by(Expr::col("id"), Order::Asc);
        found.extend(all::<R>(tx, select).await?);
    }
    Ok(found)
}
