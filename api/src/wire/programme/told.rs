//! A comparison of programmes told on the wire.

use chrono::{DateTime, Utc};
use domain::{
    card::RateCard,
    id::SiteId,
    knowledge::KnowledgeBase,
    money::{Currency, Money},
    programme::{
        Act, Comparison, NotReckoned, Programme, Terms,
        say::{Said, Speech, money},
        worth::DiscountRate,
    },
};
use infra::row::{RateCardRow, SurfaceRow};

use super::{
    ProgrammeRequest, reason,
    view::{
        ActionView, AtRateView, ExplainView, JobsView, MonthView, PlanMonthView,
        ProgrammeFindingView, ProgrammeView, ProgrammesView, StartView, SurfaceProgrammesView,
    },
};
use crate::{
    problem::Problem,
    wire::{
        money::{MoneyView, check_counted},
        number,
        plan::{Named, RateCardRef},
        report::Month,
        surface::stored,
        time,
    },
};

/// How many months are told one by one.
const TOLD_MONTHS: usize = 12;
/// The rates at which every programme is told, in %.
const RATES_PCT: [f64; 3] = [0.0, 3.5, 7.0];
/// From -1.2816 to 1.2816 standard deviations lie eight of ten values: one of ten on either side.
const Z90: f64 = 1.281_551_565_544_600_4;

const METHOD: &str = "A floor is a Markov model in steps of a month: gloss in its lane, coats left there, coats built up beside it. Each action costs what \
    the planner reckons for it on such a film, by the rates of today and without what is left over; what the rules refuse there is not offered. States below the wet \
    pendulum value that is kept, and every way that may lead to them, are taken out before anything is priced. The best programme is the cheapest (backward \
    induction) with months below the asked gloss at the least worth at which they stay as rare as asked. Present cost is the sum of C / (1 + d)^(month / 12) at constant prices; the \
    even yearly cost is that times d / (1 - (1 + d)^-years) (ISO 15686-5). Hours and costs of months are expected values: a job that comes with a chance of a half counts half. \
    Of films other than polish only the coats in the lane are followed, by tenths; states with less film than is allowed are taken out as well. \
    Dates of first passage: wear adds up as a Brownian motion with drift, so the time to a limit is inverse Gaussian, taken over all that is not known of \
    gloss and its loss (by the filter), of coats and of their wear. Fixed intervals are those of the due rules; where the rules refuse what the calendar asks for, the next stronger action is taken, and one job a month of the strongest kind.";

/// What all floors of an answer share.
pub(crate) struct Head<'a> {
    /// The site.
    pub(crate) site: SiteId,
    /// Its currency.
    pub(crate) currency: Currency,
    /// When it was reckoned.
    pub(crate) at: DateTime<Utc>,
    /// The first month.
    pub(crate) first: Month,
    /// What is known.
    pub(crate) base: &'a KnowledgeBase,
    /// The rates.
    pub(crate) card: (&'a RateCardRow, &'a RateCard),
    /// The terms.
    pub(crate) terms: Terms,
}

impl Head<'_> {
    fn month(&self, number: usize) -> String {
        let month = i32::try_from(number).ok();
        let month = month.and_then(|number| self.first.plus(number));
        month.map(|month| month.to_string()).unwrap_or_default()
    }

    /// An amount, rounded as it is shown.
    fn shown(&self, amount: f64) -> Money {
        money(amount, self.currency).shown()
    }

    fn money(&self, amount: f64) -> MoneyView {
        self.shown(amount).into()
    }

    fn named(&self, key: &str) -> Named {
        let process = self.base.process(key);
        Named {
            key: key.to_owned(),
            name: process.map_or_else(|| key.to_owned(), |process| process.name.clone()),
        }
    }
}

/// A floor with what came of it.
type Made<'a> = (&'a SurfaceRow, Result<Comparison, NotReckoned>);

impl ProgrammesView {
    /// # Errors
    /// `invalid_body` where the work comes to more money than is kept; `internal` for a document that is not what was written.
    pub(crate) fn new(
        head: &Head<'_>,
        request: &ProgrammeRequest,
        made: &[Made<'_>],
    ) -> Result<Self, Problem> {
        let compared = || made.iter().filter_map(|(_, made)| made.as_ref().ok());
        let worst = compared().flat_map(|made| made.objectives.iter().flatten());
        check_counted("#/site_id", worst.map(|amount| head.shown(*amount).amount))?;
        let best: Vec<&Programme> = compared().filter_map(|made| made.best.as_ref()).collect();
        let n_months = usize::try_from(request.months).unwrap_or(TOLD_MONTHS);
        let plan = (0..n_months.min(TOLD_MONTHS)).map(|number| {
            let months = || best.iter().filter_map(|one| one.months.get(number));
            let hours: f64 = months().map(|month| number::hundredths(month.hours)).sum();
            let amounts = months().map(|month| head.shown(month.cost).amount);
            let cost = Money {
                amount: amounts.fold(0, i64::saturating_add),
                currency: head.currency,
            };
            PlanMonthView {
                month: head.month(number),
                hours: number::hundredths(hours),
                cost: cost.into(),
                over_capacity: request.crew_hours_per_month.map(|most| hours > most),
            }
        });
        let surfaces = made.iter().map(|(floor, made)| surface(head, floor, made));
        Ok(Self {
            site_id: head.site.to_string(),
            made_at: time::write(head.at),
            knowledge_version: head.base.version.clone(),
            rate_card: RateCardRef::new(head.card.0, head.card.1),
            months: request.months,
            discount_rate_pct: request.discount_rate(),
            below_share_allowed: head.terms.below_share,
            year_plan: plan.collect(),
            surfaces: surfaces.collect::<Result<_, _>>()?,
            method: METHOD,
        })
    }
}

fn surface(
    head: &Head<'_>,
    floor: &SurfaceRow,
    made: &Result<Comparison, NotReckoned>,
) -> Result<SurfaceProgrammesView, Problem> {
    let mut view = SurfaceProgrammesView {
        surface_id: floor.id.to_string(),
        surface_name: stored(&floor.document)?.name,
        outcome: "compared",
        start: None,
        first_passage: Vec::new(),
        actions: Vec::new(),
        programmes: Vec::new(),
        explain: Vec::new(),
        below_month_worth: None,
        findings: Vec::new(),
        basis: Vec::new(),
    };
    let made = match made {
        Ok(made) => made,
        Err(why) => {
            let (outcome, finding) = reason::told(*why);
            view.outcome = outcome;
            view.findings.push(finding);
            return Ok(view);
        }
    };
    if made.best.is_none() {
        view.outcome = "refused";
    }
    view.start = Some(start(head, made));
    view.first_passage = made.forecasts.iter().map(Into::into).collect();
    view.actions = actions(head, made);
    view.programmes = programmes(head, made);
    view.explain = explain(head, made);
    let worth = made.best.as_ref().zip(made.look.as_ref());
    view.below_month_worth = worth.map(|_| head.money(made.worth));
    let speech = Speech {
        of: made,
        base: head.base,
        terms: head.terms,
        currency: head.currency,
    };
    let findings = speech.findings(|number| head.month(number));
    view.findings = findings.into_iter().map(finding).collect();
    view.basis = made.wear.basis.iter().map(Into::into).collect();
    Ok(view)
}

fn finding(said: Said) -> ProgrammeFindingView {
    ProgrammeFindingView {
        code: said.code,
        severity: said.severity.word(),
        statement: said.statement,
        clears: said.clears,
        source: said.source,
        grade: said.grade.word(),
    }
}

fn start(head: &Head<'_>, made: &Comparison) -> StartView {
    let look = made.look.as_ref();
    let gloss = look.map(|look| look.gloss.state);
    let off = |sigmas: f64| {
        let gloss = gloss?;
        let at = gloss.gloss + sigmas * gloss.gloss_variance.max(0.0).sqrt();
        Some(number::tenths(at.max(0.0)))
    };
    let least = head.base.programme.grip.least_ptv;
    StartView {
        film: made.film.word(),
        target_gloss_gu: look.map(|look| look.target_gu),
        gloss_gu: gloss.map(|gloss| number::tenths(gloss.gloss)),
        gloss_low_gu: off(-Z90),
        gloss_high_gu: off(Z90),
        gloss_loss_gu_per_kpass: gloss.map(|gloss| number::confidence(gloss.loss)),
        n_gloss_readings: look.map_or(0, |look| look.gloss.n_counted),
        ptv_wet: made.grip.map(|grip| number::tenths(grip.ptv)),
        ptv_below_chance: made
            .grip
            .map(|grip| number::confidence(grip.chance_below(least))),
        n_ptv_readings: made.grip.map_or(0, |grip| grip.n_read),
        ptv_needed: number::tenths(made.grip_needed),
        coats: number::coats(made.coats.likely),
        coats_low: number::coats(made.coats.low),
        coats_high: number::coats(made.coats.high),
        coats_counted: made.coats_counted,
        coats_least: number::coats(made.least_coats),
    }
}

fn actions(head: &Head<'_>, made: &Comparison) -> Vec<ActionView> {
    let offers = made.offers.iter();
    offers
        .map(|offer| ActionView {
            action: offer.act.word(),
            process: offer.process.as_ref().map(|key| head.named(key)),
            cost: offer.cost.map(|cost| head.money(cost)),
            hours: offer.hours.map(number::hundredths),
            extra_if_now: offer.extra_now.map(|extra| head.money(extra)),
        })
        .collect()
}

fn programmes(head: &Head<'_>, made: &Comparison) -> Vec<ProgrammeView> {
    let kinds = ["best", "fixed_intervals", "longer_intervals", "leave"];
    let all = [&made.best, &made.fixed, &made.longer, &made.leave];
    let told = kinds.into_iter().zip(all).zip(made.objectives);
    told.filter_map(|((kind, programme), weighed)| {
        Some(programme_of(head, kind, (programme.as_ref()?, weighed?)))
    })
    .collect()
}

fn programme_of(
    head: &Head<'_>,
    kind: &'static str,
    (programme, weighed): (&Programme, f64),
) -> ProgrammeView {
    let rate = head.terms.rate;
    let at_rate = |pct: f64| {
        let rate = DiscountRate::of(pct / 100.0)?;
        Some(AtRateView {
            discount_rate_pct: pct,
            present_cost: head.money(programme.present(rate)),
            cost_per_year: head.money(programme.a_year(rate)?),
        })
    };
    let months = programme.months.iter().take(TOLD_MONTHS).enumerate();
    let (lost, thin) = (programme.unsafe_from, programme.thin_from);
    ProgrammeView {
        kind,
        allowed: programme.is_allowed(),
        grip_lost_from: lost.map(|(from, _)| head.month(from)),
        grip_lost_chance: lost.map(|(_, most)| number::figure(most)),
        film_lost_from: thin.map(|(from, _)| head.month(from)),
        film_lost_chance: thin.map(|(_, most)| number::figure(most)),
        present_cost: head.money(programme.present(rate)),
        cost_per_year: head.money(programme.a_year(rate).unwrap_or(0.0)),
        weighed_cost: head.money(weighed),
        below_share: number::confidence(programme.below_share()),
        hand_back: head.money(programme.hand_back),
        at_rates: RATES_PCT.into_iter().filter_map(at_rate).collect(),
        jobs: jobs(&programme.jobs(), 0),
        months: months
            .map(|(number, month)| MonthView {
                month: head.month(number),
                hours: number::hundredths(month.hours),
                cost: head.money(month.cost),
                below_chance: number::confidence(month.below),
                actions: jobs(&month.acts, 1)
                    .into_iter()
                    .filter(|job| job.expected > 0.0)
                    .collect(),
            })
            .collect(),
    }
}

/// How often each action is expected, without the first `skip` of them.
fn jobs(expected: &[f64], skip: usize) -> Vec<JobsView> {
    let all = Act::ALL.iter().zip(expected).skip(skip);
    all.map(|(act, expected)| JobsView {
        action: act.word(),
        expected: number::confidence(*expected),
    })
    .collect()
}

fn explain(head: &Head<'_>, made: &Comparison) -> Vec<ExplainView> {
    let rate = head.terms.rate;
    let [best, fixed, longer, _, wait] = made.objectives;
    let beside = |what, from: Option<(&Programme, f64)>, other: Option<(&Programme, f64)>| {
        let (from, from_weighed) = from?;
        let allowed = other.filter(|(other, _)| other.is_allowed());
        let extra = allowed.map(|(other, weighed)| {
            (
                other.present(rate) - from.present(rate),
                other.below_share() - from.below_share(),
                weighed - from_weighed,
            )
        });
        Some(ExplainView {
            what,
            allowed: allowed.is_some(),
            extra_present_cost: extra.map(|(cost, _, _)| head.money(cost)),
            extra_below_share: extra.map(|(_, share, _)| number::confidence(share)),
            extra_weighed_cost: extra.map(|(_, _, weighed)| head.money(weighed)),
        })
    };
    let told = [
        beside(
            "wait",
            made.best.as_ref().zip(best),
            made.wait.as_ref().zip(wait),
        ),
        beside(
            "longer_intervals",
            made.fixed.as_ref().zip(fixed),
            made.longer.as_ref().zip(longer),
        ),
    ];
    told.into_iter().flatten().collect()
}
