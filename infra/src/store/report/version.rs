//! Whether a report may differ from one that was pulled before, told without making it.

use sea_orm::QueryResult;

use super::{CostFilter, Reports};
use crate::store::StoreError;

/// Numbers of which one grows with each change that a report of some months can show: each change of a completion moves a
/// rollup; plans, and completions of plans that were accepted in these months; sites, floors and contractors, whose names
/// and areas stand in reports.
const SQL: &str = "WITH open_plans AS (
        SELECT p.id, p.version FROM commitments AS m
        JOIN plans AS p ON p.tenant_id = m.tenant_id AND p.id = m.plan_id
        WHERE m.tenant_id = $1 AND m.month >= $2 AND m.month < $3
    )
    SELECT 1 AS place, CAST(COALESCE(SUM(version), 0) AS bigint) AS total, COUNT(*) AS n
    FROM cost_rollups WHERE tenant_id = $1 AND month >= $2 AND month < $3
    UNION ALL SELECT 2, CAST(COALESCE(SUM(version), 0) AS bigint), COUNT(*) FROM open_plans
    UNION ALL SELECT 3, COUNT(*), CAST(COALESCE(SUM(CASE WHEN c.status = 'recorded' THEN 1 ELSE 0 END), 0) AS bigint)
    FROM completions AS c JOIN open_plans AS p ON c.plan_id = p.id WHERE c.tenant_id = $1
    UNION ALL SELECT 4, CAST(COALESCE(SUM(version), 0) AS bigint), COUNT(*) FROM sites WHERE tenant_id = $1
    UNION ALL SELECT 5, CAST(COALESCE(SUM(version), 0) AS bigint), COUNT(*) FROM surfaces WHERE tenant_id = $1
    UNION ALL SELECT 6, CAST(COALESCE(SUM(version), 0) AS bigint), COUNT(*) FROM contractors WHERE tenant_id = $1
    ORDER BY place";

impl Reports<'_> {
    /// Numbers that differ from those before if a report of the filter's months may differ, whatever else it asks for.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn version(&self, filter: &CostFilter) -> Result<Vec<(i64, i64)>, StoreError> {
        let values = filter.first(self.0.tenant.uuid());
        let found = self.query(SQL.to_owned(), values).await?;
        let read = |row: &QueryResult| Ok((row.try_get_by_index(1)?, row.try_get_by_index(2)?));
        found.iter().map(read).collect()
    }
}
