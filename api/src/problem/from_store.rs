//! What the store could not do, told as problems; each kind once, and none of its internals.

use infra::store::{Constraint, StoreError};

use super::{Chain, Code, Problem};

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Conflict { constraint } => conflict(constraint),
            StoreError::StaleVersion => Self::new(
                Code::StaleVersion,
                "Somebody else changed the record meanwhile.",
            ),
            StoreError::Contended => Self::new(
                Code::Contended,
                "Others were writing the same records for too long.",
            ),
            StoreError::Unavailable { .. } => {
                tracing::error!(cause = %Chain(&error), "the database gives no answer");
                Self::new(Code::Unavailable, "The database does not answer.")
            }
            StoreError::TooLong { .. } => {
                tracing::warn!(cause = %Chain(&error), "a statement was given up");
                Self::new(Code::TimedOut, "The database took too long over it.")
            }
            StoreError::Overflow | StoreError::Corrupt { .. } | StoreError::Driver { .. } => {
                Self::internal(&error)
            }
        }
    }
}

/// A rule between rows; those that a caller cannot break by what he sends are our own mistakes.
fn conflict(constraint: Constraint) -> Problem {
    let taken = |detail: &'static str| Problem::new(Code::AlreadyExists, detail);
    match constraint {
        Constraint::FinishWord => taken("You have told what this word means: delete that first."),
        Constraint::BudgetYear => taken("The site has a budget for this year: change that one."),
        Constraint::ContractorExternal => taken("Another contractor has this external id."),
        Constraint::SiteExternal => taken("Another site has this external id."),
        Constraint::SurfaceExternal => taken("Another surface has this external id."),
        Constraint::ProductKey => taken("Another product has this key."),
        // Tried again, the one that was first is found and named.
        Constraint::CompletionExternal
        | Constraint::ObservationExternal
        | Constraint::ReadingExternal => Problem::new(
            Code::Contended,
            "Another request recorded the same external id meanwhile: read it, or send this again.",
        ),
        Constraint::RateCardNumber => {
            Problem::new(Code::Contended, "The rate card was changed meanwhile.")
        }
        Constraint::CompletionSupersedes => Problem::new(
            Code::StateConflict,
            "Another completion supersedes this one already.",
        ),
        Constraint::TenantKey => taken("Another tenant has this key."),
        Constraint::Reference => Problem::new(
            Code::StateConflict,
            "A record that this one names is gone, or is still named.",
        ),
        Constraint::Identity => Problem::internal(&StoreError::Conflict { constraint }),
    }
}
