//! Every scope, in one table, and the bundles of scopes that the documents speak of.
//!
//! A token carries scopes, never a bundle: bundles are what an issuer may grant to a kind of user.

use super::Scope;

/// One scope.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScopeInfo {
    /// As it stands in the token.
    pub name: &'static str,
    /// What it allows.
    pub meaning: &'static str,
}

macro_rules! scopes {
    ($($marker:ident $name:literal $meaning:literal;)+) => {
        $(
            #[doc = concat!($meaning, " (`", $name, "`)")]
            #[derive(Debug)]
            pub(crate) struct $marker;

            impl Scope for $marker {
                const NAME: &'static str = $name;
            }
        )+

        /// Every scope there is.
        pub static SCOPES: &[ScopeInfo] = &[$(ScopeInfo { name: $name, meaning: $meaning },)+];
    };
}

#[rustfmt::skip]
scopes! {
    SitesRead        "sites:read"        "Read sites and their rate cards.";
    SitesWrite       "sites:write"       "Register sites, change them, issue their rate cards.";
    SurfacesRead     "surfaces:read"     "Read surfaces, what lies on them and what happened to them.";
    SurfacesWrite    "surfaces:write"    "Register surfaces and change them, one by one or in batches.";
    StockRead        "stock:read"        "Read what sites have left over of their products.";
    StockWrite       "stock:write"       "Register what sites have left over, change and delete it.";
    ContractorsRead  "contractors:read"  "Read contractors and their sources.";
    ContractorsWrite "contractors:write" "Register contractors, and the sources from which their own systems report.";
    KnowledgeRead    "knowledge:read"    "Read materials, products, processes and rules.";
    ProductsWrite    "products:write"    "Register products by their data sheets and change them.";
    PlansRead        "plans:read"        "Read plans.";
    PlansWrite       "plans:write"       "Have plans made.";
    EstimatesRead    "estimates:read"    "Read estimates.";
    EstimatesWrite   "estimates:write"   "Have estimates made.";
    CompletionsRead  "completions:read"  "Read completions.";
    CompletionsWrite "completions:write" "Report work done, supersede and void reports.";
    CompletionsReview "completions:review" "Acknowledge in what completions differ from their plans.";
    ReadingsRead     "readings:read"     "Read measured values and observations of floors.";
    ReadingsWrite    "readings:write"    "Record measured values and observations of floors, supersede and void them.";
    ReportsRead      "reports:read"      "Read cost reports.";
    ReportsShare     "reports:share"     "Make links that open a report without a token, and revoke them.";
    SubscriptionsRead "subscriptions:read" "Read who is told of events, and the log of what was sent to them.";
    SubscriptionsWrite "subscriptions:write" "Say who is told of events, and have them sent again.";
    AuditRead        "audit:read"        "Read who did what.";
    TokensRevoke     "tokens:revoke"     "Have tokens refused before they end, and read which are.";
}

/// Bundles of scopes: name and scopes, separated by spaces as a token has them.
pub static BUNDLES: &[(&str, &str)] = &[
    (
        "admin",
        "sites:read sites:write surfaces:read surfaces:write stock:read stock:write contractors:read contractors:write \
         knowledge:read products:write plans:read plans:write estimates:read estimates:write completions:read completions:write \
         completions:review readings:read readings:write reports:read reports:share subscriptions:read subscriptions:write audit:read \
         tokens:revoke",
    ),
    (
        "planner",
        "sites:read surfaces:read surfaces:write stock:read stock:write contractors:read knowledge:read products:write \
         plans:read plans:write estimates:read estimates:write completions:read completions:review readings:read readings:write \
         reports:read",
    ),
    (
        "analyst",
        "sites:read surfaces:read stock:read contractors:read knowledge:read plans:read estimates:read completions:read \
         readings:read reports:read reports:share",
    ),
    (
        "contractor",
        "surfaces:read stock:read stock:write knowledge:read plans:read completions:read completions:write readings:read \
         readings:write",
    ),
];

#[cfg(test)]
mod tests {
    use super::{BUNDLES, SCOPES};

    #[test]
    fn bundles_hold_known_scopes_and_admin_holds_all() {
        let known: Vec<_> = SCOPES.iter().map(|scope| scope.name).collect();
        for (bundle, scopes) in BUNDLES {
            assert!(
                scopes.split(' ').all(|scope| known.contains(&scope)),
                "{bundle}"
            );
        }
        let admin: Vec<_> = BUNDLES[0].1.split(' ').collect();
        assert_eq!(admin, known);
    }
}
