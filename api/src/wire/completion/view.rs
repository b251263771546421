//! What is kept of a completion and sent back: the report, and each line planned beside actual.

use domain::{
    quantity::{Labour, float},
    record::{Deviation, Promised, Reported, WHOLE_PPM},
};
use infra::row::{CompletionLineRow, CompletionRow};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    CompletionRequest, DriedFilm, Evidence, InvoiceLineView, StageWord, UsedProduct, WorkedHours,
    line::{CompletionLine, CompletionMoney},
};
use crate::{
    problem::Problem,
    wire::{external::External, money::MoneyView, number, remark::Remark, stored, time},
};

/// One way in which a completion differs from its plan.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct DeviationView {
    /// What kind of difference; a stable word. More may come.
    ///
    /// `fewer_seal_coats`, `fewer_polish_coats`: the film is thinner than planned; lay the rest or plan anew.
    /// `more_seal_coats`, `more_polish_coats`: it is thicker; it is stripped earlier.
    /// `other_product`: look at its label for this floor. `far_too_few_litres`: coats may be missing; look at the floor.
    /// `no_ph_reading`: the rinse does not count; read the pH and correct the report. `ph_outside_limits`: rinse again.
    /// `too_fast_for_waits`: coats were laid over wet ones; look for clouding. `product_expired`: ask its maker.
    /// `before_plan`, `other_surface`: the wrong plan may be cited; correct the report. `area_exceeds_plan`: correct the area or
    /// plan the rest. `invoice_differs`: its lines do not sum up to what was charged; ask the contractor.
    #[schema(max_length = 60, pattern = "^[a-z_]+$")]
    code: &'static str,
    /// What differs.
    #[schema(max_length = 500)]
    statement: String,
    /// Who accepted it, when and why; not there while nobody has.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    acknowledged: Option<Remark>,
}

/// Work that was reported.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CompletionView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    id: String,
    /// `recorded` counts; `superseded` was corrected by another; `voided` does not count.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// The completion that this one corrects.
    #[schema(max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    supersedes: Option<String>,
    /// The completion that corrects this one.
    #[schema(max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    superseded_by: Option<String>,
    /// Why it is void; there only if it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    voided: Option<Remark>,
    /// The site of the surface.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The surface that was worked on.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// The plan that the work followed.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    plan_id: Option<String>,
    /// Whether there is no plan.
    unplanned: bool,
    /// Who did it.
    #[schema(max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    contractor_id: Option<String>,
    /// The key of the process.
    #[schema(max_length = 100, pattern = "^[a-z0-9_]+$")]
    process: String,
    /// When the work began.
    #[schema(format = DateTime, max_length = 24)]
    started_at: String,
    /// When it ended.
    #[schema(format = DateTime, max_length = 24)]
    finished_at: String,
    /// The month that it counts in, in the site's time zone.
    #[schema(max_length = 7, pattern = "^[0-9]{4}-[0-9]{2}$")]
    month: String,
    /// The area that was worked on in m².
    #[schema(minimum = 0)]
    area_m2: f64,
    /// The share of the plan that it makes up; what earlier completions left of it at most.
    #[schema(minimum = 0, maximum = 1)]
    planned_share: f64,
    /// Working time, to the second.
    #[schema(max_items = 20)]
    labour: Vec<WorkedHours>,
    /// Products, to the millilitre.
    #[schema(max_items = 50)]
    products: Vec<UsedProduct>,
    /// Coats of seal.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    seal_coats: Option<i64>,
    /// Coats of polish.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    polish_coats: Option<i64>,
    /// Coats of seal that the plan promises; there where a plan is cited.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    planned_seal_coats: Option<i64>,
    /// Coats of polish that the plan promises; there where a plan is cited.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    planned_polish_coats: Option<i64>,
    /// pH of the wet floor, to the hundredth.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 14)]
    surface_ph: Option<f64>,
    /// How long films took until they were dry.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    dried: Vec<DriedFilm>,
    /// What was charged, before tax.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    charged: Option<MoneyView>,
    /// What stands on the contractor's invoice for it, before tax.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    invoice_lines: Vec<InvoiceLineView>,
    /// Where photographs and papers are.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    evidence: Vec<Evidence>,
    /// The contractor's own reference.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100)]
    operative_ref: Option<String>,
    /// What else is to be known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    note: Option<String>,
    /// Its name in another system.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    external: Option<External>,
    /// In what it differs from its plan.
    #[schema(max_items = 100)]
    deviations: Vec<DeviationView>,
    /// Sums of the lines.
    money: CompletionMoney,
    /// Each line, planned beside actual.
    #[schema(max_items = 200)]
    lines: Vec<CompletionLine>,
    /// The edition of the rate card that counted on the day of the work; before the first edition, the first.
    rate_card: PricedByView,
    /// When it was recorded.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
}

/// The edition of the rate card that work is priced by.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = CompletionRateCardView)]
pub(crate) struct PricedByView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^rtc_[0-9a-f-]{36}$")]
    pub(crate) id: String,
    /// Its number, from 1.
    #[schema(minimum = 1)]
    pub(crate) number: i64,
    /// Whether nobody has told these rates: they are the examples of the knowledge base.
    pub(crate) assumed: bool,
    /// Whether it is valid only from a later day on: the work was done before the site's first edition.
    pub(crate) before_valid_from: bool,
}

impl CompletionView {
    /// The completion of a row that was just made, with its lines.
    pub(crate) fn new(
        row: &CompletionRow,
        lines: &[CompletionLineRow],
        (request, reported): (&CompletionRequest, &Reported),
        (promised, deviations): (Option<&Promised>, Vec<Deviation>),
        priced_by: PricedByView,
    ) -> Self {
        let planned = row.plan_id.is_some();
        Self {
            id: row.id.to_string(),
            status: row.status.as_str(),
            supersedes: row.supersedes.map(|id| id.to_string()),
            superseded_by: row.superseded_by.map(|id| id.to_string()),
            voided: None,
            site_id: row.site_id.to_string(),
            surface_id: row.surface_id.to_string(),
            plan_id: row.plan_id.map(|id| id.to_string()),
            unplanned: !planned,
            contractor_id: row.contractor_id.map(|id| id.to_string()),
            process: row.process.clone(),
            started_at: time::write(row.started_at),
            finished_at: time::write(row.finished_at),
            month: row.month.clone(),
            area_m2: number::square_metres(row.area),
            planned_share: float(row.planned_share_ppm) / float(WHOLE_PPM),
            labour: labour(reported),
            products: products(request, reported),
            seal_coats: reported.seal_coats,
            polish_coats: reported.polish_coats,
            planned_seal_coats: promised.map(|promised| promised.seal_coats),
            planned_polish_coats: promised.map(|promised| promised.polish_coats),
            surface_ph: reported.surface_ph_hundredths.map(|ph| float(ph) / 100.0),
            dried: request.dried.clone(),
            charged: reported.charged.map(Into::into),
            invoice_lines: reported
                .invoice
                .iter()
                .map(|line| InvoiceLineView {
                    text: line.text.clone(),
                    net: line.net.into(),
                })
                .collect(),
            evidence: request.evidence.clone(),
            operative_ref: request.operative_ref.clone(),
            note: request.note.clone(),
            external: request.external.clone(),
            deviations: deviations
                .into_iter()
                .map(|found| DeviationView {
                    code: found.code,
                    statement: found.statement,
                    acknowledged: None,
                })
                .collect(),
            money: CompletionMoney::new(planned, row.currency, lines),
            lines: lines
                .iter()
                .map(|line| CompletionLine::new(planned, line))
                .collect(),
            rate_card: priced_by,
            created_at: time::write(row.created_at),
        }
    }
}

fn labour(reported: &Reported) -> Vec<WorkedHours> {
    let row = |(stage, time): &(domain::plan::Stage, Labour)| WorkedHours {
        stage: (*stage).into(),
        hours: number::hours(*time),
    };
    reported.labour.iter().map(row).collect()
}

/// The products that were used are those of the request, in its order.
fn products(request: &CompletionRequest, reported: &Reported) -> Vec<UsedProduct> {
    let row = |(used, sent): (&domain::record::Used, &UsedProduct)| UsedProduct {
        volume_l: number::litres(used.volume),
        stage: Some(StageWord::from(used.stage)),
        ..sent.clone()
    };
    let pairs = reported.products.iter().zip(&request.products);
    pairs.map(row).collect()
}

/// A page of completions.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CompletionPage {
    /// The completions, in the order of their recording.
    #[schema(max_items = 200)]
    items: Vec<CompletionView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// The coats of a kept completion, as far as it says.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(crate) struct LaidCoats {
    /// Coats of seal as reported.
    #[serde(default, rename = "seal_coats")]
    pub(crate) seal: Option<i64>,
    /// Coats of polish as reported.
    #[serde(default, rename = "polish_coats")]
    pub(crate) polish: Option<i64>,
    /// Coats of seal that the plan promises.
    #[serde(default, rename = "planned_seal_coats")]
    pub(crate) planned_seal: Option<i64>,
    /// Coats of polish that the plan promises.
    #[serde(default, rename = "planned_polish_coats")]
    pub(crate) planned_polish: Option<i64>,
}

/// What a kept completion says of coats.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn laid(document: &str) -> Result<LaidCoats, Problem> {
    stored(document)
}
