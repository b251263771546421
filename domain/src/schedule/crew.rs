//! From operatives with skills and shifts to resources that can be counted.
//!
//! Demands that name skills can be met at a moment if and only if, for each set of skills, no more are demanded than there
//! are operatives with one of them (Hall's theorem). So each set of demanded skills becomes one countable resource. People
//! may change places within a step: who stays with what to its end is not decided here.

use super::{Demand, Period, Resource, ResourceKind, Time, Window};

/// The most skills that are told apart in one crew.
const MOST_SKILLS: usize = 6;

/// Somebody at work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Operative {
    /// Indices of their skills; work that asks for no skill is everyone's.
    pub skills: Vec<usize>,
    /// When they are there, in order of time and without overlap.
    pub shifts: Vec<Window>,
    /// What a shift of theirs costs.
    pub per_shift: i64,
    /// What a unit of their time at work costs.
    pub per_time: i64,
}

/// The resources of a crew, and how demands for skills are made of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SkillPool {
    /// The resources; the first counts everyone and carries the cost.
    pub resources: Vec<Resource>,
    /// The skill sets of the other resources, as bits.
    sets: Vec<u32>,
    /// The index that the first resource will have in the workload.
    first: usize,
}

impl SkillPool {
    /// The demands of a step that needs so many operatives with each skill, and so many with any or none.
    pub fn demands(&self, skilled: &[(usize, u32)], any: u32) -> Vec<Demand> {
        let all = skilled.iter().map(|(_, units)| units).sum::<u32>() + any;
        let demand = |at: usize, units| Demand {
            resource: self.first + at,
            units,
        };
        let sets = self.sets.iter().enumerate().map(|(at, set)| {
            let within = skilled.iter().filter(|(skill, _)| set >> skill & 1 == 1);
            demand(at + 1, within.map(|(_, units)| units).sum())
        });
        let each = std::iter::once(demand(0, all)).chain(sets);
        each.filter(|d| d.units > 0).collect()
    }
}

/// The resources of a crew of which `n_skills` skills are demanded; `None` for more than six, or a skill beyond them.
/// `first` is the index that the first of them will have in the workload. The cost of a shift is the mean of those who
/// are there, rounded up, since it is not decided who comes.
pub fn pools(
    name: &str,
    operatives: &[Operative],
    n_skills: usize,
    first: usize,
) -> Option<SkillPool> {
    let mut skills = operatives.iter().flat_map(|o| &o.skills);
    if n_skills > MOST_SKILLS || skills.any(|skill| *skill >= n_skills) {
        return None;
    }
    let sets: Vec<u32> = (1..1_u32 << n_skills).collect();
    let bits = |o: &Operative| o.skills.iter().fold(0_u32, |bits, skill| bits | 1 << skill);
    let everyone: Vec<&Operative> = operatives.iter().collect();
    let mut resources = vec![resource(name.to_owned(), ResourceKind::Crew, &everyone)];
    for set in &sets {
        let able: Vec<&Operative> = operatives.iter().filter(|o| bits(o) & set != 0).collect();
        let name = format!("{name}, skills {set:b}");
        let mut pool = resource(name, ResourceKind::Zone, &able);
        for period in &mut pool.periods {
            (period.per_call, period.per_time) = (0, 0);
        }
        resources.push(pool);
    }
    Some(SkillPool {
        resources,
        sets,
        first,
    })
}

fn resource(name: String, kind: ResourceKind, operatives: &[&Operative]) -> Resource {
    let mut edges: Vec<Time> = operatives
        .iter()
        .flat_map(|o| o.shifts.iter().flat_map(|shift| [shift.from, shift.to]))
        .collect();
    edges.sort_unstable();
    edges.dedup();
    let period = |pair: &[Time]| {
        let window = Window {
            from: pair[0],
            to: pair[1],
        };
        let on = |o: &&&Operative| {
            o.shifts
                .iter()
                .any(|s| s.from <= window.from && window.to <= s.to)
        };
        let there: Vec<&&Operative> = operatives.iter().filter(on).collect();
        let n = there.len() as i64;
        let mean = |sum: i64| if n == 0 { 0 } else { (sum + n - 1) / n };
        (n > 0).then(|| Period {
            window,
            units: n as u32,
            per_call: mean(there.iter().map(|o| o.per_shift).sum()),
            per_time: mean(there.iter().map(|o| o.per_time).sum()),
        })
    };
    let same_shift = operatives
        .windows(2)
        .all(|pair| pair[0].shifts == pair[1].shifts);
    Resource {
        name,
        kind,
        periods: edges.windows(2).filter_map(period).collect(),
        whole_shift: same_shift,
        gaps: Vec::new(),
    }
}
