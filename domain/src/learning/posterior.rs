//! The exact posterior of subjects, sites and contractors: a normal one, solved block by block.
//!
//! There are many sites, and no two of them meet in a job: they are taken out one by one, and what is left to be solved
//! has the size of the subjects and contractors alone. Everything is a deviation from what is usual, so each prior mean is 0.

#![expect(
    clippy::indexing_slicing,
    reason = "every index is a place in lists whose lengths made the tables"
)]

use super::levels::Place;

/// All jobs of one subject, site and contractor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    /// Whose.
    pub(super) place: Place,
    /// The sum of their precisions.
    pub(super) precision: f64,
    /// The sum of their deviations, each times its precision.
    pub(super) pull: f64,
}

/// The prior variances.
#[derive(Debug, Clone, Copy)]
pub(super) struct Variances<'a> {
    /// Of each subject.
    pub(super) subjects: &'a [f64],
    /// Of every site.
    pub(super) site: f64,
    /// Of every contractor.
    pub(super) contractor: f64,
}

/// Means and covariances of everything that jobs have told of.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    n_subjects: usize,
    /// Of subjects, then contractors.
    core_mean: Vec<f64>,
    core: Square,
    site_mean: Vec<f64>,
    site_variance: Vec<f64>,
    /// Of each site with the core, row by row.
    border: Vec<f64>,
}

impl Posterior {
    /// Solves for `n_sites` sites and `n_contractors` contractors.
    pub(super) fn solve(
        prior: Variances<'_>,
        (n_sites, n_contractors): (usize, usize),
        cells: &[Cell],
    ) -> Self {
        let n_subjects = prior.subjects.len();
        let n = n_subjects.saturating_add(n_contractors);
        let mut core = Square::zero(n);
        for (at, variance) in prior.subjects.iter().enumerate() {
            *core.at(at, at) = 1.0 / variance;
        }
        for at in n_subjects..n {
            *core.at(at, at) = 1.0 / prior.contractor;
        }
        let mut pull = vec![0.0; n];
        let mut sites = vec![(1.0 / prior.site, 0.0); n_sites];
        let mut border = vec![0.0; n_sites.saturating_mul(n)];
        for cell in cells {
            let of = [
                cell.place.subject,
                n_subjects.saturating_add(cell.place.contractor),
            ];
            let site = &mut sites[cell.place.site];
            (site.0, site.1) = (site.0 + cell.precision, site.1 + cell.pull);
            let row = row_mut(&mut border, n, cell.place.site);
            for i in of {
                pull[i] += cell.pull;
                row[i] += cell.precision;
                for j in of {
                    *core.at(i, j) += cell.precision;
                }
            }
        }
        for (at, (precision, site_pull)) in sites.iter().enumerate() {
            let row = row_of(&border, n, at);
            for i in (0..n).filter(|i| row[*i] != 0.0) {
                let share = row[i] / precision;
                pull[i] -= share * site_pull;
                for (j, other) in row.iter().enumerate() {
                    *core.at(i, j) -= share * other;
                }
            }
        }
        core.invert();
        let core_mean: Vec<f64> = (0..n).map(|i| dot(core.row(i), &pull)).collect();
        Self::with_sites(n_subjects, (core_mean, core), &sites, border)
    }

    /// Puts the sites back that were taken out.
    fn with_sites(
        n_subjects: usize,
        (core_mean, core): (Vec<f64>, Square),
        sites: &[(f64, f64)],
        mut border: Vec<f64>,
    ) -> Self {
        let n = core_mean.len();
        let mut site_mean = Vec::with_capacity(sites.len());
        let mut site_variance = Vec::with_capacity(sites.len());
        for (at, (precision, pull)) in sites.iter().enumerate() {
            let row = row_mut(&mut border, n, at);
            site_mean.push((pull - dot(row, &core_mean)) / precision);
            let with: Vec<f64> = (0..n).map(|j| -dot(row, core.row(j)) / precision).collect();
            site_variance.push((1.0 - dot(row, &with)) / precision);
            row.copy_from_slice(&with);
        }
        Self {
            n_subjects,
            core_mean,
            core,
            site_mean,
            site_variance,
            border,
        }
    }

    const fn contractor_at(&self, contractor: usize) -> usize {
        self.n_subjects.saturating_add(contractor)
    }

    /// Mean and variance of a subject.
    pub(super) fn subject(&self, at: usize) -> (f64, f64) {
        (self.core_mean[at], self.core.get(at, at))
    }

    /// Mean and variance of a site.
    pub(super) fn site(&self, at: usize) -> (f64, f64) {
        (self.site_mean[at], self.site_variance[at])
    }

    /// Mean and variance of a contractor.
    pub(super) fn contractor(&self, at: usize) -> (f64, f64) {
        self.subject(self.contractor_at(at))
    }

    /// Covariance of a subject and a site.
    pub(super) fn subject_with_site(&self, subject: usize, site: usize) -> f64 {
        row_of(&self.border, self.core_mean.len(), site)[subject]
    }

    /// Covariance of a contractor and a site.
    pub(super) fn contractor_with_site(&self, contractor: usize, site: usize) -> f64 {
        self.subject_with_site(self.contractor_at(contractor), site)
    }

    /// Covariance of a subject and a contractor.
    pub(super) fn subject_with_contractor(&self, subject: usize, contractor: usize) -> f64 {
        self.core.get(subject, self.contractor_at(contractor))
    }

    /// Covariance of two contractors.
    pub(super) fn contractors(&self, one: usize, other: usize) -> f64 {
        self.core
            .get(self.contractor_at(one), self.contractor_at(other))
    }

    /// Mean and variance of what jobs of a subject, site and contractor come to, chance left out.
    pub(super) fn of(&self, place: Place) -> (f64, f64) {
        let (subject, site) = (self.subject(place.subject), self.site(place.site));
        let contractor = self.contractor(place.contractor);
        let together = self.subject_with_site(place.subject, place.site)
            + self.contractor_with_site(place.contractor, place.site)
            + self.subject_with_contractor(place.subject, place.contractor);
        (
            subject.0 + site.0 + contractor.0,
            subject.1 + site.1 + contractor.1 + 2.0 * together,
        )
    }
}

fn row_of(rows: &[f64], n: usize, at: usize) -> &[f64] {
    let start = at.saturating_mul(n);
    &rows[start..start.saturating_add(n)]
}

fn row_mut(rows: &mut [f64], n: usize, at: usize) -> &mut [f64] {
    let start = at.saturating_mul(n);
    &mut rows[start..start.saturating_add(n)]
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// A symmetric positive definite table.
#[derive(Debug, Clone)]
struct Square {
    n: usize,
    cells: Vec<f64>,
}

impl Square {
    fn zero(n: usize) -> Self {
        Self {
            n,
            cells: vec![0.0; n.saturating_mul(n)],
        }
    }

    fn at(&mut self, i: usize, j: usize) -> &mut f64 {
        let at = i.saturating_mul(self.n).saturating_add(j);
        &mut self.cells[at]
    }

    fn get(&self, i: usize, j: usize) -> f64 {
        self.row(i)[j]
    }

    fn row(&self, i: usize) -> &[f64] {
        row_of(&self.cells, self.n, i)
    }

    /// Takes the inverse's place, by Cholesky's factor.
    fn invert(&mut self) {
        // The factor, row by row; what is above its diagonal stays unused.
        for i in 0..self.n {
            for j in 0..=i {
                let rest = self.get(i, j) - dot(&self.row(i)[..j], &self.row(j)[..j]);
                *self.at(i, j) = if i == j {
                    // Each prior is a positive precision, so a pivot cannot reach 0 but by rounding.
                    rest.max(f64::MIN_POSITIVE).sqrt()
                } else {
                    rest / self.get(j, j)
                };
            }
        }
        // The inverse of the factor, each column of it as a row, so that sums run along rows.
        let mut columns = Self::zero(self.n);
        for j in 0..self.n {
            for i in j..self.n {
                let known = dot(&self.row(i)[j..i], &columns.row(j)[j..i]);
                let own = if i == j { 1.0 } else { 0.0 };
                *columns.at(j, i) = (own - known) / self.get(i, i);
            }
        }
        for i in 0..self.n {
            for j in 0..=i {
                let sum = dot(&columns.row(i)[i..], &columns.row(j)[i..]);
                (*self.at(i, j), *self.at(j, i)) = (sum, sum);
            }
        }
    }
}
