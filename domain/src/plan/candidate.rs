//! What is told of a candidate beside the others.

use super::{Candidate, PlanInput, merit, time_line::minutes_up, work_up::Worked};
use crate::knowledge::{Severity, Truth};

/// A candidate as a plan shows it: without figures where another trade does the work.
pub(super) fn candidate(input: &PlanInput<'_>, entry: &Worked<'_>) -> Candidate {
    let (suits, why) = match entry.suits {
        Truth::True => (Some(true), entry.process.why.clone()),
        Truth::False => (Some(false), entry.process.why_not.clone()),
        Truth::Undecided => (
            None,
            "Facts that are missing decide whether it is right.".to_owned(),
        ),
    };
    // What handing over costs us says nothing of what the other trade's work costs.
    let ours = !entry.process.specialist;
    Candidate {
        process: entry.process.key.clone(),
        name: entry.process.name.clone(),
        verdict: entry.judgement.verdict,
        suits,
        why,
        // What stands against it or goes with it; what is merely worth knowing is told of the chosen one.
        rules: entry
            .judgement
            .fired
            .iter()
            .filter(|rule| rule.severity <= Severity::Warn)
            .map(|rule| rule.id.clone())
            .collect(),
        labour: ours.then(|| entry.work.labour.iter().map(|line| line.time).sum()),
        elapsed_min: ours.then(|| minutes_up(entry.work.time_line.elapsed)),
        closed_min: ours.then(|| merit::closed_min(entry)),
        net: ours.then_some(entry.work.cost.net),
        net_per_year: ours.then(|| merit::net_per_year(input, entry)),
        due_again_days: ours.then(|| merit::due_again_days(input, entry)),
        water: ours.then(|| merit::water(entry)),
        voc_g: merit::voc_g(input, entry).filter(|_grams| ours),
        risk: merit::risk(entry),
    }
}
