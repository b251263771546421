//! The registry of id kinds: a plan's id cannot stand where a surface's is wanted.
//!
//! On the wire an id is its prefix, an underscore and a lower-case UUID (`srf_01890a5d-…`). To add a kind,
//! append a line to the table below and to `design` of the tables that hold it; never reuse a prefix.

use std::{fmt, str::FromStr};

use uuid::Uuid;

/// Why a text is not an id of the kind that was asked for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseIdError {
    /// The text carries the prefix of another kind, or none.
    #[error("expected an id that starts with `{expected}_`")]
    Prefix {
        /// The prefix that this kind of id has.
        expected: &'static str,
    },
    /// What follows the prefix is not a lower-case hyphenated UUID.
    #[error("what follows `{expected}_` must be a lower-case hyphenated UUID")]
    Uuid {
        /// The prefix that this kind of id has.
        expected: &'static str,
    },
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident $prefix:literal,)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Uuid);

        impl $name {
            /// What every id of this kind starts with on the wire.
            pub const PREFIX: &'static str = $prefix;

            /// The id that a UUID stands for.
            pub const fn from_uuid(uuid: Uuid) -> Self {
                Self(uuid)
            }

            /// The UUID alone, as it is stored.
            pub const fn uuid(self) -> Uuid {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!($prefix, "_{}"), self.0.as_hyphenated())
            }
        }

        impl FromStr for $name {
            type Err = ParseIdError;

            fn from_str(text: &str) -> Result<Self, ParseIdError> {
                parse($prefix, text).map(Self)
            }
        }
    )+};
}

ids! {
    /// Names a budget: what may be spent at a site in a year.
    BudgetId "bdg",
    /// Names a completion: a contractor's report of work done.
    CompletionId "cmp",
    /// Names a link to the completion form of a plan.
    CompletionLinkId "cpl",
    /// Names a contractor: an organisation that does the work.
    ContractorId "con",
    /// Names a delivery: one event on its way to one subscription.
    DeliveryId "dlv",
    /// Names an estimate over many surfaces.
    EstimateId "est",
    /// Names an estimate that is made in the background.
    EstimateJobId "ejb",
    /// Names an event that tells others of a change.
    EventId "evt",
    /// Names a finish word of a tenant's own.
    FinishSynonymId "fin",
    /// Names an import: a file that was handed over with a building, and what becomes of its spaces.
    ImportId "imp",
    /// Names an observation: what was known of a surface's film at a moment.
    ObservationId "obs",
    /// Names a plan for one surface.
    PlanId "pln",
    /// Names a tenant's own product; callers name it by its key.
    ProductId "prd",
    /// Names one edition of a site's rate card.
    RateCardId "rtc",
    /// Names a reading: one measured value.
    ReadingId "rdg",
    /// Names a link to a report.
    ReportLinkId "rpl",
    /// Names a revocation: tokens that are refused before they end.
    RevocationId "rev",
    /// Names a schedule: which bay of which floor is treated when and by whom.
    ScheduleId "sch",
    /// Names a site.
    SiteId "sit",
    /// Names a contractor source: where a contractor's own system sends what happened.
    SourceId "src",
    /// Names something that is left over at a site.
    StockItemId "stk",
    /// Names a subscription: who wants to be told of events, and where.
    SubscriptionId "sub",
    /// Names a surface.
    SurfaceId "srf",
    /// Names a tenant.
    TenantId "ten",
}

/// Accepts one spelling only, so that an id compares equal as text too.
fn parse(prefix: &'static str, text: &str) -> Result<Uuid, ParseIdError> {
    let rest = text
        .strip_prefix(prefix)
        .and_then(|rest| rest.strip_prefix('_'))
        .ok_or(ParseIdError::Prefix { expected: prefix })?;
    let malformed = ParseIdError::Uuid { expected: prefix };
    let uuid = Uuid::try_parse(rest).map_err(|_syntax| malformed.clone())?;
    if uuid.as_hyphenated().to_string() == rest {
        Ok(uuid)
    } else {
        Err(malformed)
    }
}

#[cfg(test)]
mod tests {
    use super::{ParseIdError, PlanId, SurfaceId};
    use uuid::Uuid;

    #[test]
    fn an_id_reads_back_what_it_writes() {
        let id = SurfaceId::from_uuid(Uuid::from_u128(0x0189_0a5d_ac96_774b_bcce_b302_099a_8057));
        assert_eq!(id.to_string(), "srf_01890a5d-ac96-774b-bcce-b302099a8057");
        assert_eq!(id.to_string().parse(), Ok(id));
    }

    #[test]
    fn an_id_of_another_kind_is_refused_by_name() {
        let text = PlanId::from_uuid(Uuid::nil()).to_string();
        assert_eq!(
            text.parse::<SurfaceId>(),
            Err(ParseIdError::Prefix { expected: "srf" })
        );
    }

    #[test]
    fn other_spellings_of_the_same_uuid_are_refused() {
        for text in [
            "srf_01890A5D-AC96-774B-BCCE-B302099A8057",
            "srf_01890a5dac96774bbcceb302099a8057",
            "srf_{01890a5d-ac96-774b-bcce-b302099a8057}",
            "srf_",
        ] {
            assert!(text.parse::<SurfaceId>().is_err(), "{text}");
        }
    }
}
