//! What a plan costs: quantities, packs, labour and money, each number with its basis.

pub mod basis;
pub mod cost;
pub mod labour;
pub mod packs;
pub mod pool;
pub mod quantities;
pub mod spread;
mod rated;
