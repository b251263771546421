//! Where the bays lie, in which order and direction: a drawing in black and white that needs no legend.

use maud::{Markup, html};

use super::{
    measure::Measure,
    told::{Direction, DrawnBay, Layout, Shape, ToldFloor},
    words::Words,
};

/// How wide a drawing is, in its own units.
const WIDTH: f64 = 480.0;
const MARGIN: f64 = 26.0;
/// Half the length of the arrow that shows how coats are laid.
const STROKE: f64 = 15.0;
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
                @if let Some(at) = middle(bay) {
                    @let (x, y) = frame.place(at);
                    @if let Some(strokes) = bay.strokes { (arrow((x, y), strokes)) }
                    @let (at_x, at_y) = beside((x, y), bay.strokes);
                    text x=(tenth(at_x)) y=(tenth(at_y)) text-anchor="middle" font-size="15" font-weight="700" stroke="#fff" stroke-width="4" paint-order="stroke" { (number) }
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

/// A line with a head at both ends: coats go to and fro.
fn arrow((x, y): (f64, f64), along: Direction) -> Markup {
    // The page's y runs down.
    let (dx, dy) = (along.x * STROKE, -along.y * STROKE);
    let head = |sign: f64| {
        let (tip_x, tip_y) = (x + sign * dx, y + 6.0 + sign * dy);
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
    let line = format!(
        "M{:.1} {:.1}L{:.1} {:.1}",
        x - dx,
        y + 6.0 - dy,
        x + dx,
        y + 6.0 + dy
    );
    html! { path d=(format!("{line}{}{}", head(1.0), head(-1.0))) fill="none" stroke="#000" stroke-width="1.5" {} }
}

/// Where a bay's number stands: above an arrow that lies, to the left of one that stands, else in the middle.
fn beside((x, y): (f64, f64), strokes: Option<Direction>) -> (f64, f64) {
    match strokes {
        Some(along) if along.y.abs() > along.x.abs() => (x - 14.0, y + 11.0),
        Some(_) => (x, y - 6.0),
        // In the middle: a figure of this size is about eleven high.
        None => (x, y + 5.5),
    }
}

/// The middle of a bay's outer ring (the centroid; of a bay round a corner it may lie outside).
fn middle(bay: &DrawnBay) -> Option<[f64; 2]> {
    let ring = bay.rings.first()?;
    let first = ring.first()?;
    // Relative to a corner: sites have frames whose origin lies far away.
    let from = |[x, y]: [f64; 2]| (x - first[0], y - first[1]);
    let next = ring.iter().cycle().skip(1);
    let (mut area, mut x, mut y) = (0.0, 0.0, 0.0);
    for (&here, &there) in ring.iter().zip(next) {
        let ((x0, y0), (x1, y1)) = (from(here), from(there));
        let cross = x0 * y1 - x1 * y0;
        area += cross;
        x += (x0 + x1) * cross;
        y += (y0 + y1) * cross;
    }
    (area.abs() > 1e-9).then(|| [first[0] + x / (3.0 * area), first[1] + y / (3.0 * area)])
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
    use super::{DrawnBay, Frame, middle};

    fn bay(rings: Vec<Vec<[f64; 2]>>) -> DrawnBay {
        DrawnBay {
            rings,
            strokes: None,
        }
    }

    /// The centroid of an L of three unit squares is the mean of theirs.
    #[test]
    fn the_middle_is_the_centroid() {
        let l = bay(vec![vec![
            [10.0, 20.0],
            [12.0, 20.0],
            [12.0, 21.0],
            [11.0, 21.0],
            [11.0, 22.0],
            [10.0, 22.0],
        ]]);
        let [x, y] = middle(&l).unwrap();
        assert!(
            (x - (10.5 + 11.5 + 10.5) / 3.0).abs() < 1e-12
                && (y - (20.5 + 20.5 + 21.5) / 3.0).abs() < 1e-12
        );
        assert_eq!(middle(&bay(vec![vec![[0.0, 0.0], [1.0, 1.0]]])), None);
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
