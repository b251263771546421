//! From a survey and a wish to a plan: a pure function of its input, the same bytes for the same input.
//!
//! Every process of the knowledge base is worked out and judged; the wish's goal (or the process that it names)
//! decides which of them answers. No name of a material or a process stands in this module: they are data.
//! A refusal or a missing fact is an answer, not an error.

mod acceptance;
mod answers;
mod bays;
mod candidate;
mod cautions;
mod chemistry;
mod choice;
mod coats;
mod elapsed;
mod events;
mod facts;
mod fit;
mod ground;
mod judge;
mod layout;
mod maker;
mod merit;
mod nights;
mod search;
mod steps;
mod time_line;
mod used;
mod waits;
mod work_up;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

pub use acceptance::{Acceptance, Check, Inspection};
pub use answers::{Answer, Reply, lead_on};
pub use cautions::{Because, CalledFor, Told};
pub use chemistry::{AcidDose, Chemistry, Corrosive, Neutralising, RoomVapour, SlurryPh};
pub(crate) use choice::floor_facts;
pub(crate) use coats::recoat_of;
pub(crate) use facts::add_process;
pub use fit::{Way, WayKind, WindowFit};
pub use judge::{Finding, Question};
pub use layout::{BayLayout, DrawnBay, MAX_BAYS, PlannedBay, Shape};
pub use nights::Night;
pub use search::{RuleSearch, rules_about};
pub(crate) use steps::is_built_up;
pub use steps::{Coat, Direction, Dwell, PlannedStep, StepProduct};
pub use time_line::{Event, TimeLine};
pub use waits::{RuledBy, Shortening, Wait};

use crate::{
    card::RateCard,
    estimate::{
        basis::Basis,
        cost::CostSheet,
        labour::LabourLine,
        outlook::Outlook,
        pads::PadLine,
        quantities::{ProductLine, WaterLine},
        spread::Percentiles,
    },
    knowledge::{IdentificationTest, KnowledgeBase, Material, Product, Products},
    money::Money,
    quantity::{Labour, Volume},
    stock::Stock,
    survey::{Climate, Criterion, Survey, Wish},
    words::words,
};

words! {
    /// What a plan says of the wish.
    Verdict {
        /// Go ahead.
        Allowed "allowed",
        /// Go ahead, and mind the warnings.
        AllowedWithWarnings "allowed_with_warnings",
        /// A fact is missing that could change the answer.
        NeedsInformation "needs_information",
        /// No.
        Refused "refused",
    }
    /// The three parts of floor care.
    Stage {
        /// Before anything is laid.
        Prepare "prepare",
        /// Laying what takes the wear.
        Protect "protect",
        /// Keeping it.
        Maintain "maintain",
    }
}

/// All that a plan is made from.
#[derive(Debug, Clone, Copy)]
pub struct PlanInput<'a> {
    /// The floor.
    pub survey: &'a Survey,
    /// What is wished.
    pub wish: &'a Wish,
    /// The air over it.
    pub climate: &'a Climate,
    /// What work costs there.
    pub card: &'a RateCard,
    /// The country of the site, ISO 3166.
    pub country: &'a str,
    /// What the planner knows.
    pub base: &'a KnowledgeBase,
    /// The tenant's own products, which come before those of the knowledge base.
    pub own_products: &'a [Product],
    /// What the site has left over: it is used before anything is bought.
    pub stock: Stock<'a>,
    /// Whether nobody has read or told that air: it is what is usual.
    pub climate_assumed: bool,
    /// When the plan is made; decides how old the floor is.
    pub now: DateTime<Utc>,
    /// The time zone of the site: days begin and end by its clock.
    pub zone: Tz,
}

impl<'a> PlanInput<'a> {
    /// The material that the survey names.
    fn material(&self) -> Result<&'a Material, DraftPlanError> {
        let key = &self.survey.material;
        let found = self.base.material(key);
        found.ok_or_else(|| DraftPlanError::UnknownMaterial { key: key.clone() })
    }

    /// The products to choose from.
    pub const fn products(&self) -> Products<'a> {
        Products {
            base: self.base,
            own: self.own_products,
        }
    }
}

/// A process that was considered.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Its key.
    pub process: String,
    /// Its name.
    pub name: String,
    /// What the rules say of it.
    pub verdict: Verdict,
    /// Whether it is the right choice for this floor and wish; `None` where a missing fact decides.
    pub suits: Option<bool>,
    /// Why, or why not.
    pub why: String,
    /// The rules that refuse it, ask for a fact or warn, hardest first.
    pub rules: Vec<String>,
    /// Working time of all operatives; `None`, as all figures, where another trade does the work.
    pub labour: Option<Labour>,
    /// Minutes from closing the floor to walking on it again, done in one go.
    pub elapsed_min: Option<i64>,
    /// Minutes for which the floor is closed: over all access windows where one was given.
    pub closed_min: Option<i64>,
    /// Price before tax.
    pub net: Option<Money>,
    /// Price before tax, spread over the days until it is due again, per year.
    pub net_per_year: Option<Money>,
    /// Days until it is due again, at this traffic.
    pub due_again_days: Option<i64>,
    /// Clean water, that for diluting included.
    pub water: Option<Volume>,
    /// Solvent that goes into the air, in grams; by the middle of its class where a product's figure is not known.
    pub voc_g: Option<i64>,
    /// Warnings, by what is at risk.
    pub risk: Risk,
}

/// How many warnings there are, by what is at risk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Risk {
    /// People.
    pub safety: usize,
    /// The floor.
    pub substrate: usize,
    /// A maker's word or a contract.
    pub warranty: usize,
    /// The look of the floor.
    pub appearance: usize,
}

/// A process by its key and its name for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProcessRef {
    /// The key.
    pub key: String,
    /// The name.
    pub name: String,
}

/// A trade that takes over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Referral {
    /// Who.
    pub trade: String,
    /// What they are handed.
    pub hand_over: Vec<String>,
}

/// What is done, with what, for how long and for how much: present when the verdict allows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    /// The steps, in order.
    pub steps: Vec<PlannedStep>,
    /// Labour by activity.
    pub labour: Vec<LabourLine>,
    /// Products and what is ordered of them.
    pub products: Vec<ProductLine>,
    /// Clean water, and slurry to get rid of.
    pub water: WaterLine,
    /// What the work does to water, air and drain.
    pub chemistry: Chemistry,
    /// Pads.
    pub pads: Vec<PadLine>,
    /// When what may happen on the floor.
    pub time_line: TimeLine,
    /// The shape of the floor, if it has an outline.
    pub shape: Option<Shape>,
    /// The bays in which the work is done, by its parts.
    pub layouts: Vec<BayLayout>,
    /// What it costs.
    pub cost: CostSheet,
    /// How hours, product and money may turn out.
    pub outlook: Outlook,
    /// Minutes from closing to walking on it, done in one go, as they may turn out.
    pub elapsed_min: Percentiles,
    /// When the floor may be handed over.
    pub acceptance: Acceptance,
    /// Why each number is what it is.
    pub basis: Vec<Basis>,
}

/// The answer for one floor.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What is said of the wish.
    pub verdict: Verdict,
    /// The process that the verdict is about.
    pub process: String,
    /// Its name.
    pub process_name: String,
    /// The rules that fired for it.
    pub findings: Vec<Finding>,
    /// What must be known before there is an answer.
    pub questions: Vec<Question>,
    /// What would narrow the cost, and changes nothing else.
    pub open_questions: Vec<Question>,
    /// Field tests that would tell what nobody knows of this floor or what lies on it.
    pub identification: Vec<IdentificationTest>,
    /// Processes that are right whatever the answers are.
    pub meanwhile: Vec<ProcessRef>,
    /// Processes that could be done in place of a refused one.
    pub instead: Vec<ProcessRef>,
    /// Who takes over, where a licensed or specialist trade must.
    pub referral: Option<Referral>,
    /// All that were considered for this wish, best first.
    pub candidates: Vec<Candidate>,
    /// What decided between those that are right and allowed, first things first.
    pub priorities: Vec<Criterion>,
    /// Whether the work fits the access window, and what would make it fit; [`lead_on`] adds it to a single plan.
    pub window: Option<WindowFit>,
    /// What to mind, worst first: in the work, or on the floor as it is where there is none.
    pub cautions: Vec<CalledFor>,
    /// The work, where the verdict allows it.
    pub work: Option<Work>,
}

/// Why no plan could be made: the request names something that does not exist, or the data cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DraftPlanError {
    /// The survey names a material that the knowledge base does not have.
    #[error("no material is named `{key}`")]
    UnknownMaterial {
        /// What was named.
        key: String,
    },
    /// The wish names a process that the knowledge base does not have.
    #[error("no process is named `{key}`")]
    UnknownProcess {
        /// What was named.
        key: String,
    },
    /// The wish names a product that the knowledge base does not have, or not for that class.
    #[error("no product for the class `{class}` is named `{key}`")]
    UnknownProduct {
        /// The class that it was named for.
        class: String,
        /// What was named.
        key: String,
    },
    /// The wish names a machine or a pad that the knowledge base does not have.
    #[error("no machine or pad is named `{key}`")]
    UnknownTool {
        /// What was named.
        key: String,
    },
    /// Air or floor outside what the physics covers.
    #[error("the climate cannot be used: {reason}")]
    Climate {
        /// Which reading, and its range.
        reason: String,
    },
    /// A figure of the rate card or the knowledge base leads nowhere.
    #[error("{what} cannot be worked out")]
    Figure {
        /// Which.
        what: String,
    },
}

/// Makes the plan for one floor.
///
/// # Errors
/// [`DraftPlanError`] where the request names something that does not exist or a figure cannot be used; a floor on
/// which nothing may be done is an answer ([`Verdict::Refused`]), not an error.
pub fn draft_plan(input: &PlanInput<'_>) -> Result<Plan, DraftPlanError> {
    choice::choose(input)
}

/// What the process that the wish of `input` names takes and costs on its floor, and what the rules say of it there: the figures
/// that a plan would have, without texts and without an outlook.
///
/// # Errors
/// As [`draft_plan`]; also where the wish names no process.
pub fn price(input: &PlanInput<'_>) -> Result<(Verdict, Work), DraftPlanError> {
    choice::price(input)
}
