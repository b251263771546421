//! What a file tells that is handed over with a building: its storeys and spaces, with areas, edges and floor finishes.
//!
//! Files of several formats are read into one [`Handover`]. Whoever reads says of each figure where it stood and
//! what was odd about it; [`reconcile`] then says what becomes of each space. Nothing is guessed: what a file
//! leaves open stays open.
//!
//! Refuses to know archives, XML and JSON: readers of such files bring their content here.

mod budget;
mod csv;
mod finish;
mod found;
mod ifc;
mod measure;
mod merge;
mod reconcile;
mod step;
#[cfg(test)]
mod tests;
mod text;

use std::fmt;

pub use budget::OutlineBudget;
pub use csv::read_csv;
pub use finish::{FinishMatch, FinishReader, FinishSense, Synonym, THRESHOLD_PCT, match_finish};
pub use found::{FoundFinish, FoundSpace, FoundSurface, SpaceKind, settle};
pub use ifc::read_ifc;
pub use measure::{AreaUnit, Claim, LengthUnit, number, take_area, take_perimeter};
pub use merge::{Member, Merged, merge};
pub use reconcile::{Counts, Decided, Fate, Reason, Reconciled, Registered, Why, reconcile};
pub use text::{clean, is_fit, is_formula, shielded, told, unshielded};

use crate::words::words;

/// The most spaces that are taken from one file.
pub const MAX_SPACES: usize = 20_000;
/// The most different finish texts of one file that are read by the dictionary.
pub const MAX_FINISHES: usize = 2_000;
/// The most characters of a name.
pub const MAX_NAME: usize = 200;
/// The most remarks that are kept of a whole file.
pub const MAX_REMARKS: usize = 100;
/// The most that are kept of one space, beside the first of each concern that keeps it from being registered.
const MAX_REMARKS_OF_SPACE: usize = 20;

/// What a file told.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Handover {
    /// The building, as the file calls it.
    pub facility: Option<String>,
    /// Its storeys, in the order of the file.
    pub storeys: Vec<Storey>,
    /// Its spaces, in the order of the file.
    pub spaces: Vec<FoundSpace>,
    /// What was noticed that concerns no single space.
    pub remarks: Vec<Remark>,
}

impl Handover {
    /// Keeps a remark about the file, up to [`MAX_REMARKS`] of them.
    pub fn remark(&mut self, concern: Concern, detail: impl Into<String>, place: Place) {
        if self.remarks.len() < MAX_REMARKS {
            self.remarks.push(Remark {
                concern,
                detail: detail.into(),
                place,
            });
        }
    }
}

/// Keeps a remark of a space, up to [`MAX_REMARKS_OF_SPACE`] of them.
fn remark(into: &mut Vec<Remark>, concern: Concern, detail: impl Into<String>, place: Place) {
    let is_new = || into.iter().all(|other| other.concern != concern);
    if into.len() < MAX_REMARKS_OF_SPACE || (concern.blocks() && is_new()) {
        into.push(Remark {
            concern,
            detail: detail.into(),
            place,
        });
    }
}

/// A storey.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Storey {
    /// What the file calls it.
    pub name: String,
    /// Where it stands.
    pub place: Place,
}

/// The name that a thing has in the system that it comes from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ExternalName {
    /// Which system.
    pub system: String,
    /// The name there.
    pub id: String,
}

/// The system of ids that models give to what they hold; the same in each file that comes from one model.
pub const GLOBAL_ID_SYSTEM: &str = "ifc";

impl ExternalName {
    /// The name of a thing by the id of its model where `id` is one, else by the system that the file names.
    ///
    /// A table and a model of the same building tell the same ids, so the second finds what the first registered.
    pub fn of(system: &str, id: &str) -> Self {
        let system = if is_global_id(id) {
            GLOBAL_ID_SYSTEM
        } else {
            system
        };
        Self {
            system: system.to_owned(),
            id: id.to_owned(),
        }
    }
}

/// Whether a text is a compressed global id: 22 characters of its alphabet, the first one of four.
///
/// Source: ISO 16739 (IfcGloballyUniqueId), 128 bits by six a character.
fn is_global_id(text: &str) -> bool {
    let legal = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '$';
    text.len() == 22 && text.starts_with(['0', '1', '2', '3']) && text.chars().all(legal)
}

/// Where in a file something stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// Nowhere in particular.
    File,
    /// A sheet of a workbook and its row, from 1.
    Row {
        /// The sheet.
        sheet: &'static str,
        /// The row.
        row: u32,
    },
    /// A part of an archive.
    Part(String),
    /// A line, from 1.
    Line(u64),
    /// An entity by its number.
    Entity(u64),
    /// A feature, from 0.
    Feature(usize),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File => f.write_str("the file"),
            Self::Row { sheet, row } => write!(f, "sheet {sheet}, row {row}"),
            Self::Part(name) => {
                let start: String = name.chars().take(80).collect();
                write!(f, "part {}", start.escape_debug())
            }
            Self::Line(line) => write!(f, "line {line}"),
            Self::Entity(id) => write!(f, "#{id}"),
            Self::Feature(index) => write!(f, "feature {index}"),
        }
    }
}

words! {
    /// The format of a file.
    Format {
        /// A workbook of COBie tables.
        Cobie "cobie",
        /// A building model in STEP text.
        Ifc "ifc",
        /// A table of comma-separated values.
        Csv "csv",
        /// Outlines in metres, written as GeoJSON is.
        Geojson "geojson",
    }
    /// What is odd about a space or a file.
    Concern {
        /// No figure says how large it is.
        AreaMissing "area_missing",
        /// It has no area.
        AreaZero "area_zero",
        /// The net area is not told; another figure stands for it.
        AreaStandIn "area_stand_in",
        /// Two figures of its area do not go together.
        AreasDiffer "areas_differ",
        /// A figure cannot be read, or is beyond what a floor can be.
        NumberUnreadable "number_unreadable",
        /// A figure stands as text, and was read.
        NumberAsText "number_as_text",
        /// Nothing says how long its edge is.
        PerimeterMissing "perimeter_missing",
        /// An edge of this length cannot enclose the area.
        PerimeterImpossible "perimeter_impossible",
        /// Two figures of its edge do not go together.
        PerimetersDiffer "perimeters_differ",
        /// The unit of a figure is not told or not known.
        UnitUnknown "unit_unknown",
        /// A figure has a unit of its own that is not the file's; its own counts.
        UnitDiffers "unit_differs",
        /// The finish repeats its own label or says that nobody filled it in.
        FinishPlaceholder "finish_placeholder",
        /// Two statements of its finish do not go together.
        FinishesDiffer "finishes_differ",
        /// Its storey is not told, or not among the storeys of the file.
        StoreyUnknown "storey_unknown",
        /// It has no name.
        NameMissing "name_missing",
        /// Another thing of the file has its external name.
        ExternalDuplicate "external_duplicate",
        /// Another space of its storey has its name.
        NameDuplicate "name_duplicate",
        /// Something is told of a space that the file does not have.
        SpaceUnknown "space_unknown",
        /// Its outline is not one of a floor.
        OutlineFaulty "outline_faulty",
        /// A shape is drawn in a way that is not worked out here.
        ShapeUnread "shape_unread",
        /// Text begins as a formula does; it is kept as text.
        FormulaText "formula_text",
        /// Text is too long, or holds characters that text may not hold.
        TextUnfit "text_unfit",
        /// Something refers to what is not there.
        ReferenceBroken "reference_broken",
    }
    /// Why a file was not read.
    RefusalKind {
        /// It is not of the format that it is said to be.
        NotTheFormat "not_the_format",
        /// It is broken, or ends too early.
        Malformed "malformed",
        /// Something is larger, deeper or more than is read.
        TooLarge "too_large",
        /// It holds what no honest file of its kind holds.
        Hostile "hostile",
        /// It is of its format, but of a kind that is not read here.
        Unsupported "unsupported",
        /// Its coordinates are degrees, or look like them.
        Degrees "degrees",
    }
}

impl Concern {
    /// Whether a space cannot be registered before somebody has looked at it.
    pub const fn blocks(self) -> bool {
        matches!(
            self,
            Self::AreaMissing
                | Self::AreaZero
                | Self::NumberUnreadable
                | Self::UnitUnknown
                | Self::FinishesDiffer
                | Self::NameMissing
                | Self::ExternalDuplicate
                | Self::TextUnfit
        )
    }
}

/// Something that was noticed, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// What it is about.
    pub concern: Concern,
    /// What was found, in words.
    pub detail: String,
    /// Where.
    pub place: Place,
}

/// Why nothing of a file was taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {detail}")]
pub struct Refusal {
    /// The kind of fault.
    pub kind: RefusalKind,
    /// What is wrong, in words.
    pub detail: String,
    /// Where.
    pub place: Place,
}

impl Refusal {
    /// A refusal.
    pub fn new(kind: RefusalKind, detail: impl Into<String>, place: Place) -> Self {
        Self {
            kind,
            detail: detail.into(),
            place,
        }
    }
}
