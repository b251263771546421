//! What is committed: the cost of accepted plans, less what completions have done of them.

use std::collections::HashMap;

use super::sql::{list, places};
use super::{CostFilter, CostRow, Dim, MAX_GROUPS, Reports, Wanted};
use crate::store::StoreError;

/// A plan of which this share is done, in parts per million, is done: what is left are roundings of shares.
const DONE_PPM: i64 = 999_990;

/// Adds what is committed to the groups, and the groups that hold nothing else.
///
/// A commitment counts in the month in which its plan was accepted. It has no contractor.
pub(super) async fn add(
    reports: &Reports<'_>,
    filter: &CostFilter,
    dims: &[Dim],
    rows: &mut Vec<CostRow>,
) -> Result<(), StoreError> {
    if matches!(filter.contractor_id, Wanted::This(_)) {
        return Ok(());
    }
    let is_of_lines = |column: &str| matches!(column, "stage" | "product_class");
    let (of_plans, bound) = filter.more("m", |column| {
        !is_of_lines(column) && column != "contractor_id"
    });
    let (of_lines, more_bound) = filter.more_after(bound.len(), "r", is_of_lines);
    let values = [filter.first(reports.0.tenant.uuid()), bound, more_bound].concat();
    let mut at: HashMap<_, usize> = rows
        .iter()
        .enumerate()
        .map(|(place, row)| ((row.currency.code(), row.key.clone()), place))
        .collect();
    for found in reports
        .query(sql(dims, &of_plans, &of_lines), values)
        .await?
    {
        let committed = CostRow {
            committed_net: found.try_get("", "committed_net")?,
            committed_tax: found.try_get("", "committed_tax")?,
            ..CostRow::bare(&found, dims)?
        };
        let key = (committed.currency.code(), committed.key.clone());
        let place = *at.entry(key).or_insert(rows.len());
        match rows.get_mut(place) {
            Some(row) => {
                row.committed_net = committed.committed_net;
                row.committed_tax = committed.committed_tax;
            }
            None => rows.push(committed),
        }
    }
    Ok(())
}

/// The lines of each open plan, less what completions take from them; so that what was done and what is committed are
/// the plan to the last digit. Only words of this crate are put into the text; values are bound.
fn sql(dims: &[Dim], of_plans: &str, of_lines: &str) -> String {
    let read = list(dims, Dim::expression);
    let by = places(dims.len().saturating_add(1));
    let limit = MAX_GROUPS + 1;
    let words = "m.site_id, m.surface_id, m.storey, m.material, m.process, m.month, m.currency, \
                 CAST(NULL AS uuid) AS contractor_id";
    format!(
        "WITH open_plans AS (
            SELECT m.*
            FROM commitments AS m
            JOIN plans AS p ON p.tenant_id = m.tenant_id AND p.id = m.plan_id
            WHERE m.tenant_id = $1 AND m.month >= $2 AND m.month < $3{of_plans}
                AND p.status = 'accepted'
                AND (SELECT COALESCE(SUM(c.planned_share_ppm), 0) FROM completions AS c
                    WHERE c.tenant_id = m.tenant_id AND c.plan_id = m.plan_id AND c.status = 'recorded') < {DONE_PPM}
        )
        SELECT {read}r.currency AS currency,
            CAST(SUM(CASE WHEN r.kind = 'tax' THEN 0 ELSE r.amount END) AS bigint) AS committed_net,
            CAST(SUM(CASE WHEN r.kind = 'tax' THEN r.amount ELSE 0 END) AS bigint) AS committed_tax
        FROM (
            SELECT {words}, l.stage, l.product_class, l.kind, l.amount
            FROM open_plans AS m
            JOIN plan_lines AS l ON l.tenant_id = m.tenant_id AND l.plan_id = m.plan_id
            UNION ALL
            SELECT {words}, l.stage, l.product_class, l.kind, -l.planned_amount
            FROM open_plans AS m
            JOIN completions AS c ON c.tenant_id = m.tenant_id AND c.plan_id = m.plan_id AND c.status = 'recorded'
            JOIN completion_lines AS l ON l.tenant_id = c.tenant_id AND l.completion_id = c.id
        ) AS r
        WHERE 1 = 1{of_lines}
        GROUP BY {by}
        ORDER BY {by}
        LIMIT {limit}"
    )
}
