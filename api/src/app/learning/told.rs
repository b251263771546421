//! What a completion tells of the figures that its plan reckons with.

use domain::{
    knowledge::{KnowledgeBase, Product, Products, Rate},
    learning::{self, Kind, Told, paces},
    plan::Stage,
    quantity::{Labour, Volume, float, whole},
    record::{Promised, Reported, Used},
};
use infra::row::{CompletionPaceRow, CompletionRow, PlanLineRow, PlanRow};

use super::MILLION;
use crate::{
    problem::Problem,
    wire::reckoned::{Reckoned, ReckonedLine},
};

/// What is told of one figure.
type OfFigure = (Kind, String, Told);

/// What a completion tells of the figures that its plan reckons with: rates of activities, coverage and dry times of classes of
/// product. A stage whose coats were other than planned tells no rate, and no litres tell of coverage then: nobody says which
/// they took.
///
/// # Errors
/// `internal` for a plan's document that is not what was written.
pub(in crate::app) fn told(
    products: Products<'_>,
    row: &CompletionRow,
    (plan, lines): (&PlanRow, &[PlanLineRow]),
    (promised, reported): (&Promised, &Reported),
) -> Result<Vec<CompletionPaceRow>, Problem> {
    let kept = Reckoned::read(&plan.document)?;
    let part = float(row.area.mm2()) / float(plan.area.mm2().max(1));
    let paid = paid(lines);
    let differs = |done: Option<i64>, planned| done.is_some_and(|done| done != planned);
    let other_coats = differs(reported.seal_coats, promised.seal_coats)
        || differs(reported.polish_coats, promised.polish_coats);
    let mut found = rates(products.base, &kept, (part, paid), reported, other_coats);
    if !other_coats {
        found.extend(coverages(products, &kept, part, reported));
    }
    found.extend(dry_times(&kept, reported));
    let row = |(line_no, (kind, subject, told)): (i64, OfFigure)| {
        Some(CompletionPaceRow {
            completion_id: row.id,
            line_no,
            site_id: row.site_id,
            contractor_id: row.contractor_id,
            kind,
            subject,
            month: row.month.clone(),
            factor_ppm: whole(told.factor * MILLION)?,
            share_ppm: whole(told.share * MILLION)?,
        })
    };
    Ok((1..).zip(found).filter_map(row).collect())
}

/// What its hours tell, stage by stage.
fn rates(
    base: &KnowledgeBase,
    kept: &Reckoned,
    (part, paid): (f64, f64),
    reported: &Reported,
    other_coats: bool,
) -> Vec<OfFigure> {
    let mut found = Vec::new();
    for stage in Stage::ALL {
        if other_coats && *stage == Stage::Protect {
            continue;
        }
        let of_stage = reported.labour.iter().filter(|(of, _)| of == stage);
        let hours: Labour = of_stage.map(|(_, hours)| *hours).sum();
        let of_stage = kept.labour.iter().filter(|line| line.stage == stage.word());
        let as_factor = |line: &ReckonedLine| {
            let [_low, typical, _high] = usual(base, line)?.per_h;
            Some(learning::Reckoned {
                activity: line.activity.clone(),
                per_h: line.per_h / typical,
                hours: line.hours * part,
            })
        };
        // Of a stage of which one line is unknown, nobody says which hours are those of the others.
        let as_factors: Option<Vec<_>> = of_stage.map(as_factor).collect();
        let told = paces(&as_factors.unwrap_or_default(), paid, hours.hours());
        found.extend(told.into_iter().map(|pace| {
            let told = Told {
                factor: pace.per_h,
                share: pace.share,
            };
            (Kind::Rate, pace.activity, told)
        }));
    }
    found
}

/// What its litres tell of the products that are laid by coverage.
fn coverages(
    products: Products<'_>,
    kept: &Reckoned,
    part: f64,
    reported: &Reported,
) -> Vec<OfFigure> {
    let told = kept.products.iter().filter_map(|line| {
        let row = products
            .product(&line.key)
            .filter(|row| Product::stays_on_floor(row))?;
        // Where another product of its class was used too, nobody says which of them covered what.
        let is_other = |used: &Used| {
            let of_plan = kept.products.iter().any(|line| line.key == used.product);
            let used = products.product(&used.product);
            !of_plan && used.is_none_or(|used| used.class == row.class)
        };
        if reported.products.iter().any(is_other) {
            return None;
        }
        let used = reported
            .products
            .iter()
            .filter(|used| used.product == line.key);
        let used: Volume = used.map(|used| used.volume).sum();
        let told = learning::coverage(line.total_l * part, line.multiple, used.l())?;
        Some((Kind::Coverage, row.class.clone(), told))
    });
    told.collect()
}

/// What it tells of how long films took.
fn dry_times(kept: &Reckoned, reported: &Reported) -> Vec<OfFigure> {
    let told = reported.dried.iter().filter_map(|dried| {
        let film = kept.films.iter().find(|film| film.wait == dried.wait)?;
        let told = learning::dry_time(film.model_min, float(dried.after_min))?;
        Some((Kind::DryTime, film.subject.clone(), told))
    });
    told.collect()
}

/// The rate of the knowledge base that a plan reckoned with; none if it has lost it since.
fn usual<'k>(base: &'k KnowledgeBase, line: &ReckonedLine) -> Option<&'k Rate> {
    let mut rows = base.rates.iter();
    rows.find(|row| row.activity == line.activity && row.name == line.name)
}

/// How many hours a plan pays for each that it reckons for an activity: set-up, clean-down and allowance come on top, and are
/// in the hours that a contractor reports.
fn paid(lines: &[PlanLineRow]) -> f64 {
    let sum = |counts: &dyn Fn(&PlanLineRow) -> bool| -> f64 {
        let counted = lines.iter().filter(|line| counts(line));
        counted.map(|line| float(line.seconds)).sum()
    };
    let worked = sum(&|line| line.kind == "labour" && line.stage.is_some());
    let all = sum(&|line| line.kind == "labour" || line.kind == "allowance");
    if worked > 0.0 { all / worked } else { 1.0 }
}
