//! What one job tells, and what is not believed.

use std::collections::BTreeMap;

use super::{Prior, Terms};
use crate::{
    id::{CompletionId, ContractorId, SiteId},
    words::words,
};

/// What one completion tells of one subject.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The completion.
    pub completion: CompletionId,
    /// What it tells of: an activity, a class of product.
    pub subject: String,
    /// Where it was done.
    pub site: SiteId,
    /// Who did it; work of which nobody is named is taken as that of one crew, the site's own people mostly.
    pub contractor: Option<ContractorId>,
    /// The figure that it came to: m²/h, m²/L, a factor.
    pub value: f64,
    /// How much of a whole job's word it has, above 0 and up to 1: a quarter of an hour tells less than a night.
    pub share: f64,
    /// How many months ago it was.
    pub months: u32,
}

words! {
    /// Why a job is not taken at its word.
    Reason {
        /// Its figure or its share is not a positive number.
        NotPositive "not_positive",
        /// Nothing usual is known of what it tells of.
        UnknownSubject "unknown_subject",
        /// It lies so far from what is usual that it is a slip of the pen.
        OutOfRange "out_of_range",
        /// It lies far from what the other jobs tell: it counts, but little.
        Unusual "unusual",
    }
}

/// A job that is not taken at its word.
#[derive(Debug, Clone, PartialEq)]
pub struct SetAside {
    /// The completion.
    pub completion: CompletionId,
    /// What it tells of.
    pub subject: String,
    /// Where it was done.
    pub site: SiteId,
    /// Who did it.
    pub contractor: Option<ContractorId>,
    /// The figure that it came to.
    pub value: f64,
    /// What it counts, where an ordinary job counts 1: 0 if it is left out.
    pub weight: f64,
    /// Why.
    pub reason: Reason,
}

impl SetAside {
    /// A job, what it counts and why.
    pub(super) fn new(job: &Job, weight: f64, reason: Reason) -> Self {
        Self {
            completion: job.completion,
            subject: job.subject.clone(),
            site: job.site,
            contractor: job.contractor,
            value: job.value,
            weight,
            reason,
        }
    }
}

/// The jobs that count, in an order that is theirs whatever the order they came in, and those that are left out.
pub(super) fn sift<'j>(
    priors: &BTreeMap<String, Prior>,
    jobs: &'j [Job],
    terms: &Terms,
) -> (Vec<&'j Job>, Vec<SetAside>) {
    let mut sorted: Vec<&Job> = jobs.iter().collect();
    let key = |job: &Job| (job.completion, job.site, job.contractor, job.months);
    sorted.sort_by(|a, b| {
        key(a)
            .cmp(&key(b))
            .then_with(|| a.subject.cmp(&b.subject))
            .then_with(|| a.value.total_cmp(&b.value))
            .then_with(|| a.share.total_cmp(&b.share))
    });
    let mut left_out = Vec::new();
    sorted.retain(|job| match fault(priors, job, terms) {
        None => true,
        Some(reason) => {
            left_out.push(SetAside::new(job, 0.0, reason));
            false
        }
    });
    (sorted, left_out)
}

fn fault(priors: &BTreeMap<String, Prior>, job: &Job, terms: &Terms) -> Option<Reason> {
    let is_positive = |value: f64| value.is_finite() && value > 0.0;
    if !is_positive(job.value) || !is_positive(job.share) {
        return Some(Reason::NotPositive);
    }
    let Some(prior) = priors.get(&job.subject) else {
        return Some(Reason::UnknownSubject);
    };
    let off = (job.value.ln() - prior.mean()).abs();
    (off > terms.gate.ln()).then_some(Reason::OutOfRange)
}
