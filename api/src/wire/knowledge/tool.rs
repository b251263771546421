//! Tools and classes of products on the wire.

use domain::knowledge::{Consumable, Finish, KnowledgeBase, Machine, Mop, Pad, ProductClass, Rate};
use serde::Serialize;
use utoipa::ToSchema;

use super::lists;

/// The tools.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ToolsView {
    /// Pads and abrasives, mild to hard.
    #[schema(max_items = 100)]
    pads: Vec<PadRowView>,
    /// Machines.
    #[schema(max_items = 100)]
    machines: Vec<MachineRowView>,
    /// Mops and applicators.
    #[schema(max_items = 100)]
    mops: Vec<MopRowView>,
    /// What is used up beside them.
    #[schema(max_items = 100)]
    consumables: Vec<ConsumableRowView>,
}

impl From<&'static KnowledgeBase> for ToolsView {
    fn from(base: &'static KnowledgeBase) -> Self {
        Self {
            pads: base.pads.iter().map(Into::into).collect(),
            machines: base.machines.iter().map(Into::into).collect(),
            mops: base.mops.iter().map(Into::into).collect(),
            consumables: base.consumables.iter().map(Into::into).collect(),
        }
    }
}

/// Declares a view whose members are those of a row of the knowledge base.
macro_rules! views {
    ($($(#[$doc:meta])* $name:ident of $row:ident { $($(#[$mdoc:meta])* $member:ident: $type:ty = $get:expr,)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Serialize, ToSchema)]
        pub(crate) struct $name {
            $($(#[$mdoc])* $member: $type,)+
            /// Where the row comes from.
            #[schema(max_length = 500)]
            source: &'static str,
            /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
            #[schema(max_length = 20)]
            grade: &'static str,
        }

        impl From<&'static $row> for $name {
            fn from(row: &'static $row) -> Self {
                Self {
                    $($member: { let get: fn(&'static $row) -> $type = $get; get(row) },)+
                    source: &row.source,
                    grade: row.grade.word(),
                }
            }
        }
    )+};
}

views! {
    /// A pad or an abrasive.
    PadRowView of Pad {
        /// Its colour, or its grit.
        #[schema(max_length = 60)]
        key: &'static str = |row| &row.key,
        /// Mild to hard; it is held against the hardest pad that a floor stands.
        #[schema(minimum = 0)]
        rank: u8 = |row| row.rank,
        /// The fastest that it may turn, in rpm; it is held against the machine.
        #[schema(minimum = 0)]
        max_rpm: i64 = |row| row.max_rpm,
        /// What it is for.
        #[schema(max_length = 200)]
        job: &'static str = |row| &row.job,
        /// Area in m² that one side lasts: low, typical, high.
        #[schema(min_items = 3, max_items = 3)]
        life_m2: [i64; 3] = |row| row.life_m2,
    }
    /// A machine.
    MachineRowView of Machine {
        /// The word that names it everywhere.
        #[schema(max_length = 60)]
        key: &'static str = |row| &row.key,
        /// Its name for people.
        #[schema(max_length = 200)]
        name: &'static str = |row| &row.name,
        /// What kind of machine it is: one takes the place of another of its kind.
        #[schema(max_length = 60)]
        kind: &'static str = |row| &row.kind,
        /// Turns of its pad or brush a minute, lowest and highest; null where nothing turns.
        #[schema(min_items = 2, max_items = 2)]
        rpm: Option<[i64; 2]> = |row| row.rpm,
        /// Working width in cm.
        #[schema(minimum = 1)]
        width_cm: i64 = |row| row.width_cm,
        /// Whether the operative rides on it, or nobody leads it.
        rides: bool = |row| row.rides,
        /// Whether it needs a socket.
        mains: bool = |row| row.mains,
        /// The steepest ramp in % that machines of this kind are usually rated for; null: level floors only.
        #[schema(minimum = 0)]
        max_gradient_pct: Option<f64> = |row| row.max_gradient_pct,
        /// The smallest floor in m² on which it is worth its set-up.
        #[schema(minimum = 0)]
        least_area_m2: i64 = |row| row.least_area_m2,
        /// Litres of solution in its tank; null where it has none.
        #[schema(minimum = 0)]
        tank_l: Option<i64> = |row| row.tank_l,
        /// Minutes to empty and fill it, way included; null where the rates hold that.
        #[schema(minimum = 0)]
        fill_min: Option<i64> = |row| row.fill_min,
    }
    /// A mop or an applicator.
    MopRowView of Mop {
        /// The word that names it everywhere.
        #[schema(max_length = 60)]
        key: &'static str = |row| &row.key,
        /// Its name for people.
        #[schema(max_length = 200)]
        name: &'static str = |row| &row.name,
        /// What it is for.
        #[schema(max_length = 200)]
        job: &'static str = |row| &row.job,
        /// How wet it leaves a floor in g/m²: low, high.
        #[schema(min_items = 2, max_items = 2)]
        leaves_g_m2: [i64; 2] = |row| row.leaves_g_m2,
        /// Area in m² after which cloth or water is changed: low, high.
        #[schema(min_items = 2, max_items = 2)]
        change_after_m2: [i64; 2] = |row| row.change_after_m2,
    }
    /// Something that is used up.
    ConsumableRowView of Consumable {
        /// The word that names it everywhere.
        #[schema(max_length = 60)]
        key: &'static str = |row| &row.key,
        /// Its name for people.
        #[schema(max_length = 200)]
        name: &'static str = |row| &row.name,
        /// How long it lasts: low, high.
        #[schema(min_items = 2, max_items = 2)]
        life: [i64; 2] = |row| row.life,
        /// In what its life is counted: m2, h, washes, jobs or readings.
        #[schema(max_length = 20)]
        life_unit: &'static str = |row| &row.life_unit,
        /// What it must not be used for, and when it is thrown away.
        #[schema(max_length = 500)]
        limits: &'static str = |row| &row.limits,
    }
    /// How fast an activity is usually done. A rate card may set its own speed by `key`; of several rows with one key the first
    /// whose condition holds is used.
    ActivityView of Rate {
        /// The word that names it everywhere.
        #[schema(max_length = 60)]
        key: &'static str = |row| &row.activity,
        /// Its name for people.
        #[schema(max_length = 200)]
        name: &'static str = |row| &row.name,
        /// For which floors the row holds.
        #[schema(max_length = 1000)]
        when: &'static str = |row| row.when.text(),
        /// What is counted: `m2` of floor or `m` of edge.
        #[schema(max_length = 10, pattern = "^(m2|m)$")]
        unit: &'static str = |row| &row.unit,
        /// Units per operative and hour: low, typical, high.
        #[schema(min_items = 3, max_items = 3)]
        per_h: [f64; 3] = |row| row.per_h,
    }
    /// What the data sheets of a class of products usually say.
    ProductClassView of ProductClass {
        /// The word that names it everywhere.
        #[schema(max_length = 60)]
        key: &'static str = |row| &row.key,
        /// Its name for people.
        #[schema(max_length = 200)]
        name: &'static str = |row| &row.name,
        /// pH as sold: lowest, highest.
        #[schema(min_items = 2, max_items = 2)]
        ph_as_sold: [f64; 2] = |row| row.ph_as_sold,
        /// Parts of water to one part of concentrate: strongest, weakest; 0 is undiluted.
        #[schema(min_items = 2, max_items = 2)]
        dilution: [f64; 2] = |row| row.dilution,
        /// Area in m² that a litre of working solution covers: lowest, highest.
        #[schema(min_items = 2, max_items = 2)]
        coverage_m2_l: [f64; 2] = |row| row.coverage_m2_l,
        /// Volatile organic compounds in g per litre as sold: lowest, highest; null where it is no coating or solvent.
        #[schema(min_items = 2, max_items = 2)]
        voc_g_l: Option<[f64; 2]> = |row| row.voc_g_l,
        /// Temperature in °C of air and floor in which it is used: lowest, highest.
        #[schema(min_items = 2, max_items = 2)]
        use_c: [f64; 2] = |row| row.use_c,
        /// Temperature in °C in which it is kept: lowest, highest.
        #[schema(min_items = 2, max_items = 2)]
        store_c: [f64; 2] = |row| row.store_c,
    }
}

/// A word of building data for a floor, and what it means.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct FinishView {
    /// The word, in capitals; in a request capitals and blanks do not count.
    #[schema(max_length = 200)]
    word: &'static str,
    /// The key of a material; or `soft` for a floor that is not cared for here, `mixed` for several coverings in one.
    #[schema(max_length = 60)]
    means: &'static str,
}

impl From<&'static Finish> for FinishView {
    fn from(row: &'static Finish) -> Self {
        Self {
            word: &row.word,
            means: &row.means,
        }
    }
}

lists! {
    /// All activities.
    ActivityList of ActivityView;
    /// All words of the dictionary.
    FinishList of FinishView;
    /// All classes.
    ProductClassList of ProductClassView;
}
