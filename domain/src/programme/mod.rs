//! Programmes over years: what money to come is worth today, what readings of gloss tell of how a floor wears, and what to do when.

mod answer;
mod compare;
mod dense;
mod figures;
pub mod gloss;
mod lane;
pub mod policy;
mod price;
pub mod say;
pub mod start;
pub mod wear;
pub mod worth;

pub use answer::{Asked, Comparison, LONGER, NotReckoned, Offer, WAIT_MONTHS, compare};
pub use figures::{MonthFigures, Programme, Terms};
pub use lane::Act;
