//! Jobs, crews and hours written down as the engine's workload.

use super::{
    cut::bays,
    parts::{Part, Wait},
};
use crate::normal::Z80;
use crate::schedule::{
    Calendar, Demand, Link, Period, Resource, ResourceKind, Space, Spread, Step, Time, Window,
    Workload,
};

/// So many units of one resource may be told apart by the engine.
const MOST_TOLD_APART: u32 = crate::schedule::MAX_TRAVELLING;

/// A floor that people wait for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Floor {
    /// What people call it.
    pub name: String,
    /// When it may be closed, in order and without overlap; `None` for at any time.
    pub windows: Option<Vec<Window>>,
    /// When it should be open.
    pub deadline: Option<Time>,
    /// What its reopening is worth beside the others.
    pub weight: i64,
}

/// Operatives who work the same shifts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Crew {
    /// What people call it.
    pub name: String,
    /// How many they are.
    pub operatives: u32,
    /// When they work on floors: without setting up and cleaning down. In order and without overlap.
    pub shifts: Vec<Window>,
    /// What an operative costs who is called for a shift, whatever is done in it.
    pub per_call: i64,
    /// What a minute of an operative's work costs.
    pub per_time: i64,
    /// Minutes from one floor to another, unpacked and ready: `moves[from][to]`. Empty: no matter.
    pub moves: Vec<Vec<Time>>,
}

/// Machines of one type.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Machine {
    /// What people call it.
    pub name: String,
    /// How many there are.
    pub count: u32,
}

/// A floor that is the only way to others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// The floor that people pass.
    pub floor: usize,
    /// The floors behind it.
    pub to: Vec<usize>,
}

/// What is to be done on a floor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    /// The floor.
    pub floor: usize,
    /// Who does it.
    pub crew: usize,
    /// How many of them work on it at once.
    pub operatives: u32,
    /// Its parts, in order.
    pub parts: Vec<Part>,
}

/// What a step of the workload stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A crew at work.
    Work {
        /// The piece of the part.
        piece: usize,
    },
    /// Nobody may walk there yet.
    Closed,
    /// All bays of a part are done and waited for.
    Ready,
}

/// A step of the workload, told in words of plans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Task {
    /// The job.
    pub job: usize,
    /// Its part.
    pub part: usize,
    /// The bay, from 1.
    pub bay: usize,
    /// Into how many bays the part is cut.
    pub of: usize,
    /// What is done.
    pub kind: Kind,
}

/// A workload, and what each of its steps stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placed {
    /// For the engine.
    pub workload: Workload,
    /// One for each of its steps.
    pub tasks: Vec<Task>,
}

struct Placing<'a> {
    floors: &'a [Floor],
    crews: &'a [Crew],
    n_machines: usize,
    ways: &'a [Way],
    sigma: f64,
    placed: Placed,
    /// All operatives: who has a way for himself has so many units of it.
    everybody: u32,
}

/// Writes jobs down as a workload. `sigma` is the standard deviation of the logarithm of what work takes beside what was
/// estimated; floors that nobody has a job on stay open.
pub fn place(
    (floors, jobs): (&[Floor], &[Job]),
    (crews, machines, ways): (&[Crew], &[Machine], &[Way]),
    horizon: Time,
    sigma: f64,
) -> Placed {
    let everybody = crews.iter().map(|crew| crew.operatives).sum();
    let mut workload = Workload {
        horizon,
        ..Workload::default()
    };
    for floor in floors {
        let all = Window {
            from: 0,
            to: horizon,
        };
        workload.calendars.push(Calendar {
            name: floor.name.clone(),
            windows: floor.windows.clone().unwrap_or_else(|| vec![all]),
        });
    }
    let n_floors = floors.len();
    workload.resources = crews.iter().map(|crew| crew.resource(n_floors)).collect();
    let of = |machine: &Machine| {
        let kind = ResourceKind::Machine;
        Resource::steady(&machine.name, kind, machine.count, horizon)
    };
    workload.resources.extend(machines.iter().map(of));
    for way in ways {
        let name = floors.get(way.floor).map_or("", |floor| &floor.name);
        let name = format!("the way through {name}");
        let zone = Resource::steady(&name, ResourceKind::Zone, everybody, horizon);
        workload.resources.push(zone);
    }
    let mut placing = Placing {
        floors,
        crews,
        n_machines: machines.len(),
        ways,
        sigma,
        placed: Placed {
            workload,
            tasks: Vec::new(),
        },
        everybody,
    };
    for (at, job) in jobs.iter().enumerate() {
        placing.job(at, job);
    }
    placing.placed
}

impl Crew {
    fn resource(&self, n_floors: usize) -> Resource {
        let period = |window: &Window| Period {
            window: *window,
            units: self.operatives,
            per_call: self.per_call,
            per_time: self.per_time,
        };
        let mut all = self.moves.iter().flatten();
        let moves = all.any(|time| *time > 0) && self.moves.len() == n_floors;
        let gaps = if moves && self.operatives <= MOST_TOLD_APART {
            self.moves.clone()
        } else {
            Vec::new()
        };
        Resource {
            name: self.name.clone(),
            kind: ResourceKind::Crew,
            periods: self.shifts.iter().map(period).collect(),
            whole_shift: true,
            gaps,
        }
    }
}

impl Placing<'_> {
    fn job(&mut self, at: usize, job: &Job) {
        let mut before = None;
        let mut opens = Vec::new();
        for (part_at, part) in job.parts.iter().enumerate() {
            let floor = self.floors.get(job.floor);
            let bays = bays(self.crews.get(job.crew), floor, part);
            let whole: i64 = bays.iter().sum();
            let (mut last_first, mut ends) = (None, Vec::new());
            opens.clear();
            for (bay, size) in bays.iter().enumerate() {
                let task = |kind| Task {
                    job: at,
                    part: part_at,
                    bay: bay.saturating_add(1),
                    of: bays.len(),
                    kind,
                };
                let (first, last) = self.bay(job, part, (*size, whole), &task);
                let waits_for = last_first.or(before);
                if let Some(from) = waits_for {
                    self.link(from, first, (0, None));
                }
                last_first = Some(first);
                ends.push(last);
                opens.push(self.closed(job, part, last, task(Kind::Closed)));
            }
            let ready = Task {
                job: at,
                part: part_at,
                bay: bays.len(),
                of: bays.len(),
                kind: Kind::Ready,
            };
            let ready = self.step(ready, Step::default());
            for end in ends {
                self.wait(end, ready, part.then);
            }
            before = Some(ready);
        }
        if opens.is_empty() {
            return;
        }
        let space = self.placed.workload.spaces.len();
        let floor = self.floors.get(job.floor);
        self.placed.workload.spaces.push(Space {
            name: floor.map_or_else(String::new, |floor| floor.name.clone()),
            weight: floor.map_or(1, |floor| floor.weight),
            deadline: floor.and_then(|floor| floor.deadline),
            opens_after: opens,
        });
        let steps = self.placed.workload.steps.iter_mut();
        for (step, task) in steps.zip(&self.placed.tasks) {
            if task.job == at {
                step.space = Some(space);
            }
        }
    }

    /// The work in a bay: its first and its last step.
    fn bay(
        &mut self,
        job: &Job,
        part: &Part,
        (size, whole): (i64, i64),
        task: &dyn Fn(Kind) -> Task,
    ) -> (usize, usize) {
        let (mut first, mut last) = (None, 0);
        for (at, piece) in part.pieces.iter().enumerate() {
            let duration = piece.minutes(size, whole).max(1);
            let mut demands = vec![Demand {
                resource: job.crew,
                units: job.operatives,
            }];
            let machine = |machine: &usize| Demand {
                resource: self.crews.len().saturating_add(*machine),
                units: 1,
            };
            demands.extend(piece.machines.iter().map(machine));
            demands.extend(self.ways(job, false));
            let step = Step {
                duration,
                spread: self.spread(duration),
                calendar: Some(job.floor),
                demands,
                place: job.floor,
                ..Step::default()
            };
            let step = self.step(task(Kind::Work { piece: at }), step);
            if first.is_some() {
                let lags = piece.dwell.map_or((0, Some(0)), |(least, most)| {
                    let bound = super::Piece {
                        crew_time: piece.bound,
                        ..super::Piece::default()
                    };
                    let most = most.saturating_sub(bound.minutes(size, whole));
                    (least, Some(most.max(least)))
                });
                self.link(last, step, lags);
            }
            first = first.or(Some(step));
            last = step;
        }
        (first.unwrap_or(last), last)
    }

    /// The time after the work in a bay in which nobody may walk there: in the same window as the work.
    fn closed(&mut self, job: &Job, part: &Part, after: usize, task: Task) -> usize {
        let Wait { p50, used } = part.opens_after;
        if used <= 0 {
            return after;
        }
        let spread = (p50 > 0).then_some(Spread {
            p50: p50.min(used),
            p80: used,
        });
        let step = Step {
            duration: used,
            spread,
            calendar: Some(job.floor),
            demands: self.ways(job, true),
            place: job.floor,
            ..Step::default()
        };
        let step = self.step(task, step);
        self.link(after, step, (0, Some(0)));
        step
    }

    /// What a job takes of the ways that its floor is or lies behind.
    fn ways(&self, job: &Job, only_closed: bool) -> Vec<Demand> {
        let first = self.crews.len().saturating_add(self.n_machines);
        let ways = self.ways.iter().enumerate();
        let taken = ways.filter_map(|(at, way)| {
            let units = if way.floor == job.floor {
                self.everybody
            } else if way.to.contains(&job.floor) && !only_closed {
                job.operatives
            } else {
                return None;
            };
            let resource = first.saturating_add(at);
            Some(Demand { resource, units })
        });
        taken.collect()
    }

    fn spread(&self, duration: Time) -> Option<Spread> {
        let p80 = crate::quantity::float(duration) * (Z80 * self.sigma).exp();
        let p80 = crate::quantity::whole(p80.ceil())?;
        Some(Spread { p50: duration, p80 })
    }

    fn step(&mut self, task: Task, step: Step) -> usize {
        self.placed.tasks.push(task);
        self.placed.workload.steps.push(step);
        self.placed.tasks.len().saturating_sub(1)
    }

    fn link(&mut self, from: usize, to: usize, (min_lag, max_lag): (Time, Option<Time>)) {
        self.placed.workload.links.push(Link {
            from,
            to,
            min_lag,
            max_lag,
            spread: None,
        });
    }

    fn wait(&mut self, from: usize, to: usize, wait: Wait) {
        let spread = (wait.p50 > 0 && wait.used > 0).then_some(Spread {
            p50: wait.p50.min(wait.used),
            p80: wait.used,
        });
        self.placed.workload.links.push(Link {
            from,
            to,
            min_lag: wait.used,
            max_lag: None,
            spread,
        });
    }
}
