//! What is arranged for the work, where somebody has said: the planner takes no arrangement for granted.

use super::Zone;
use crate::words::words;

words! {
    /// How people are kept off a wet floor.
    Cordon {
        /// By a barrier.
        Barrier "barrier",
        /// By signs alone.
        SignsOnly "signs_only",
    }
    /// What becomes of smoke detectors during the work.
    Detection {
        /// They are isolated by permit.
        IsolatedByPermit "isolated_by_permit",
        /// They stay live.
        Live "live",
    }
    /// Where rags with oil go.
    Rags {
        /// Under water in a lidded metal bin.
        MetalBinWithWater "metal_bin_with_water",
        /// Spread out outdoors.
        SpreadOutdoors "spread_outdoors",
        /// Into a plastic sack.
        PlasticSack "plastic_sack",
    }
    /// Where dust bags of sanders are over night.
    DustBags {
        /// Emptied outdoors.
        EmptiedOutdoors "emptied_outdoors",
        /// Kept indoors.
        KeptIndoors "kept_indoors",
    }
    /// In what state the products are.
    Stock {
        /// In order.
        Sound "sound",
        /// Past their date.
        Expired "expired",
        /// Frozen once.
        Frozen "frozen",
    }
    /// What the dust is swept up with.
    Sweeping {
        /// Nothing, or a cloth without oil.
        Plain "plain",
        /// A sweeping compound with oil.
        OilCompound "oil_compound",
        /// A sweeping compound with sand.
        SandCompound "sand_compound",
    }
}

/// What is arranged, as far as somebody has said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Arrangements {
    /// How people are kept off.
    pub cordon: Option<Cordon>,
    /// What becomes of smoke detectors.
    pub detection: Option<Detection>,
    /// Where rags with oil go.
    pub rags: Option<Rags>,
    /// Where dust bags are over night.
    pub dust_bags: Option<DustBags>,
    /// In what state the products are.
    pub stock: Option<Stock>,
    /// What the dust is swept up with.
    pub sweeping: Option<Sweeping>,
    /// The colour zone of the mops and cloths.
    pub mop_zone: Option<Zone>,
    /// Temperature of the solutions in °C.
    pub solution_c: Option<i64>,
    /// The steepest ramp that the machine is rated for, in tenths of %.
    pub machine_gradient_tenths: Option<i64>,
}
