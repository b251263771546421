//! What lies at least some distance from every wall, and what a round machine reaches.

use geo::{
    MultiPolygon,
    algorithm::buffer::{Buffer, BufferStyle, LineJoin},
};

use super::outline::{Outline, area_of};

/// The turn in radians between two points of an arc: 16 of them in a quarter circle. The area that the chords cut off
/// is 3·10⁻⁵ of that of the corner.
const ARC: f64 = std::f64::consts::PI / 32.0;

/// The turn for what a machine reaches, which is told to a hundredth of a m²: 6 points in a quarter circle.
const COARSE: f64 = std::f64::consts::PI / 12.0;

/// A part of a floor that was worked out from its outline: it may lie in several pieces, or be empty.
#[derive(Debug, Clone, PartialEq)]
pub struct Inside {
    pub(super) pieces: MultiPolygon<f64>,
    area_m2: f64,
}

impl Inside {
    fn new(pieces: MultiPolygon<f64>) -> Self {
        let area_m2 = pieces.0.iter().map(area_of).sum();
        Self { pieces, area_m2 }
    }

    /// Its area in m².
    pub const fn area_m2(&self) -> f64 {
        self.area_m2
    }

    /// In how many pieces it lies.
    pub fn n_pieces(&self) -> usize {
        self.pieces.0.len()
    }
}

impl Outline {
    /// All points at least `gap_m` from every wall: round about corners that jut into the floor. Necks that are
    /// narrower than two gaps are no part of it.
    ///
    /// A gap of nothing or less is the floor itself.
    pub fn inset(&self, gap_m: f64) -> Inside {
        if gap_m > 0.0 {
            Inside::new(self.polygon.buffer_with_style(style(-gap_m, ARC)))
        } else {
            Inside::new(MultiPolygon::new(vec![self.polygon.clone()]))
        }
    }

    /// All points that a round machine `width_m` wide covers when its rim is held `clear_m` off the walls: neither
    /// corners nor necks narrower than itself.
    pub fn reached(&self, width_m: f64, clear_m: f64) -> Inside {
        let radius = width_m / 2.0;
        let centres = self
            .polygon
            .buffer_with_style(style(-(radius + clear_m), COARSE));
        if radius > 0.0 && !centres.0.is_empty() {
            Inside::new(centres.buffer_with_style(style(radius, COARSE)))
        } else {
            Inside::new(centres)
        }
    }
}

fn style(distance: f64, turn: f64) -> BufferStyle<f64> {
    BufferStyle::new(distance).line_join(LineJoin::Round(turn))
}
