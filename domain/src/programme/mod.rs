//! Programmes over years: what money to come is worth today, and what readings of gloss tell of how a floor wears.

pub mod gloss;
pub mod worth;
