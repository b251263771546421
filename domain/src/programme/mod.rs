//! Programmes over years: what money to come is worth today, what readings of gloss tell of how a floor wears, and what to do when.

mod dense;
pub mod gloss;
pub mod policy;
pub mod worth;
