//! How far sites, contractors and single jobs differ, and how much is made of a job.

use super::Kind;

/// How far sites, contractors and jobs differ: standard deviations on the logarithmic scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Between sites.
    pub site: f64,
    /// Between contractors.
    pub contractor: f64,
    /// Between jobs of one contractor at one site.
    pub job: f64,
}

/// The terms on which is learnt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// How far sites, contractors and jobs are taken to differ, until enough jobs tell.
    pub spread: Spread,
    /// With so many jobs the spread itself is learnt; `None` if it never is.
    pub spread_from_jobs: Option<usize>,
    /// Whether odd jobs are expected now and then (Student's t with 4 degrees of freedom) or chance is normal.
    pub heavy_tails: bool,
    /// What a job's weight is multiplied by for each month of its age.
    pub kept_per_month: f64,
    /// A value beyond so many times the usual one, or below such a part of it, is set aside.
    pub gate: f64,
}

impl Terms {
    /// Common practice, no published source: sites differ by about a seventh, contractors by a fifth, jobs by a quarter; what
    /// is older than three years counts little; eight times the usual rate is a slip of the pen.
    pub const USUAL: Self = Self {
        spread: Spread {
            site: 0.15,
            contractor: 0.20,
            job: 0.25,
        },
        spread_from_jobs: Some(30),
        heavy_tails: true,
        kept_per_month: 0.97,
        gate: 8.0,
    };

    /// On which coverage is learnt. Common practice, no published source: litres differ less than hours, as what a film
    /// must be binds them; twice the coverage of a data sheet is a coat that is missing, and half of it a can that was spilt.
    pub const OF_COVERAGE: Self = Self {
        spread: Spread {
            site: 0.10,
            contractor: 0.10,
            job: 0.15,
        },
        gate: 2.0,
        ..Self::USUAL
    };

    /// On which figures of a kind are learnt.
    pub const fn of(kind: Kind) -> Self {
        match kind {
            Kind::Coverage => Self::OF_COVERAGE,
            Kind::Rate | Kind::DryTime => Self::USUAL,
        }
    }
}

impl Default for Terms {
    fn default() -> Self {
        Self::USUAL
    }
}
