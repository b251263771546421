//! Makespans that cannot be: distances, pairs that exclude each other, and what steps certainly take, each narrowing the others.

use super::super::Time;
use super::super::destructive::{LONGEST, MOST_STEPS, Windows};
use super::matrix::Matrix;
use super::{Contradiction, Lags};

/// What holds for all schedules that end by a makespan: the least distances between starts.
#[derive(Debug, Clone)]
pub(in super::super) struct Least {
    pub(super) distances: Matrix,
    pub(super) makespan: i32,
}

impl Lags {
    /// All that follows if everything ends by a makespan, or where that leaves no room. The latter is a proof.
    pub(in super::super) fn by(&self, makespan: Time) -> Result<Least, Contradiction> {
        let n = self.n();
        let makespan = makespan as i32;
        let too_long = |j: &usize| self.head[*j] + self.tail[*j] > makespan;
        if let Some(step) = (0..n).find(too_long) {
            return Err(Contradiction(vec![step]));
        }
        let mut distances = self.paths.clone();
        distances.anchor(&self.head, &self.tail, makespan);
        if n <= MOST_STEPS && Time::from(makespan) <= LONGEST {
            self.narrow(&mut distances, makespan)?;
        }
        Ok(Least {
            distances,
            makespan,
        })
    }

    /// The least makespan from `from` on, up to `to`, that is not refuted. Every makespan below it is.
    pub(in super::super) fn raise(&self, from: Time, to: Time) -> Time {
        let (mut low, mut high) = (from, to.max(from));
        while low < high {
            let middle = low.midpoint(high);
            match self.by(middle) {
                Ok(_) => high = middle,
                Err(_) => low = middle + 1,
            }
        }
        low
    }

    fn narrow(&self, distances: &mut Matrix, makespan: i32) -> Result<(), Contradiction> {
        let n = self.n();
        let duration: Vec<Time> = self.duration.iter().map(|d| Time::from(*d)).collect();
        let mut windows = Windows::of(&duration, &self.demand, &self.capacity);
        let nobody = |_| Contradiction(Vec::new());
        loop {
            self.exclude(distances)?;
            let early: Vec<Time> = (0..n).map(|j| Time::from(distances.at(n, j))).collect();
            let late = (0..n).map(|j| duration[j] - Time::from(distances.at(j, n)));
            let late: Vec<Time> = late.collect();
            windows.set(&early, &late);
            windows.resources(Time::from(makespan)).map_err(nobody)?;
            let mut changed = false;
            for j in 0..n {
                let (from, to) = windows.of_step(j);
                changed |= from > early[j] || to < late[j];
                distances.learn(n, j, from as i32)?;
                distances.learn(j, n, (duration[j] - to) as i32)?;
            }
            if !changed {
                return windows.energy().map_err(nobody);
            }
        }
    }

    /// Of two steps that cannot run together one is first, and if only one can be, it is.
    fn exclude(&self, distances: &mut Matrix) -> Result<(), Contradiction> {
        loop {
            let mut changed = false;
            for (i, j) in &self.apart {
                let (i, j) = (*i, *j);
                let (ahead, behind) = (distances.at(i, j), distances.at(j, i));
                if ahead >= self.duration[i] || behind >= self.duration[j] {
                    continue;
                }
                match (behind <= -self.duration[i], ahead <= -self.duration[j]) {
                    (true, true) => continue,
                    (false, false) => return Err(Contradiction(vec![i, j])),
                    (true, false) => distances.learn(i, j, self.duration[i])?,
                    (false, true) => distances.learn(j, i, self.duration[j])?,
                }
                changed = true;
            }
            if !changed {
                return Ok(());
            }
        }
    }
}
