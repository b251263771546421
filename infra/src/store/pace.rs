//! What completions tell of production rates, coverage and dry times.

use domain::{
    id::{CompletionId, ContractorId, SiteId},
    learning::Kind,
};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement, Value};
use tracing::instrument;

use super::{StoreError, Tx, table};
use crate::row::{CompletionPaceRow, Stored, completion_pace};

/// Of so many figures of a kind, the last told at a site, it is asked whether they suffice to learn from.
const LOOKED_AT: u64 = 1_000;

/// A figure of which enough completions tell at a site.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldFigure {
    /// Its kind.
    pub kind: Kind,
    /// The activity, or the class of product, that it is of.
    pub subject: String,
    /// How many completions that count tell of it there, among the last that were looked at.
    pub n_jobs: i64,
    /// The last completion of the tenant that told of any: another one, and there is more to learn from.
    pub newest: CompletionId,
}

/// What the tenant's completions tell of rates, coverage and dry times. A completion that counts no more keeps its figures, which then
/// count no more.
#[derive(Debug, Clone, Copy)]
pub struct Paces<'a>(pub(super) &'a Tx);

impl Paces<'_> {
    /// Adds what a completion tells.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: the completion is not there, or has told already.
    pub async fn insert(&self, rows: &[CompletionPaceRow]) -> Result<(), StoreError> {
        table::insert_many(self.0, rows).await
    }

    /// The last `limit` figures of a kind of completions that count, of all sites, or of the work of one contractor.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    #[instrument(name = "store.paces", level = "debug", skip_all)]
    pub async fn latest(
        &self,
        kind: Kind,
        contractor: Option<ContractorId>,
        limit: u64,
    ) -> Result<Vec<CompletionPaceRow>, StoreError> {
        let mut values: Vec<Value> = vec![self.0.tenant.uuid().into(), kind.word().into()];
        let by = contractor.map_or("", |id| {
            values.push(id.uuid().into());
            "AND p.contractor_id = $3"
        });
        let sql = format!(
            "SELECT p.* FROM completion_paces AS p JOIN completions AS c \
             ON c.tenant_id = p.tenant_id AND c.id = p.completion_id AND c.status = 'recorded' \
             WHERE p.tenant_id = $1 AND p.kind = $2 {by} ORDER BY p.completion_id DESC, p.line_no LIMIT {limit}"
        );
        let on = &self.0.inner;
        let statement = Statement::from_sql_and_values(on.get_database_backend(), sql, values);
        let rows = on.query_all_raw(statement).await?;
        let read = |row| {
            let model = completion_pace::Model::from_query_result(row, "")?;
            CompletionPaceRow::from_model(model)
        };
        rows.iter().map(read).collect()
    }

    /// The figures of which at least so many completions that count tell, among the last that were recorded at a site. A kind that
    /// only a newer release knows is passed over.
    ///
    /// # Errors
    /// What the database answered.
    #[instrument(name = "store.told_figures", level = "debug", skip_all)]
    pub async fn told(&self, site: SiteId, least: u64) -> Result<Vec<ToldFigure>, StoreError> {
        let of_kind = |place: usize| {
            format!(
                "SELECT * FROM (SELECT tenant_id, completion_id, kind, activity FROM completion_paces \
                 WHERE tenant_id = $1 AND site_id = $2 AND kind = ${place} ORDER BY completion_id DESC LIMIT {LOOKED_AT}) AS k{place}"
            )
        };
        let kinds = (3..).zip(Kind::ALL);
        let newest: Vec<String> = kinds.map(|(place, _)| of_kind(place)).collect();
        let newest = newest.join(" UNION ALL ");
        let sql = format!(
            "SELECT p.kind, p.activity, count(DISTINCT p.completion_id), \
             (SELECT n.completion_id FROM completion_paces AS n WHERE n.tenant_id = $1 ORDER BY n.completion_id DESC LIMIT 1) \
             FROM ({newest}) AS p \
             JOIN completions AS c ON c.tenant_id = p.tenant_id AND c.id = p.completion_id AND c.status = 'recorded' \
             GROUP BY p.kind, p.activity HAVING count(DISTINCT p.completion_id) >= {least} ORDER BY p.kind, p.activity"
        );
        let on = &self.0.inner;
        let kinds = Kind::ALL.iter().map(|kind| kind.word().into());
        let whose = [self.0.tenant.uuid().into(), site.uuid().into()];
        let values = whose.into_iter().chain(kinds);
        let statement = Statement::from_sql_and_values(on.get_database_backend(), sql, values);
        let rows = on.query_all_raw(statement).await?;
        let mut told = Vec::with_capacity(rows.len());
        for row in &rows {
            let kind: String = row.try_get_by_index(0)?;
            if let Some(kind) = Kind::of(&kind) {
                told.push(ToldFigure {
                    kind,
                    subject: row.try_get_by_index(1)?,
                    n_jobs: row.try_get_by_index(2)?,
                    newest: CompletionId::from_uuid(row.try_get_by_index(3)?),
                });
            }
        }
        Ok(told)
    }
}
