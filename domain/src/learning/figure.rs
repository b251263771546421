//! What may be expected of a subject at a site: the middle, how far it is known, and how the next job may turn out.

use super::{Learnt, Prior, levels::Place};
use crate::id::{ContractorId, SiteId};
use crate::normal::Z90;

/// Of whom a figure is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// This contractor, or the crew of those jobs that name nobody.
    Contractor(Option<ContractorId>),
    /// Whoever did such work at the site, in the shares in which they did; of a site that has none yet, whoever worked there;
    /// else anyone.
    AsSoFar,
    /// A contractor of whom nothing is known.
    Anyone,
}

/// What jobs and what is usual come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearntFigure {
    /// Mean of the logarithm.
    pub mean_log: f64,
    /// How well it is known: standard deviation of the logarithm.
    pub sd_log: f64,
    /// The same for a single job to come.
    pub next_sd_log: f64,
    /// What is usual without a job.
    pub usual: f64,
    /// Jobs that counted of this subject, at this site and by whom it was asked of.
    pub n_jobs: usize,
    /// Jobs that counted of this subject, anywhere and by anyone.
    pub n_jobs_anywhere: usize,
    /// What the former weigh, where an ordinary job of today weighs 1.
    pub weight: f64,
    /// How much of what was uncertain before any job still is, as variance: 1 without jobs; for a figure that only its own
    /// jobs tell of, the weight that what is usual has in the mean.
    pub from_prior: f64,
}

impl LearntFigure {
    /// The same, its middle held between bounds that no such figure is believed beyond.
    #[must_use]
    pub fn held_within(self, [low, high]: [f64; 2]) -> Self {
        Self {
            mean_log: self.mean_log.max(low.ln()).min(high.ln()),
            ..self
        }
    }

    /// The figure: as likely too low as too high.
    pub fn median(&self) -> f64 {
        self.mean_log.exp()
    }

    /// Between which four of five such figures lie: how well the middle is known.
    pub fn interval_80(&self) -> [f64; 2] {
        around(self.mean_log, self.sd_log)
    }

    /// Between which four of five jobs to come lie.
    pub fn next_job_80(&self) -> [f64; 2] {
        around(self.mean_log, self.next_sd_log)
    }
}

fn around(mean: f64, sd: f64) -> [f64; 2] {
    [(mean - Z90 * sd).exp(), (mean + Z90 * sd).exp()]
}

/// Whoever does the work: each with the place among the contractors, if a job told of them, and the share of the work.
type Crew = Vec<Member>;
type Member = (Option<usize>, f64);

impl Learnt {
    /// What may be expected of a subject at a site; `None` for a subject of which nothing usual is known.
    pub fn figure(&self, subject: &str, site: SiteId, who: Who) -> Option<LearntFigure> {
        let prior = *self.priors.get(subject)?;
        let at = (self.levels.subject(subject), self.levels.site(site));
        let crew = self.crew(at, who);
        let counted = self.counted(at, &crew, who);
        let (mean, variance) = self.moments(prior, at, &crew);
        let differ = self.difference(&crew);
        let before = prior.sd().powi(2)
            + self.spread.site.powi(2)
            + crew.iter().map(|(_at, share)| share.powi(2)).sum::<f64>()
                * self.spread.contractor.powi(2);
        Some(LearntFigure {
            mean_log: prior.mean() + mean,
            sd_log: variance.sqrt(),
            next_sd_log: (variance + differ + self.chance.powi(2)).sqrt(),
            usual: prior.median(),
            n_jobs: counted.0,
            n_jobs_anywhere: self.n_jobs_of(|place| Some(place.subject) == at.0),
            weight: counted.1,
            from_prior: variance / before,
        })
    }

    fn crew(&self, (subject, site): (Option<usize>, Option<usize>), who: Who) -> Crew {
        let anyone = || vec![(None, 1.0)];
        match who {
            Who::Contractor(contractor) => vec![(self.levels.contractor(contractor), 1.0)],
            Who::Anyone => anyone(),
            Who::AsSoFar => {
                let here = |place: &Place| Some(place.site) == site;
                let such = |place: &Place| here(place) && Some(place.subject) == subject;
                self.shares(such)
                    .or_else(|| self.shares(here))
                    .unwrap_or_else(anyone)
            }
        }
    }

    /// In which shares contractors did the jobs that `is_meant`; `None` if there are none.
    fn shares(&self, is_meant: impl Fn(&Place) -> bool) -> Option<Crew> {
        let mut shares = vec![0.0; self.levels.contractors.len()];
        for row in self.rows.iter().filter(|row| is_meant(&row.place)) {
            if let Some(share) = shares.get_mut(row.place.contractor) {
                *share += row.weight();
            }
        }
        let whole: f64 = shares.iter().sum();
        let crew = shares
            .iter()
            .enumerate()
            .filter(|(_at, share)| **share > 0.0);
        let crew: Crew = crew.map(|(at, share)| (Some(at), share / whole)).collect();
        (!crew.is_empty()).then_some(crew)
    }

    /// Mean and variance of subject, site and crew together, as deviations from what is usual.
    fn moments(
        &self,
        prior: Prior,
        (subject, site): (Option<usize>, Option<usize>),
        crew: &[Member],
    ) -> (f64, f64) {
        let known = &self.posterior;
        let unknown = |sd: f64| (0.0, sd.powi(2));
        let of_subject = subject.map_or(unknown(prior.sd()), |at| known.subject(at));
        let of_site = site.map_or(unknown(self.spread.site), |at| known.site(at));
        let (mut mean, mut variance) = (of_subject.0 + of_site.0, of_subject.1 + of_site.1);
        if let (Some(subject), Some(site)) = (subject, site) {
            variance += 2.0 * known.subject_with_site(subject, site);
        }
        for (one, share) in crew {
            let Some(one) = *one else {
                variance += (share * self.spread.contractor).powi(2);
                continue;
            };
            mean += share * known.contractor(one).0;
            let with_subject = subject.map(|at| known.subject_with_contractor(at, one));
            let with_site = site.map(|at| known.contractor_with_site(one, at));
            let together = with_subject.unwrap_or(0.0) + with_site.unwrap_or(0.0);
            variance += 2.0 * share * together;
            for (other, other_share) in crew {
                let both = other.map_or(0.0, |other| known.contractors(one, other));
                variance += share * other_share * both;
            }
        }
        (mean, variance)
    }

    /// The variance that comes of not knowing which of the crew does the next job.
    fn difference(&self, crew: &[Member]) -> f64 {
        let of = |at: &Option<usize>| at.map_or(0.0, |at| self.posterior.contractor(at).0);
        let mean: f64 = crew.iter().map(|(at, share)| share * of(at)).sum();
        let square = |(at, share): &Member| share * (of(at) - mean).powi(2);
        crew.iter().map(square).sum()
    }

    /// How many jobs a figure has of its own, and what they weigh.
    fn counted(
        &self,
        (subject, site): (Option<usize>, Option<usize>),
        crew: &[Member],
        who: Who,
    ) -> (usize, f64) {
        let by = |contractor| {
            matches!(who, Who::AsSoFar | Who::Anyone)
                || crew.iter().any(|(at, _share)| *at == Some(contractor))
        };
        let is_meant = |place: &Place| {
            Some(place.subject) == subject && Some(place.site) == site && by(place.contractor)
        };
        let weights = self.rows.iter().filter(|row| is_meant(&row.place));
        let weight = weights.map(super::fit::Row::weight).sum();
        (self.n_jobs_of(is_meant), weight)
    }

    /// How many completions tell of what `is_meant`.
    fn n_jobs_of(&self, is_meant: impl Fn(&Place) -> bool) -> usize {
        let meant = self.rows.iter().filter(|row| is_meant(&row.place));
        let mut ids: Vec<_> = meant.map(|row| row.completion).collect();
        // Rows are in the order of their completions.
        ids.dedup();
        ids.len()
    }
}
