//! The bays of a plan's work: by number where only area and edge are known, drawn and put in order where there is an
//! outline.

use super::{
    Direction, PlanInput, Work,
    bays::{BEFORE, COATS, Size, Sizes},
    ground::Ground,
    nights::Cut,
    time_line::Cuts,
};
use crate::{
    geometry::{CutRule, Inside, Layout, Outline, Point},
    quantity::{Area, float},
};

/// More bays than this are counted and not listed: nobody reads them, and a plan is kept for ever.
pub const MAX_BAYS: usize = 200;

/// How many bays more are tried where walls do not let the floor be cut into equal ones.
const MORE_BAYS: u32 = 4;

/// The shape of the floor, where it has an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shape {
    /// The direction along which bays follow one another and coats are laid along, as a unit vector.
    pub axis: Point,
    /// Where the crew leaves.
    pub exit: Point,
    /// Whether nobody said where it leaves.
    pub exit_assumed: bool,
    /// In how many pieces the part inside the gap lies; necks narrower than two gaps part it.
    pub n_inside: usize,
    /// What lies in the gap or in necks and corners that early coats do not reach: laid by the last coat alone.
    pub border: Area,
}

/// The bays of a part of the work.
#[derive(Debug, Clone, PartialEq)]
pub struct BayLayout {
    /// What is done in these bays: names of parts of the time line.
    pub treats: Vec<String>,
    /// How many bays there are.
    pub n_bays: i64,
    /// What the crew can treat at most before something dries; `None` where nothing does.
    pub largest: Option<Area>,
    /// Where the reason for that stands.
    pub basis: Option<&'static str>,
    /// Whether its seams lie half a bay off those of the coat before.
    pub staggered: bool,
    /// In which direction its coats are laid.
    pub direction: Option<Direction>,
    /// What the machine does not reach and hands do, where a machine works in it.
    pub by_hand: Option<Area>,
    /// The bays in the order of treatment; none where there are too many to list.
    pub bays: Vec<PlannedBay>,
}

/// One bay.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedBay {
    /// When its turn is, from 1.
    pub number: i64,
    /// Its area.
    pub area: Area,
    /// What of it the coats cover that stop short of the skirting.
    pub inside: Option<Area>,
    /// What of it the machine does not reach.
    pub by_hand: Option<Area>,
    /// Where it lies, if the floor has an outline.
    pub drawn: Option<DrawnBay>,
}

/// Where a bay lies and how it is worked.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnBay {
    /// Its rings in the outline's frame, the outer one first.
    pub rings: Vec<Vec<Point>>,
    /// The point towards which the crew works and by which it leaves.
    pub towards: Point,
    /// The direction in which its coats are laid, as a unit vector.
    pub strokes: Option<Point>,
    /// Whether that is at a right angle to the coat before; not where the bay is too narrow for it.
    pub crossed: bool,
}

/// Adds the bays to the work of a plan, and spreads its nights over them as they are drawn.
pub(super) struct Drawing<'a> {
    input: &'a PlanInput<'a>,
    ground: &'a Ground,
    work: &'a Work,
    sizes: Sizes,
    reached: Option<(Inside, Area)>,
}

/// A part of the work that has bays of its own.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Before,
    Odd,
    Even,
}

impl<'a> Drawing<'a> {
    pub(super) fn new(
        input: &'a PlanInput<'a>,
        ground: &'a Ground,
        work: &'a Work,
        sizes: Sizes,
    ) -> Self {
        let outline = input.survey.outline.as_ref();
        let width = machine_width(input, work);
        let reached = outline.zip(width).map(|(outline, width_m)| {
            let clear_m = float(input.base.bays.clear_mm) / 1e3;
            let reached = outline.reached(width_m, clear_m);
            let area = Area::from_m2(reached.area_m2()).unwrap_or(Area::ZERO);
            (reached, area)
        });
        Self {
            input,
            ground,
            work,
            sizes,
            reached,
        }
    }

    /// The shape of the floor.
    pub(super) fn shape(&self) -> Option<Shape> {
        let outline = self.input.survey.outline.as_ref()?;
        let (exit, exit_assumed) = self.exit(outline);
        Some(Shape {
            axis: outline.axis(),
            exit,
            exit_assumed,
            n_inside: self.ground.shape.as_ref().map_or(1, Inside::n_pieces),
            border: self.input.survey.area.less(self.ground.inside),
        })
    }

    fn exit(&self, outline: &Outline) -> (Point, bool) {
        let door = self.input.survey.doors.first();
        door.map_or_else(|| (outline.assumed_exit(), true), |door| (*door, false))
    }

    /// The bays of each part of the work.
    pub(super) fn layouts(&self) -> Vec<BayLayout> {
        let n_coats = self
            .work
            .steps
            .iter()
            .filter(|step| step.coat.is_some())
            .count();
        let coats = |first: usize| {
            (first..=n_coats)
                .step_by(2)
                .map(|n| format!("coat {n}"))
                .collect()
        };
        let before = if n_coats == 0 { "the work" } else { "prepare" };
        let mut layouts = vec![self.layout(Part::Before, vec![before.to_owned()])];
        for (part, first) in [(Part::Odd, 1), (Part::Even, 2)] {
            if n_coats >= first {
                layouts.push(self.layout(part, coats(first)));
            }
        }
        layouts
    }

    /// The cuts of the bays as they were drawn, where they were.
    pub(super) fn cuts(&self, layouts: &[BayLayout]) -> Option<Cuts> {
        let cuts = self.sizes.cuts();
        let cut = |index: usize, equal: Cut| match (layouts.get(index), &equal) {
            (Some(layout), Cut::Equal(_)) if layout.bays.iter().any(|bay| bay.drawn.is_some()) => {
                Cut::Drawn(layout.bays.iter().map(|bay| bay.area.mm2()).collect())
            }
            _ => equal,
        };
        self.input.survey.outline.as_ref()?;
        Some(Cuts {
            before: cut(0, cuts.before),
            odd: cut(1, cuts.odd),
            even: cut(2, cuts.even),
        })
    }

    fn layout(&self, part: Part, treats: Vec<String>) -> BayLayout {
        let (size, basis) = match part {
            Part::Before => (self.sizes.before, BEFORE),
            Part::Odd | Part::Even => (self.sizes.coats, COATS),
        };
        let n = size.map_or(self.work.time_line.n_before, |size| size.n);
        let staggered = part == Part::Even && n > 1;
        let direction = match part {
            Part::Before => None,
            Part::Even if self.ground.crosses => Some(Direction::Across),
            Part::Odd | Part::Even => Some(Direction::Along),
        };
        let mut layout = BayLayout {
            treats,
            n_bays: n.saturating_add(i64::from(staggered)),
            largest: size.map(|size: Size| size.largest),
            basis: size.map(|_| basis),
            staggered,
            direction,
            by_hand: self.by_hand(part),
            bays: Vec::new(),
        };
        let listed = usize::try_from(layout.n_bays).is_ok_and(|n| n <= MAX_BAYS);
        if listed {
            layout.bays = match &self.input.survey.outline {
                Some(outline) => self.draw(outline, part, &layout, n),
                None => self.count(part, &layout, n),
            };
            let n_bays = i64::try_from(layout.bays.len());
            layout.n_bays = n_bays.unwrap_or(layout.n_bays);
        }
        layout
    }

    /// What the machine of the work does not reach: the border that it is held off, corners and necks.
    fn by_hand(&self, part: Part) -> Option<Area> {
        if part != Part::Before {
            return None;
        }
        let area = self.input.survey.area;
        if let Some((_, reached)) = &self.reached {
            return Some(area.less(*reached));
        }
        machine_width(self.input, self.work).map(|_| area.less(self.ground.clear))
    }

    /// Bays by number alone: equal parts, the first and the last of staggered ones half as large.
    fn count(&self, part: Part, layout: &BayLayout, n: i64) -> Vec<PlannedBay> {
        let inside = (part != Part::Before).then_some(self.ground.inside);
        let bays = (1..=layout.n_bays).map(|number| {
            let half = layout.staggered && (number == 1 || number == layout.n_bays);
            let of = n.saturating_mul(if half { 2 } else { 1 });
            PlannedBay {
                number,
                area: self.input.survey.area.scaled(1, of),
                inside: inside.map(|area| area.scaled(1, of)),
                by_hand: layout.by_hand.map(|area| area.scaled(1, of)),
                drawn: None,
            }
        });
        bays.collect()
    }

    /// Bays cut out of the outline.
    fn draw(&self, outline: &Outline, part: Part, layout: &BayLayout, n: i64) -> Vec<PlannedBay> {
        let (exit, _assumed) = self.exit(outline);
        let drawn = self.cut(outline, (n, layout.staggered, layout.largest), exit);
        let share = |of: Option<&Inside>| {
            let shares = of.map(|of| drawn.share(of)).unwrap_or_default();
            let areas = shares.into_iter().map(|m2| Area::from_m2(m2.max(0.0)));
            areas
                .map(|area| area.unwrap_or(Area::ZERO))
                .collect::<Vec<_>>()
        };
        let coated = part != Part::Before;
        let inside = share(self.ground.shape.as_ref().filter(|_| coated));
        let reached = share(
            self.reached
                .as_ref()
                .map(|(reached, _)| reached)
                .filter(|_| !coated),
        );
        let bays = drawn.bays.iter().enumerate().map(|(index, bay)| {
            let area = Area::from_m2(bay.area_m2).unwrap_or(Area::ZERO);
            PlannedBay {
                number: i64::try_from(bay.number).unwrap_or(i64::MAX),
                area,
                inside: inside.get(index).map(|inside| (*inside).min(area)),
                by_hand: reached.get(index).map(|reached| area.less(*reached)),
                drawn: Some(self.drawn(part, &drawn, bay)),
            }
        });
        bays.collect()
    }

    /// Cuts the outline into bays, into more of them where a wall made one larger than what can be treated.
    fn cut(
        &self,
        outline: &Outline,
        (n, staggered, largest): (i64, bool, Option<Area>),
        exit: Point,
    ) -> Layout {
        let bays = &self.input.base.bays;
        let metres = |mm: i64| float(mm) / 1e3;
        let rule = |more: u32| CutRule {
            n_bays: u32::try_from(n).unwrap_or(1).saturating_add(more),
            staggered,
            depth_m: metres(bays.depth_mm),
            passage_m: metres(bays.passage_mm),
        };
        let fits = |layout: &Layout| {
            let limit = largest.map_or(f64::INFINITY, |area| area.m2() * (1.0 + 1e-6));
            layout.bays.iter().all(|bay| bay.area_m2 <= limit)
        };
        let tries = (1..=MORE_BAYS).map(|more| outline.lay_out(&rule(more), exit));
        let first = outline.lay_out(&rule(0), exit);
        if fits(&first) {
            return first;
        }
        tries.into_iter().find(fits).unwrap_or(first)
    }

    fn drawn(&self, part: Part, layout: &Layout, bay: &crate::geometry::Bay) -> DrawnBay {
        let wide = bay.across_m >= self.ground.least_width_m;
        let crossed = part == Part::Even && wide;
        DrawnBay {
            rings: bay.rings.clone(),
            towards: bay.towards,
            strokes: (part != Part::Before).then(|| {
                if crossed {
                    layout.axis.turned()
                } else {
                    layout.axis
                }
            }),
            crossed,
        }
    }
}

/// The width in m of the widest machine that works the floor, if one does.
fn machine_width(input: &PlanInput<'_>, work: &Work) -> Option<f64> {
    let machines = work
        .labour
        .iter()
        .filter_map(|line| line.machine.as_deref());
    // What has no pad or brush that turns takes up and does not work the floor.
    let machines = machines.filter_map(|key| input.base.machine(key));
    let widths = machines
        .filter(|row| row.rpm.is_some())
        .map(|row| row.width_cm);
    widths.max().map(|width| float(width) / 1e2)
}
