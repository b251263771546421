//! Reading single documents together where connections are scarce.
//!
//! Whoever finds a connection free reads his document at once and alone. Whoever would have to wait for one waits together
//! with all who want a document of the same table and tenant meanwhile, and one statement reads them all. So nothing
//! gets slower where there is room, and where there is none the server is asked less often: with 32 callers and four
//! connections some six documents come from one exchange. It begins after the last of them has asked, so each sees what was
//! committed before he did.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use domain::id::TenantId;
use sea_orm::sqlx::{Database, Executor, IntoArguments};
use sea_orm::{DbBackend, DbErr, QueryResult, Statement, Value};
use sea_query_sqlx::SqlxValues;
use tokio::sync::oneshot::{self, Receiver, Sender};
use uuid::Uuid;

use super::{Driver, Shelf};

/// Version and document of a row, if it is there.
pub(super) type Found = Option<(i64, String)>;

/// What a document is asked for by: the tenant, and the table.
pub(super) type Kind = (TenantId, &'static str);

impl<D> Shelf<D>
where
    D: Database<Row: Into<QueryResult>> + Driver,
    SqlxValues: IntoArguments<D>,
    for<'a> &'a mut D::Connection: Executor<'a, Database = D>,
{
    /// Version and document of a row. A file is asked for each by itself: that costs no exchange.
    pub(super) async fn document(&self, kind: Kind, id: Uuid) -> Result<Found, DbErr> {
        if D::BACKEND == DbBackend::Postgres && self.turns.available_permits() == 0 {
            self.document_together(kind, id).await
        } else {
            self.document_alone(kind, id).await
        }
    }

    async fn document_alone(&self, (tenant, table): Kind, id: Uuid) -> Result<Found, DbErr> {
        // The one statement that is asked for most is not put together by the query builder each time.
        let sql = format!("SELECT version, document FROM {table} WHERE tenant_id = $1 AND id = $2");
        let values = [tenant.uuid().into(), id.into()];
        let statement = Statement::from_sql_and_values(D::BACKEND, sql, values);
        let read = |row: QueryResult| Ok((row.try_get_by_index(0)?, row.try_get_by_index(1)?));
        self.one(tenant, statement).await?.map(read).transpose()
    }

    async fn document_together(&self, kind: Kind, id: Uuid) -> Result<Found, DbErr> {
        match self.waiting.join(kind, id) {
            Part::Follow(answer) => match answer.await {
                Ok(found) => Ok(found),
                Err(_gone) => self.document_alone(kind, id).await,
            },
            Part::Lead(lead) => {
                // Where none comes in time, each of the others asks alone and has a time of his own.
                let _turn = self.turn().await?;
                let others = lead.close();
                let (tenant, _) = kind;
                let rows = self.rows(tenant, others.statements(kind, id)).await?;
                others.answer(rows, id)
            }
        }
    }
}

/// The most that one statement asks for.
const MOST: usize = 64;

type Asked = Vec<(Uuid, Sender<Found>)>;

/// Those who wait for a connection.
#[derive(Debug, Default)]
pub(super) struct Waiting {
    by_kind: Mutex<BTreeMap<Kind, Asked>>,
}

/// What somebody who waits has to do.
#[derive(Debug)]
enum Part<'a> {
    /// To find a connection, and to read for all who came meanwhile.
    Lead(Lead<'a>),
    /// To wait. Where no answer comes, the one who led failed or went away.
    Follow(Receiver<Found>),
}

impl Waiting {
    /// Takes a place among those who wait for documents of a kind.
    fn join(&self, kind: Kind, id: Uuid) -> Part<'_> {
        let mut by_kind = self.lock();
        if let Some(asked) = by_kind.get_mut(&kind) {
            let (sender, receiver) = oneshot::channel();
            asked.push((id, sender));
            return Part::Follow(receiver);
        }
        by_kind.insert(kind, Vec::new());
        Part::Lead(Lead {
            waiting: self,
            kind: Some(kind),
        })
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<Kind, Asked>> {
        // A poisoned lock is an earlier panic elsewhere; the lists are whole between two calls.
        self.by_kind.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The first of those who wait. Dropped, it sends the others away without an answer.
#[derive(Debug)]
struct Lead<'a> {
    waiting: &'a Waiting,
    /// None once the list is closed.
    kind: Option<Kind>,
}

impl Lead<'_> {
    /// Those who came meanwhile. Whoever comes now waits for somebody else.
    fn close(mut self) -> Others {
        Others(self.take())
    }

    fn take(&mut self) -> Asked {
        let asked = self
            .kind
            .take()
            .map(|kind| self.waiting.lock().remove(&kind));
        asked.flatten().unwrap_or_default()
    }
}

impl Drop for Lead<'_> {
    fn drop(&mut self) {
        drop(self.take());
    }
}

/// Those for whom somebody else reads. Dropped, they get no answer.
#[derive(Debug)]
struct Others(Asked);

impl Others {
    /// The statements that find what they and the one who leads want.
    fn statements(&self, kind: Kind, own: Uuid) -> Vec<Statement> {
        let mut ids: Vec<Uuid> = self.0.iter().map(|(id, _)| *id).collect();
        ids.push(own);
        ids.sort_unstable();
        ids.dedup();
        ids.chunks(MOST).map(|ids| statement(kind, ids)).collect()
    }

    /// Gives each what was found, and the one who leads his own.
    fn answer(self, rows: Vec<QueryResult>, own: Uuid) -> Result<Found, DbErr> {
        let mut found = BTreeMap::new();
        for row in rows {
            let document = (row.try_get_by_index(1)?, row.try_get_by_index(2)?);
            found.insert(row.try_get_by_index::<Uuid>(0)?, document);
        }
        for (id, sender) in self.0 {
            // Whoever went away needs no answer.
            let _gone = sender.send(found.get(&id).cloned());
        }
        Ok(found.remove(&own))
    }
}

/// The number of values is a power of two, the last one said again: few statements for the server to prepare.
fn statement((tenant, table): Kind, ids: &[Uuid]) -> Statement {
    let n = ids.len().next_power_of_two();
    let places: Vec<String> = (0..n).map(|i| format!("${}", i + 2)).collect();
    let sql = format!(
        "SELECT id, version, document FROM {table} WHERE tenant_id = $1 AND id IN ({})",
        places.join(", ")
    );
    let last = ids.last().into_iter().cycle();
    let wanted = ids.iter().chain(last).take(n).map(|id| Value::from(*id));
    let values = std::iter::once(Value::from(tenant.uuid())).chain(wanted);
    Statement::from_sql_and_values(DbBackend::Postgres, sql, values)
}

#[cfg(test)]
mod tests {
    use sea_orm::Values;

    use super::{Kind, Part, Waiting};
    use domain::id::TenantId;
    use uuid::Uuid;

    const KIND: fn() -> Kind = || (TenantId::from_uuid(Uuid::nil()), "surfaces");

    #[tokio::test]
    async fn whoever_comes_before_the_list_is_closed_is_read_for_by_the_first() {
        let waiting = Waiting::default();
        let id = Uuid::from_u128;
        let Part::Lead(lead) = waiting.join(KIND(), id(0)) else {
            panic!("nobody leads");
        };
        let follow = |n| match waiting.join(KIND(), id(n)) {
            Part::Follow(answer) => answer,
            Part::Lead(_) => panic!("{n} leads"),
        };
        let answers: Vec<_> = (1..=130).chain([7]).map(follow).collect();
        let other_table = waiting.join((KIND().0, "plans"), id(1));
        assert!(matches!(other_table, Part::Lead(_)));
        let others = lead.close();
        assert!(matches!(waiting.join(KIND(), id(1)), Part::Lead(_)));
        // 131 different ids: two full statements and one of three, padded to four.
        let statements = others.statements(KIND(), id(0));
        let n_values = |values: &Option<Values>| values.as_ref().map_or(0, |v| v.0.len());
        let sizes: Vec<_> = statements.iter().map(|s| n_values(&s.values)).collect();
        assert_eq!(sizes, [65, 65, 5]);
        assert!(statements[2].sql.ends_with("IN ($2, $3, $4, $5)"));
        drop(others);
        for answer in answers {
            assert!(answer.await.is_err(), "each asks alone");
        }
    }

    #[tokio::test]
    async fn one_who_leads_and_goes_away_leaves_nobody_waiting() {
        let waiting = Waiting::default();
        let lead = waiting.join(KIND(), Uuid::nil());
        let Part::Follow(answer) = waiting.join(KIND(), Uuid::max()) else {
            panic!("two lead");
        };
        drop(lead);
        assert!(answer.await.is_err());
        assert!(matches!(waiting.join(KIND(), Uuid::max()), Part::Lead(_)));
    }
}
