//! What a plan costs: quantities, packs, labour and money, each number with its basis.

pub mod basis;
pub mod cost;
pub(crate) mod covered;
mod filling;
pub mod labour;
pub mod outlook;
pub mod packs;
pub mod pads;
pub mod pool;
pub mod quantities;
mod rated;
mod recount;
pub mod spread;
