//! Programmes over years on the wire: what is answered.

use serde::Serialize;
use utoipa::ToSchema;

use super::passage::FirstPassageView;
use crate::wire::{
    basis::BasisView,
    money::MoneyView,
    plan::{Named, RateCardRef},
};

/// Programmes of floors of one site.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProgrammesView {
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    pub(super) site_id: String,
    /// When they were reckoned.
    #[schema(format = DateTime, max_length = 24)]
    pub(super) made_at: String,
    /// The edition of the knowledge base.
    #[schema(max_length = 40)]
    pub(super) knowledge_version: String,
    /// The edition of the rate card.
    pub(super) rate_card: RateCardRef,
    /// For how many months.
    pub(super) months: u32,
    /// The real discount rate in % a year.
    pub(super) discount_rate_pct: f64,
    /// The share of months that may begin below the asked gloss.
    pub(super) below_share_allowed: f64,
    /// The floors, in the order of the request.
    #[schema(max_items = 20)]
    pub(super) surfaces: Vec<SurfaceProgrammesView>,
    /// The first twelve months of the best programmes together.
    #[schema(max_items = 12)]
    pub(super) year_plan: Vec<PlanMonthView>,
    /// How the numbers are made, in words.
    #[schema(max_length = 2000)]
    pub(super) method: &'static str,
}

/// A month of a site.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlanMonthView {
    /// The month.
    #[schema(max_length = 7)]
    pub(super) month: String,
    /// Expected working hours.
    pub(super) hours: f64,
    /// Expected cost before tax: the sum of the floors' months as they are shown.
    pub(super) cost: MoneyView,
    /// Whether the hours are more than the crew has; absent where nobody told how many it has.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) over_capacity: Option<bool>,
}

/// One floor with its programmes.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SurfaceProgrammesView {
    /// The floor.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(super) surface_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    pub(super) surface_name: String,
    /// `compared`; `refused` (every way would lose the grip, or wear the film through); `film_unknown` (nobody knows what lies there: record
    /// an observation); `bare` (nothing lies there that wears: `GET /v1/due` tells what recurs); `not_followed` (of the wear or the renewal
    /// of such a film nothing is known); `film_left_unknown` (nobody counted its coats or told its condition lately: record an
    /// observation); `not_renewable` (no process may renew the film or lay it anew); `no_figure` (material or climate lead nowhere). A
    /// finding says what to do instead.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    pub(super) outcome: &'static str,
    /// Where the programmes begin; absent where none were reckoned.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) start: Option<StartView>,
    /// When it first comes down to its limits if nothing is done beyond cleaning: the gloss that is asked for, the last coat in the lane, the
    /// grip that is kept. None where no programmes were reckoned.
    #[schema(max_items = 3)]
    pub(super) first_passage: Vec<FirstPassageView>,
    /// What can be done, once, on the floor as it most likely lies.
    #[schema(max_items = 6)]
    pub(super) actions: Vec<ActionView>,
    /// The programmes, the best first.
    #[schema(max_items = 4)]
    pub(super) programmes: Vec<ProgrammeView>,
    /// What another course would bring.
    #[schema(max_items = 2)]
    pub(super) explain: Vec<ExplainView>,
    /// What a month below the asked gloss has to be worth for the best programme to be best: 0.00 where cost alone keeps it. Absent where gloss
    /// is not followed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) below_month_worth: Option<MoneyView>,
    /// What is to be said of it, the hardest first.
    #[schema(max_items = 120)]
    pub(super) findings: Vec<ProgrammeFindingView>,
    /// Why the numbers are what they are.
    #[schema(max_items = 20)]
    pub(super) basis: Vec<BasisView>,
}

/// Where programmes begin.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StartView {
    /// What lies on the floor: `polish`, `seal_and_polish`, `seal` or `wax_or_oil`.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    pub(super) film: &'static str,
    /// The gloss that is asked for, in GU. It and the gloss of today are absent on films whose gloss is not followed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) target_gloss_gu: Option<f64>,
    /// The gloss of today by readings and age, in GU.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) gloss_gu: Option<f64>,
    /// Nine of ten times it is at least this.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) gloss_low_gu: Option<f64>,
    /// Nine of ten times it is at most this.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) gloss_high_gu: Option<f64>,
    /// What a thousand passes take from it, in GU.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) gloss_loss_gu_per_kpass: Option<f64>,
    /// How many readings of gloss it rests on.
    pub(super) n_gloss_readings: usize,
    /// The wet pendulum value since the last coat over the whole floor; absent where nobody read it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) ptv_wet: Option<f64>,
    /// The chance that it lies below what is kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) ptv_below_chance: Option<f64>,
    /// How many readings that rests on.
    pub(super) n_ptv_readings: usize,
    /// What the floor has to show today so that the best programme never goes below what is kept.
    pub(super) ptv_needed: f64,
    /// Coats in the lane, the likely count.
    pub(super) coats: f64,
    /// The fewest.
    pub(super) coats_low: f64,
    /// The most.
    pub(super) coats_high: f64,
    /// Whether somebody counted them.
    pub(super) coats_counted: bool,
    /// The fewest coats that a programme may leave in the lane: none of a polish, below which the floor wears on.
    pub(super) coats_least: f64,
}

/// Something that can be done.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ActionView {
    /// `leave`, `buff`, `buff_twice`, `buff_four_times`, `recoat` (what renews the film) or `strip` (what takes it down and lays it anew).
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    pub(super) action: &'static str,
    /// By which process; absent for leaving it alone, or where none suits the floor.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) process: Option<Named>,
    /// What it costs by the planner, before tax; absent where the rules refuse it on this film.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) cost: Option<MoneyView>,
    /// Working hours.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) hours: Option<f64>,
    /// What it costs more over the whole time than the best if it is taken this month, months below the asked gloss at their worth;
    /// absent where rules or grip do not allow it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) extra_if_now: Option<MoneyView>,
}

/// A programme.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProgrammeView {
    /// `best`, `fixed_intervals` (those of the due rules), `longer_intervals` (half as long again) or `leave` (nothing beyond
    /// cleaning).
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    pub(super) kind: &'static str,
    /// Whether it keeps the grip and the film that has to be kept; of the grip `true` also where nobody read it, which a finding tells.
    pub(super) allowed: bool,
    /// The first month that may begin below the grip that is kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 7)]
    pub(super) grip_lost_from: Option<String>,
    /// The greatest chance of that in a month.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) grip_lost_chance: Option<f64>,
    /// The first month that may begin with less film than is allowed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 7)]
    pub(super) film_lost_from: Option<String>,
    /// The greatest chance of that in a month.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) film_lost_chance: Option<f64>,
    /// What it costs, worth today, handing the floor back included.
    pub(super) present_cost: MoneyView,
    /// The even sum at the end of each year that is worth as much.
    pub(super) cost_per_year: MoneyView,
    /// Present cost with months below the asked gloss at their worth: what the best makes least.
    pub(super) weighed_cost: MoneyView,
    /// The share of months that begin below the asked gloss, or worn through; with less film than is allowed where gloss is not followed.
    pub(super) below_share: f64,
    /// What handing the floor back is expected to cost when the time is over, at prices of today.
    pub(super) hand_back: MoneyView,
    /// The same programme at other rates.
    #[schema(max_items = 3)]
    pub(super) at_rates: Vec<AtRateView>,
    /// How often each action is expected over the whole time.
    #[schema(max_items = 6)]
    pub(super) jobs: Vec<JobsView>,
    /// Its first twelve months.
    #[schema(max_items = 12)]
    pub(super) months: Vec<MonthView>,
}

/// A programme at another discount rate.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AtRateView {
    /// In % a year.
    pub(super) discount_rate_pct: f64,
    /// What it costs, worth today.
    pub(super) present_cost: MoneyView,
    /// The even sum at the end of each year that is worth as much.
    pub(super) cost_per_year: MoneyView,
}

/// How often an action is expected.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct JobsView {
    /// The action.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    pub(super) action: &'static str,
    /// In how many months, or the chance of it in one.
    pub(super) expected: f64,
}

/// What a month is expected to bring.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MonthView {
    /// The month in which the middle of these 30.4 days lies; the first begin today.
    #[schema(max_length = 7)]
    pub(super) month: String,
    /// Expected working hours.
    pub(super) hours: f64,
    /// Expected cost before tax, at prices of today.
    pub(super) cost: MoneyView,
    /// The chance that it begins below the asked gloss, or worn through.
    pub(super) below_chance: f64,
    /// The chance of each action that has one, leaving the floor alone apart.
    #[schema(max_items = 5)]
    pub(super) actions: Vec<JobsView>,
}

/// What another course would bring.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ExplainView {
    /// `wait` (nothing for three months, then the best; beside the best) or `longer_intervals` (beside the fixed intervals).
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    pub(super) what: &'static str,
    /// Whether it keeps the grip and the film that has to be kept.
    pub(super) allowed: bool,
    /// What it adds to the present cost; less than nought where it saves. Absent where it is not allowed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) extra_present_cost: Option<MoneyView>,
    /// What it adds to the share of months below the asked gloss. Absent where it is not allowed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) extra_below_share: Option<f64>,
    /// What it adds to the cost with months below at their worth. Absent where it is not allowed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) extra_weighed_cost: Option<MoneyView>,
}

/// Something that is said of a comparison.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProgrammeFindingView {
    /// A stable word.
    #[schema(max_length = 40, pattern = "^[a-z_]+$")]
    pub(super) code: &'static str,
    /// How hard it is: refuse, ask, warn, open or note.
    #[schema(max_length = 10)]
    pub(super) severity: &'static str,
    /// What it says.
    #[schema(max_length = 2000)]
    pub(super) statement: String,
    /// What would clear it; empty where nothing has to.
    #[schema(max_length = 500)]
    pub(super) clears: &'static str,
    /// Where its figures come from.
    #[schema(max_length = 1000)]
    pub(super) source: String,
    /// How far they can be trusted.
    #[schema(max_length = 20)]
    pub(super) grade: &'static str,
}
