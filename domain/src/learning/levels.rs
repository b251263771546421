//! Which subjects, sites and contractors the jobs are of, each with its place.

use super::Job;
use crate::id::{ContractorId, SiteId};

/// The subjects, sites and contractors of the jobs that count, each list in order.
#[derive(Debug, Clone, Default)]
pub(super) struct Levels {
    pub(super) subjects: Vec<String>,
    pub(super) sites: Vec<SiteId>,
    pub(super) contractors: Vec<Option<ContractorId>>,
}

/// Where a job stands in each of the lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    pub(super) subject: usize,
    pub(super) site: usize,
    pub(super) contractor: usize,
}

impl Levels {
    /// Those of these jobs.
    pub(super) fn of(jobs: &[&Job]) -> Self {
        Self {
            subjects: distinct(jobs.iter().map(|job| job.subject.clone())),
            sites: distinct(jobs.iter().map(|job| job.site)),
            contractors: distinct(jobs.iter().map(|job| job.contractor)),
        }
    }

    /// Where a job stands; `None` for one of other lists.
    pub(super) fn place(&self, job: &Job) -> Option<Place> {
        Some(Place {
            subject: self.subject(&job.subject)?,
            site: self.site(job.site)?,
            contractor: self.contractor(job.contractor)?,
        })
    }

    /// Where a subject stands.
    pub(super) fn subject(&self, subject: &str) -> Option<usize> {
        let found = self
            .subjects
            .binary_search_by(|known| known.as_str().cmp(subject));
        found.ok()
    }

    /// Where a site stands.
    pub(super) fn site(&self, site: SiteId) -> Option<usize> {
        self.sites.binary_search(&site).ok()
    }

    /// Where a contractor stands.
    pub(super) fn contractor(&self, contractor: Option<ContractorId>) -> Option<usize> {
        self.contractors.binary_search(&contractor).ok()
    }
}

fn distinct<T: Ord>(all: impl Iterator<Item = T>) -> Vec<T> {
    let mut all: Vec<T> = all.collect();
    all.sort_unstable();
    all.dedup();
    all
}
