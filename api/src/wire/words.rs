//! The closed lists of words that callers use, and the values of the domain that they stand for.

use domain::{knowledge, survey};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Declares enums on the wire whose words are those of an enum of the domain.
macro_rules! words {
    ($domain:ident: $($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident,)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
        #[serde(rename_all = "snake_case")]
        pub(crate) enum $name { $($(#[$vdoc])* $variant,)+ }

        impl From<$name> for $domain::$name {
            fn from(word: $name) -> Self {
                match word { $($name::$variant => Self::$variant,)+ }
            }
        }

        impl From<$domain::$name> for $name {
            fn from(value: $domain::$name) -> Self {
                match value { $($domain::$name::$variant => Self::$variant,)+ }
            }
        }
    )+};
}

words! {
    survey:
    /// The kind of space.
    Space {
        /// An ordinary room.
        Room,
        /// A corridor.
        Corridor,
        /// A large open space.
        Hall,
    }
    /// What a test or papers said of asbestos.
    Asbestos {
        /// Nobody has tested.
        Untested,
        /// A laboratory found none.
        TestedAbsent,
        /// Papers of its laying say that it holds none; a floor from before the country's cut-off year still wants a test.
        DocumentedAbsent,
        /// A laboratory found it.
        Confirmed,
    }
    /// Whether the authority has consented to work on a heritage floor.
    Consent {
        /// It has not.
        None,
        /// It has, in writing.
        Given,
    }
    /// In what condition the film is.
    FilmCondition {
        /// Whole and clean.
        Sound,
        /// Soil sits in its top.
        Soiled,
        /// Scuffed all over, worn through nowhere.
        Scuffed,
        /// Worn through: the bare floor shows.
        Worn,
        /// Yellowed.
        Yellowed,
        /// Coming off.
        Peeling,
        /// Turning to powder.
        Powdering,
        /// Sticky.
        Sticky,
    }
    /// How many people walk there in a day: up to 50, 250, 1,000, 3,000 or more.
    Traffic {
        /// Under 50.
        VeryLight,
        /// Up to 250.
        Light,
        /// Up to 1,000.
        Medium,
        /// Up to 3,000.
        Heavy,
        /// More.
        VeryHeavy,
    }
    /// How soiled it is: dust, everyday soil, or grease, mud or neglect.
    Soil {
        /// Dust.
        Light,
        /// Everyday soil.
        Normal,
        /// Grease, mud or neglect.
        Heavy,
    }
    /// How much stands on it: nothing, up to 15 %, up to 35 % or more.
    Obstruction {
        /// Nothing.
        Open,
        /// Up to 15 %.
        Light,
        /// Up to 35 %.
        Medium,
        /// More.
        Heavy,
    }
    /// The face of a floor.
    Profile {
        /// Even.
        Smooth,
        /// A pressed pattern.
        Embossed,
        /// Raised studs.
        Studded,
        /// Grit in its face, for grip.
        Gritty,
    }
    /// The joints of a floor.
    Joints {
        /// None.
        Seamless,
        /// Welded.
        Welded,
        /// Filled: grout, sealant.
        Filled,
        /// Butted or clicked together, nothing in them.
        Open,
    }
    /// How the moisture of the substrate was read.
    MoistureMethod {
        /// A probe in a hole of the substrate.
        InSituProbe,
        /// A hood on the bare substrate.
        SurfaceHood,
        /// An electrical meter on its face.
        SurfaceMeter,
    }
    /// How the air of the room is changed.
    Ventilation {
        /// Not at all.
        Closed,
        /// By windows and doors.
        Natural,
        /// By a fan that takes it out.
        Extract,
    }
    /// Where slurry and spent solution may go.
    SlurryRoute {
        /// Into the foul drain, with consent.
        FoulDrain,
        /// Through an interceptor.
        Interceptor,
        /// Into containers that are taken away.
        Collect,
        /// Into the surface-water drain.
        SurfaceWater,
        /// Nobody has agreed to any place.
        Nowhere,
    }
    /// How wet a floor may get.
    Wetness {
        /// Not at all.
        Dry,
        /// A wrung mop.
        Damp,
        /// A wet mop, or a machine that lays solution and takes it up.
        Wet,
        /// Solution that lies and works.
        Flooded,
    }
    /// What the maker wants on the floor.
    MakerFinish {
        /// Nothing.
        Bare,
        /// A seal and no polish.
        Seal,
        /// A polish and no seal.
        Polish,
        /// A polish over a seal.
        SealAndPolish,
    }
    /// A day of the week.
    Weekday {
        /// Monday.
        Monday,
        /// Tuesday.
        Tuesday,
        /// Wednesday.
        Wednesday,
        /// Thursday.
        Thursday,
        /// Friday.
        Friday,
        /// Saturday.
        Saturday,
        /// Sunday.
        Sunday,
    }
}

words! {
    survey:
    /// The colour zone of a place, and of what cleans it.
    Zone {
        /// Offices, corridors, halls.
        General,
        /// Washrooms.
        Washroom,
        /// Kitchens and places where food is made.
        Kitchen,
        /// Wards and treatment rooms.
        Clinical,
    }
    /// What a test of old coatings for lead said.
    Lead {
        /// Nobody has tested.
        Untested,
        /// None was found.
        Absent,
        /// It was found.
        Found,
    }
    /// What was left on the floor and makes it slippery or dull.
    Residue {
        /// Fat and soap of fatty acids.
        Grease,
        /// Scale of hard water.
        HardWater,
        /// Cleaner that was not rinsed off.
        Detergent,
        /// Haze of cement on new tile.
        CementHaze,
    }
    /// How people are kept off a wet floor.
    Cordon {
        /// By a barrier.
        Barrier,
        /// By signs alone.
        SignsOnly,
    }
    /// What becomes of smoke detectors during the work.
    Detection {
        /// They are isolated by permit.
        IsolatedByPermit,
        /// They stay live.
        Live,
    }
    /// Where rags with oil go.
    Rags {
        /// Under water in a lidded metal bin.
        MetalBinWithWater,
        /// Spread out outdoors.
        SpreadOutdoors,
        /// Into a plastic sack.
        PlasticSack,
    }
    /// Where dust bags of sanders are over night.
    DustBags {
        /// Emptied outdoors.
        EmptiedOutdoors,
        /// Kept indoors.
        KeptIndoors,
    }
    /// In what state the products are.
    Stock {
        /// In order.
        Sound,
        /// Past their date.
        Expired,
        /// Frozen once.
        Frozen,
    }
    /// What the dust is swept up with.
    Sweeping {
        /// Nothing, or a cloth without oil.
        Plain,
        /// A sweeping compound with oil.
        OilCompound,
        /// A sweeping compound with sand.
        SandCompound,
    }
}

words! {
    knowledge:
    /// What in a product reacts with other products, or calls for a trade of its own.
    Chemical {
        /// Hypochlorite bleach.
        Hypochlorite,
        /// Acid, vinegar included.
        Acid,
        /// Hydrofluoric acid or its salts.
        Hydrofluoric,
        /// Ammonia or amines.
        Amine,
        /// Strong alkali.
        Alkali,
        /// Alcohol or another organic solvent.
        Solvent,
        /// Hydrogen peroxide or a peracid.
        Peroxide,
        /// Cationic surfactant: quaternary disinfectants.
        Cationic,
        /// Anionic surfactant.
        Anionic,
        /// Carbonate, phosphate or another salt that crystallises.
        Salts,
        /// Drying oil.
        Oil,
        /// Diisocyanate above 0.1 %.
        Isocyanate,
    }
}

/// What lies on the floor; `unknown` if nobody looked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum FilmKind {
    /// Nothing.
    Bare,
    /// The wear coat that it left the factory with.
    FactoryFinish,
    /// A seal.
    Seal,
    /// A polish.
    Polish,
    /// A polish over a seal.
    SealAndPolish,
    /// Wax or oil.
    WaxOrOil,
    /// Nobody looked.
    Unknown,
}

impl FilmKind {
    /// The kind, if it is known.
    pub(crate) const fn known(self) -> Option<survey::FilmKind> {
        match self {
            Self::Bare => Some(survey::FilmKind::Bare),
            Self::FactoryFinish => Some(survey::FilmKind::FactoryFinish),
            Self::Seal => Some(survey::FilmKind::Seal),
            Self::Polish => Some(survey::FilmKind::Polish),
            Self::SealAndPolish => Some(survey::FilmKind::SealAndPolish),
            Self::WaxOrOil => Some(survey::FilmKind::WaxOrOil),
            Self::Unknown => None,
        }
    }
}

impl From<survey::FilmKind> for FilmKind {
    fn from(kind: survey::FilmKind) -> Self {
        match kind {
            survey::FilmKind::Bare => Self::Bare,
            survey::FilmKind::FactoryFinish => Self::FactoryFinish,
            survey::FilmKind::Seal => Self::Seal,
            survey::FilmKind::Polish => Self::Polish,
            survey::FilmKind::SealAndPolish => Self::SealAndPolish,
            survey::FilmKind::WaxOrOil => Self::WaxOrOil,
        }
    }
}
