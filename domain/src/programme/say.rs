//! What a comparison says in words: why now, why this, what is not known, what waiting and longer intervals bring.

mod film;

use super::{Act, Comparison, LONGER, Look, Offer, Programme, Terms, WAIT_MONTHS};
use crate::{
    knowledge::{Grade, KnowledgeBase, Severity},
    money::{Currency, Money},
    quantity::whole,
};

/// One thing that a comparison says.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    /// A stable word.
    pub code: &'static str,
    /// How hard it is.
    pub severity: Severity,
    /// What it says.
    pub statement: String,
    /// What would clear it; empty where nothing has to.
    pub clears: &'static str,
    /// Where its figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

/// What is said of a floor, and in which terms.
#[derive(Debug, Clone, Copy)]
pub struct Speech<'a> {
    /// The comparison.
    pub of: &'a Comparison,
    /// Where its figures come from.
    pub base: &'a KnowledgeBase,
    /// Its terms.
    pub terms: Terms,
    /// Its money.
    pub currency: Currency,
}

/// An amount in 1/10,000 of a currency's unit.
pub fn money(amount: f64, currency: Currency) -> Money {
    let limit = whole(amount).unwrap_or(if amount < 0.0 { i64::MIN } else { i64::MAX });
    Money {
        amount: limit,
        currency,
    }
}

/// A share in whole percent; what is more than nothing is not called nothing.
fn pct(share: f64) -> String {
    if share > 0.0 && share < 0.005 {
        "less than 1 %".to_owned()
    } else {
        format!("{:.0} %", share * 100.0)
    }
}

impl Speech<'_> {
    /// All that is said, by the hardest first; `month` names a month by its number from 0.
    pub fn findings(&self, month: impl Fn(usize) -> String) -> Vec<Said> {
        let mut said = Vec::new();
        self.of_grip(&mut said, &month);
        self.of_film(&mut said, &month);
        self.of_start(&mut said);
        self.of_offers(&mut said);
        self.of_best(&mut said, &month);
        self.of_other(&mut said);
        said.sort_by_key(|said| said.severity);
        said
    }

    /// What an action is called in a sentence.
    fn doing(&self, act: Act) -> &str {
        let mut offers = self.of.offers.iter();
        let offer = offers.find(|offer| offer.act == act);
        offer.map_or("work", |offer| &offer.doing)
    }

    /// What the best is set beside, as it is called in a sentence.
    fn others(&self) -> [(&'static str, Option<&Programme>); 3] {
        [
            ("Leaving it alone", self.of.leave.as_ref()),
            ("The fixed intervals", self.of.fixed.as_ref()),
            ("Longer intervals", self.of.longer.as_ref()),
        ]
    }

    fn amount(&self, amount: f64) -> String {
        format!("{} {}", money(amount, self.currency).text(), self.currency)
    }

    fn grip_said(
        &self,
        (code, severity): (&'static str, Severity),
        statement: String,
        clears: &'static str,
    ) -> Said {
        let row = &self.base.programme.grip;
        Said {
            code,
            severity,
            statement,
            clears,
            source: row.source.clone(),
            grade: row.grade,
        }
    }

    fn said(
        &self,
        (code, severity): (&'static str, Severity),
        statement: String,
        clears: &'static str,
    ) -> Said {
        let row = &self.base.programme.doubt;
        Said {
            code,
            severity,
            statement,
            clears,
            source: format!(
                "reckoned here from the basis below; spreads: {}",
                row.source
            ),
            grade: row.grade,
        }
    }

    fn of_grip(&self, said: &mut Vec<Said>, month: &impl Fn(usize) -> String) {
        let least = self.base.programme.grip.least_ptv;
        self.of_low(said);
        let Some(grip) = self.of.grip else {
            let statement = format!(
                "Nobody read the wet pendulum value since the last coat over the whole floor, so nothing could be taken out for its sake. The best programme never goes below {least:.0} only if the floor shows {:.1} or more today.",
                self.of.grip_needed
            );
            let clears = "Record a reading of the kind `ptv_wet` and ask again.";
            said.push(self.grip_said(("grip_not_read", Severity::Ask), statement, clears));
            return;
        };
        let chance = grip.chance_below(least);
        // Of a polish nothing else can take every way away.
        if self.of.best.is_none() && (grip.ptv < least || self.of.look.is_some()) {
            let statement = format!(
                "The wet pendulum value is {:.1}, and no action keeps it at {least:.0} or more: no programme is offered, at whatever price.",
                grip.ptv
            );
            let clears = "Ask for a plan with the goal `make_safe`, have it done, and read again.";
            said.push(self.grip_said(("grip_lost", Severity::Refuse), statement, clears));
        } else if chance > 0.05 {
            let statement = format!(
                "By {} reading(s) the wet pendulum value lies below {least:.0} with a chance of {}.",
                grip.n_read,
                pct(chance)
            );
            let clears = "Read more points before relying on it.";
            said.push(self.grip_said(("grip_doubtful", Severity::Warn), statement, clears));
        }
        let codes = [
            "leave_not_allowed",
            "fixed_not_allowed",
            "longer_not_allowed",
        ];
        for (code, (what, programme)) in codes.into_iter().zip(self.others()) {
            if let Some((from, most)) = programme.and_then(|one| one.unsafe_from) {
                let statement = format!(
                    "{what}: not allowed. From {} on the wet pendulum value may lie below {least:.0}, with a chance of up to {}.",
                    month(from),
                    pct(most)
                );
                let clears = "No price makes up for it: such states are taken out, not priced.";
                said.push(self.grip_said((code, Severity::Warn), statement, clears));
            }
        }
        if self.of.best.is_some() && self.of.wait.is_none() {
            let film = if self.of.look.is_some() {
                ""
            } else {
                " or the film"
            };
            let statement =
                format!("Waiting {WAIT_MONTHS} months would lose the grip{film} that is kept.");
            said.push(self.grip_said(("waiting_not_allowed", Severity::Warn), statement, ""));
        }
    }

    /// Low values that do not show in the grip of today.
    fn of_low(&self, said: &mut Vec<Said>) {
        let low = &self.of.grip_low;
        let lowest = low
            .iter()
            .min_by(|one, other| one.value.total_cmp(&other.value));
        let Some(lowest) = lowest else {
            return;
        };
        let figures = &self.base.programme.grip;
        let taken = match self.of.grip {
            Some(grip) => format!(
                "{:.1} is taken for today, the mean of the newest and those of up to {} days before it",
                grip.ptv, figures.same_days
            ),
            None => {
                "no value is taken for today, for new coats lie on the whole floor since".to_owned()
            }
        };
        let statement = format!(
            "{} value(s) of the wet pendulum lie below {:.0}, the lowest {:.1} of {}: {taken}.",
            low.len(),
            figures.least_ptv,
            lowest.value,
            lowest.at.date_naive()
        );
        let clears =
            "Read the wet pendulum value again where it was low, before relying on any programme.";
        said.push(self.grip_said(("grip_read_low", Severity::Warn), statement, clears));
    }

    fn of_start(&self, said: &mut Vec<Said>) {
        if !self.of.coats_counted {
            let coats = self.of.coats;
            let shown = |count: f64| (count * 10.0).round() / 10.0;
            let statement = format!(
                "Nobody counted the coats: {} are taken, and any number from {} to {} is thought possible.",
                shown(coats.likely),
                shown(coats.low),
                shown(coats.high)
            );
            let clears = "Record an observation of the film with its coats.";
            said.push(self.said(("coats_not_counted", Severity::Open), statement, clears));
        }
        let Some(Look { gloss, .. }) = &self.of.look else {
            return;
        };
        if gloss.n_counted == 0 {
            let statement = format!(
                "No reading of gloss counts since the last coat: {:.0} GU are taken by its age and condition.",
                gloss.state.gloss
            );
            let clears =
                "Record readings of the kind `gloss_gu`, several points of the lane each time.";
            said.push(self.said(("gloss_not_read", Severity::Open), statement, clears));
        }
        for off in &gloss.unlikely {
            let statement = format!(
                "The reading of {:.1} GU of {} lies {:.1} standard deviations off and does not count.",
                off.read.value,
                off.read.at.date_naive(),
                off.off_by
            );
            let clears = "Read again, or record the work that explains it.";
            said.push(self.said(("reading_unlikely", Severity::Warn), statement, clears));
        }
    }

    fn of_offers(&self, said: &mut Vec<Said>) {
        for offer in &self.of.offers {
            if !matches!(offer.act, Act::Buff | Act::Recoat | Act::Strip) {
                continue;
            }
            let what = offer.doing.as_str();
            if offer.cost.is_none() {
                let statement = if offer.process.is_some() {
                    format!("As it most likely lies, the rules refuse {what}.")
                } else {
                    format!("No process for {what} suits this floor.")
                };
                let clears = "Ask for a plan that names the process: its findings say why.";
                said.push(self.said(("action_out", Severity::Note), statement, clears));
            } else if offer.asks {
                let statement = format!("Before {what} the planner asks for a fact.");
                let clears = "Ask for a plan that names the process: its questions say which.";
                said.push(self.said(("planner_asks", Severity::Open), statement, clears));
            }
        }
    }

    fn of_best(&self, said: &mut Vec<Said>, month: &impl Fn(usize) -> String) {
        let Some(best) = &self.of.best else {
            return;
        };
        let (share, allowed) = (best.below_share(), self.terms.below_share);
        if let Some(look) = self.of.look.as_ref().filter(|_| share > allowed + 1e-6) {
            let statement = format!(
                "No programme keeps {:.0} GU as often as asked: the best begins {} of its months below, and {} are allowed.",
                look.target_gu,
                pct(share),
                pct(allowed)
            );
            let clears =
                "Ask for less gloss, allow more months, or let in less soil by longer matting.";
            said.push(self.said(("target_out_of_reach", Severity::Warn), statement, clears));
        }
        if let Some(statement) = self.first_work(best, month) {
            said.push(self.said(("first_work", Severity::Note), statement, ""));
        }
        if let Some(statement) = self.why_now() {
            said.push(self.said(("this_month", Severity::Note), statement, ""));
        }
    }

    /// The first month in which work is likelier than not, and why then.
    fn first_work(&self, best: &Programme, month: &impl Fn(usize) -> String) -> Option<String> {
        let works = |acts: &[f64]| 1.0 - acts.first().copied().unwrap_or(1.0);
        let index = best
            .months
            .iter()
            .position(|month| works(&month.acts) >= 0.5);
        let Some(index) = index else {
            return Some("In no month is work beyond cleaning likelier than not.".to_owned());
        };
        let acts = Act::ALL.iter().zip(&best.months.get(index)?.acts).skip(1);
        let (act, chance) = acts.max_by(|one, other| one.1.total_cmp(other.1))?;
        let left = self.of.leave.as_ref()?.months.get(index)?.below;
        let below = match &self.of.look {
            Some(look) => format!("below {:.0} GU, or worn through,", look.target_gu),
            None => format!("with less than {} coat(s)", self.of.least_coats),
        };
        Some(format!(
            "The first work is expected in {}: most likely {} (chance {}). Left alone, the floor would begin that month {below} with a chance of {}.",
            month(index),
            self.doing(*act),
            pct(*chance),
            pct(left)
        ))
    }

    /// Why the best action is best now, beside the next best.
    fn why_now(&self) -> Option<String> {
        let mut open: Vec<(&Offer, f64)> = self
            .of
            .offers
            .iter()
            .filter_map(|offer| Some((offer, offer.extra_now?)))
            .collect();
        open.sort_by(|one, other| one.1.total_cmp(&other.1));
        let (best, _) = open.first()?;
        let worth = if self.of.worth > 0.0 {
            format!(
                ", with a month below the asked gloss at {} (what it takes to keep it as often as asked)",
                self.amount(self.of.worth)
            )
        } else {
            String::new()
        };
        let next = match open.get(1) {
            Some((next, extra)) => format!(
                "{} would cost {} more over the whole time",
                next.doing,
                self.amount(*extra)
            ),
            None => "nothing else is open".to_owned(),
        };
        Some(format!(
            "As the floor most likely lies, {} is best this month; {next}{worth}.",
            best.doing
        ))
    }

    fn of_other(&self, said: &mut Vec<Said>) {
        let rate = self.terms.rate;
        if let (Some(best), Some(wait)) = (&self.of.best, &self.of.wait) {
            let statement = format!(
                "Waiting {WAIT_MONTHS} months changes the present cost by {}{}.",
                self.amount(wait.present(rate) - best.present(rate)),
                self.shares(
                    " and the share of months below the asked gloss",
                    (best, wait)
                )
            );
            said.push(self.said(("waiting", Severity::Note), statement, ""));
        }
        let longer = self.of.longer.as_ref();
        // What loses the grip saves nothing.
        let longer = longer.filter(|longer| longer.is_allowed());
        if let (Some(fixed), Some(longer)) = (&self.of.fixed, longer) {
            let statement = format!(
                "Intervals {LONGER} times as long save {} of present cost{}.",
                self.amount(fixed.present(rate) - longer.present(rate)),
                self.shares(
                    "; the share of months below the asked gloss goes",
                    (fixed, longer)
                )
            );
            said.push(self.said(("longer_intervals", Severity::Note), statement, ""));
        }
    }
}
