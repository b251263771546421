//! Where the bays lie, in which order and direction: a drawing in black and white that needs no legend.

mod spot;

use maud::{Markup, html};

use super::{
    measure::Measure,
    told::{DrawnBay, Layout, Shape, ToldFloor},
    words::Words,
};

/// How wide a drawing is, in its own units.
const WIDTH: f64 = 480.0;
const MARGIN: f64 = 26.0;
/// Half the length of the arrow that shows how coats are laid, where there is room for it.
const STROKE: f64 = 15.0;
/// Half of what a number above an arrow that lies needs, and half of what a number beside one that stands does.
const STACKED: f64 = 17.0;
const SIDE_BY_SIDE: f64 = 21.0;
/// The border that is left out is drawn as wide as it is, and at least so wide that it is seen.
const LEAST_GAP: f64 = 6.0;

/// What a drawing shows beside the bays.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plan<'a> {
    /// Which of the drawings it is.
    pub(super) number: usize,
    /// What the outline says to the work.
    pub(super) shape: Option<&'a Shape>,
    /// Outline and doors.
    pub(super) floor: Option<&'a ToldFloor>,
    /// The border that coats leave out.
    pub(super) gap_mm: f64,
}

/// One way of cutting the floor, with what is treated so.
pub(super) fn layout(layout: &Layout, plan: &Plan<'_>, measure: Measure, words: &Words) -> Markup {
    let direction = layout.direction.as_deref().map(|word| {
        if word == "across" {
            words.across
        } else {
            words.along
        }
    });
    html! {
        h3 lang="en" { (layout.treats.join(", ")) }
        p {
            (layout.n_bays) " " (words.bays)
            @if let Some(largest) = layout.largest_bay_m2 { "; " (words.largest_bay) ": " (measure.area(largest)) }
            @if let Some(direction) = direction { "; " (direction) }
        }
        @let picture = picture(layout, plan, words);
        // A caption explains what is drawn; where nothing is, there is nothing to explain.
        @if !picture.0.is_empty() { figure {
            (picture)
            @if plan.gap_mm > 0.0 { figcaption { (words.gap) " " (measure.gap(plan.gap_mm)) } }
        } }
    }
}

fn picture(layout: &Layout, plan: &Plan<'_>, words: &Words) -> Markup {
    let bays: Vec<(i64, &DrawnBay)> = layout
        .bays
        .iter()
        .filter_map(|bay| Some((bay.number, bay.drawn.as_ref()?)))
        .collect();
    let corners = bays
        .iter()
        .flat_map(|(_, bay)| bay.rings.iter().flatten())
        .copied();
    let shape = plan.shape;
    let outline = plan.floor.and_then(|floor| floor.outline.as_deref());
    let outline = outline.unwrap_or_default();
    let doors = plan.floor.map_or(&[][..], |floor| &floor.doors);
    let all = corners
        .chain(shape.map(|shape| shape.exit))
        .chain(outline.iter().flatten().copied());
    if bays.is_empty() {
        return html! {};
    }
    let Some(frame) = Frame::around(all) else {
        return html! {};
    };
    html! {
        svg xmlns="http://www.w3.org/2000/svg" width=(WIDTH) height=(frame.height()) viewBox=(format!("0 0 {WIDTH} {:.0}", frame.height())) role="img" aria-label=(format!("{}: {}", words.bays, layout.treats.join(", "))) {
            @if !outline.is_empty() {
                @let walls = frame.path(outline);
                @if plan.gap_mm > 0.0 {
                    clipPath #(format!("floor-{}", plan.number)) { path d=(walls) clip-rule="evenodd" {} }
                    path d=(walls) fill="none" stroke="#bbb" stroke-width=(tenth(2.0 * frame.gap(plan.gap_mm))) clip-path=(format!("url(#floor-{})", plan.number)) {}
                }
                path d=(walls) fill="none" stroke="#000" stroke-width="3" {}
            }
            @for (number, bay) in &bays {
                path d=(frame.path(&bay.rings)) fill="none" fill-rule="evenodd" stroke="#000" stroke-width="1.5" {}
                @if let Some(label) = Label::of(bay, &frame) {
                    @if let Some((at, half)) = label.arrow { (arrow(at, half)) }
                    text x=(tenth(label.number.0)) y=(tenth(label.number.1)) text-anchor="middle" font-size="15" font-weight="700" stroke="#fff" stroke-width="4" paint-order="stroke" { (number) }
                }
            }
            @if let Some(shape) = shape {
                @for door in doors {
                    @let (x, y) = frame.place(door.at);
                    circle cx=(tenth(x)) cy=(tenth(y)) r="5" fill="#fff" stroke="#000" stroke-width="2" {}
                }
                @let (x, y) = frame.place(shape.exit);
                circle cx=(tenth(x)) cy=(tenth(y)) r="6" fill="#000" {}
                text x=(tenth(x.clamp(40.0, WIDTH - 40.0))) y=(tenth(if y > 40.0 { y - 10.0 } else { y + 20.0 })) text-anchor="middle" font-size="13" stroke="#fff" stroke-width="4" paint-order="stroke" { (words.exit) }
            }
        }
    }
}

/// Where a bay's number and its arrow stand, in units of the drawing.
struct Label {
    /// The middle of the number's foot.
    number: (f64, f64),
    /// The middle of the arrow, and its half.
    arrow: Option<((f64, f64), (f64, f64))>,
}

impl Label {
    /// Where there is room: one above the other where the bay is high enough, else side by side.
    fn of(bay: &DrawnBay, frame: &Frame) -> Option<Self> {
        let spot = spot::spot(&bay.rings)?;
        let (x, y) = frame.place(spot.at);
        let (beside, above) = (spot.beside * frame.scale(), spot.above * frame.scale());
        let Some(along) = bay.strokes else {
            // A figure of this size is about eleven high.
            let number = (x, y + 5.5);
            return Some(Self {
                number,
                arrow: None,
            });
        };
        let is_upright = along.y.abs() > along.x.abs();
        let is_stacked = if is_upright {
            beside < SIDE_BY_SIDE
        } else {
            above >= STACKED
        };
        let (number, middle, room) = match (is_stacked, is_upright) {
            (true, true) => ((x, y - 10.0), (x, y + 10.0), above - 12.0),
            (true, false) => ((x, y - 3.0), (x, y + 7.0), beside),
            (false, true) => ((x - 9.0, y + 5.5), (x + 9.0, y), above),
            (false, false) => ((x - 12.0, y + 5.5), (x + 12.0, y), beside - 12.0),
        };
        // Clear of the line, and never so short that it is no arrow any more.
        let half = (room - 2.0).clamp(5.0, STROKE);
        // The page's y runs down.
        let half = (along.x * half, -along.y * half);
        Some(Self {
            number,
            arrow: Some((middle, half)),
        })
    }
}

/// A line with a head at both ends: coats go to and fro.
fn arrow((x, y): (f64, f64), (dx, dy): (f64, f64)) -> Markup {
    let head = |sign: f64| {
        let (tip_x, tip_y) = (x + sign * dx, y + sign * dy);
        let (back_x, back_y) = (tip_x - sign * dx * 0.4, tip_y - sign * dy * 0.4);
        let (side_x, side_y) = (-dy * 0.25, dx * 0.25);
        format!(
            "M{:.1} {:.1}L{tip_x:.1} {tip_y:.1}L{:.1} {:.1}",
            back_x + side_x,
            back_y + side_y,
            back_x - side_x,
            back_y - side_y
        )
    };
    let line = format!("M{:.1} {:.1}L{:.1} {:.1}", x - dx, y - dy, x + dx, y + dy);
    html! { path d=(format!("{line}{}{}", head(1.0), head(-1.0))) fill="none" stroke="#000" stroke-width="1.5" {} }
}

/// What is drawn, fitted to the page.
struct Frame {
    least: [f64; 2],
    most: [f64; 2],
}

impl Frame {
    /// None where nothing is to be drawn.
    fn around(points: impl Iterator<Item = [f64; 2]>) -> Option<Self> {
        let frame = points.fold(None, |frame: Option<Self>, [x, y]| {
            let frame = frame.unwrap_or(Self {
                least: [x, y],
                most: [x, y],
            });
            Some(Self {
                least: [frame.least[0].min(x), frame.least[1].min(y)],
                most: [frame.most[0].max(x), frame.most[1].max(y)],
            })
        })?;
        (frame.most[0] > frame.least[0] && frame.most[1] > frame.least[1]).then_some(frame)
    }

    /// Units of the drawing for one metre: long rooms fill its width, high ones are no higher than that.
    fn scale(&self) -> f64 {
        let longest = (self.most[0] - self.least[0]).max(self.most[1] - self.least[1]);
        (WIDTH - 2.0 * MARGIN) / longest
    }

    fn height(&self) -> f64 {
        ((self.most[1] - self.least[1]) * self.scale() + 2.0 * MARGIN).ceil()
    }

    fn place(&self, [x, y]: [f64; 2]) -> (f64, f64) {
        (
            MARGIN + (x - self.least[0]) * self.scale(),
            MARGIN + (self.most[1] - y) * self.scale(),
        )
    }

    /// How wide a border is drawn.
    fn gap(&self, mm: f64) -> f64 {
        (mm / 1000.0 * self.scale()).max(LEAST_GAP)
    }

    fn path(&self, rings: &[Vec<[f64; 2]>]) -> String {
        let mut path = String::new();
        for ring in rings {
            for (n, &corner) in ring.iter().enumerate() {
                let (x, y) = self.place(corner);
                path.push(if n == 0 { 'M' } else { 'L' });
                path.push_str(&tenth(x));
                path.push(' ');
                path.push_str(&tenth(y));
            }
            path.push('Z');
        }
        path
    }
}

fn tenth(value: f64) -> String {
    format!("{value:.1}")
}

#[cfg(test)]
mod tests {
    use super::{
        super::told::{Direction, DrawnBay},
        Frame, Label, STROKE,
    };

    /// A bay of a floor that is 40 m wide, so that a metre is 10.7 units, with strokes along or across it.
    fn label([width, depth]: [f64; 2], is_upright: bool) -> (Label, Frame) {
        let frame = Frame::around([[0.0, 0.0], [40.0, depth]].into_iter()).unwrap();
        let (x, y) = if is_upright { (0.0, 1.0) } else { (1.0, 0.0) };
        let bay = DrawnBay {
            rings: vec![vec![[0.0, 0.0], [width, 0.0], [width, depth], [0.0, depth]]],
            strokes: Some(Direction { x, y }),
        };
        (Label::of(&bay, &frame).unwrap(), frame)
    }

    #[test]
    fn numbers_and_arrows_stay_within_their_bays() {
        for size in [
            [12.0, 10.0],
            [1.9, 10.0],
            [12.0, 1.9],
            [6.0, 2.4],
            [3.0, 6.0],
        ] {
            for is_upright in [false, true] {
                let (label, frame) = label(size, is_upright);
                let ((left, bottom), (right, top)) =
                    (frame.place([0.0, 0.0]), frame.place([size[0], size[1]]));
                let (x, y) = label.number;
                // A figure is about nine wide and eleven high.
                let is_in = left < x - 4.5 && x + 4.5 < right && top < y - 11.0 && y < bottom;
                assert!(is_in, "{size:?} {is_upright}: {:?}", label.number);
                let ((x, y), (dx, dy)) = label.arrow.unwrap();
                assert!(dx.hypot(dy) <= STROKE + 1e-9);
                let is_in = left < x - dx.abs()
                    && x + dx.abs() < right
                    && top < y - dy.abs()
                    && y + dy.abs() < bottom;
                assert!(is_in, "{size:?} {is_upright}: {:?}", label.arrow);
            }
        }
    }

    #[test]
    fn a_drawing_stays_on_its_page_whatever_the_room() {
        for (width, depth) in [(60.0, 2.0), (2.0, 60.0), (20.0, 12.0)] {
            let frame =
                Frame::around([[-5.0, 7.0], [width - 5.0, depth + 7.0]].into_iter()).unwrap();
            assert!(frame.height() <= super::WIDTH);
            let (x, y) = frame.place([width - 5.0, 7.0]);
            assert!(
                x <= super::WIDTH - super::MARGIN + 0.1
                    && y <= frame.height() - super::MARGIN + 0.1
            );
        }
        assert!(Frame::around(std::iter::once([1.0, 1.0])).is_none());
    }
}
