//! The lines of completions that count, one after the other, as programs outside take them: what reports add up, not added.

use domain::id::{CompletionId, ContractorId, PlanId, SiteId, SurfaceId, TenantId};
use domain::money::Currency;
use futures_util::{Stream, StreamExt as _};
use sea_orm::{ConnectionTrait, QueryResult, Statement, StreamTrait};
use uuid::Uuid;

use super::report::sql::{LINES, OF_LINE};
use super::{Store, StoreError, Tx};

/// How long the statement that reads one month may take, its reader's own time included.
const LONGEST: &str = "1h";

/// What a line adds to the sums of a report. All lines of a month add up to the report of that month.
///
/// Amounts are in 1/10,000 of the currency's unit. What belongs to the completion and not to its lines stands on its
/// first line and is zero on the others, so that it is added once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LedgerLine {
    /// The completion.
    pub completion_id: CompletionId,
    /// The line's number within it.
    pub line_no: i64,
    /// The site.
    pub site_id: SiteId,
    /// The surface.
    pub surface_id: SurfaceId,
    /// The storey at the time of the work.
    pub storey: String,
    /// The material at the time of the work.
    pub material: String,
    /// The process that was done.
    pub process: String,
    /// The part of floor care, if the line belongs to one.
    pub stage: Option<String>,
    /// The class of product, if the line is for one.
    pub product_class: Option<String>,
    /// What kind of cost it is.
    pub kind: String,
    /// Who did it, if that was said.
    pub contractor_id: Option<ContractorId>,
    /// The plan that the completion cites.
    pub plan_id: Option<PlanId>,
    /// The currency of the amounts.
    pub currency: Currency,
    /// 1 on the first line of a completion.
    pub n_completions: i64,
    /// 1 on the first line of a completion that cites no plan.
    pub n_unplanned: i64,
    /// The area in mm² that was worked on, on the first line.
    pub area_mm2: i64,
    /// Planned working time in seconds.
    pub planned_seconds: i64,
    /// Reported working time in seconds.
    pub actual_seconds: i64,
    /// Planned volume in millilitres.
    pub planned_ml: i64,
    /// Reported volume in millilitres.
    pub actual_ml: i64,
    /// Water in millilitres that the reported product was made up with.
    pub water_ml: i64,
    /// Volatile organic compounds in milligrams.
    pub voc_mg: i64,
    /// Reported volume in millilitres of a product whose sheet does not tell them.
    pub voc_unknown_ml: i64,
    /// Planned cost without tax.
    pub planned_net: i64,
    /// Planned tax.
    pub planned_tax: i64,
    /// The cost without tax that counts.
    pub actual_net: i64,
    /// The tax that counts.
    pub actual_tax: i64,
    /// Of what actual exceeds planned: litres.
    pub quantity_net: i64,
    /// Of what actual exceeds planned: hours.
    pub productivity_net: i64,
    /// Of what actual exceeds planned: contingency, overhead and margin.
    pub overheads_net: i64,
    /// Of what actual exceeds planned: work that no part of a plan was left for.
    pub unplanned_net: i64,
}

impl LedgerLine {
    /// What actual exceeds planned, without tax.
    pub const fn variance_net(&self) -> i64 {
        self.actual_net.saturating_sub(self.planned_net)
    }

    /// Of that, what is neither quantity, productivity, overheads nor unplanned.
    pub const fn price_net(&self) -> i64 {
        self.variance_net()
            .saturating_sub(self.quantity_net)
            .saturating_sub(self.productivity_net)
            .saturating_sub(self.overheads_net)
            .saturating_sub(self.unplanned_net)
    }

    /// Reads a line; `last` is the completion of the line before, and becomes that of this one.
    fn read(row: &QueryResult, last: &mut Option<CompletionId>) -> Result<Self, StoreError> {
        let uuid = |column: &str| row.try_get::<Uuid>("", column);
        let integer = |column: &str| row.try_get::<i64>("", column);
        let text = |column: &str| row.try_get::<String>("", column);
        let completion_id = CompletionId::from_uuid(uuid("completion_id")?);
        let currency = text("currency")?;
        let currency = currency.parse().map_err(|source| StoreError::Corrupt {
            table: "completion_lines",
            column: "currency",
            row: completion_id.to_string(),
            source: Box::new(source),
        })?;
        let contractor: Option<Uuid> = row.try_get("", "contractor_id")?;
        let plan: Option<Uuid> = row.try_get("", "plan_id")?;
        let is_first = last.replace(completion_id) != Some(completion_id);
        Ok(Self {
            completion_id,
            line_no: integer("line_no")?,
            site_id: SiteId::from_uuid(uuid("site_id")?),
            surface_id: SurfaceId::from_uuid(uuid("surface_id")?),
            storey: text("storey")?,
            material: text("material")?,
            process: text("process")?,
            stage: row.try_get("", "stage")?,
            product_class: row.try_get("", "product_class")?,
            kind: text("kind")?,
            contractor_id: contractor.map(ContractorId::from_uuid),
            plan_id: plan.map(PlanId::from_uuid),
            currency,
            n_completions: i64::from(is_first),
            n_unplanned: i64::from(is_first && plan.is_none()),
            area_mm2: if is_first { integer("area_mm2")? } else { 0 },
            planned_seconds: integer("planned_seconds")?,
            actual_seconds: integer("actual_seconds")?,
            planned_ml: integer("planned_ml")?,
            actual_ml: integer("actual_ml")?,
            water_ml: integer("water_ml")?,
            voc_mg: integer("voc_mg")?,
            voc_unknown_ml: integer("voc_unknown_ml")?,
            planned_net: integer("planned_net")?,
            planned_tax: integer("planned_tax")?,
            actual_net: integer("actual_net")?,
            actual_tax: integer("actual_tax")?,
            quantity_net: integer("quantity_net")?,
            productivity_net: integer("productivity_net")?,
            overheads_net: integer("overheads_net")?,
            unplanned_net: integer("unplanned_net")?,
        })
    }
}

/// In the order of sites, so that a reader that looks for one of them passes most of a file by; the order is complete, so the
/// same lines give the same file.
fn lines() -> String {
    let terms = OF_LINE.map(|(name, term)| format!("CAST({term} AS bigint) AS {name}"));
    let terms = terms.join(", ");
    format!(
        "SELECT l.completion_id, l.line_no, l.site_id, l.surface_id, l.storey, l.material, l.process, l.stage,
            l.product_class, l.kind, l.contractor_id, c.plan_id, l.currency, c.area_mm2, {terms}
        FROM {LINES}
        WHERE l.tenant_id = $1 AND l.month = $2 AND c.status = 'recorded'
        ORDER BY l.site_id, l.completion_id, l.line_no"
    )
}

/// Lines of the tenant's completions as programs take them out.
#[derive(Debug, Clone, Copy)]
pub struct Extracts<'a>(pub(super) &'a Tx);

impl<'a> Extracts<'a> {
    /// The months from `from` up to, not including, `to` in which there are lines, `YYYY-MM`, in order. Each is one look
    /// into an index, however many lines it has.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn months(&self, from: &str, to: &str) -> Result<Vec<String>, StoreError> {
        let backend = self.0.backend();
        let (mut months, mut at) = (Vec::new(), from.to_owned());
        let mut condition = ">=";
        loop {
            let sql = format!(
                "SELECT month FROM completion_lines WHERE tenant_id = $1 AND month {condition} $2 AND month < $3
                ORDER BY month LIMIT 1"
            );
            let values = [self.0.tenant.uuid().into(), at.into(), to.into()];
            let statement = Statement::from_sql_and_values(backend, sql, values);
            let Some(row) = self.0.inner.query_one_raw(statement).await? else {
                return Ok(months);
            };
            let month: String = row.try_get_by_index(0)?;
            months.push(month.clone());
            (at, condition) = (month, ">");
        }
    }

    /// The lines of a month, as the database hands them out: they are never all in memory.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn lines(
        &self,
        month: &str,
    ) -> Result<impl Stream<Item = Result<LedgerLine, StoreError>> + 'a, StoreError> {
        let backend = self.0.backend();
        let values = [self.0.tenant.uuid().into(), month.into()];
        let statement = Statement::from_sql_and_values(backend, lines(), values);
        let rows = self.0.inner.stream_raw(statement).await?;
        let mut last = None;
        Ok(rows.map(move |row| LedgerLine::read(&row?, &mut last)))
    }
}

impl Store {
    /// A snapshot of one tenant whose statements may take an hour: everything that is read in it is of one moment, and
    /// the fences let through what is that tenant's.
    ///
    /// # Errors
    /// As [`Store::snapshot`].
    pub async fn extraction(&self, tenant: TenantId) -> Result<Tx, StoreError> {
        let tx = self.snapshot(tenant).await?;
        tx.allow_time(LONGEST).await?;
        // A bucket may take its time between two months.
        tx.allow_rest(LONGEST).await?;
        Ok(tx)
    }
}
