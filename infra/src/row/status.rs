//! Where a row stands in its life.

use std::{fmt, str::FromStr};

/// A word that is none of those that a status column may hold.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no status of this table")]
pub struct UnknownStatus(pub String);

macro_rules! statuses {
    ($($(#[$doc:meta])* $name:ident { $($(#[$word_doc:meta])* $variant:ident $word:literal,)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$word_doc])* $variant,)+ }

        impl $name {
            /// All of them, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The word that is stored and sent.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl FromStr for $name {
            type Err = UnknownStatus;

            fn from_str(text: &str) -> Result<Self, UnknownStatus> {
                match text {
                    $($word => Ok(Self::$variant),)+
                    _ => Err(UnknownStatus(text.to_owned())),
                }
            }
        }
    )+};
}

statuses! {
    /// The life of a plan: proposed, then accepted, then superseded or withdrawn.
    PlanStatus {
        /// Nobody has agreed to it yet.
        Proposed "proposed",
        /// It is to be done.
        Accepted "accepted",
        /// A later plan took its place.
        Superseded "superseded",
        /// It is not to be done.
        Withdrawn "withdrawn",
    }
    /// The life of a product; it is never deleted.
    ProductStatus {
        /// Plans may choose it.
        InUse "in_use",
        /// It is used no more; what names it still knows it.
        Withdrawn "withdrawn",
    }
    /// The life of a reading or an observation; it is never edited.
    FactStatus {
        /// It counts.
        Recorded "recorded",
        /// A correction counts in its place.
        Superseded "superseded",
        /// It counts no more, and nothing in its place.
        Voided "voided",
    }
    /// The life of work in the background.
    JobStatus {
        /// Nobody has begun.
        Queued "queued",
        /// It is being worked on.
        Running "running",
        /// It is done.
        Succeeded "succeeded",
        /// It could not be done.
        Failed "failed",
        /// Somebody took it back.
        Cancelled "cancelled",
    }
    /// How far whoever works on a file is, in this order.
    ImportStage {
        /// Nobody has begun.
        Waiting "waiting",
        /// The file is read.
        Reading "reading",
        /// Its spaces are held against what is registered.
        Matching "matching",
        /// What becomes of them is written.
        Applying "applying",
    }
    /// The life of a contractor source.
    SourceStatus {
        /// What it sends is taken.
        Enabled "enabled",
        /// What it sends is refused.
        Disabled "disabled",
    }
    /// The life of a subscription.
    SubscriptionStatus {
        /// It is told of events.
        Enabled "enabled",
        /// It is told nothing for now.
        Disabled "disabled",
        /// It is told nothing any more; it stays for the log of its deliveries.
        Deleted "deleted",
    }
    /// Why a subscription is told nothing.
    DisabledBecause {
        /// Somebody said so.
        Asked "asked",
        /// Its receiver said that it wants nothing any more.
        Gone "gone",
        /// Its receiver took nothing for too long.
        Failing "failing",
    }
    /// The life of a delivery.
    DeliveryStatus {
        /// It waits for its next attempt, or is being tried.
        Pending "pending",
        /// The receiver took it.
        Delivered "delivered",
        /// It is not tried again unless somebody says so.
        Dead "dead",
        /// Its subscription was deleted before it arrived.
        Cancelled "cancelled",
    }
    /// The life of a link to a report.
    LinkStatus {
        /// It opens the report until it expires.
        Active "active",
        /// It opens nothing.
        Revoked "revoked",
    }
    /// Whether a completion differs from its plan, and whether somebody has yet to look at it.
    DeviationState {
        /// It does not.
        None "none",
        /// It does, and nobody has acknowledged all of it.
        Open "open",
        /// It does, and all of it is acknowledged.
        Acknowledged "acknowledged",
    }
    /// The life of a completion; it is never edited.
    CompletionStatus {
        /// It counts.
        Recorded "recorded",
        /// A correction counts in its place.
        Superseded "superseded",
        /// Nothing counts in its place.
        Voided "voided",
    }
}
