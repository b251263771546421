//! The closed lists of words that callers use, and the values of the domain that they stand for.

use domain::survey;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Declares enums on the wire whose words are those of an enum of the domain.
macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident,)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
        #[serde(rename_all = "snake_case")]
        pub(crate) enum $name { $($(#[$vdoc])* $variant,)+ }

        impl From<$name> for survey::$name {
            fn from(word: $name) -> Self {
                match word { $($name::$variant => Self::$variant,)+ }
            }
        }

        impl From<survey::$name> for $name {
            fn from(value: survey::$name) -> Self {
                match value { $(survey::$name::$variant => Self::$variant,)+ }
            }
        }
    )+};
}

words! {
    /// The kind of space.
    Space {
        /// An ordinary room.
        Room,
        /// A corridor.
        Corridor,
        /// A large open space.
        Hall,
    }
    /// What a test for asbestos said.
    Asbestos {
        /// Nobody has tested.
        Untested,
        /// A laboratory found none.
        TestedAbsent,
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
