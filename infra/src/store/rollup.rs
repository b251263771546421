//! What completions come to by month, added up as they are recorded, corrected and voided, in the same transaction.
//!
//! A rollup is kept for each month, floor, storey, material, process, contractor and currency; all numbers are whole, so the order in which
//! completions come changes nothing. Each change writes the rollups that it moves in one statement and in the order of their
//! keys, so that two writers never wait for each other.

use std::sync::LazyLock;

use domain::id::{CompletionId, TenantId};
use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement, Value};
use uuid::Uuid;

use super::report::sql::{KEY, LINES, keys, of_lines, sums};
use super::{Store, StoreError, Tx};

/// Sums of completions by month.
#[derive(Debug, Clone, Copy)]
pub struct Rollups<'a>(pub(super) &'a Tx);

impl Rollups<'_> {
    /// Adds a completion, and takes away the one that it corrects.
    pub(super) async fn add(
        &self,
        new: CompletionId,
        corrected: Option<CompletionId>,
    ) -> Result<(), StoreError> {
        self.moved(new, corrected).await
    }

    /// Takes a completion away.
    pub(super) async fn take_away(&self, old: CompletionId) -> Result<(), StoreError> {
        self.moved(CompletionId::from_uuid(Uuid::nil()), Some(old))
            .await
    }

    async fn moved(
        &self,
        added: CompletionId,
        taken: Option<CompletionId>,
    ) -> Result<(), StoreError> {
        let taken = taken.map_or(Uuid::nil(), CompletionId::uuid);
        let values = [
            self.tenant(),
            NOBODY.into(),
            added.uuid().into(),
            taken.into(),
        ];
        self.execute(MOVED.clone(), values.to_vec()).await
    }

    /// How many rollups are not what the completions come to.
    async fn count_wrong(&self) -> Result<i64, StoreError> {
        let key = KEY.join(", ");
        let columns = sums(str::to_owned);
        let right = recomputed("");
        let kept = format!(
            "SELECT {key}, {columns} FROM cost_rollups WHERE tenant_id = $1 AND ({})",
            sums(|column| format!("{column} <> 0")).replace(", ", " OR ")
        );
        let sql = format!(
            "WITH right_ones AS ({right}), kept AS ({kept})
            SELECT COUNT(*) FROM (SELECT DISTINCT {key} FROM (
                SELECT * FROM (SELECT * FROM right_ones EXCEPT SELECT * FROM kept) AS missing
                UNION ALL
                SELECT * FROM (SELECT * FROM kept EXCEPT SELECT * FROM right_ones) AS left_over
            ) AS wrong) AS wrong_keys"
        );
        let found = self.query(sql, vec![self.tenant(), NOBODY.into()]).await?;
        let count = found.first().map(|row| row.try_get_by_index(0));
        Ok(count.transpose()?.unwrap_or(0))
    }

    /// The months and sites of which there are completions or rollups.
    async fn parts(&self) -> Result<Vec<(String, Uuid)>, StoreError> {
        let sql = "SELECT month, site_id FROM completions WHERE tenant_id = $1
            UNION SELECT month, site_id FROM cost_rollups WHERE tenant_id = $1 ORDER BY month, site_id";
        let found = self.query(sql.to_owned(), vec![self.tenant()]).await?;
        let read = |row: &QueryResult| Ok((row.try_get_by_index(0)?, row.try_get_by_index(1)?));
        found.iter().map(read).collect()
    }

    /// Makes the rollups of a site's month anew. Until it commits nobody else writes a rollup, so completions that are being
    /// recorded meanwhile are added to it afterwards and none twice.
    async fn rebuild(&self, month: &str, site: Uuid) -> Result<(), StoreError> {
        if self.0.inner.get_database_backend() == DbBackend::Postgres {
            // What others have not committed yet is in no sum here, and is added by them once this lock is gone.
            let lock = "LOCK TABLE cost_rollups IN SHARE ROW EXCLUSIVE MODE";
            self.0.inner.execute_unprepared(lock).await?;
        }
        let key = KEY.join(", ");
        let columns = sums(str::to_owned);
        // The version goes on, so that nobody takes the new sums for those that he has.
        let none = sums(|column| format!("{column} = 0"));
        let emptied = format!(
            "UPDATE cost_rollups SET {none}, version = version + 1 WHERE tenant_id = $1 AND month = $2 AND site_id = $3"
        );
        let part = vec![self.tenant(), month.to_owned().into(), site.into()];
        self.execute(emptied, part).await?;
        let set = sums(|column| format!("{column} = excluded.{column}"));
        let right = recomputed("AND l.month = $3 AND l.site_id = $4");
        let filled = format!(
            "INSERT INTO cost_rollups (tenant_id, {key}, {columns}, version)
            SELECT $1, {key}, {columns}, 1 FROM ({right}) AS found WHERE 1 = 1
            ORDER BY {key}
            ON CONFLICT (tenant_id, {key}) DO UPDATE SET {set}, version = cost_rollups.version + 1"
        );
        let values = vec![
            self.tenant(),
            NOBODY.into(),
            month.to_owned().into(),
            site.into(),
        ];
        self.execute(filled, values).await
    }

    fn tenant(self) -> Value {
        self.0.tenant.uuid().into()
    }

    async fn execute(&self, sql: String, values: Vec<Value>) -> Result<(), StoreError> {
        let backend = self.0.inner.get_database_backend();
        let statement = Statement::from_sql_and_values(backend, sql, values);
        self.0.inner.execute_raw(statement).await?;
        Ok(())
    }

    async fn query(&self, sql: String, values: Vec<Value>) -> Result<Vec<QueryResult>, StoreError> {
        let backend = self.0.inner.get_database_backend();
        let statement = Statement::from_sql_and_values(backend, sql, values);
        Ok(self.0.inner.query_all_raw(statement).await?)
    }
}

/// How long one statement of somebody who waits at a terminal may take.
const MAINTENANCE: &str = "10min";

/// Who did work by nobody named: a key holds no NULL.
const NOBODY: Uuid = Uuid::nil();

/// Moves the rollups of completion `$3`, which is added, and of `$4`, which is taken away. One that is taken away counts less than
/// nothing; both are in one row where they share one.
static MOVED: LazyLock<String> = LazyLock::new(|| {
    let signed = sums(|column| {
        format!(
            "CAST(SUM(CASE WHEN completion_id = $4 THEN -{column} ELSE {column} END) AS bigint) AS {column}"
        )
    });
    let key = KEY.join(", ");
    let of = per_completion("AND l.completion_id IN ($3, $4)");
    let columns = sums(str::to_owned);
    let more = sums(|column| format!("{column} = cost_rollups.{column} + excluded.{column}"));
    format!(
        "INSERT INTO cost_rollups (tenant_id, {key}, {columns}, version)
        SELECT tenant_id, {key}, {signed}, 1
        FROM ({of}) AS moved
        WHERE 1 = 1
        GROUP BY tenant_id, {key}
        ORDER BY tenant_id, {key}
        ON CONFLICT (tenant_id, {key}) DO UPDATE SET {more}, version = cost_rollups.version + 1"
    )
});

/// What each completion comes to. `$1` is the tenant, `$2` nobody.
fn per_completion(more: &str) -> String {
    let whose = "COALESCE(l.contractor_id, $2)";
    let read = keys("l.").replace("l.contractor_id", &format!("{whose} AS contractor_id"));
    let by = keys("l.").replace("l.contractor_id", whose);
    let of_lines = of_lines();
    format!(
        "SELECT l.tenant_id, l.completion_id, {read}, {of_lines}
        FROM {LINES}
        WHERE l.tenant_id = $1 {more}
        GROUP BY l.tenant_id, l.completion_id, {by}"
    )
}

/// What the rollups should hold.
fn recomputed(more: &str) -> String {
    let key = KEY.join(", ");
    let whole = sums(|column| format!("CAST(SUM({column}) AS bigint) AS {column}"));
    let of = per_completion(&format!("AND c.status = 'recorded' {more}"));
    format!("SELECT {key}, {whole} FROM ({of}) AS each GROUP BY {key}")
}

impl Store {
    /// How many rollups of a tenant are not what its completions come to.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn count_wrong_rollups(&self, tenant: TenantId) -> Result<i64, StoreError> {
        let tx = self.snapshot(tenant).await?;
        tx.allow_time(MAINTENANCE).await?;
        tx.rollups().count_wrong().await
    }

    /// Makes all rollups of a tenant anew, a site's month at a time, while others write; answers how many such parts there are.
    ///
    /// # Errors
    /// [`StoreError::Contended`]: others held the rollups for too long; what was made stays. Call it again.
    pub async fn rebuild_rollups(&self, tenant: TenantId) -> Result<usize, StoreError> {
        let all = self.read(tenant).await?;
        all.allow_time(MAINTENANCE).await?;
        let parts = all.rollups().parts().await?;
        drop(all);
        for (month, site) in &parts {
            let tx = self.begin(tenant).await?;
            tx.allow_time(MAINTENANCE).await?;
            tx.rollups().rebuild(month, *site).await?;
            tx.commit().await?;
        }
        Ok(parts.len())
    }
}
