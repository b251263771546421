//! Why something cannot be done, in words: which chain, which window, how many minutes short, what would make it fit.

use domain::{
    placing::{Kind, Task},
    schedule::{Obstacle, Reason, Remedy, Time, Window},
};

use super::inputs::Inputs;
use crate::wire::{
    schedule::told::{ReasonView, Sentence, WindowView},
    time,
};

/// The most links of a chain that are told; its beginning is left out first.
const MOST_CHAIN: usize = 200;

/// A task in words: what, where.
pub(super) fn sentence(inputs: &Inputs, task: &Task) -> String {
    let Some(plan) = inputs.plans.get(task.job) else {
        return String::new();
    };
    let part = plan.kept.parts.get(task.part);
    let name = part.map_or("", |part| part.name.as_str());
    let bay = if task.of > 1 {
        format!(", bay {} of {}", task.bay, task.of)
    } else {
        String::new()
    };
    match task.kind {
        Kind::Closed => format!(
            "{}: {name}{bay}: closed until it may be walked on",
            plan.name
        ),
        Kind::Ready => format!("{}: {name} done and waited for", plan.name),
        Kind::Work { piece } => {
            let steps = part.and_then(|part| part.pieces.get(piece));
            let steps: Vec<String> = steps
                .iter()
                .flat_map(|piece| piece.steps.iter().map(ToString::to_string))
                .collect();
            format!("{}: {name}{bay}: steps {}", plan.name, steps.join(", "))
        }
    }
}

fn window(inputs: &Inputs, window: &Window) -> WindowView {
    WindowView {
        from: time::write(inputs.at(window.from)),
        to: time::write(inputs.at(window.to)),
    }
}

struct Words {
    kind: &'static str,
    statement: String,
    chain: Vec<usize>,
    window: Option<Window>,
    short_by: Option<Time>,
}

/// A reason in words.
pub(super) fn tell(inputs: &Inputs, reason: &Reason) -> ReasonView {
    let words = words(inputs, &reason.obstacle);
    let tasks = words
        .chain
        .iter()
        .filter_map(|step| inputs.placed.tasks.get(*step));
    let first = words
        .chain
        .first()
        .and_then(|step| inputs.placed.tasks.get(*step));
    let surface = first.and_then(|task| inputs.plans.get(task.job));
    let chain: Vec<Sentence> = tasks
        .filter(|task| task.kind != Kind::Ready)
        .map(|task| Sentence(sentence(inputs, task)))
        .collect();
    let skipped = chain.len().saturating_sub(MOST_CHAIN);
    ReasonView {
        kind: words.kind.to_owned(),
        statement: words.statement,
        surface_id: surface.map(|plan| plan.surface_id.to_string()),
        chain: chain.into_iter().skip(skipped).collect(),
        window: words.window.as_ref().map(|found| window(inputs, found)),
        short_by_min: words.short_by,
        remedies: reason
            .remedies
            .iter()
            .map(|remedy| Sentence(remedied(inputs, remedy)))
            .collect(),
    }
}

fn words(inputs: &Inputs, obstacle: &Obstacle) -> Words {
    let told = |step: usize| {
        let task = inputs.placed.tasks.get(step);
        task.map_or_else(String::new, |task| sentence(inputs, task))
    };
    let resource = |at: usize| {
        let resource = inputs.placed.workload.resources.get(at);
        resource.map_or("", |resource| resource.name.as_str())
    };
    match obstacle {
        Obstacle::TooFew {
            step,
            resource: at,
            most,
        } => Words {
            kind: "too_few",
            statement: format!(
                "{} takes {} of {} at once; there are never more than {most}.",
                told(*step),
                needed(inputs, *step, *at),
                resource(*at)
            ),
            chain: vec![*step],
            window: None,
            short_by: None,
        },
        Obstacle::NoWindow {
            steps,
            longest,
            short_by,
        } => Words {
            kind: "no_window",
            statement: no_window(
                &told(steps.first().copied().unwrap_or(0)),
                *longest,
                *short_by,
            ),
            chain: steps.clone(),
            window: *longest,
            short_by: Some(*short_by),
        },
        Obstacle::Horizon { chain, short_by } => Words {
            kind: "horizon",
            statement: format!(
                "Even with nobody else in the way, {} and what follows it are {short_by} min of work and waits too long for what is left until `to`.",
                told(chain.last().copied().unwrap_or(0))
            ),
            chain: chain.clone(),
            window: None,
            short_by: Some(*short_by),
        },
        Obstacle::Circle { steps, short_by } => {
            let first = told(steps.first().copied().unwrap_or(0));
            circle(&first, steps, *short_by)
        }
        Obstacle::Crowded { steps } => crowded(steps),
        Obstacle::TooMuchWork {
            resource: at,
            short_by,
        } => Words {
            kind: "too_much_work",
            statement: format!(
                "There is more work for {} than it has time: {short_by} min of one of them are missing.",
                resource(*at)
            ),
            chain: Vec::new(),
            window: None,
            short_by: Some(*short_by),
        },
        Obstacle::Deadline {
            space,
            chain,
            window,
            short_by,
        } => late(inputs, *space, (chain, *window), *short_by),
    }
}

fn circle(first: &str, steps: &[usize], short_by: Time) -> Words {
    Words {
        kind: "circle",
        statement: format!(
            "The waits around {first} contradict each other: least and longest ones are {short_by} min apart."
        ),
        chain: steps.to_vec(),
        window: None,
        short_by: Some(short_by),
    }
}

fn crowded(steps: &[usize]) -> Words {
    Words {
        kind: "crowded",
        statement: "With their waits kept, tasks that cannot be done at once find no room one after another before `to`: move `to`, have more crew or machines, or let longest waits be longer."
            .to_owned(),
        chain: steps.to_vec(),
        window: None,
        short_by: None,
    }
}

fn late(
    inputs: &Inputs,
    space: usize,
    (chain, window): (&[usize], Option<Window>),
    short_by: Time,
) -> Words {
    let plan = inputs.plans.get(space);
    Words {
        kind: "deadline",
        statement: format!(
            "{} cannot be open by its deadline: at the earliest {short_by} min later, with nobody else in the way.",
            plan.map_or("", |plan| plan.name.as_str())
        ),
        chain: chain.to_vec(),
        window,
        short_by: Some(short_by),
    }
}

/// How many units of a resource a step takes.
fn needed(inputs: &Inputs, step: usize, resource: usize) -> u32 {
    let step = inputs.placed.workload.steps.get(step);
    let mut demands = step.into_iter().flat_map(|step| &step.demands);
    let needs = demands.find(|demand| demand.resource == resource);
    needs.map_or(0, |demand| demand.units)
}

fn no_window(first: &str, longest: Option<Window>, short_by: Time) -> String {
    match longest {
        None => format!(
            "{first} and what must follow it at once find no window: the floor may never be closed while the crew is there."
        ),
        Some(_) if short_by > 0 => format!(
            "{first} and what must follow it at once fit no window: the longest is {short_by} min too short."
        ),
        Some(_) => format!(
            "{first} and what must follow it at once fit no window that the crew's shifts leave, although one is long enough."
        ),
    }
}

fn remedied(inputs: &Inputs, remedy: &Remedy) -> String {
    let resource = |at: usize| {
        let resource = inputs.placed.workload.resources.get(at);
        resource.map_or("", |resource| resource.name.as_str())
    };
    match remedy {
        Remedy::WindowOf(length) => format!(
            "a window of {length} min in which the floor is closed and the crew is there, besides its setting up and cleaning down"
        ),
        Remedy::Units {
            resource: at,
            units,
        } => {
            format!("{units} of {} at once, or a plan for fewer", resource(*at))
        }
        Remedy::LongestWait { link, max_lag } => {
            let link = inputs.placed.workload.links.get(*link);
            let task = link.and_then(|link| inputs.placed.tasks.get(link.from));
            let after = task.map_or_else(String::new, |task| sentence(inputs, task));
            format!("{max_lag} min that may pass after {after}, by another product or way of work")
        }
        Remedy::Until(until) => format!("time until {}", time::write(inputs.at(*until))),
        Remedy::MoreTime { resource: at, time } => {
            format!(
                "{time} min more of one of {}, or one more of them",
                resource(*at)
            )
        }
    }
}
