//! What completions come to by month, added up as they are recorded, corrected and voided, in the same transaction.
//!
//! A rollup is kept for each month, floor, storey, material, process, contractor and currency, and a part of it for each stage and class of
//! product of its lines; all numbers are whole, so the order in which completions come changes nothing. Each change writes the rollups
//! that it moves, then their parts, each in one statement and in the order of their keys, so that two writers never wait for each other.

use std::sync::LazyLock;

use domain::id::{CompletionId, TenantId};
use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement, Value};
use uuid::Uuid;

use super::report::CostSums;
use super::report::sql::{COUNTED, KEY, LINES, keys, of_lines};
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
        for moved in &*MOVED {
            self.execute(moved.clone(), values.to_vec()).await?;
        }
        Ok(())
    }

    /// How many rollups and parts are not what the completions come to.
    async fn count_wrong(&self) -> Result<i64, StoreError> {
        let mut n_wrong = 0_i64;
        for kept in Kept::ALL {
            let found = self
                .query(kept.wrong(), vec![self.tenant(), NOBODY.into()])
                .await?;
            let count = found.first().map(|row| row.try_get_by_index(0));
            n_wrong = n_wrong.saturating_add(count.transpose()?.unwrap_or(0));
        }
        Ok(n_wrong)
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
        let part = [self.tenant(), month.to_owned().into(), site.into()];
        for kept in Kept::ALL {
            self.execute(kept.emptied(), part.to_vec()).await?;
            let [tenant, month, site] = part.clone();
            self.execute(kept.filled(), vec![tenant, NOBODY.into(), month, site])
                .await?;
        }
        Ok(())
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

/// Moves the rollups of completion `$3`, which is added, and of `$4`, which is taken away, and their parts.
static MOVED: LazyLock<[String; 2]> = LazyLock::new(|| Kept::ALL.map(Kept::moved));

/// A table of sums by month. Where others write, the whole stands before its parts.
#[derive(Debug, Clone, Copy)]
enum Kept {
    /// `cost_rollups`. Their versions go on with each change, and tell of changes of the parts too.
    Whole,
    /// `cost_part_rollups`.
    Parts,
}

impl Kept {
    const ALL: [Self; 2] = [Self::Whole, Self::Parts];

    const fn table(self) -> &'static str {
        match self {
            Self::Whole => "cost_rollups",
            Self::Parts => "cost_part_rollups",
        }
    }

    /// What its rows are told apart by, besides their tenant, separated by commas.
    fn key(self) -> String {
        let parts = match self {
            Self::Whole => "",
            Self::Parts => ", stage, product_class",
        };
        format!("{}{parts}", KEY.join(", "))
    }

    /// One term for each of its sums.
    fn terms(self, term: impl Fn(&str) -> String) -> Vec<String> {
        let apart: &[[&str; 3]] = match self {
            Self::Whole => &[],
            Self::Parts => &COUNTED,
        };
        CostSums::COLUMNS
            .iter()
            .chain(apart.iter().flat_map(|[_, apart @ ..]| apart))
            .map(|column| term(column))
            .collect()
    }

    /// The same, separated by commas.
    fn sums(self, term: impl Fn(&str) -> String) -> String {
        self.terms(term).join(", ")
    }

    /// How a statement names the version, begins it and goes on with it, where there is one.
    const fn version(self) -> [&'static str; 3] {
        match self {
            Self::Whole => [", version", ", 1", ", version = cost_rollups.version + 1"],
            Self::Parts => ["", "", ""],
        }
    }

    /// What each completion comes to. `$1` is the tenant, `$2` nobody.
    fn per_completion(self, more: &str) -> String {
        let whose = "COALESCE(l.contractor_id, $2)";
        let read = keys("l.").replace("l.contractor_id", &format!("{whose} AS contractor_id"));
        let by = keys("l.").replace("l.contractor_id", whose);
        let of_lines = of_lines();
        let (part, by_part) = match self {
            Self::Whole => ("", ""),
            Self::Parts => (
                ", COALESCE(l.stage, '') AS stage, COALESCE(l.product_class, '') AS product_class",
                ", COALESCE(l.stage, ''), COALESCE(l.product_class, '')",
            ),
        };
        let each = format!(
            "SELECT l.tenant_id, l.completion_id, {read}{part}, {of_lines}
            FROM {LINES}
            WHERE l.tenant_id = $1 {more}
            GROUP BY l.tenant_id, l.completion_id, {by}{by_part}"
        );
        match self {
            Self::Whole => each,
            Self::Parts => counted_once(&each),
        }
    }

    /// What the table should hold.
    fn recomputed(self, more: &str) -> String {
        let key = self.key();
        let whole = self.sums(|column| format!("CAST(SUM({column}) AS bigint) AS {column}"));
        let of = self.per_completion(&format!("AND c.status = 'recorded' {more}"));
        format!("SELECT {key}, {whole} FROM ({of}) AS each GROUP BY {key}")
    }

    /// Moves what completion `$3`, which is added, and `$4`, which is taken away, come to. One that is taken away counts less than
    /// nothing; both are in one row where they share one.
    fn moved(self) -> String {
        let table = self.table();
        let key = self.key();
        let signed = self.sums(|column| {
            format!(
                "CAST(SUM(CASE WHEN completion_id = $4 THEN -{column} ELSE {column} END) AS bigint) AS {column}"
            )
        });
        let of = self.per_completion("AND l.completion_id IN ($3, $4)");
        let columns = self.sums(str::to_owned);
        let more = self.sums(|column| format!("{column} = {table}.{column} + excluded.{column}"));
        let [version, first, next] = self.version();
        format!(
            "INSERT INTO {table} (tenant_id, {key}, {columns}{version})
            SELECT tenant_id, {key}, {signed}{first}
            FROM ({of}) AS moved
            WHERE 1 = 1
            GROUP BY tenant_id, {key}
            ORDER BY tenant_id, {key}
            ON CONFLICT (tenant_id, {key}) DO UPDATE SET {more}{next}"
        )
    }

    /// Counts the rows that are not what they should be.
    fn wrong(self) -> String {
        let table = self.table();
        let key = self.key();
        let columns = self.sums(str::to_owned);
        let right = self.recomputed("");
        let something = self.terms(|column| format!("{column} <> 0")).join(" OR ");
        format!(
            "WITH right_ones AS ({right}), kept AS (
                SELECT {key}, {columns} FROM {table} WHERE tenant_id = $1 AND ({something})
            )
            SELECT COUNT(*) FROM (SELECT DISTINCT {key} FROM (
                SELECT * FROM (SELECT * FROM right_ones EXCEPT SELECT * FROM kept) AS missing
                UNION ALL
                SELECT * FROM (SELECT * FROM kept EXCEPT SELECT * FROM right_ones) AS left_over
            ) AS wrong) AS wrong_keys"
        )
    }

    /// Empties the rows of month `$2` and site `$3`. The version goes on, so that nobody takes the new sums for those that he has.
    fn emptied(self) -> String {
        let table = self.table();
        let none = self.sums(|column| format!("{column} = 0"));
        let [_, _, next] = self.version();
        format!(
            "UPDATE {table} SET {none}{next} WHERE tenant_id = $1 AND month = $2 AND site_id = $3"
        )
    }

    /// Fills those of month `$3` and site `$4`.
    fn filled(self) -> String {
        let table = self.table();
        let key = self.key();
        let columns = self.sums(str::to_owned);
        let set = self.sums(|column| format!("{column} = excluded.{column}"));
        let right = self.recomputed("AND l.month = $3 AND l.site_id = $4");
        let [version, first, next] = self.version();
        format!(
            "INSERT INTO {table} (tenant_id, {key}, {columns}{version})
            SELECT $1, {key}, {columns}{first} FROM ({right}) AS found WHERE 1 = 1
            ORDER BY {key}
            ON CONFLICT (tenant_id, {key}) DO UPDATE SET {set}{next}"
        )
    }
}

/// Parts of completions of which one of each stage, and one of each class of product, counts its completion.
fn counted_once(parts: &str) -> String {
    let first = COUNTED.map(|[sum, stage, class]| {
        format!(
            "CASE WHEN nth_of_stage = 1 THEN {sum} ELSE 0 END AS {stage}, CASE WHEN nth_of_class = 1 THEN {sum} ELSE 0 END AS {class}"
        )
    });
    let first = first.join(", ");
    format!(
        "SELECT parts.*, {first} FROM (
            SELECT each_part.*, ROW_NUMBER() OVER (PARTITION BY completion_id, stage ORDER BY product_class) AS nth_of_stage,
                ROW_NUMBER() OVER (PARTITION BY completion_id, product_class ORDER BY stage) AS nth_of_class
            FROM ({parts}) AS each_part
        ) AS parts"
    )
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
