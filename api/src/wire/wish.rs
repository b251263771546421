//! What is wished for a floor, on the wire.

mod arrangements;

use std::collections::BTreeMap;

use domain::{
    knowledge::Products,
    quantity::{Length, whole},
    survey::{Criterion, Finish, GivenWaits, Goal, Limits, Neutralise, Skill, Strength, Wish},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub(crate) use arrangements::ArrangementsRequest;

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
    /// What counts most where several processes are right and allowed, first things first; what is not named follows in
    /// the order safety, substrate, warranty, cost_per_year, appearance. No order leads past a refusal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 1, max_items = 8)]
    pub(crate) priorities: Option<Vec<CriterionWord>>,
    /// Limits and choices.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) limits: Option<LimitsRequest>,
    /// What is arranged for the work, as far as it is; nothing is taken for granted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) arrangements: Option<ArrangementsRequest>,
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
    /// What speaks for one process and against another.
    CriterionWord => Criterion { Safety, Substrate, Warranty, CostPerYear, Appearance, Downtime, Water, Voc }
    /// How a stripped floor is neutralised.
    NeutraliseWord => Neutralise { Rinse, Acid }
    /// How practised operatives are.
    SkillWord => Skill { Trainee, Trained, Skilled }
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
    /// How practised they are; trained if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) skill: Option<SkillWord>,
    /// Length of one access window in minutes; work that is longer is spread over several. Without it the longest of
    /// the surface's own `access_windows` counts.
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
    /// Products of your own choice, at most one for a class; the rules judge them like any other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 20)]
    pub(crate) products: Option<Vec<ProductChoice>>,
    /// The machine to work with, where one of its kind is used; `GET /v1/tools` lists them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        min_length = 1,
        max_length = 60,
        pattern = "^[a-z][a-z0-9_]*$"
    )]
    pub(crate) machine: Option<String>,
    /// The pad to work with, where a machine turns one; `GET /v1/tools` lists them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        min_length = 1,
        max_length = 60,
        pattern = "^[a-z][a-z0-9_]*$"
    )]
    pub(crate) pad: Option<String>,
}

/// The product to use where a process asks for a class of products.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"class": "seal", "product": "lacquer_water_wood"}))]
pub(crate) struct ProductChoice {
    /// The class.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) class: String,
    /// The key of the product.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) product: String,
    /// Parts of water to one part of concentrate, in place of its label's: `1:10` is 10. Kept to a thousandth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1000)]
    pub(crate) dilution: Option<f64>,
    /// The same as the share of concentrate in the solution, in %: `1:10` is 9.09. The parts win where both are there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0.05, maximum = 100)]
    pub(crate) strength_pct: Option<f64>,
}

/// Waits in minutes: measured, decided, or asked for by a floor's maker.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
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
    /// From the last coat to furniture and rolling loads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 44640)]
    pub(crate) to_furniture_min: Option<i64>,
    /// From the last coat to wet cleaning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 44640)]
    pub(crate) to_wet_clean_min: Option<i64>,
    /// How long a stripper or cleaner is left to work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 240)]
    pub(crate) dwell_min: Option<i64>,
}

impl WishRequest {
    /// The wish, and a fault below `pointer` for each process or product in it that does not exist.
    pub(crate) fn wish(&self, known: Products<'_>, pointer: &str, faults: &mut Faults) -> Wish {
        if let Some(key) = self
            .process
            .as_deref()
            .filter(|key| known.base.process(key).is_none())
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
            priorities: self
                .priorities
                .iter()
                .flatten()
                .map(|word| (*word).into())
                .collect(),
            products: self.products(known, pointer, faults),
            strengths: self.strengths(),
            machine: self.tool(pointer, "machine", faults, |key| {
                known.base.machine(key).is_some()
            }),
            pad: self.tool(pointer, "pad", faults, |key| known.base.pad(key).is_some()),
            arrangements: self
                .arrangements
                .as_ref()
                .map(Into::into)
                .unwrap_or_default(),
        }
    }

    /// The strengths in which the products of some classes are to be used.
    fn strengths(&self) -> BTreeMap<String, Strength> {
        let thousandths = |value: Option<f64>| value.and_then(|value| whole(value * 1e3));
        let choices = self
            .limits
            .iter()
            .flat_map(|limits| limits.products.iter().flatten());
        let given = choices.map(|choice| {
            let strength = Strength {
                parts_thousandths: thousandths(choice.dilution),
                pct_thousandths: thousandths(choice.strength_pct),
            };
            (choice.class.clone(), strength)
        });
        given
            .filter(|(_, strength)| *strength != Strength::default())
            .collect()
    }

    /// The key of a tool, and a fault if it is not known.
    fn tool(
        &self,
        pointer: &str,
        member: &str,
        faults: &mut Faults,
        is_known: impl Fn(&str) -> bool,
    ) -> Option<String> {
        let limits = self.limits.as_ref()?;
        let (key, code) = match member {
            "machine" => (limits.machine.as_ref()?, "unknown_machine"),
            _ => (limits.pad.as_ref()?, "unknown_pad"),
        };
        if !is_known(key) {
            let detail = format!("No {member} is named `{key}`; GET /v1/tools lists them.");
            faults.push(format!("{pointer}/limits/{member}"), code, detail);
        }
        Some(key.clone())
    }

    /// The named products by class, and a fault for each that is not known or not of its class.
    fn products(
        &self,
        known: Products<'_>,
        pointer: &str,
        faults: &mut Faults,
    ) -> BTreeMap<String, String> {
        let named = self
            .limits
            .as_ref()
            .and_then(|limits| limits.products.as_ref());
        let mut chosen = BTreeMap::new();
        for (index, choice) in named.into_iter().flatten().enumerate() {
            let at = format!("{pointer}/limits/products/{index}");
            let (class, key) = (&choice.class, &choice.product);
            if known.product(key).is_none_or(|row| !row.serves(class)) {
                let detail = format!(
                    "No product for the class `{class}` is named `{key}`; GET /v1/products lists them."
                );
                faults.push(format!("{at}/product"), "unknown_product", detail);
            } else if chosen.insert(class.clone(), key.clone()).is_some() {
                let detail = format!("The class `{class}` has a product already.");
                faults.push(format!("{at}/class"), "duplicate", detail);
            }
        }
        chosen
    }
}

impl LimitsRequest {
    fn limits(&self) -> Limits {
        Limits {
            polish_coats: self.polish_coats,
            seal_coats: self.seal_coats,
            edge_gap: self.edge_gap_mm.map(Length::from_mm),
            crew_size: self.crew_size,
            skill: self.skill.map(Into::into),
            window_min: self.window_min,
            neutralise: self.neutralise.map(Into::into),
            waits: self.waits.as_ref().map(Into::into).unwrap_or_default(),
        }
    }
}

impl From<&WaitsRequest> for GivenWaits {
    fn from(waits: &WaitsRequest) -> Self {
        Self {
            rinse_to_coat_min: waits.rinse_to_coat_min,
            between_coats_min: waits.between_coats_min,
            to_foot_min: waits.to_foot_min,
            mop_to_foot_min: waits.mop_to_foot_min,
            to_furniture_min: waits.to_furniture_min,
            to_wet_clean_min: waits.to_wet_clean_min,
            dwell_min: waits.dwell_min,
        }
    }
}
