//! The least distances between the starts of all steps, kept closed while more is learnt.

use super::Contradiction;

/// Less than any distance that binds.
const NONE: i32 = i32::MIN / 4;

/// `S_j - S_i >= at(i, j)` for all steps and, as the last of them, the moment zero. Closed: no path is longer than its arc.
#[derive(Debug, Clone)]
pub(super) struct Matrix {
    size: usize,
    cells: Vec<i32>,
}

impl Matrix {
    /// The longest paths (Floyd and Warshall) along arcs of which no circle is positive.
    pub(super) fn new(size: usize, arcs: &[(usize, usize, i32)]) -> Self {
        let mut cells = vec![NONE; size * size];
        for at in 0..size {
            cells[at * size + at] = 0;
        }
        for (i, j, least) in arcs {
            let cell = &mut cells[i * size + j];
            *cell = (*cell).max(*least);
        }
        let mut through = vec![NONE; size];
        for k in 0..size {
            through.copy_from_slice(&cells[k * size..(k + 1) * size]);
            for row in cells.chunks_exact_mut(size) {
                let to = row[k];
                if to > NONE {
                    lengthen(row, to, &through);
                }
            }
        }
        Self { size, cells }
    }

    pub(super) fn at(&self, i: usize, j: usize) -> i32 {
        self.cells[i * self.size + j]
    }

    /// Distances from a step to all.
    pub(super) fn row(&self, i: usize) -> &[i32] {
        &self.cells[i * self.size..(i + 1) * self.size]
    }

    /// Ties all steps to the moment zero by closed heads and tails, for a makespan that no head and tail exceed.
    pub(super) fn anchor(&mut self, head: &[i32], tail: &[i32], makespan: i32) {
        let zero = self.size - 1;
        for (i, row) in self.cells.chunks_exact_mut(self.size).enumerate() {
            let to = tail.get(i).map_or(0, |tail| tail - makespan);
            for (cell, head) in row.iter_mut().zip(head) {
                *cell = (*cell).max(to + head);
            }
            row[zero] = row[zero].max(to);
        }
    }

    /// Learns that `j` starts at least so long after `i`.
    pub(super) fn learn(&mut self, i: usize, j: usize, least: i32) -> Result<(), Contradiction> {
        if least <= self.at(i, j) {
            return Ok(());
        }
        if self.at(j, i) + least > 0 {
            let steps = [i, j].into_iter().filter(|step| *step + 1 < self.size);
            return Err(Contradiction(steps.collect()));
        }
        let through = self.row(j).to_vec();
        for row in self.cells.chunks_exact_mut(self.size) {
            let to = row[i] + least;
            if to > row[j] {
                lengthen(row, to, &through);
            }
        }
        Ok(())
    }

    /// The distances of the other way round.
    pub(super) fn turned(&self) -> Self {
        let size = self.size;
        let mut cells = vec![0; size * size];
        for (i, row) in self.cells.chunks_exact(size).enumerate() {
            for (j, cell) in row.iter().enumerate() {
                cells[j * size + i] = *cell;
            }
        }
        Self { size, cells }
    }

    /// The distances of schedules mirrored in time, which begin at the end of the makespan.
    pub(super) fn mirrored(&self, duration: &[i32], makespan: i32) -> Self {
        let mut turned = self.turned();
        // The mirrored start of a step is the makespan less its end; that of the moment zero stays zero.
        let shift = |j: usize| duration.get(j).map_or(0, |duration| makespan - duration);
        for (i, row) in turned.cells.chunks_exact_mut(self.size).enumerate() {
            for (j, cell) in row.iter_mut().enumerate() {
                *cell += shift(j) - shift(i);
            }
        }
        turned
    }
}

/// Raises distances to what a path of this length and what lies beyond give.
fn lengthen(row: &mut [i32], to: i32, through: &[i32]) {
    for (cell, further) in row.iter_mut().zip(through) {
        // What has no path stays far below all that has one, and no sum overflows.
        *cell = (*cell).max((to + further).max(NONE));
    }
}
