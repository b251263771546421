//! What is committed: the cost of accepted plans, less what completions have done of them.

use std::collections::HashMap;

use domain::id::{ContractorId, SiteId, SurfaceId};
use uuid::Uuid;

use super::{CostFilter, CostRow, Dim, MAX_GROUPS, Reports, group, list};
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
    if filter.contractor_id.is_some() {
        return Ok(());
    }
    let (more, bound) = filter.more("m");
    let values = [filter.first(reports.0.tenant.uuid()), bound].concat();
    let mut places: HashMap<Group, usize> = rows
        .iter()
        .enumerate()
        .map(|(place, row)| (Group::of(row), place))
        .collect();
    for found in reports.query(sql(dims, &more), values).await? {
        let committed = CostRow {
            committed_net: found.try_get("", "committed_net")?,
            committed_tax: found.try_get("", "committed_tax")?,
            ..group(&found, dims)?
        };
        let place = *places.entry(Group::of(&committed)).or_insert(rows.len());
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

/// What tells the groups of one report apart.
#[derive(PartialEq, Eq, Hash)]
struct Group {
    currency: &'static str,
    ids: [Option<Uuid>; 3],
    words: [Option<String>; 6],
}

impl Group {
    fn of(row: &CostRow) -> Self {
        Self {
            currency: row.currency.code(),
            ids: [
                row.site_id.map(SiteId::uuid),
                row.surface_id.map(SurfaceId::uuid),
                row.contractor_id.map(ContractorId::uuid),
            ],
            words: [
                row.storey.clone(),
                row.material.clone(),
                row.process.clone(),
                row.month.clone(),
                row.stage.clone(),
                row.product_class.clone(),
            ],
        }
    }
}

/// The lines of each open plan, less what completions take from them; so that what was done and what is committed are
/// the plan to the last digit. Only words of this file are put into the text; values are bound.
fn sql(dims: &[Dim], more: &str) -> String {
    let outer = list("", dims);
    let limit = MAX_GROUPS + 1;
    let words = "m.site_id, m.surface_id, m.storey, m.material, m.process, m.month, m.currency, \
                 CAST(NULL AS uuid) AS contractor_id";
    format!(
        "WITH open_plans AS (
            SELECT m.*
            FROM commitments AS m
            JOIN plans AS p ON p.tenant_id = m.tenant_id AND p.id = m.plan_id
            WHERE m.tenant_id = $1 AND m.month >= $2 AND m.month < $3{more}
                AND p.status = 'accepted'
                AND (SELECT COALESCE(SUM(c.planned_share_ppm), 0) FROM completions AS c
                    WHERE c.tenant_id = m.tenant_id AND c.plan_id = m.plan_id AND c.status = 'recorded') < {DONE_PPM}
        )
        SELECT {outer}currency,
            CAST(SUM(CASE WHEN kind = 'tax' THEN 0 ELSE amount END) AS bigint) AS committed_net,
            CAST(SUM(CASE WHEN kind = 'tax' THEN amount ELSE 0 END) AS bigint) AS committed_tax
        FROM (
            SELECT {words}, l.stage, l.product_class, l.kind, l.amount
            FROM open_plans AS m
            JOIN plan_lines AS l ON l.tenant_id = m.tenant_id AND l.plan_id = m.plan_id
            UNION ALL
            SELECT {words}, l.stage, l.product_class, l.kind, -l.planned_amount
            FROM open_plans AS m
            JOIN completions AS c ON c.tenant_id = m.tenant_id AND c.plan_id = m.plan_id AND c.status = 'recorded'
            JOIN completion_lines AS l ON l.tenant_id = c.tenant_id AND l.completion_id = c.id
        ) AS lines
        GROUP BY {outer}currency
        ORDER BY {outer}currency
        LIMIT {limit}"
    )
}
