//! Units of a resource that travel: each is followed by itself, because the way from place to place takes time.

use super::{Time, Workload};

/// What a unit does when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Job {
    pub(super) start: Time,
    pub(super) end: Time,
    pub(super) place: usize,
    pub(super) step: usize,
}

/// The units of one resource, each with its jobs in order of time.
#[derive(Debug, Clone)]
pub(super) struct Fleet<'w> {
    gaps: &'w [Vec<Time>],
    pub(super) units: Vec<Vec<Job>>,
}

impl<'w> Fleet<'w> {
    /// The fleet of a resource; `None` if its units need not be told apart.
    pub(super) fn new(workload: &'w Workload, resource: usize) -> Option<Self> {
        let resource = &workload.resources[resource];
        let n = resource.periods.iter().map(|p| p.units).max().unwrap_or(0);
        (!resource.gaps.is_empty()).then(|| Self {
            gaps: &resource.gaps,
            units: vec![Vec::new(); n as usize],
        })
    }

    pub(super) fn clear(&mut self) {
        self.units.iter_mut().for_each(Vec::clear);
    }

    fn earliest_of(&self, unit: usize, from: Time, duration: Time, place: usize) -> Time {
        let mut start = from;
        for job in &self.units[unit] {
            if start + duration + self.gaps[place][job.place] <= job.start {
                break;
            }
            start = start.max(job.end + self.gaps[job.place][place]);
        }
        start
    }

    /// The earliest start at which so many units can be there; `None` if there are not so many.
    pub(super) fn earliest(
        &self,
        count: usize,
        from: Time,
        duration: Time,
        place: usize,
    ) -> Option<Time> {
        if count == 0 {
            return Some(from);
        }
        let mut start = from;
        loop {
            let each =
                (0..self.units.len()).map(|unit| self.earliest_of(unit, start, duration, place));
            let mut each: Vec<Time> = each.collect();
            each.sort_unstable();
            let next = *each.get(count - 1)?;
            if next == start {
                return Some(start);
            }
            start = next;
        }
    }

    /// Gives a job to the units that have the least way to it.
    pub(super) fn take(&mut self, count: usize, job: Job) {
        if count == 0 {
            // The place of a step that needs no unit is no place of theirs.
            return;
        }
        let duration = job.end - job.start;
        let way = |unit: &usize| {
            let before = self.units[*unit]
                .iter()
                .rfind(|other| other.start < job.start);
            before.map_or(0, |other| self.gaps[other.place][job.place])
        };
        let free =
            |unit: &usize| self.earliest_of(*unit, job.start, duration, job.place) == job.start;
        let mut free: Vec<usize> = (0..self.units.len()).filter(free).collect();
        free.sort_by_key(way);
        for unit in free.into_iter().take(count) {
            let jobs = &mut self.units[unit];
            let at = jobs.partition_point(|other| other.start < job.start);
            jobs.insert(at, job);
        }
    }

    /// Takes a job away from all units.
    pub(super) fn give(&mut self, step: usize) {
        for jobs in &mut self.units {
            jobs.retain(|job| job.step != step);
        }
    }
}
