//! What is wished for a floor, within which limits, and what counts most.

use std::collections::BTreeMap;

use super::{Arrangements, Criterion, Finish, Goal, Neutralise, Skill, Strength};
use crate::quantity::Length;

impl Criterion {
    /// The order in which the trade weighs: people, the floor, promises, money, looks. Common practice, no published
    /// source. The other criteria count only for whoever names them.
    pub const STATED: [Self; 5] = [
        Self::Safety,
        Self::Substrate,
        Self::Warranty,
        Self::CostPerYear,
        Self::Appearance,
    ];
}

/// Waits that the caller has measured or decided, in minutes; they take the place of those worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct GivenWaits {
    /// From the last rinse to the first coat.
    pub rinse_to_coat_min: Option<i64>,
    /// From one coat to the next.
    pub between_coats_min: Option<i64>,
    /// From the last coat to walking on it.
    pub to_foot_min: Option<i64>,
    /// From mopping or rinsing a floor that stays bare to walking on it.
    pub mop_to_foot_min: Option<i64>,
    /// From the last coat to furniture and rolling loads.
    pub to_furniture_min: Option<i64>,
    /// From the last coat to wet cleaning.
    pub to_wet_clean_min: Option<i64>,
    /// How long a stripper or cleaner is left to work.
    pub dwell_min: Option<i64>,
}

/// Limits and choices of the caller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Limits {
    /// Coats of polish.
    pub polish_coats: Option<i64>,
    /// Coats of seal.
    pub seal_coats: Option<i64>,
    /// How far early coats stop short of the skirting.
    pub edge_gap: Option<Length>,
    /// Operatives who work at the same time.
    pub crew_size: Option<i64>,
    /// How practised they are.
    pub skill: Option<Skill>,
    /// Length of one access window in minutes.
    pub window_min: Option<i64>,
    /// How a stripped floor is neutralised.
    pub neutralise: Option<Neutralise>,
    /// Waits that the caller gives.
    pub waits: GivenWaits,
}

/// What is wished for a floor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wish {
    /// To what end.
    pub goal: Goal,
    /// The key of a process that must be the one.
    pub process: Option<String>,
    /// The finish.
    pub finish: Option<Finish>,
    /// Limits and choices.
    pub limits: Limits,
    /// What counts most where several processes are right and allowed, first things first; what is not named follows
    /// in the order of [`Criterion::STATED`].
    pub priorities: Vec<Criterion>,
    /// The product to use for a class of products, both by key, in place of the one that the plan would choose.
    pub products: BTreeMap<String, String>,
    /// The strength in which the product of a class is used, in place of its label's.
    pub strengths: BTreeMap<String, Strength>,
    /// The key of the machine to work with, where a machine of its kind is used.
    pub machine: Option<String>,
    /// The colour of the pad to work with, where a machine turns a pad.
    pub pad: Option<String>,
    /// What is arranged for the work.
    pub arrangements: Arrangements,
}

impl Wish {
    /// A goal and nothing else.
    pub fn to(goal: Goal) -> Self {
        Self {
            goal,
            process: None,
            finish: None,
            limits: Limits::default(),
            priorities: Vec::new(),
            products: BTreeMap::new(),
            strengths: BTreeMap::new(),
            machine: None,
            pad: None,
            arrangements: Arrangements::default(),
        }
    }
}
