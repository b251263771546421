//! What can be done on a floor in a month.

use crate::{
    knowledge::{BUFF, RECOAT, STRIP},
    words::words,
};

words! {
    /// What is done in a month.
    Act {
        /// Nothing beyond cleaning.
        Leave "leave",
        /// Buffed once.
        Buff "buff",
        /// Buffed twice.
        BuffTwice "buff_twice",
        /// Buffed four times.
        BuffFour "buff_four_times",
        /// Scrubbed and recoated.
        Recoat "recoat",
        /// Stripped and laid anew.
        Strip "strip",
    }
}

impl Act {
    /// How often it buffs.
    pub const fn buffs(self) -> u8 {
        match self {
            Self::Leave | Self::Recoat | Self::Strip => 0,
            Self::Buff => 1,
            Self::BuffTwice => 2,
            Self::BuffFour => 4,
        }
    }

    /// The word by which data tell of it; none for leaving it alone.
    pub(super) const fn key(self) -> Option<&'static str> {
        match self {
            Self::Leave => None,
            Self::Buff | Self::BuffTwice | Self::BuffFour => Some(BUFF),
            Self::Recoat => Some(RECOAT),
            Self::Strip => Some(STRIP),
        }
    }

    /// Its number in the model.
    pub(super) fn number(self) -> usize {
        Self::ALL.iter().position(|act| *act == self).unwrap_or(0)
    }
}
