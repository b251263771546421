//! What a completion costs beside its plan, as the rows and the document that are kept.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use domain::{
    card::RateCard,
    estimate::cost::LineKind,
    id::CompletionId,
    knowledge::Products,
    money::{Currency, Money},
    plan::Stage,
    quantity::{Area, Labour, Volume},
    record::{self, Deviation, LedgerLine, PlanPart, Promised, RecordLine, WHOLE_PPM},
};
use infra::row::{
    CompletionLineRow, CompletionRow, CompletionStatus, DeviationState, PlanLineRow, RateCardRow,
};

use super::{Origin, check::Work};
use crate::{
    problem::Problem,
    wire::{
        self,
        completion::{CompletionRequest, CompletionView, PricedByView},
    },
};

/// How far the area may exceed what the plan has left before it is flagged, in parts per million: shares are
/// rounded, and so are areas.
const SLACK_PPM: i64 = 1_000;

/// What a completion is held against and priced with.
#[derive(Debug)]
pub(super) struct Terms<'a> {
    /// The day of the work, by the site's calendar.
    pub(super) day: NaiveDate,
    /// The month that it counts in.
    pub(super) month: String,
    /// What its plan promises.
    pub(super) promised: Promised,
    /// How much of its plan is not done yet, in parts per million; 0 without a plan.
    pub(super) left_ppm: i64,
    /// Who reports.
    pub(super) origin: Origin,
    /// The edition of the rate card of the day of the work.
    pub(super) card_row: &'a RateCardRow,
    /// Its rates.
    pub(super) card: &'a RateCard,
}

/// What names a new completion.
#[derive(Debug)]
pub(super) struct Names {
    /// Its id.
    pub(super) id: CompletionId,
    /// The completion that it corrects.
    pub(super) supersedes: Option<CompletionId>,
    /// When it is recorded.
    pub(super) now: DateTime<Utc>,
}

/// The row of a completion, with its document, and its lines.
///
/// # Errors
/// `invalid_body` for amounts that no ledger holds; `internal` for a plan whose lines are not what was written, or a report that was not checked.
pub(super) fn account(
    products: Products<'_>,
    (request, work): (&CompletionRequest, &Work<'_>),
    terms: &Terms<'_>,
    names: &Names,
) -> Result<(CompletionRow, Vec<CompletionLineRow>), Problem> {
    let followed = work.plan.filter(|_plan| !work.is_elsewhere);
    let share = followed.map_or(0, |plan| {
        record::share_ppm(work.area, plan.row.area, terms.left_ppm)
    });
    let planned = work.plan.map(|plan| ledger(&plan.lines, plan.row.currency));
    let planned = planned.transpose()?.unwrap_or_default();
    let part = PlanPart::next(terms.left_ppm, share);
    let lines = record::price(products, terms.card, &planned, part, &work.reported)
        .map_err(|error| Problem::internal(&error))?;
    let columns: [fn(&RecordLine) -> Money; 3] = [
        |line| line.planned,
        |line| line.computed,
        |line| line.actual,
    ];
    for column in columns {
        wire::money::check_counted("#", lines.iter().map(|line| column(line).amount))?;
    }
    let mut found = deviations(work, terms);
    if followed.is_some() {
        found.extend(record::in_volume(&lines, &work.reported));
    }
    let mut row = row(work, terms, names, share);
    row.external = request.external.as_ref().map(Into::into);
    let lines: Vec<_> = (1..)
        .zip(&lines)
        .map(|(number, line)| line_row(&row, work, number, line))
        .collect();
    let codes: BTreeSet<&str> = found.iter().map(|one| one.code).collect();
    if !codes.is_empty() {
        row.deviation_state = DeviationState::Open;
        row.deviations = codes.into_iter().map(str::to_owned).collect();
    }
    let report = (request, &work.reported);
    let view = CompletionView::new(
        &row,
        &lines,
        report,
        (followed.map(|_plan| &terms.promised), found),
        PricedByView {
            id: terms.card_row.id.to_string(),
            number: terms.card_row.number,
            assumed: terms.card.assumed,
            before_valid_from: terms.card_row.valid_from > terms.day,
        },
    );
    row.document = wire::document(&view)?;
    Ok((row, lines))
}

fn row(work: &Work<'_>, terms: &Terms<'_>, names: &Names, share: i64) -> CompletionRow {
    CompletionRow {
        id: names.id,
        site_id: work.site.id,
        surface_id: work.surface.id,
        plan_id: work.plan.map(|plan| plan.row.id),
        contractor_id: work.contractor,
        status: CompletionStatus::Recorded,
        supersedes: names.supersedes,
        superseded_by: None,
        process: work.process.to_owned(),
        rate_card_id: terms.card_row.id,
        rate_card_number: terms.card_row.number,
        started_at: work.started_at,
        finished_at: work.finished_at,
        month: terms.month.clone(),
        area: work.area,
        planned_share_ppm: share,
        currency: terms.card.currency,
        external: None,
        document: String::new(),
        deviation_state: DeviationState::None,
        deviations: Vec::new(),
        amendments: String::new(),
        created_at: names.now,
        changed_at: names.now,
    }
}

fn line_row(
    row: &CompletionRow,
    work: &Work<'_>,
    number: i64,
    line: &RecordLine,
) -> CompletionLineRow {
    CompletionLineRow {
        completion_id: row.id,
        line_no: number,
        site_id: row.site_id,
        surface_id: row.surface_id,
        storey: work.surface.storey.clone(),
        material: work.surface.material.clone(),
        process: row.process.clone(),
        stage: line.stage.map(|stage| stage.word().to_owned()),
        product_class: line.product_class.clone(),
        kind: line.kind.map_or("charged", LineKind::word).to_owned(),
        contractor_id: row.contractor_id,
        month: row.month.clone(),
        rate_card_number: row.rate_card_number,
        currency: row.currency,
        planned_seconds: line.planned_labour.seconds_half_even(),
        actual_seconds: line.actual_labour.seconds_half_even(),
        planned_ml: line.planned_volume.ml_half_even(),
        actual_ml: line.actual_volume.ml_half_even(),
        planned_amount: line.planned.amount,
        computed_amount: line.computed.amount,
        actual_amount: line.actual.amount,
        quantity_amount: line.quantity.amount,
        productivity_amount: line.productivity.amount,
        water_ml: line.water.ml_half_even(),
        voc_mg: line.voc_mg,
        voc_unknown_ml: line.voc_unknown.ml_half_even(),
    }
}

/// In what the work contradicts its plan, if there is one, and itself.
fn deviations(work: &Work<'_>, terms: &Terms<'_>) -> Vec<Deviation> {
    let mut found = match work.plan {
        Some(_plan) if work.is_elsewhere => vec![record::on_other_surface()],
        Some(plan) => {
            let promised = Promised {
                exceeded: exceeds(work.area, plan.row.area, terms.left_ppm),
                later_than_work: matches!(terms.origin, Origin::Source(_) | Origin::Link)
                    && work.started_at < plan.row.created_at,
                ..terms.promised.clone()
            };
            record::deviations(&promised, &work.reported)
        }
        None => Vec::new(),
    };
    found.extend(record::in_itself(&work.reported));
    found
}

/// Whether work on `done` is more than what is left of a plan for `planned`.
fn exceeds(done: Area, planned: Area, left_ppm: i64) -> bool {
    let wanted = i128::from(done.mm2()) * i128::from(WHOLE_PPM);
    let left = i128::from(left_ppm.max(0)) + i128::from(SLACK_PPM);
    wanted > i128::from(planned.mm2()) * left
}

/// The lines of a plan as the record takes them.
fn ledger(lines: &[PlanLineRow], currency: Currency) -> Result<Vec<LedgerLine>, Problem> {
    let line = |line: &PlanLineRow| {
        let stage = match line.stage.as_deref() {
            Some(word) => Some(Stage::of(word)?),
            None => None,
        };
        Some(LedgerLine {
            kind: LineKind::of(&line.kind)?,
            stage,
            product_class: line.product_class.clone(),
            labour: Labour::from_seconds(line.seconds),
            volume: Volume::from_ml(line.ml),
            amount: Money {
                amount: line.amount,
                currency,
            },
        })
    };
    let lines: Option<Vec<_>> = lines.iter().map(line).collect();
    lines.ok_or_else(|| Problem::internal(&UnreadableLine))
}

/// A line of a plan holds a word that none of ours is.
#[derive(Debug, thiserror::Error)]
#[error("a line of a plan cannot be read")]
struct UnreadableLine;

#[cfg(test)]
mod tests {
    use super::{WHOLE_PPM, exceeds};
    use domain::quantity::Area;

    #[test]
    fn more_floor_than_a_plan_has_left_is_told_and_rounding_is_not() {
        let whole = Area::from_mm2(240_000_000);
        let sixth = Area::from_mm2(40_000_000);
        // Five sixths of 166,667 parts each leave 166,665.
        assert!(!exceeds(sixth, whole, 166_665));
        assert!(!exceeds(whole, whole, WHOLE_PPM));
        assert!(exceeds(whole, whole, 900_000));
        assert!(exceeds(sixth, whole, 0));
        assert!(exceeds(Area::from_mm2(480_000_000), whole, WHOLE_PPM));
    }
}
