//! In which versions all that plans are made from is there: a few numbers in the place of the rows themselves.

use domain::id::{SiteId, SurfaceId};
use sea_orm::{ConnectionTrait, QueryResult, Statement};
use tracing::instrument;
use uuid::Uuid;

use super::Plans;
use crate::store::{Access, StoreError, table};

/// What belongs to the site. Products are never deleted and editions of a rate card never changed, so numbers tell of
/// every change of them; what is left over is deleted too, so it is told one by one. Of what completions tell of rates, the
/// last thousand figures of the site are looked at, and which is the last; older ones, and those of other sites, move a
/// plan too little to make it anew for.
const OF_SITE: &str = "\
    SELECT 'site' AS kind, id, version AS a, 0 AS b FROM sites WHERE tenant_id = $1 AND id = $2 \
    UNION ALL SELECT 'stock_item', id, version, 0 FROM stock_items WHERE tenant_id = $1 AND site_id = $2 \
    UNION ALL SELECT 'rate_card', NULL, coalesce(max(number), 0), 0 FROM rate_cards WHERE tenant_id = $1 AND site_id = $2 \
    UNION ALL SELECT 'pace', NULL, count(*), count(CASE WHEN c.status = 'recorded' THEN 1 END) FROM (\
    SELECT tenant_id, completion_id FROM completion_paces WHERE tenant_id = $1 AND site_id = $2 \
    ORDER BY completion_id DESC LIMIT 1000) AS p JOIN completions AS c ON c.tenant_id = p.tenant_id AND c.id = p.completion_id \
    UNION ALL SELECT 'last_pace', completion_id, 0, 0 FROM (\
    SELECT completion_id FROM completion_paces WHERE tenant_id = $1 AND site_id = $2 \
    ORDER BY completion_id DESC LIMIT 1) AS last \
    UNION ALL SELECT 'product', NULL, count(*), CAST(coalesce(sum(version), 0) AS bigint) FROM products WHERE tenant_id = $1 \
    UNION ALL ";

/// All that a plan of these surfaces is made from, in its versions: equal to what it was at another moment exactly where
/// nothing of it changed in between.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputVersions(Vec<Entry>);

/// What it is, which one, and two numbers of which one grows with every change.
type Entry = (String, Option<Uuid>, i64, i64);

impl<A: Access> Plans<'_, A> {
    /// The versions of the site, its rate cards, what it has left over, the tenant's products, these surfaces, and of all
    /// that was told of them and done on them: one statement for each few hundred surfaces.
    ///
    /// # Errors
    /// What the database answered.
    #[instrument(name = "store.input_versions", level = "debug", skip_all, fields(n_keys = surfaces.len()))]
    pub async fn input_versions(
        &self,
        site: SiteId,
        surfaces: &[SurfaceId],
    ) -> Result<InputVersions, StoreError> {
        let on = self.0.on();
        let mut found = Vec::with_capacity(surfaces.len().saturating_add(8));
        for chunk in surfaces.chunks(table::MAX_KEYS) {
            let sql = format!("{OF_SITE}{}", of_surfaces(chunk.len()));
            let fixed = [self.0.tenant().uuid(), site.uuid()];
            let values = fixed.into_iter().chain(chunk.iter().map(|id| id.uuid()));
            let values = values.map(Into::into);
            let statement = Statement::from_sql_and_values(on.get_database_backend(), sql, values);
            for row in on.query_all_raw(statement).await? {
                found.push(entry(&row)?);
            }
        }
        // Rows of a union come in no order.
        found.sort_unstable();
        Ok(InputVersions(found))
    }
}

/// What belongs to so many surfaces. Observations and completions are never deleted, and what counts no more never counts
/// again: how many there are and how many of them count tells of every change.
fn of_surfaces(n: usize) -> String {
    let among: Vec<String> = (3..n.saturating_add(3)).map(|n| format!("${n}")).collect();
    let among = among.join(", ");
    let counted = "count(*), count(CASE WHEN status = 'recorded' THEN 1 END)";
    format!(
        "SELECT 'surface' AS kind, id, version AS a, 0 AS b FROM surfaces WHERE tenant_id = $1 AND id IN ({among}) \
         UNION ALL SELECT 'observation', NULL, {counted} FROM observations WHERE tenant_id = $1 AND surface_id IN ({among}) \
         UNION ALL SELECT 'completion', NULL, {counted} FROM completions WHERE tenant_id = $1 AND surface_id IN ({among})"
    )
}

fn entry(row: &QueryResult) -> Result<Entry, StoreError> {
    Ok((
        row.try_get_by_index(0)?,
        row.try_get_by_index(1)?,
        row.try_get_by_index(2)?,
        row.try_get_by_index(3)?,
    ))
}
