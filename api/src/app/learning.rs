//! What completed work tells of production rates, coverage and dry times: written down with each completion, learnt from when a
//! plan is made.

mod estate;
mod lately;
mod listed;
mod subject;
mod told;

pub(crate) use estate::{Estate, LearntByMonth};
pub(crate) use lately::Lately;
pub(crate) use listed::{LearntFilter, LearntLine, list};
pub(crate) use subject::{Subject, can_be_learnt};
pub(super) use told::told;

use chrono::{DateTime, Utc};
use domain::{
    card::RateCard,
    id::{ContractorId, SiteId},
    knowledge::KnowledgeBase,
    learning::{Job, Kind, Learnt, LearntFigure, LearntFigures, Terms, Who, learn},
    quantity::float,
};
pub(crate) use infra::store::Page;
use infra::{row::CompletionPaceRow, store::Tx};

use self::{lately::LearntFrom, subject::priors};
use super::site::{self, Site};
use crate::{context::Context, problem::Problem, wire::report::Month};

/// So many jobs at a site must have told a figure before plans use it: the site's own word then outweighs what is usual several
/// times. Common practice, no published source.
pub(crate) const LEAST_JOBS: usize = 5;
/// From so many figures of a kind is learnt at most, the last that were recorded.
const MOST_FIGURES: u64 = 2_000;
/// Millionths of a whole.
const MILLION: f64 = 1e6;

/// Puts onto a card what enough jobs at its site have told of figures that the card itself says nothing of and the site
/// wants learnt. A site without so many jobs costs one question, and so does one that was asked of lately.
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
        told: tx.paces().told(site.row.id, least).await?,
    };
    let wanted = |kind: Kind, subject: &str| is_wanted(card, &site.not_learnt, (kind, subject));
    let mut told = from.told.iter();
    if !told.any(|told| wanted(told.kind, &told.subject)) {
        return Ok(());
    }
    let figures = figures(ctx, tx, site.row.id, (from, now)).await?;
    put(&figures, &site.not_learnt, card);
    Ok(())
}

/// Whether a figure may come from jobs: the card tells no other, and the site wants it learnt.
fn is_wanted(card: &RateCard, not_learnt: &[String], (kind, subject): (Kind, &str)) -> bool {
    let told = kind == Kind::Rate && card.rates.contains_key(subject);
    !told && !not_learnt.contains(&kind.named(subject))
}

/// Puts the figures that are wanted onto a card; how many.
fn put(figures: &LearntFigures, not_learnt: &[String], card: &mut RateCard) -> usize {
    let mut n = 0_usize;
    for (kind, subject, figure) in figures.iter() {
        if is_wanted(card, not_learnt, (kind, subject)) {
            card.learnt.insert(kind, subject.to_owned(), *figure);
            n = n.saturating_add(1);
        }
    }
    n
}

/// What enough jobs have told at a site, as it was learnt lately or as it is learnt now.
async fn figures(
    ctx: &Context,
    tx: &Tx,
    site: SiteId,
    (from, now): (LearntFrom, DateTime<Utc>),
) -> Result<LearntFigures, Problem> {
    let at = (tx.tenant(), site);
    if let Some(figures) = ctx.learnt.recall(at, &from, now) {
        return Ok(figures);
    }
    let mut figures = LearntFigures::default();
    for kind in Kind::ALL {
        let mut told = from
            .told
            .iter()
            .filter(|told| told.kind == *kind)
            .peekable();
        // Of a kind that nobody tells of there, nobody is asked.
        if told.peek().is_none() {
            continue;
        }
        let rows = latest(tx, *kind, None).await?;
        let learnt = learnt(ctx.knowledge, *kind, (&rows, &from.month));
        for told in told {
            let subject = told.subject.clone();
            if let Some(figure) = enough(&learnt, &subject, site) {
                figures.insert(*kind, subject, figure);
            }
        }
    }
    ctx.learnt.keep(at, from, (now, figures.clone()));
    Ok(figures)
}

/// What is learnt of a subject at a site, if enough jobs there have told of it.
fn enough(learnt: &Learnt, subject: &str, site: SiteId) -> Option<LearntFigure> {
    let figure = learnt.figure(subject, site, Who::AsSoFar)?;
    (figure.n_jobs >= LEAST_JOBS).then_some(figure)
}

/// What figures of a kind tell in a month.
fn learnt(base: &KnowledgeBase, kind: Kind, (rows, month): (&[CompletionPaceRow], &str)) -> Learnt {
    let jobs: Vec<Job> = rows.iter().map(|row| job(row, month)).collect();
    learn(&priors(base, kind), &jobs, &Terms::of(kind))
}

/// The last figures of a kind; of one contractor's work only, if one is named.
async fn latest(
    tx: &Tx,
    kind: Kind,
    only: Option<ContractorId>,
) -> Result<Vec<CompletionPaceRow>, Problem> {
    Ok(tx.paces().latest(kind, only, MOST_FIGURES).await?)
}

/// What a figure tells in a month. A month to come is as good as this one.
fn job(row: &CompletionPaceRow, month: &str) -> Job {
    let of = |text: &str| text.parse::<Month>().ok();
    let age = of(&row.month).zip(of(month));
    let age = age.map_or(0, |(then, now)| then.until(now));
    Job {
        completion: row.completion_id,
        subject: row.subject.clone(),
        site: row.site_id,
        contractor: row.contractor_id,
        value: float(row.factor_ppm) / MILLION,
        share: float(row.share_ppm) / MILLION,
        months: u32::try_from(age).unwrap_or(0),
    }
}
