//! Judges all processes side by side and lets the best one answer.

use super::{
    Candidate, DraftPlanError, Plan, PlanInput, ProcessRef, Question, Verdict, facts,
    judge::{Judgement, ask, judge},
    time_line::minutes_up,
    waits,
    work_up::{Worked, work_up},
};
use crate::{
    knowledge::{Fact, Severity, Truth},
    physics::psychrometrics::{Air, AirReading, STANDARD_PRESSURE_PA},
    quantity::Labour,
    survey::{Goal, Traffic},
};

/// Makes the plan: works every process out, judges it, and picks.
pub(super) fn choose(input: &PlanInput<'_>) -> Result<Plan, DraftPlanError> {
    let key = &input.survey.material;
    let material = input
        .base
        .material(key)
        .ok_or_else(|| DraftPlanError::UnknownMaterial { key: key.clone() })?;
    let forced = match &input.wish.process {
        Some(key) => {
            let found = input.base.process(key);
            Some(found.ok_or_else(|| DraftPlanError::UnknownProcess { key: key.clone() })?)
        }
        None => None,
    };
    products_exist(input)?;
    let air = air(input)?;
    let floor = facts::floor_facts(input, material, &air)?;
    let drying = waits::drying(input, &air, &material.conductance)?;
    let processes = input.base.processes.iter().filter(|process| {
        let named = forced.is_some_and(|forced| forced.key == process.key);
        named || process.on.holds(&floor) == Truth::True
    });
    let worked: Vec<Worked<'_>> = processes
        .map(|process| work_up(input, material, process, &floor, drying))
        .collect::<Result<_, _>>()?;
    let mut ranked: Vec<&Worked<'_>> = worked
        .iter()
        .filter(|entry| match forced {
            Some(process) => entry.process.key == process.key || serves(entry, input.wish.goal),
            None => serves(entry, input.wish.goal),
        })
        .collect();
    ranked.sort_by_key(|entry| {
        let named = forced.is_some_and(|process| process.key == entry.process.key);
        (!named, order(entry), entry.process.rank)
    });
    let Some(best) = ranked.first() else {
        return Err(DraftPlanError::Figure {
            what: format!("a process for the goal {}", input.wish.goal.word()),
        });
    };
    let judgement = if forced.is_none() && order(best) >= 6 {
        let mut known = best.facts.clone();
        known.set(Fact::PlanNothingSuits, true);
        judge(input, &known)
    } else {
        best.judgement.clone()
    };
    let (verdict, questions) = answer(input, forced.is_some(), best, &judgement, &ranked);
    let instead = if verdict == Verdict::Refused {
        feasible(&worked, best, &[input.wish.goal, Goal::Clean])
    } else {
        Vec::new()
    };
    Ok(Plan {
        verdict,
        process: best.process.key.clone(),
        process_name: best.process.name.clone(),
        findings: judgement.findings,
        questions,
        open_questions: judgement.open_questions,
        meanwhile: if verdict == Verdict::NeedsInformation {
            feasible(&worked, best, &[Goal::Clean])
        } else {
            Vec::new()
        },
        instead,
        referral: judgement.referral,
        candidates: ranked.iter().map(|entry| candidate(input, entry)).collect(),
        work: is_feasible(verdict).then(|| best.work.clone()),
    })
}

/// Every product that the wish names exists and may stand for its class.
fn products_exist(input: &PlanInput<'_>) -> Result<(), DraftPlanError> {
    for (class, key) in &input.wish.products {
        let found = input.products().product(key);
        if !found.is_some_and(|row| row.serves(class)) {
            return Err(DraftPlanError::UnknownProduct {
                class: class.clone(),
                key: key.clone(),
            });
        }
    }
    Ok(())
}

/// The air over the floor.
fn air(input: &PlanInput<'_>) -> Result<Air, DraftPlanError> {
    let climate = input.climate;
    let reading = AirReading {
        temperature_c: climate.air_c,
        relative_humidity: climate.humidity_pct / 100.0,
        speed_m_s: climate.air_speed_m_s,
        pressure_pa: STANDARD_PRESSURE_PA,
    };
    Air::new(reading).map_err(|refused| DraftPlanError::Climate {
        reason: refused.to_string(),
    })
}

fn serves(entry: &Worked<'_>, goal: Goal) -> bool {
    entry.process.goals.iter().any(|word| word == goal.word())
}

/// What could be done for one of the goals in place of `best`, best first.
///
/// Routine cleaning is right wherever it is allowed; anything else must suit the floor.
fn feasible(worked: &[Worked<'_>], best: &Worked<'_>, goals: &[Goal]) -> Vec<ProcessRef> {
    let right = |entry: &&Worked<'_>| {
        order(entry) < 4 || (serves(entry, Goal::Clean) && !entry.process.restorative)
    };
    let mut fit: Vec<&Worked<'_>> = worked
        .iter()
        .filter(|entry| goals.iter().any(|goal| serves(entry, *goal)))
        .filter(|entry| entry.process.key != best.process.key)
        .filter(|entry| is_feasible(entry.judgement.verdict))
        .filter(right)
        .collect();
    fit.sort_by_key(|entry| (order(entry), entry.process.rank));
    let named = fit.iter().map(|entry| ProcessRef {
        key: entry.process.key.clone(),
        name: entry.process.name.clone(),
    });
    named.collect()
}

/// The verdict and what must be asked for it.
///
/// A named process is judged by itself. Otherwise, where a missing fact decides which process is right, that fact
/// is asked for together with those that the processes still in question need: nothing is guessed.
fn answer(
    input: &PlanInput<'_>,
    named: bool,
    best: &Worked<'_>,
    judgement: &Judgement,
    ranked: &[&Worked<'_>],
) -> (Verdict, Vec<Question>) {
    if named || matches!(order(best), 0 | 4..) {
        return (judgement.verdict, judgement.questions.clone());
    }
    let mut questions: Vec<Question> = Vec::new();
    for entry in ranked.iter().filter(|entry| order(entry) <= 3) {
        for question in &entry.judgement.questions {
            for because in &question.because {
                if let Some(fact) = Fact::named(&question.fact) {
                    ask(input.base, &mut questions, fact, because);
                }
            }
        }
        for fact in entry.process.suits.missing(&entry.facts) {
            ask(input.base, &mut questions, fact, &entry.process.key);
        }
    }
    questions.retain(|question| input.base.question(&question.fact).is_some());
    (Verdict::NeedsInformation, questions)
}

const fn is_feasible(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Allowed | Verdict::AllowedWithWarnings)
}

/// Safety and substrate first (what may be done at all), then fit, then what is not yet known.
///
/// A process that suits and is allowed beats one that may suit; one that does not suit comes last, however harmless.
fn order(entry: &Worked<'_>) -> u8 {
    let suits = entry.process.suits.holds(&entry.facts);
    match (suits, entry.judgement.verdict) {
        (Truth::True, Verdict::Allowed | Verdict::AllowedWithWarnings) => 0,
        (Truth::Undecided, Verdict::Allowed | Verdict::AllowedWithWarnings) => 1,
        (Truth::True, Verdict::NeedsInformation) => 2,
        (Truth::Undecided, Verdict::NeedsInformation) => 3,
        (Truth::True, Verdict::Refused) => 4,
        (Truth::Undecided, Verdict::Refused) => 5,
        (Truth::False, Verdict::Allowed | Verdict::AllowedWithWarnings) => 6,
        (Truth::False, Verdict::NeedsInformation) => 7,
        (Truth::False, Verdict::Refused) => 8,
    }
}

fn candidate(input: &PlanInput<'_>, entry: &Worked<'_>) -> Candidate {
    let (suits, why) = match entry.process.suits.holds(&entry.facts) {
        Truth::True => (Some(true), entry.process.why.clone()),
        Truth::False => (Some(false), entry.process.why_not.clone()),
        Truth::Undecided => (
            None,
            "Facts that are missing decide whether it is right.".to_owned(),
        ),
    };
    let net = entry.work.cost.net;
    let traffic = input.survey.traffic.unwrap_or(Traffic::Medium).word();
    let days = entry
        .process
        .interval_days
        .get(traffic)
        .copied()
        .unwrap_or(365);
    // What handing over costs us says nothing of what the other trade's work costs.
    let ours = !entry.process.specialist;
    let labour: Labour = entry.work.labour.iter().map(|line| line.time).sum();
    Candidate {
        process: entry.process.key.clone(),
        name: entry.process.name.clone(),
        verdict: entry.judgement.verdict,
        suits,
        why,
        // What stands against it or goes with it; what is merely worth knowing is told of the chosen one.
        rules: entry
            .judgement
            .findings
            .iter()
            .filter(|finding| finding.severity <= Severity::Warn)
            .map(|finding| finding.rule.clone())
            .collect(),
        labour: ours.then_some(labour),
        elapsed_min: ours.then(|| minutes_up(entry.work.time_line.elapsed)),
        net: ours.then_some(net),
        net_per_year: ours.then(|| net.times(365, days.max(1))),
    }
}
