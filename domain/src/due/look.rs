//! A floor looked at on one day after another: what lies on it then, and which processes suit it.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, NaiveTime, TimeZone, Utc};

use super::{Past, last_done};
use crate::{
    film::{Floor, State, state_at},
    knowledge::{Fact, Facts, Process, Truth, Value},
    plan::{DraftPlanError, PlanInput, add_process, floor_facts},
    quantity::whole,
    survey::{Film, FilmCondition, Goal, Survey},
};

/// What lies on a floor since something was last told of its film or done to it, and the surveys that say so.
pub(super) struct Ground<'a> {
    floor: Floor<'a>,
    state: State,
    /// As it was told.
    told: Survey,
    /// Whatever wears off, gets dirty or loses its gloss is open.
    open: Survey,
}

impl<'a> Ground<'a> {
    pub(super) fn new(input: &PlanInput<'a>, past: Past<'_>) -> Self {
        let floor = Floor {
            base: input.base,
            area: input.survey.area,
            traffic: input.survey.traffic,
        };
        let counting = past.entries.iter().filter(|entry| entry.counts);
        let last = counting.map(|entry| entry.at).max();
        let state = state_at(floor, past.entries, last.unwrap_or(past.surveyed_at));
        let film = Film {
            kind: state.kind,
            coats: None,
            condition: None,
        };
        Self {
            told: worn(input.survey, &state, state.condition),
            open: Survey {
                film,
                gloss_loss_pct: Some(100.0),
                ..input.survey.clone()
            },
            floor,
            state,
        }
    }
}

/// A survey of a floor on which lies what a state says, in this condition.
fn worn(survey: &Survey, state: &State, condition: Option<FilmCondition>) -> Survey {
    Survey {
        film: Film {
            kind: state.kind,
            coats: state.polish.and_then(|coats| whole(coats.likely)),
            condition,
        },
        coated_at: state.coated_at(),
        ..survey.clone()
    }
}

/// A floor with all that is known of its past.
pub(super) struct Look<'l> {
    pub(super) input: PlanInput<'l>,
    pub(super) past: Past<'l>,
    /// When each process was last done.
    pub(super) last: BTreeMap<String, DateTime<Utc>>,
    /// What lies on the floor since something was last told of its film or done to it; that moment.
    pub(super) state: &'l State,
    floor: Floor<'l>,
    told: Facts<'l>,
    open: Facts<'l>,
}

impl<'l> Look<'l> {
    pub(super) fn new(
        input: &PlanInput<'l>,
        past: Past<'l>,
        ground: &'l Ground<'_>,
    ) -> Result<Self, DraftPlanError> {
        let at = ground.state.at;
        let of = |survey: &'l Survey| {
            floor_facts(&PlanInput {
                survey,
                now: at,
                ..*input
            })
        };
        let mut open = of(&ground.open)?;
        // Without a film there are no coats; with one, nobody says how many there will be.
        for fact in [Fact::FilmCoats, Fact::FilmCoatsRecoated] {
            open.set(fact, Value::Unknown);
        }
        Ok(Self {
            last: last_done(input.base, input.survey.area, past.done),
            told: of(&ground.told)?,
            open,
            state: &ground.state,
            floor: ground.floor,
            input: *input,
            past,
        })
    }

    /// The day at the site.
    pub(super) fn day(&self, at: DateTime<Utc>) -> NaiveDate {
        at.with_timezone(&self.input.zone).date_naive()
    }

    /// Noon of a day at the site, or what comes nearest to it.
    pub(super) fn noon(&self, day: NaiveDate) -> DateTime<Utc> {
        let noon = NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
        let local = self.input.zone.from_local_datetime(&day.and_time(noon));
        local
            .latest()
            .map_or_else(|| day.and_time(noon).and_utc(), |at| at.to_utc())
    }

    /// Whether a process suits the floor as it was last told.
    pub(super) fn suits(&self, process: &Process) -> Truth {
        holds(self.told.clone(), process, false)
    }

    /// Whether a process suits the floor at a later moment, as its film has worn by then. A condition stays what it was:
    /// nobody is sure of it any more by then, but that is no reason to come.
    pub(super) fn will_suit(
        &self,
        process: &Process,
        at: DateTime<Utc>,
    ) -> Result<Truth, DraftPlanError> {
        let then = state_at(self.floor, self.past.entries, at);
        let survey = worn(self.input.survey, &then, self.state.condition);
        let facts = floor_facts(&PlanInput {
            survey: &survey,
            now: at,
            ..self.input
        })?;
        Ok(holds(facts, process, false))
    }

    /// Whether a process is thought of on this floor at all and can suit it sooner or later. `by_name` takes it for named by
    /// somebody.
    pub(super) fn can_suit(&self, process: &Process, by_name: bool) -> bool {
        process.on.holds(&self.open) == Truth::True
            && holds(self.open.clone(), process, by_name) != Truth::False
    }
}

fn holds<'a>(mut facts: Facts<'a>, process: &'a Process, by_name: bool) -> Truth {
    facts.set(Fact::WishGoal, goal(process).word());
    add_process(&mut facts, process, by_name);
    process.suits.holds(&facts)
}

/// The goal by which a process is judged where it recurs: upkeep, where it serves that.
pub(crate) fn goal(process: &Process) -> Goal {
    let goals = [Goal::Maintain, Goal::Restore, Goal::Protect];
    let serves = |goal: &Goal| process.goals.iter().any(|word| word == goal.word());
    goals.into_iter().find(serves).unwrap_or(Goal::Clean)
}
