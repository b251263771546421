//! The shape of a floor: its outline, what lies inside a gap along the walls, what a machine reaches, and the bays
//! that a crew treats one after the other.
//!
//! Coordinates are metres in a frame of the site's own. Everything is reckoned from the outline's first point, so
//! that coordinates of millions of metres cost no digits.
//!
//! Refuses to know what is laid on the floor or why: the planner brings areas and gets areas back.

mod bays;
mod clip;
mod cut;
mod offset;
mod order;
mod outline;
mod simple;

pub use bays::{Bay, CutRule, Layout};
pub use offset::Inside;
pub use outline::{MAX_COORDINATE_M, MAX_RINGS, MAX_VERTICES, Outline, OutlineFault, Place};

/// A point, or a direction, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Along the frame's first axis.
    pub x: f64,
    /// Along its second axis, a quarter turn anticlockwise from the first.
    pub y: f64,
}

impl Point {
    /// A point of the frame.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// The same direction after a quarter turn anticlockwise; the scalar product of the two is exactly 0.
    #[must_use]
    pub const fn turned(self) -> Self {
        Self {
            x: -self.y,
            y: self.x,
        }
    }

    /// The scalar product with another direction.
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// How far it is to another point.
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

#[cfg(test)]
mod tests;
