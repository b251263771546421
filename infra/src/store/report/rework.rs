//! Area that was worked on again too soon.

use std::fmt::Write as _;

use sea_orm::{ConnectionTrait, DbBackend};

use super::areas::Areas;
use super::sql::{list, places};
use super::{CostFilter, CostRow, CostsError, Dim, MAX_GROUPS, Reports, distinct};

/// When work counts as done again, and which work can be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Again {
    /// Within so many days after earlier work ended.
    pub days: i32,
    /// The processes that are looked at.
    pub processes: Vec<String>,
}

impl Reports<'_> {
    /// Tells each row of the same report its area that was worked on again: of each completion the part that goes, with what
    /// the same process did on the same floor in the days before, beyond the whole floor. A floor that is done in parts is not
    /// done again.
    ///
    /// # Errors
    /// [`CostsError`]: what the database answered. It may take 20 seconds instead of 5.
    pub async fn add_rework(
        &self,
        rows: &mut [CostRow],
        (filter, dims): (&CostFilter, &[Dim]),
        again: &Again,
    ) -> Result<(), CostsError> {
        let dims = &distinct(dims);
        let (mut more, bound) = filter.more("l", |_| true);
        let mut values = [filter.first(self.0.tenant.uuid()), bound].concat();
        let mut bind = |value: sea_orm::Value| {
            values.push(value);
            format!("${}", values.len())
        };
        let days = bind(again.days.into());
        let names: Vec<String> = again
            .processes
            .iter()
            .map(|key| bind(key.clone().into()))
            .collect();
        // Writing to a string does not fail.
        let _ = write!(more, " AND c.process IN ({})", names.join(", "));
        let server = self.0.inner.get_database_backend() == DbBackend::Postgres;
        let found = self.query(sql(dims, &more, &days, server), values).await?;
        let areas = Areas::read(&found, dims, "rework_mm2")?;
        for row in rows {
            row.rework_mm2 = areas.of(row);
        }
        Ok(())
    }
}

/// Only words of this crate are put into the text; values are bound. Every completion has a first line, which tells storey and material.
fn sql(dims: &[Dim], more: &str, days: &str, server: bool) -> String {
    let read = list(dims, Dim::expression);
    let by = places(dims.len().saturating_add(1));
    let limit = MAX_GROUPS.saturating_add(1);
    let lately = if server {
        format!("e.finished_at >= c.started_at - make_interval(days => {days})")
    } else {
        format!("julianday(e.finished_at) >= julianday(c.started_at) - {days}")
    };
    format!(
        "SELECT {read}r.currency AS currency,
            CAST(SUM(CASE WHEN r.beyond_mm2 > r.area_mm2 THEN r.area_mm2 ELSE r.beyond_mm2 END) AS bigint) AS rework_mm2
        FROM (
            SELECT l.month, l.site_id, l.surface_id, l.storey, l.material, l.process, l.contractor_id, l.currency, c.area_mm2,
                c.area_mm2 - s.area_mm2 + COALESCE((
                    SELECT CAST(SUM(e.area_mm2) AS bigint) FROM completions AS e
                    WHERE e.tenant_id = c.tenant_id AND e.surface_id = c.surface_id AND e.process = c.process
                        AND e.status = 'recorded' AND {lately}
                        AND (e.started_at < c.started_at OR (e.started_at = c.started_at AND e.id < c.id))
                ), 0) AS beyond_mm2
            FROM completion_lines AS l
            JOIN completions AS c ON c.tenant_id = l.tenant_id AND c.id = l.completion_id
            JOIN surfaces AS s ON s.tenant_id = c.tenant_id AND s.id = c.surface_id
            WHERE l.tenant_id = $1 AND l.month >= $2 AND l.month < $3 AND l.line_no = 1{more} AND c.status = 'recorded'
        ) AS r
        WHERE r.beyond_mm2 > 0
        GROUP BY {by}
        LIMIT {limit}"
    )
}
