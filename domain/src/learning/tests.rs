//! Learning against a reference table, against itself, and against estates of which the truth is known.

mod calibration;
mod laws;
mod reference;

use std::collections::BTreeMap;

use uuid::Uuid;

use super::{Job, Prior};
use crate::id::{CompletionId, ContractorId, SiteId};

/// A completion by its number.
fn completion(n: u128) -> CompletionId {
    CompletionId::from_uuid(Uuid::from_u128(n))
}

/// A site by its number.
fn site(n: u128) -> SiteId {
    SiteId::from_uuid(Uuid::from_u128(n))
}

/// A contractor by its number; 0 is nobody.
fn contractor(n: u128) -> Option<ContractorId> {
    (n > 0).then(|| ContractorId::from_uuid(Uuid::from_u128(n)))
}

/// A job of today that has its whole word.
fn job(n: u128, subject: &str, (at, by): (u128, u128), value: f64) -> Job {
    Job {
        completion: completion(n),
        subject: subject.to_owned(),
        site: site(at),
        contractor: contractor(by),
        value,
        share: 1.0,
        months: 0,
    }
}

fn priors(rows: &[(&str, f64, f64)]) -> BTreeMap<String, Prior> {
    let prior = |(subject, mean, sd): &(&str, f64, f64)| {
        let prior = Prior::new(*mean, *sd).expect("usable");
        ((*subject).to_owned(), prior)
    };
    rows.iter().map(prior).collect()
}
