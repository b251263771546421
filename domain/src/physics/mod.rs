//! The physics a floor obeys: moist air, drying and curing films, the air of a room and the pH of rinse water.
//!
//! Pure functions of checked readings, in SI units named in each member. A reading outside its legal range is
//! refused by name when it is taken, so nothing behind that door can fail on account of a number.
//!
//! What this module does not do: it knows no product, no label time, no floor covering and no rule of a plan. It
//! says how long a film takes to dry and which limit stands against coating; what follows is the planner's answer.

pub mod chemistry;
pub mod curing;
pub mod drying;
pub mod evaporation;
pub mod psychrometrics;
pub mod range;
pub mod room;
mod root;
