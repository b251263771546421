//! The knowledge base on the wire: materials, processes, products and rules, each with its source and grade.
//!
//! Conditions are sent as the text that the data files hold.

mod identification;
mod process;
mod product;
mod tool;

pub(crate) use identification::{IdentificationTestList, IdentificationTestView};
pub(crate) use process::{ProcessList, ProcessView};
pub(crate) use product::{OwnHead, ProductList, ProductView};
pub(crate) use tool::{
    ActivityList, ActivityView, FinishList, FinishView, ProductClassList, ProductClassView,
    ToolsView,
};

use domain::knowledge::{Material, Rule};
use serde::Serialize;
use utoipa::ToSchema;

/// A floor covering and what it stands.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a row lists properties that a floor has or has not"
)]
pub(crate) struct MaterialView {
    /// The word that names it everywhere.
    #[schema(max_length = 60)]
    key: &'static str,
    /// Its name for people.
    #[schema(max_length = 200)]
    name: &'static str,
    /// Whether anybody knows what the floor is; false for the stand-in of unidentified floors.
    identified: bool,
    /// Whether it is a resilient covering.
    resilient: bool,
    /// Sensitivity to water, 0 none to 4 never wet.
    #[schema(minimum = 0, maximum = 4)]
    water: u8,
    /// Sensitivity to solvents, 0 to 3.
    #[schema(minimum = 0, maximum = 3)]
    solvent: u8,
    /// Sensitivity to acid of vinegar strength, 0 to 3.
    #[schema(minimum = 0, maximum = 3)]
    acid_weak: u8,
    /// Sensitivity to strong acid, 0 to 3.
    #[schema(minimum = 0, maximum = 3)]
    acid_strong: u8,
    /// Sensitivity to alkali, 0 to 3.
    #[schema(minimum = 0, maximum = 3)]
    alkali: u8,
    /// How much the bare floor drinks: none, low, medium or high.
    #[schema(max_length = 20)]
    porosity: &'static str,
    /// Whether a seal belongs on it: never, optional or needed.
    #[schema(max_length = 20)]
    seal: &'static str,
    /// Whether a polish belongs on it: never, optional or yes.
    #[schema(max_length = 20)]
    polish: &'static str,
    /// The hardest pad for routine work, by colour.
    #[schema(max_length = 60)]
    pad_routine: &'static str,
    /// The hardest pad for restorative work, by colour.
    #[schema(max_length = 60)]
    pad_restorative: &'static str,
    /// Lowest pH of routine solutions.
    #[schema(minimum = 0, maximum = 14)]
    ph_min: f64,
    /// Highest pH of routine solutions.
    #[schema(minimum = 0, maximum = 14)]
    ph_max: f64,
    /// Highest pH of restorative solutions.
    #[schema(minimum = 0, maximum = 14)]
    ph_restorative_max: f64,
    /// The wettest mop that it stands: wet, damp or dry.
    #[schema(max_length = 20)]
    mop: &'static str,
    /// Whether a rough face gives it its grip.
    textured: bool,
    /// Whether it left the factory with a wear coat.
    factory_finished: bool,
    /// Whether old floors of this kind were made with asbestos.
    asbestos_era: bool,
    /// Whether it is concrete.
    concrete: bool,
    /// Whether it is wood or cork.
    wood: bool,
    /// Whether it is stone or terrazzo.
    stone: bool,
    /// Whether it is fired tile in cement grout.
    ceramic: bool,
    /// Whether acid dissolves it because it is lime.
    calcareous: bool,
    /// Whether it is a resin that was laid wet.
    resin: bool,
    /// Whether it is wood with a thin layer on top that can be sanded few times.
    veneer: bool,
    /// Whether sport is played on it and its grip was tested for that.
    sports: bool,
    /// What a covering of this name has on it where nobody says otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20)]
    film: Option<&'static str>,
    /// Whether an impregnator belongs into it: never, optional or needed.
    #[schema(max_length = 20)]
    impregnator: &'static str,
    /// How it conducts heat to a drying film: stone, resilient or timber.
    #[schema(max_length = 20)]
    conductance: &'static str,
    /// What else a floor-care lead should know.
    #[schema(max_length = 2000)]
    notes: &'static str,
    /// Where the row comes from.
    #[schema(max_length = 500)]
    source: &'static str,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&'static Material> for MaterialView {
    fn from(row: &'static Material) -> Self {
        let [ph_min, ph_max] = row.ph;
        Self {
            key: &row.key,
            name: &row.name,
            identified: row.identified,
            resilient: row.resilient,
            water: row.water,
            solvent: row.solvent,
            acid_weak: row.acid_weak,
            acid_strong: row.acid_strong,
            alkali: row.alkali,
            porosity: &row.porosity,
            seal: &row.seal,
            polish: &row.polish,
            pad_routine: &row.pad_routine,
            pad_restorative: &row.pad_restorative,
            ph_min,
            ph_max,
            ph_restorative_max: row.ph_restorative_max,
            mop: &row.mop,
            textured: row.textured,
            factory_finished: row.factory_finished,
            asbestos_era: row.asbestos_era,
            concrete: row.concrete,
            wood: row.wood,
            stone: row.stone,
            ceramic: row.ceramic,
            calcareous: row.calcareous,
            resin: row.resin,
            veneer: row.veneer,
            sports: row.sports,
            film: row.film.as_deref(),
            impregnator: &row.impregnator,
            conductance: &row.conductance,
            notes: &row.notes,
            source: &row.source,
            grade: row.grade.word(),
        }
    }
}

/// A rule: when it fires, what it says and why.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct RuleView {
    /// The id that names it everywhere.
    #[schema(max_length = 60)]
    key: &'static str,
    /// What it does when it fires: refuse, ask, warn, open or note.
    #[schema(max_length = 20)]
    severity: &'static str,
    /// What is at risk where it warns: safety, substrate, warranty, appearance or cost.
    #[schema(max_length = 20)]
    concern: &'static str,
    /// When it fires.
    #[schema(max_length = 1000)]
    when: &'static str,
    /// The facts that it asks for when it fires.
    #[schema(max_items = 20)]
    asks: &'static [String],
    /// What it says.
    #[schema(max_length = 1000)]
    statement: &'static str,
    /// Why.
    #[schema(max_length = 1000)]
    reason: &'static str,
    /// What would clear it.
    #[schema(max_length = 1000)]
    clears: &'static str,
    /// The trade that takes over, for refusals that need one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    referral: Option<&'static str>,
    /// What that trade is handed.
    #[schema(max_items = 20)]
    hand_over: &'static [String],
    /// Where the rule comes from.
    #[schema(max_length = 500)]
    source: &'static str,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&'static Rule> for RuleView {
    fn from(row: &'static Rule) -> Self {
        Self {
            key: &row.id,
            severity: row.severity.word(),
            concern: row.concern.unwrap_or_default().word(),
            when: row.when.text(),
            asks: &row.asks,
            statement: &row.statement,
            reason: &row.reason,
            clears: &row.clears,
            referral: row.referral.as_deref(),
            hand_over: &row.hand_over,
            source: &row.source,
            grade: row.grade.word(),
        }
    }
}

/// Declares the whole of a table as a list of one page.
macro_rules! lists {
    ($($(#[$doc:meta])* $name:ident of $row:ty;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Serialize, ToSchema)]
        pub(crate) struct $name {
            /// Every row.
            #[schema(max_items = 1000)]
            items: Vec<$row>,
            /// Always null: the list has one page.
            #[schema(max_length = 512)]
            next_cursor: Option<String>,
        }

        impl FromIterator<$row> for $name {
            fn from_iter<I: IntoIterator<Item = $row>>(rows: I) -> Self {
                Self {
                    items: rows.into_iter().collect(),
                    next_cursor: None,
                }
            }
        }
    )+};
}
use lists;

lists! {
    /// All materials.
    MaterialList of MaterialView;
}

/// A page of rules.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RuleList {
    /// The rules, in the order of the knowledge base.
    #[schema(max_items = 200)]
    items: Vec<RuleView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
