//! What a closer look at a floor told: where it lies, what is in it, what was left on it.

use crate::words::words;

words! {
    /// The colour zone of a place, and of what cleans it.
    Zone {
        /// Offices, corridors, halls.
        General "general",
        /// Washrooms.
        Washroom "washroom",
        /// Kitchens and places where food is made.
        Kitchen "kitchen",
        /// Wards and treatment rooms.
        Clinical "clinical",
    }
    /// What a test of old coatings for lead said.
    Lead {
        /// Nobody has tested.
        Untested "untested",
        /// None was found.
        Absent "absent",
        /// It was found.
        Found "found",
    }
    /// What was left on the floor and makes it slippery or dull.
    Residue {
        /// Fat and soap of fatty acids.
        Grease "grease",
        /// Scale of hard water.
        HardWater "hard_water",
        /// Cleaner that was not rinsed off.
        Detergent "detergent",
        /// Haze of cement on new tile.
        CementHaze "cement_haze",
    }
}

/// What a closer look told, as far as anybody looked.
#[derive(Debug, Clone, PartialEq)]
pub struct CloserLook {
    /// The colour zone that it lies in.
    pub zone: Option<Zone>,
    /// Whether it is of more than one material, so that no one answer is right for it.
    pub mixed_materials: bool,
    /// Whether silicone was found on it: furniture spray, treated cloths.
    pub silicone: bool,
    /// Moisture of the wood, in % of its dry mass.
    pub wood_moisture_pct: Option<f64>,
    /// Thickness of the layer that can be sanded, in mm.
    pub wear_layer_mm: Option<f64>,
    /// What a test of old coatings for lead said.
    pub lead: Lead,
    /// What was left on it.
    pub residue: Option<Residue>,
    /// Keys of the products that were used on it lately and not rinsed off.
    pub recent_products: Vec<String>,
}

impl Default for CloserLook {
    fn default() -> Self {
        Self {
            zone: None,
            mixed_materials: false,
            silicone: false,
            wood_moisture_pct: None,
            wear_layer_mm: None,
            lead: Lead::Untested,
            residue: None,
            recent_products: Vec::new(),
        }
    }
}
