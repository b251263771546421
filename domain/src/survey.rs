//! What is known of a floor and of the air over it: the planner's input, as told, with gaps where nobody knows.

mod access;
mod arranged;
mod closer;
mod maker;
mod strength;
mod surroundings;
mod wish;

use chrono::{DateTime, NaiveDate, Utc};

pub use access::{AccessWindow, Weekday, longest_window};
pub use arranged::{Arrangements, Cordon, Detection, DustBags, Rags, Stock, Sweeping};
pub use closer::{CloserLook, Lead, Residue, Zone};
pub use maker::{MakerFinish, MakerInstruction, Wetness};
pub use strength::Strength;
pub use surroundings::{Joints, MoistureMethod, Profile, SlurryRoute, Surroundings, Ventilation};
pub use wish::{GivenWaits, Limits, Wish};

use crate::{
    geometry::{Outline, Point},
    quantity::{Area, Length},
    words::words,
};

words! {
    /// The kind of space that a floor lies in.
    Space {
        /// An ordinary room.
        Room "room",
        /// A corridor.
        Corridor "corridor",
        /// A large open space.
        Hall "hall",
    }
    /// What a test or papers said of asbestos.
    Asbestos {
        /// Nobody has tested.
        Untested "untested",
        /// A laboratory found none.
        TestedAbsent "tested_absent",
        /// Papers of its laying say that it holds none; a floor from before the country's cut-off year still wants a test.
        DocumentedAbsent "documented_absent",
        /// A laboratory found it.
        Confirmed "confirmed",
    }
    /// Whether the authority has consented to work on a heritage floor.
    Consent {
        /// It has not.
        None "none",
        /// It has, in writing.
        Given "given",
    }
    /// What lies on the floor.
    FilmKind {
        /// Nothing.
        Bare "bare",
        /// The wear coat that it left the factory with.
        FactoryFinish "factory_finish",
        /// A seal.
        Seal "seal",
        /// A polish.
        Polish "polish",
        /// A polish over a seal.
        SealAndPolish "seal_and_polish",
        /// Wax or oil.
        WaxOrOil "wax_or_oil",
    }
    /// In what condition the film is.
    FilmCondition {
        /// Whole and clean.
        Sound "sound",
        /// Soil sits in its top.
        Soiled "soiled",
        /// Scuffed all over, worn through nowhere.
        Scuffed "scuffed",
        /// Worn through: the bare floor shows.
        Worn "worn",
        /// Yellowed.
        Yellowed "yellowed",
        /// Coming off.
        Peeling "peeling",
        /// Turning to powder.
        Powdering "powdering",
        /// Sticky.
        Sticky "sticky",
    }
    /// How many people walk on it in a day.
    Traffic {
        /// Under 50.
        VeryLight "very_light",
        /// Up to 250.
        Light "light",
        /// Up to 1,000.
        Medium "medium",
        /// Up to 3,000.
        Heavy "heavy",
        /// More.
        VeryHeavy "very_heavy",
    }
    /// How soiled it is.
    Soil {
        /// Dust.
        Light "light",
        /// Everyday soil.
        Normal "normal",
        /// Grease, mud or neglect.
        Heavy "heavy",
    }
    /// How practised the operatives are.
    Skill {
        /// Still learning.
        Trainee "trainee",
        /// They know the work.
        Trained "trained",
        /// They have done it for years.
        Skilled "skilled",
    }
    /// How much stands on it.
    Obstruction {
        /// Nothing.
        Open "open",
        /// Up to 15 %.
        Light "light",
        /// Up to 35 %.
        Medium "medium",
        /// More.
        Heavy "heavy",
    }
    /// What is wished for the floor.
    Goal {
        /// Take the soil off.
        Clean "clean",
        /// Keep it as it is.
        Maintain "maintain",
        /// Bring it back.
        Restore "restore",
        /// Lay something on it that takes the wear.
        Protect "protect",
        /// Give it its grip back.
        MakeSafe "make_safe",
    }
    /// The finish that is wished.
    Finish {
        /// No shine.
        Matt "matt",
        /// Some shine.
        Satin "satin",
        /// High gloss.
        Gloss "gloss",
    }
    /// What speaks for one process and against another, where both are right and allowed.
    Criterion {
        /// The fewest warnings of danger to people.
        Safety "safety",
        /// The fewest warnings of harm to the floor.
        Substrate "substrate",
        /// The fewest warnings about a maker's word or a contract.
        Warranty "warranty",
        /// The lowest price a year until it is due again.
        CostPerYear "cost_per_year",
        /// The fewest warnings about the look of the floor.
        Appearance "appearance",
        /// The shortest time for which the floor is closed.
        Downtime "downtime",
        /// The least water.
        Water "water",
        /// The least solvent into the air.
        Voc "voc",
    }
    /// How stripped floors are neutralised.
    Neutralise {
        /// By clean rinses alone.
        Rinse "rinse",
        /// By a weak acid, then rinses.
        Acid "acid",
    }
}

/// What lies on a floor, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Film {
    /// Its kind; `None` if nobody knows.
    pub kind: Option<FilmKind>,
    /// Coats of polish; `None` if nobody counted.
    pub coats: Option<i64>,
    /// Its condition; `None` if nobody looked.
    pub condition: Option<FilmCondition>,
}

/// All that is known of one floor.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a survey is a list of what was seen and what was not"
)]
pub struct Survey {
    /// The key of its material.
    pub material: String,
    /// Its area.
    pub area: Area,
    /// The length of its edges, if given; beside an outline, only if that has another.
    pub perimeter: Option<Length>,
    /// Its outline, if it was drawn. Then area and edge are those of the outline.
    pub outline: Option<Outline>,
    /// Its doors in the outline's frame; the crew leaves by the first.
    pub doors: Vec<Point>,
    /// The kind of space.
    pub space: Option<Space>,
    /// When the building was built.
    pub built_year: Option<i16>,
    /// What a test or papers said of asbestos.
    pub asbestos: Asbestos,
    /// What lies on it.
    pub film: Film,
    /// When its last coat was laid, by what was recorded.
    pub coated_at: Option<DateTime<Utc>>,
    /// Traffic class.
    pub traffic: Option<Traffic>,
    /// How soiled it is.
    pub soil: Option<Soil>,
    /// How much stands on it.
    pub obstruction: Option<Obstruction>,
    /// The day on which the floor was laid.
    pub laid_on: Option<NaiveDate>,
    /// Moisture of the substrate in % RH.
    pub moisture_rh_pct: Option<f64>,
    /// Wet pendulum test value.
    pub ptv_wet: Option<f64>,
    /// Gloss lost since hand-over, in %.
    pub gloss_loss_pct: Option<f64>,
    /// Whether it gets wet in use.
    pub wet_in_use: bool,
    /// Whether people are around during the work; taken as true where nobody says.
    pub occupied: bool,
    /// Whether it is the only way out of somewhere.
    pub sole_escape_route: bool,
    /// Whether it is a static-control floor.
    pub static_control: bool,
    /// Whether it lies on a raised access floor.
    pub raised_access: bool,
    /// Whether it is a heritage floor: work on it needs consent.
    pub heritage: bool,
    /// Whether that consent was given; `None` if nobody says.
    pub heritage_consent: Option<Consent>,
    /// Whether black adhesive lies under it; `None` if nobody has looked.
    pub black_adhesive: Option<bool>,
    /// What a closer look told.
    pub closer: CloserLook,
    /// What is in, under and around it.
    pub surroundings: Surroundings,
    /// The weekly hours in which it may be closed; empty where nobody said.
    pub access_windows: Vec<AccessWindow>,
    /// What its maker says.
    pub maker_instruction: Option<MakerInstruction>,
}

impl Survey {
    /// A floor of which nothing is known but its material and its area.
    pub fn new(material: &str, area: Area) -> Self {
        Self {
            material: material.to_owned(),
            area,
            perimeter: None,
            outline: None,
            doors: Vec::new(),
            space: None,
            built_year: None,
            asbestos: Asbestos::Untested,
            film: Film::default(),
            coated_at: None,
            traffic: None,
            soil: None,
            obstruction: None,
            laid_on: None,
            moisture_rh_pct: None,
            ptv_wet: None,
            gloss_loss_pct: None,
            wet_in_use: false,
            occupied: true,
            sole_escape_route: false,
            static_control: false,
            raised_access: false,
            heritage: false,
            heritage_consent: None,
            black_adhesive: None,
            closer: CloserLook::default(),
            surroundings: Surroundings::default(),
            access_windows: Vec::new(),
            maker_instruction: None,
        }
    }

    /// Whether a perimeter was given that the outline does not have: neither all of its edges nor its outer ring alone
    /// come within `share` of it.
    pub fn perimeter_differs(&self, share: f64) -> bool {
        let (Some(told), Some(outline)) = (self.perimeter, &self.outline) else {
            return false;
        };
        let drawn = [outline.perimeter_m(), outline.outer_m()];
        drawn.iter().all(|drawn| differs(told.m(), *drawn, share))
    }

    /// The edge length that the planner works with.
    pub fn edge(&self) -> Edge {
        if let Some(outline) = &self.outline {
            return Edge {
                length: outline.edge(),
                approximated: false,
            };
        }
        match self.perimeter {
            Some(perimeter) if possible(self.area, perimeter) => Edge {
                length: perimeter,
                approximated: false,
            },
            _ => Edge {
                length: two_to_one(self.area),
                approximated: true,
            },
        }
    }
}

/// Whether two statements of one measure differ by more than a share of the second.
pub fn differs(told: f64, drawn: f64, share: f64) -> bool {
    (told - drawn).abs() > share * drawn
}

/// The edge of a floor, given or approximated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// Its length.
    pub length: Length,
    /// Whether it is that of a rectangle twice as long as wide, because none or an impossible one was given.
    pub approximated: bool,
}

/// Whether an edge of this length can enclose the area: perimeter² is at least 4π times the area.
///
/// Source: isoperimetric inequality. A thousandth is let through, for figures that were rounded.
pub fn possible(area: Area, perimeter: Length) -> bool {
    perimeter.m() * perimeter.m() * 1.001 >= 4.0 * std::f64::consts::PI * area.m2()
}

/// The edge of a rectangle of this area that is twice as long as wide: 3·√(2·area).
fn two_to_one(area: Area) -> Length {
    Length::from_m(3.0 * (2.0 * area.m2()).sqrt()).unwrap_or(Length::ZERO)
}

/// The air over a floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Climate {
    /// Air temperature in °C.
    pub air_c: f64,
    /// Floor temperature in °C.
    pub floor_c: f64,
    /// Relative humidity in %.
    pub humidity_pct: f64,
    /// Air speed over the floor in m/s.
    pub air_speed_m_s: f64,
    /// The air outdoors, which comes in where the air of the room is changed; as moist as that of the room where nobody
    /// says.
    pub outdoor: Option<OutdoorAir>,
}

/// The air outdoors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutdoorAir {
    /// Its temperature in °C.
    pub air_c: f64,
    /// Its relative humidity in %.
    pub humidity_pct: f64,
}

#[cfg(test)]
mod tests {
    use super::{Survey, possible};
    use crate::quantity::{Area, Length};

    #[test]
    fn an_edge_that_cannot_enclose_the_area_is_approximated() {
        // Source: isoperimetric inequality; a circle of 1 m radius encloses π m² with 2π m.
        let area = Area::from_m2(std::f64::consts::PI).expect("legal");
        assert!(possible(area, Length::from_mm(6_284)));
        assert!(!possible(area, Length::from_mm(6_200)));
        let mut survey = Survey::new("vinyl_sheet", Area::from_m2(32.0).expect("legal"));
        assert!(survey.edge().approximated);
        // A rectangle of 8 m by 4 m has 32 m² and 24 m of edge.
        assert_eq!(survey.edge().length, Length::from_mm(24_000));
        survey.perimeter = Some(Length::from_mm(26_000));
        assert_eq!(survey.edge().length, Length::from_mm(26_000));
        survey.perimeter = Some(Length::from_mm(93));
        assert!(survey.edge().approximated);
    }
}
