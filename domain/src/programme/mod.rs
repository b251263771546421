//! Programmes over years: what money to come is worth today, what readings of gloss tell of how a floor wears, and what to do when.

mod act;
mod answer;
mod compare;
mod dense;
mod figures;
mod forecast;
mod frame;
pub mod gloss;
mod lane;
pub mod passage;
pub mod policy;
mod price;
pub mod say;
pub mod start;
pub mod wear;
pub mod worth;

pub use act::Act;
pub use answer::{Asked, Comparison, LONGER, Look, NotReckoned, Offer, WAIT_MONTHS, compare};
pub use figures::{MonthFigures, Programme, Terms};
pub use forecast::{Forecast, Limit, PERCENTILES, Silent};
