//! What is wished for a floor, on the wire.

use domain::{
    knowledge::KnowledgeBase,
    quantity::Length,
    survey::{Finish, GivenWaits, Goal, Limits, Neutralise, Wish},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::body::Faults;

/// What is wished for a floor.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"goal": "restore", "finish": "gloss", "limits": {"window_min": 480}}))]
pub(crate) struct WishRequest {
    /// To what end.
    pub(crate) goal: GoalWord,
    /// The key of the process that must be the one; a refusal is not overruled by it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        min_length = 1,
        max_length = 60,
        pattern = "^[a-z][a-z0-9_]*$"
    )]
    pub(crate) process: Option<String>,
    /// The finish.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) finish: Option<FinishWord>,
    /// Limits and choices.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) limits: Option<LimitsRequest>,
}

macro_rules! mirrored {
    ($($(#[$doc:meta])* $name:ident => $domain:ident { $($variant:ident),+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
        #[serde(rename_all = "snake_case")]
        pub(crate) enum $name { $(#[doc = stringify!($variant)] $variant),+ }

        impl From<$name> for $domain {
            fn from(word: $name) -> Self {
                match word { $($name::$variant => Self::$variant),+ }
            }
        }
    )+};
}

mirrored! {
    /// To what end work is wished.
    GoalWord => Goal { Clean, Maintain, Restore, Protect, MakeSafe }
    /// A finish.
    FinishWord => Finish { Matt, Satin, Gloss }
    /// How a stripped floor is neutralised.
    NeutraliseWord => Neutralise { Rinse, Acid }
}

/// Limits and choices of the caller.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LimitsRequest {
    /// Coats of polish.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 12)]
    pub(crate) polish_coats: Option<i64>,
    /// Coats of seal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 6)]
    pub(crate) seal_coats: Option<i64>,
    /// How far early coats stop short of the skirting, in mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 500)]
    pub(crate) edge_gap_mm: Option<i64>,
    /// Operatives who work at the same time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 50)]
    pub(crate) crew_size: Option<i64>,
    /// Length of one access window in minutes; work that is longer is spread over several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 15, maximum = 10080)]
    pub(crate) window_min: Option<i64>,
    /// How a stripped floor is neutralised; by default with acid only where the floor stands it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) neutralise: Option<NeutraliseWord>,
    /// Waits of your own, in place of those worked out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) waits: Option<WaitsRequest>,
}

/// Waits that the caller has measured or decided, in minutes.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[expect(
    clippy::struct_field_names,
    reason = "the unit is part of a member's name"
)]
pub(crate) struct WaitsRequest {
    /// From the last rinse to the first coat.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 10080)]
    pub(crate) rinse_to_coat_min: Option<i64>,
    /// From one coat to the next.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 10080)]
    pub(crate) between_coats_min: Option<i64>,
    /// From the last coat to walking on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 10080)]
    pub(crate) to_foot_min: Option<i64>,
    /// From mopping or rinsing a floor that stays bare to walking on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 10080)]
    pub(crate) mop_to_foot_min: Option<i64>,
}

impl WishRequest {
    /// The wish, and a fault at `pointer` if it names a process that does not exist.
    pub(crate) fn wish(&self, base: &KnowledgeBase, pointer: &str, faults: &mut Faults) -> Wish {
        if let Some(key) = self
            .process
            .as_deref()
            .filter(|key| base.process(key).is_none())
        {
            let detail = format!("No process is named `{key}`; GET /v1/processes lists them.");
            faults.push(format!("{pointer}/process"), "unknown_process", detail);
        }
        Wish {
            goal: self.goal.into(),
            process: self.process.clone(),
            finish: self.finish.map(Into::into),
            limits: self
                .limits
                .as_ref()
                .map(LimitsRequest::limits)
                .unwrap_or_default(),
        }
    }
}

impl LimitsRequest {
    fn limits(&self) -> Limits {
        let waits = self.waits.clone().unwrap_or_default();
        Limits {
            polish_coats: self.polish_coats,
            seal_coats: self.seal_coats,
            edge_gap: self.edge_gap_mm.map(Length::from_mm),
            crew_size: self.crew_size,
            window_min: self.window_min,
            neutralise: self.neutralise.map(Into::into),
            waits: GivenWaits {
                rinse_to_coat_min: waits.rinse_to_coat_min,
                between_coats_min: waits.between_coats_min,
                to_foot_min: waits.to_foot_min,
                mop_to_foot_min: waits.mop_to_foot_min,
            },
        }
    }
}
