//! The parts of a plan's work: what comes before the first coat, each coat, and what is left.

use crate::{
    quantity::{Labour, Rounding, divide},
    schedule::Time,
};

/// A wait in minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Wait {
    /// In half of the cases.
    pub p50: Time,
    /// As planned with: in four of five cases, or as the label says.
    pub used: Time,
}

/// What is read of a step of a plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanStep {
    /// Its number.
    pub number: i64,
    /// Time of the whole crew for it on all of the floor, allowance included.
    pub crew_time: Labour,
    /// Whether it lays a coat.
    pub coat: bool,
    /// Whether it wets the floor: what dwelt before is then over.
    pub wets: bool,
    /// How long what it lays works, at least and at most.
    pub dwell: Option<(Time, Time)>,
    /// The wait after it.
    pub wait: Wait,
    /// Index of the scarce machine that it keeps busy.
    pub machine: Option<usize>,
}

/// Into which bays a plan cuts the floor: the sizes of its bays in any one unit, by parts.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sizes {
    /// Before the first coat, or all of the work.
    pub before: Vec<i64>,
    /// Whether nothing but the windows cuts that.
    pub before_is_free: bool,
    /// The first coat, and every other one after it.
    pub odd: Vec<i64>,
    /// The second coat, and every other one after it.
    pub even: Vec<i64>,
}

/// Work that a crew does in a bay without leaving it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Piece {
    /// The steps of the plan that it is made of.
    pub steps: Vec<i64>,
    /// Time of the crew on all bays together.
    pub crew_time: Labour,
    /// Indices of the scarce machines that it keeps busy.
    pub machines: Vec<usize>,
    /// How long what was laid before it works, at least and at most: from the end of the piece before it.
    pub dwell: Option<(Time, Time)>,
    /// What of its time must be over by the longest of these.
    pub bound: Labour,
}

/// A part of the work that is done in all bays before the next part begins.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// What it is called, as in the plan's time line.
    pub name: String,
    /// The sizes of its bays.
    pub bays: Vec<i64>,
    /// Whether nothing but the windows cuts it, so that it may be cut otherwise.
    pub is_free: bool,
    /// Its pieces, in order.
    pub pieces: Vec<Piece>,
    /// Before anybody may walk there.
    pub opens_after: Wait,
    /// Before the next part may begin.
    pub then: Wait,
}

impl Piece {
    /// Minutes of the crew in a bay, rounded up.
    pub(super) fn minutes(&self, bay: i64, of: i64) -> Time {
        let share = self.crew_time.scaled(bay, of.max(1));
        divide(i128::from(share.us()), 60_000_000, Rounding::Up).unwrap_or(Time::MAX)
    }

    fn is_idle(&self) -> bool {
        self.crew_time <= Labour::ZERO
    }

    fn join(&mut self, other: Self) {
        self.crew_time = self.crew_time.plus(other.crew_time);
        self.steps.extend(other.steps);
        for machine in other.machines {
            if !self.machines.contains(&machine) {
                self.machines.push(machine);
            }
        }
    }

    fn add(&mut self, step: &PlanStep) {
        self.steps.push(step.number);
        self.crew_time = self.crew_time.plus(step.crew_time);
        if let Some(machine) = step
            .machine
            .filter(|machine| !self.machines.contains(machine))
        {
            self.machines.push(machine);
        }
    }
}

/// What is being put together.
struct Draft<'s> {
    sizes: &'s Sizes,
    parts: Vec<Part>,
    pieces: Vec<Piece>,
    piece: Piece,
    waited: Wait,
    laid: usize,
    dwells: bool,
}

/// The parts of a plan. `bare` is the wait after which a rinsed, bare floor may be opened, `foot` that after a coat.
pub fn parts(steps: &[PlanStep], sizes: &Sizes, (bare, foot): (Wait, Wait)) -> Vec<Part> {
    let n_coats = steps.iter().filter(|step| step.coat).count();
    let mut draft = Draft {
        sizes,
        parts: Vec::new(),
        pieces: Vec::new(),
        piece: Piece::default(),
        waited: Wait::default(),
        laid: 0,
        dwells: false,
    };
    for step in steps {
        if step.coat {
            if draft.laid == 0 {
                draft.close("prepare".to_owned(), bare);
            }
            draft.laid = draft.laid.saturating_add(1);
            // What is done between two coats belongs to the later one.
            draft.piece.add(step);
            draft.waited = step.wait;
            draft.close(format!("coat {}", draft.laid), foot);
            continue;
        }
        let goes_on = step.crew_time > Labour::ZERO && draft.waited.used > 0;
        if goes_on && draft.laid == 0 {
            let name = draft.name();
            let open = Wait {
                p50: bare.p50.min(draft.waited.p50),
                used: bare.used.min(draft.waited.used),
            };
            draft.close(name, open);
        }
        draft.step(step);
    }
    let last = if n_coats == 0 && draft.parts.is_empty() {
        "the work".to_owned()
    } else {
        draft.name()
    };
    let open = if n_coats == 0 {
        draft.waited
    } else {
        Wait::default()
    };
    draft.close(last, open);
    draft.parts
}

impl Draft<'_> {
    fn step(&mut self, step: &PlanStep) {
        // What is laid or rinsed next ends what works on the floor.
        self.dwells = self.dwells && !step.wets;
        self.piece.add(step);
        if self.dwells {
            self.piece.bound = self.piece.bound.plus(step.crew_time);
        }
        self.waited = Wait {
            p50: self.waited.p50.saturating_add(step.wait.p50),
            used: self.waited.used.saturating_add(step.wait.used),
        };
        if let Some(dwell) = step.dwell {
            let done = std::mem::take(&mut self.piece);
            self.pieces.push(done);
            self.piece.dwell = Some(dwell);
            self.dwells = true;
        }
    }

    /// Steps by their numbers.
    fn name(&self) -> String {
        let all = self.pieces.iter().chain([&self.piece]);
        let mut numbers = all.flat_map(|piece| piece.steps.iter().copied());
        let first = numbers.next().unwrap_or(0);
        match numbers.last() {
            Some(last) => format!("steps {first} to {last}"),
            None => format!("step {first}"),
        }
    }

    /// Ends a part, if there is any work in it; else its wait is added to the part before it.
    fn close(&mut self, name: String, opens_after: Wait) {
        let piece = std::mem::take(&mut self.piece);
        if !piece.steps.is_empty() {
            self.pieces.push(piece);
        }
        let pieces = std::mem::take(&mut self.pieces);
        let then = std::mem::take(&mut self.waited);
        self.dwells = false;
        // Steps without work, such as reading a strip, go with the work beside them.
        let mut merged: Vec<Piece> = Vec::new();
        for piece in pieces {
            match merged.last_mut() {
                Some(last) if piece.is_idle() || last.is_idle() => last.join(piece),
                _ => merged.push(piece),
            }
        }
        if merged.iter().all(Piece::is_idle) {
            if let Some(last) = self.parts.last_mut() {
                last.then.p50 = last.then.p50.saturating_add(then.p50);
                last.then.used = last.then.used.saturating_add(then.used);
            }
            return;
        }
        let (bays, is_free) = match self.laid {
            0 => (&self.sizes.before, self.sizes.before_is_free),
            laid if laid % 2 == 1 => (&self.sizes.odd, false),
            _ => (&self.sizes.even, false),
        };
        let bays = if bays.is_empty() {
            vec![1]
        } else {
            bays.clone()
        };
        self.parts.push(Part {
            name,
            bays,
            is_free,
            pieces: merged,
            opens_after,
            then,
        });
    }
}
