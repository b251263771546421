//! What the maker of a floor says of its care: it is read first and wins over general practice.

use chrono::NaiveDate;

use super::{GivenWaits, Limits};
use crate::{quantity::Length, words::words};

words! {
    /// How wet a floor may get.
    Wetness {
        /// Not at all.
        Dry "dry",
        /// A wrung mop.
        Damp "damp",
        /// A wet mop, or a machine that lays solution and takes it up.
        Wet "wet",
        /// Solution that lies and works.
        Flooded "flooded",
    }
    /// What the maker wants on the floor.
    MakerFinish {
        /// Nothing.
        Bare "bare",
        /// A seal and no polish.
        Seal "seal",
        /// A polish and no seal.
        Polish "polish",
        /// A polish over a seal.
        SealAndPolish "seal_and_polish",
    }
}

impl Wetness {
    /// 0 dry, 1 damp, 2 wet, 3 flooded, as processes count it.
    pub const fn level(self) -> u8 {
        match self {
            Self::Dry => 0,
            Self::Damp => 1,
            Self::Wet => 2,
            Self::Flooded => 3,
        }
    }
}

impl MakerFinish {
    /// Whether a seal is part of it.
    pub const fn has_seal(self) -> bool {
        matches!(self, Self::Seal | Self::SealAndPolish)
    }
}

/// The instruction of a floor's maker, as somebody read it. What it does not speak of is absent or empty.
#[derive(Debug, Clone, PartialEq)]
pub struct MakerInstruction {
    /// Which document.
    pub reference: String,
    /// When it was read.
    pub read_on: NaiveDate,
    /// Keys of processes that it forbids.
    pub forbidden_processes: Vec<String>,
    /// Classes of products that it forbids.
    pub forbidden_classes: Vec<String>,
    /// The wettest that the floor may get.
    pub wettest: Option<Wetness>,
    /// The lowest pH of a solution as used.
    pub ph_min: Option<f64>,
    /// The highest pH of a solution as used.
    pub ph_max: Option<f64>,
    /// The only pads that it allows, by key; empty where it does not say.
    pub pads: Vec<String>,
    /// The products that it demands for their classes, by key.
    pub products: Vec<String>,
    /// What it wants on the floor.
    pub finish: Option<MakerFinish>,
    /// Coats of polish of a new film.
    pub polish_coats: Option<i64>,
    /// Coats of seal.
    pub seal_coats: Option<i64>,
    /// How far early coats stop short of the skirting.
    pub edge_gap: Option<Length>,
    /// The shortest waits.
    pub waits: GivenWaits,
}

impl MakerInstruction {
    /// An instruction that says nothing yet.
    pub const fn new(reference: String, read_on: NaiveDate) -> Self {
        Self {
            reference,
            read_on,
            forbidden_processes: Vec::new(),
            forbidden_classes: Vec::new(),
            wettest: None,
            ph_min: None,
            ph_max: None,
            pads: Vec::new(),
            products: Vec::new(),
            finish: None,
            polish_coats: None,
            seal_coats: None,
            edge_gap: None,
            waits: GivenWaits {
                rinse_to_coat_min: None,
                between_coats_min: None,
                to_foot_min: None,
                mop_to_foot_min: None,
                to_furniture_min: None,
                to_wet_clean_min: None,
            },
        }
    }

    /// Whether the caller's own figures are others than the maker's, or waits shorter than the maker's.
    pub fn is_overruled_by(&self, limits: &Limits) -> bool {
        let other = |own: Option<i64>, makers: Option<i64>| {
            own.zip(makers).is_some_and(|(own, makers)| own != makers)
        };
        let shorter = |of: fn(&GivenWaits) -> Option<i64>| {
            let both = of(&limits.waits).zip(of(&self.waits));
            both.is_some_and(|(own, makers)| own < makers)
        };
        other(limits.polish_coats, self.polish_coats)
            || other(limits.seal_coats, self.seal_coats)
            || other(
                limits.edge_gap.map(Length::mm),
                self.edge_gap.map(Length::mm),
            )
            || shorter(|waits| waits.rinse_to_coat_min)
            || shorter(|waits| waits.between_coats_min)
            || shorter(|waits| waits.to_foot_min)
            || shorter(|waits| waits.mop_to_foot_min)
            || shorter(|waits| waits.to_furniture_min)
            || shorter(|waits| waits.to_wet_clean_min)
    }

    /// The instruction as a source of what is said because of it.
    pub fn citation(&self) -> String {
        format!(
            "instruction of the floor's maker: {}, read on {}",
            self.reference, self.read_on
        )
    }
}
