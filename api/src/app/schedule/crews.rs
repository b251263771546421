//! Crews: their shifts, what they cost, and which plan is whose.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, TimeDelta};
use chrono_tz::Tz;
use domain::{
    card::RateCard,
    placing::{Crew, Span, minutes, weekly},
    quantity::Labour,
    survey::AccessWindow,
};

use super::inputs::minutes_up;
use crate::{
    body::Faults,
    wire::schedule::{CrewRequest, ScheduleRequest, ScheduledPlan, Skill},
};

/// The crews of a request.
pub(super) fn crews(
    request: &ScheduleRequest,
    (card, zone, span): (&RateCard, Tz, Span),
    faults: &mut Faults,
) -> Vec<Crew> {
    let mut names = BTreeSet::new();
    for (at, crew) in request.crews.iter().enumerate() {
        if !names.insert(&crew.name) {
            let place = format!("#/crews/{at}/name");
            faults.push(place, "duplicate", "Another crew has this name.");
        }
    }
    let crews = request.crews.iter();
    crews.map(|crew| read(crew, card, zone, span)).collect()
}

fn read(crew: &CrewRequest, card: &RateCard, zone: Tz, span: Span) -> Crew {
    let hours: Vec<AccessWindow> = crew.shifts.iter().map(Into::into).collect();
    let off: BTreeSet<NaiveDate> = crew.days_off.iter().map(|day| day.0).collect();
    let shifts = weekly(&hours, zone, span, |day| off.contains(&day));
    // Setting up and cleaning down are the whole crew's, with the allowance.
    let stretched = |minutes: i64| {
        let allowance = 10_000_i64.saturating_add(card.allowance.ten_thousandths());
        Labour::from_minutes(minutes).scaled(allowance, 10_000)
    };
    let each =
        |minutes| minutes_up(stretched(minutes).scaled(1, i64::from(crew.operatives.max(1))));
    let (set_up, clean_down) = (each(card.setup_min), each(card.clean_down_min));
    let around = |minutes| TimeDelta::try_minutes(minutes).unwrap_or(TimeDelta::zero());
    let shifts = shifts.into_iter().map(|shift| Span {
        from: shift.from + around(set_up),
        to: shift.to - around(clean_down),
    });
    let shifts: Vec<Span> = shifts.filter(|shift| shift.from < shift.to).collect();
    let paid = set_up.saturating_add(clean_down);
    Crew {
        name: crew.name.clone(),
        operatives: crew.operatives,
        shifts: minutes(&shifts, span),
        per_call: card.labour_per_h.times(paid, 60).amount,
        per_time: card.labour_per_h.times(1, 60).amount,
        moves: Vec::new(),
    }
}

/// Tells crews how long they take from floor to floor: `floors` are surfaces, each with its storey.
pub(super) fn moves(
    request: &ScheduleRequest,
    floors: &[(String, &str)],
    crews: &mut [Crew],
    faults: &mut Faults,
) {
    let place_of = |text: &str| floors.iter().position(|(id, _)| id == text);
    let mut named: BTreeMap<(usize, usize), i64> = BTreeMap::new();
    for (at, told) in request.moves.iter().enumerate() {
        let ends = [("from", &told.from), ("to", &told.to)].map(|(member, id)| {
            let found = place_of(id);
            if found.is_none() {
                let place = format!("#/moves/{at}/{member}");
                let detail = "Must be the surface of one of these plans.";
                faults.push(place, "reference_not_found", detail);
            }
            found
        });
        let [Some(from), Some(to)] = ends else {
            continue;
        };
        let place = format!("#/moves/{at}/to");
        if from == to {
            faults.push(
                place,
                "out_of_range",
                "Must be another surface than `from`.",
            );
            continue;
        }
        let both = [(from, to), (to, from)].map(|way| named.insert(way, told.minutes));
        if both.iter().any(Option::is_some) {
            let detail = "The way between these two is named before; it counts in both directions.";
            faults.push(place, "duplicate", detail);
        }
    }
    for (crew, asked) in crews.iter_mut().zip(&request.crews) {
        let minutes = |(from, (_, storey)): (usize, &(String, &str)), to: usize| {
            let other = floors.get(to).map_or("", |(_, storey)| *storey);
            let usual = if *storey == other {
                asked.move_min
            } else {
                asked.move_min.saturating_add(asked.storey_min)
            };
            match named.get(&(from, to)) {
                _ if from == to => 0,
                Some(told) => *told,
                None => usual,
            }
        };
        let row = |from| (0..floors.len()).map(|to| minutes(from, to)).collect();
        crew.moves = floors.iter().enumerate().map(row).collect();
    }
}

/// The crew of each plan: the one that is named, else that with its skills that has the least to do for its hours.
/// `works` are place in the request, operatives and working time.
pub(super) fn assign(
    request: &ScheduleRequest,
    works: &[(usize, u32, Labour)],
    crews: &[Crew],
    faults: &mut Faults,
) -> Vec<usize> {
    let hours: Vec<i64> = crews.iter().map(on_shift).collect();
    let mut taken = vec![Labour::ZERO; crews.len()];
    let mut of = vec![0_usize; works.len()];
    let named = |plan: &ScheduledPlan| {
        let name = plan.crew.as_ref()?;
        Some(request.crews.iter().position(|crew| crew.name == *name))
    };
    let mut open = Vec::new();
    for (index, (at, operatives, time)) in works.iter().enumerate() {
        let Some(plan) = request.plans.get(*at) else {
            continue;
        };
        match named(plan) {
            None => open.push((index, *at, *operatives, *time)),
            Some(None) => {
                let place = format!("#/plans/{at}/crew");
                faults.push(
                    place,
                    "unknown_crew",
                    "No crew of the request has this name.",
                );
            }
            Some(Some(crew)) => {
                let able = request.crews.get(crew).map(|crew| crew.skills.as_slice());
                if !has_all(able.unwrap_or_default(), &plan.skills) {
                    let place = format!("#/plans/{at}/skills");
                    let detail = "The crew that is named for the plan does not have all of them.";
                    faults.push(place, "missing_skill", detail);
                }
                give(&mut taken, &mut of, (index, crew, *time));
            }
        }
    }
    // The longest first, so that the short ones level out.
    open.sort_by_key(|(index, _, _, time)| (std::cmp::Reverse(*time), *index));
    for (index, at, operatives, time) in open {
        let skills = request.plans.get(at).map(|plan| plan.skills.as_slice());
        let skills = skills.unwrap_or_default();
        let able = request.crews.iter().enumerate();
        let able = able.filter(|(_, crew)| has_all(&crew.skills, skills));
        let least = able.min_by_key(|(crew, asked)| {
            let then = taken.get(*crew).map_or(0, |taken| taken.plus(time).us());
            let hours = hours.get(*crew).copied().unwrap_or(0).max(1);
            (
                asked.operatives < operatives,
                then.checked_div(hours).unwrap_or(i64::MAX),
                *crew,
            )
        });
        if let Some((crew, _)) = least {
            give(&mut taken, &mut of, (index, crew, time));
        } else {
            let place = format!("#/plans/{at}/skills");
            let detail = "No crew of the request has all of them.";
            faults.push(place, "missing_skill", detail);
        }
    }
    of
}

fn give(taken: &mut [Labour], of: &mut [usize], (index, crew, time): (usize, usize, Labour)) {
    if let Some(taken) = taken.get_mut(crew) {
        *taken = taken.plus(time);
    }
    if let Some(of) = of.get_mut(index) {
        *of = crew;
    }
}

/// Minutes of all of its operatives on shift.
fn on_shift(crew: &Crew) -> i64 {
    let minutes = crew
        .shifts
        .iter()
        .map(|shift| shift.to.saturating_sub(shift.from));
    minutes
        .sum::<i64>()
        .saturating_mul(i64::from(crew.operatives))
}

fn has_all(able: &[Skill], skills: &[Skill]) -> bool {
    skills.iter().all(|skill| able.contains(skill))
}
