//! What completed work tells of production rates: written down with each completion, learnt from when a plan is made.

mod lately;

pub(crate) use lately::Lately;

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::{
    card::RateCard,
    id::{ContractorId, SiteId, TenantId},
    knowledge::{KnowledgeBase, Rate},
    learning::{Job, Learnt, LearntFigure, Prior, Reckoned, SetAside, Terms, Who, learn, paces},
    plan::Stage,
    quantity::{Labour, float, whole},
    record::{Promised, Reported},
};
pub(crate) use infra::store::Page;
use infra::{
    row::{CompletionPaceRow, CompletionRow, PlanLineRow, PlanRow},
    store::Tx,
};

use self::lately::{Figures, LearntFrom};
use super::site::{self, Site};
use crate::{
    context::Context,
    problem::Problem,
    wire::{
        reckoned::{ReckonedLine, reckoned},
        report::Month,
    },
};

/// So many jobs of an activity at a site must have told its rate before plans use it: the site's own word then outweighs
/// what is usual several times. Common practice, no published source.
pub(crate) const LEAST_JOBS: usize = 5;
/// From so many figures is learnt at most, the last that were recorded.
const MOST_FIGURES: u64 = 2_000;
/// Millionths of a whole.
const MILLION: f64 = 1e6;

/// What a completion tells of the rates of its plan's activities. A stage whose coats were other than planned tells nothing:
/// nobody says which hours they took.
///
/// # Errors
/// `internal` for a plan's document that is not what was written.
pub(super) fn told(
    base: &KnowledgeBase,
    row: &CompletionRow,
    (plan, lines): (&PlanRow, &[PlanLineRow]),
    (promised, reported): (&Promised, &Reported),
) -> Result<Vec<CompletionPaceRow>, Problem> {
    let reckoned = reckoned(&plan.document)?;
    let part = float(row.area.mm2()) / float(plan.area.mm2().max(1));
    let paid = paid(lines);
    let differs = |done: Option<i64>, planned| done.is_some_and(|done| done != planned);
    let other_coats = differs(reported.seal_coats, promised.seal_coats)
        || differs(reported.polish_coats, promised.polish_coats);
    let mut found = Vec::new();
    for stage in Stage::ALL {
        if other_coats && *stage == Stage::Protect {
            continue;
        }
        let of_stage = reported.labour.iter().filter(|(of, _)| of == stage);
        let hours: Labour = of_stage.map(|(_, hours)| *hours).sum();
        let of_stage = reckoned.iter().filter(|line| line.stage == stage.word());
        let as_factor = |line: &ReckonedLine| {
            let [_low, typical, _high] = usual(base, line)?.per_h;
            Some(Reckoned {
                activity: line.activity.clone(),
                per_h: line.per_h / typical,
                hours: line.hours * part,
            })
        };
        // Of a stage of which one line is unknown, nobody says which hours are those of the others.
        let as_factors: Option<Vec<Reckoned>> = of_stage.map(as_factor).collect();
        found.extend(paces(&as_factors.unwrap_or_default(), paid, hours.hours()));
    }
    let pace = |(line_no, pace): (i64, domain::learning::Pace)| {
        Some(CompletionPaceRow {
            completion_id: row.id,
            line_no,
            site_id: row.site_id,
            contractor_id: row.contractor_id,
            activity: pace.activity,
            month: row.month.clone(),
            factor_ppm: whole(pace.per_h * MILLION)?,
            share_ppm: whole(pace.share * MILLION)?,
        })
    };
    Ok((1..).zip(found).filter_map(pace).collect())
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

/// Puts onto a card what enough jobs at its site have told of the activities that the card itself says nothing of and the
/// site wants learnt. A site without so many jobs costs one question, and so does one that was asked of lately.
///
/// # Errors
/// Those of the store.
pub(super) async fn onto(
    ctx: &Context,
    tx: &Tx,
    site: &Site,
    now: DateTime<Utc>,
    card: &mut RateCard,
) -> Result<(), Problem> {
    let least = u64::try_from(LEAST_JOBS).unwrap_or(u64::MAX);
    let from = LearntFrom {
        month: site::month_of(&site.row, now),
        told: tx.paces().activities(site.row.id, least).await?,
    };
    let is_wanted = |activity: &String| {
        !site.not_learnt.contains(activity) && !card.rates.contains_key(activity)
    };
    if !from.told.iter().any(|told| is_wanted(&told.activity)) {
        return Ok(());
    }
    let figures = figures(ctx, tx, site.row.id, (from, now)).await?;
    let wanted = figures.into_iter().filter(|(key, _)| is_wanted(key));
    card.learnt.extend(wanted);
    Ok(())
}

/// What enough jobs have told at a site, as it was learnt lately or as it is learnt now.
async fn figures(
    ctx: &Context,
    tx: &Tx,
    site: SiteId,
    (from, now): (LearntFrom, DateTime<Utc>),
) -> Result<Figures, Problem> {
    let at = (tx.tenant(), site);
    if let Some(figures) = ctx.learnt.recall(at, &from, now) {
        return Ok(figures);
    }
    let learnt = learnt(ctx, tx, &from.month, None).await?;
    let figure = |activity: &String| {
        let figure = learnt.figure(activity, site, Who::AsSoFar)?;
        (figure.n_jobs >= LEAST_JOBS).then(|| (activity.clone(), figure))
    };
    let told = from.told.iter().map(|told| &told.activity);
    let figures: Figures = told.filter_map(figure).collect();
    ctx.learnt.keep(at, from, (now, figures.clone()));
    Ok(figures)
}

/// What the last jobs tell, by one question; of one contractor's work only, if one is named.
async fn learnt(
    ctx: &Context,
    tx: &Tx,
    month: &str,
    only: Option<ContractorId>,
) -> Result<Learnt, Problem> {
    let rows = tx.paces().latest(only, MOST_FIGURES).await?;
    let jobs: Vec<Job> = rows.into_iter().map(|row| job(row, month)).collect();
    Ok(learn(&priors(ctx.knowledge), &jobs, &Terms::USUAL))
}

/// How fast each activity goes beside what is usual: as usual, and as far off as its table goes.
fn priors(base: &KnowledgeBase) -> BTreeMap<String, Prior> {
    let mut priors = BTreeMap::new();
    for row in &base.rates {
        let [low, typical, high] = row.per_h;
        if let Some(prior) = Prior::of_range([low / typical, 1.0, high / typical]) {
            // The first row of an activity stands for the others.
            priors.entry(row.activity.clone()).or_insert(prior);
        }
    }
    priors
}

/// What a figure tells in a month. A month to come is as good as this one.
fn job(row: CompletionPaceRow, month: &str) -> Job {
    let of = |text: &str| text.parse::<Month>().ok();
    let age = of(&row.month).zip(of(month));
    let age = age.map_or(0, |(then, now)| then.until(now));
    Job {
        completion: row.completion_id,
        site: row.site_id,
        contractor: row.contractor_id,
        value: float(row.factor_ppm) / MILLION,
        share: float(row.share_ppm) / MILLION,
        months: u32::try_from(age).unwrap_or(0),
        subject: row.activity,
    }
}

/// Which of what was learnt is asked for.
#[derive(Debug, Clone, Default)]
pub(crate) struct LearntFilter {
    /// Of the work of this contractor; of all who worked there without one.
    pub(crate) contractor: Option<ContractorId>,
    /// The contractor whose work alone the caller may see.
    pub(crate) bound_to: Option<ContractorId>,
    /// Of this activity.
    pub(crate) activity: Option<String>,
}

/// What is learnt of an activity at a site.
#[derive(Debug)]
pub(crate) struct LearntRate {
    /// The rate of the knowledge base.
    pub(crate) row: &'static Rate,
    /// What jobs tell, as a factor of it.
    pub(crate) figure: LearntFigure,
    /// Why plans use it, or do not.
    pub(crate) standing: Standing,
    /// Jobs that are not taken at their word.
    pub(crate) set_aside: Vec<SetAside>,
}

/// Whether plans use what was learnt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    /// They do.
    Used,
    /// The site's rate card tells another rate.
    Told,
    /// The site does not want it learnt.
    Off,
    /// Too few jobs have told it.
    TooFew,
}

impl Standing {
    /// The word on the wire.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Used => "used",
            Self::Told => "told_by_rate_card",
            Self::Off => "not_wanted",
            Self::TooFew => "too_few_jobs",
        }
    }
}

/// What is learnt at a site of the activities that jobs there have told of, in the order of the knowledge base; nothing of a site that is
/// not there.
///
/// # Errors
/// Those of the store.
pub(crate) async fn rates(
    ctx: &Context,
    tenant: TenantId,
    (id, filter): (SiteId, &LearntFilter),
) -> Result<Vec<LearntRate>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let Some(site) = site::load(&tx, id, Vec::new()).await? else {
        return Ok(Vec::new());
    };
    let now = ctx.clock.now();
    let (_row, card) = site::card_on(&tx, &site.row, site::day_of(&site.row, now)).await?;
    let month = site::month_of(&site.row, now);
    let learnt = learnt(ctx, &tx, &month, filter.bound_to).await?;
    drop(tx);
    let who = filter
        .contractor
        .map_or(Who::AsSoFar, |id| Who::Contractor(Some(id)));
    let wanted = |row: &&'static Rate| {
        let asked = filter.activity.as_ref();
        asked.is_none_or(|activity| row.activity == *activity)
    };
    let rate = |row: &'static Rate| {
        let figure = learnt.figure(&row.activity, id, who)?;
        let of_row = |job: &&SetAside| {
            let by = filter.contractor.is_none() || job.contractor == filter.contractor;
            job.subject == row.activity && job.site == id && by
        };
        let set_aside: Vec<SetAside> = learnt.set_aside.iter().filter(of_row).cloned().collect();
        let standing = if card.rates.contains_key(&row.activity) {
            Standing::Told
        } else if site.not_learnt.contains(&row.activity) {
            Standing::Off
        } else if figure.n_jobs < LEAST_JOBS {
            Standing::TooFew
        } else {
            Standing::Used
        };
        let is_told_of = figure.n_jobs > 0 || !set_aside.is_empty();
        is_told_of.then_some(LearntRate {
            row,
            figure,
            standing,
            set_aside,
        })
    };
    let rows = ctx.knowledge.rates.iter().filter(wanted);
    Ok(rows.filter_map(rate).collect())
}
