//! What is to be scheduled: steps, links between them, access windows, resources and spaces.

/// A point in time or a length of it, in the caller's unit (minutes or slots of minutes), counted from the caller's zero.
pub type Time = i64;

/// An open stretch of time: from its start up to, not including, its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Window {
    /// Its first moment.
    pub from: Time,
    /// The moment after its last.
    pub to: Time,
}

/// When a space may be worked in: windows in order of time that do not overlap. An active step lies in one of them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Calendar {
    /// What it is called in answers.
    pub name: String,
    /// Its windows.
    pub windows: Vec<Window>,
}

/// A stretch of time in which so many units of a resource are there: a shift of a crew, the days of a hired machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    /// When.
    pub window: Window,
    /// How many units, at most [`MAX_UNITS`](super::MAX_UNITS).
    pub units: u32,
    /// What one unit costs that is used in it at all: a call-out, a day of hire.
    pub per_call: i64,
    /// What one unit costs per unit of time at work.
    pub per_time: i64,
}

/// Which kind of thing a resource is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResourceKind {
    /// Operatives, counted as crew-shifts.
    Crew,
    /// Machines of one type.
    Machine,
    /// A zone, a supply of power or water, a way through.
    Zone,
}

/// Something of which there is only so much at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resource {
    /// What it is called in answers.
    pub name: String,
    /// What it is.
    pub kind: ResourceKind,
    /// How much of it there is when, in order of time and without overlap; nothing outside.
    pub periods: Vec<Period>,
    /// Whether a step must lie in one period, because nobody takes over from a crew that goes home.
    pub whole_shift: bool,
    /// Set-up and travel between places, `gaps[from][to]`; its units are then told apart. Empty: no matter.
    pub gaps: Vec<Vec<Time>>,
}

/// So many units of a resource for as long as a step lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Demand {
    /// Index of the resource.
    pub resource: usize,
    /// How many units of it.
    pub units: u32,
}

/// A piece of work that is not interrupted. A step without duration is a milestone: it needs no window and no resource.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Step {
    /// What it is called in answers.
    pub name: String,
    /// How long it takes; the schedule is made with it.
    pub duration: Time,
    /// Median and 80 % quantile of the duration; `None` for one that does not vary.
    pub spread: Option<Spread>,
    /// It does not start before.
    pub release: Time,
    /// Index of the calendar it is done by; `None` for work at any time.
    pub calendar: Option<usize>,
    /// What it needs.
    pub demands: Vec<Demand>,
    /// Where it is done: the index in the gaps of its resources.
    pub place: usize,
    /// Index of the space that it belongs to.
    pub space: Option<usize>,
}

/// Two quantiles of a length of time, read as those of a lognormal law.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spread {
    /// It is shorter in half of all cases.
    pub p50: Time,
    /// It is shorter in four of five.
    pub p80: Time,
}

/// A wait between the end of one step and the start of another: drying, curing, dwell, a route.
///
/// Where nothing but links and steady capacities binds (no windows, shifts and travelling units), [`solve`](super::solve) takes
/// waits of any sign and form, up to [`MAX_LAGGED`](super::MAX_LAGGED) steps: a negative one lets steps overlap, links may lead
/// in circles, and a step may have several longest waits. A distance `d` between starts is a wait of `d` less the duration of
/// `from`; that `to` starts at most `d` after `from` is a longest wait of that, or a least wait of `-d` less the duration of `to`
/// back from `to` to `from`. Elsewhere, and for repairs and prospects, no wait is negative, links lead nowhere back and longest
/// waits form chains.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Link {
    /// Index of the step before.
    pub from: usize,
    /// Index of the step after.
    pub to: usize,
    /// The least wait; negative where the later step may start before the end of the other.
    pub min_lag: Time,
    /// The longest wait: dwell time, recoat window. No less than the least.
    pub max_lag: Option<Time>,
    /// Median and 80 % quantile of the least wait; `None` for one that does not vary.
    pub spread: Option<Spread>,
}

/// A space that people wait for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Space {
    /// What it is called in answers.
    pub name: String,
    /// How much an earlier reopening is worth beside the others.
    pub weight: i64,
    /// When it should be open again.
    pub deadline: Option<Time>,
    /// Indices of the steps after whose ends it is open.
    pub opens_after: Vec<usize>,
}

/// All that is scheduled together: many plans, one crew.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Workload {
    /// Everything ends by then, at most [`MAX_HORIZON`](super::MAX_HORIZON).
    pub horizon: Time,
    /// Access windows.
    pub calendars: Vec<Calendar>,
    /// What is scarce.
    pub resources: Vec<Resource>,
    /// What is done.
    pub steps: Vec<Step>,
    /// What waits for what.
    pub links: Vec<Link>,
    /// What is opened again.
    pub spaces: Vec<Space>,
}

impl Resource {
    /// A resource of which so many units are there all the time and cost nothing.
    pub fn steady(name: &str, kind: ResourceKind, units: u32, horizon: Time) -> Self {
        let window = Window {
            from: 0,
            to: horizon,
        };
        Self {
            name: name.to_owned(),
            kind,
            periods: vec![Period {
                window,
                units,
                per_call: 0,
                per_time: 0,
            }],
            whole_shift: false,
            gaps: Vec::new(),
        }
    }
}
