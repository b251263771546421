//! Schedules on the wire: what is asked for. What comes of it is in [`told`], what is read of plans in [`plan`].

pub(crate) mod calendar;
pub(crate) mod gantt;
pub(crate) mod night;
pub(crate) mod plan;
pub(crate) mod replan;
pub(crate) mod table;
pub(crate) mod told;
pub(crate) mod visit;

use chrono::{DateTime, NaiveDate, Utc};
use domain::schedule::Objective;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{estimate::SurfaceIdText, surface::AccessWindow};

/// What is to be scheduled together: plans of one site, who does them, and when their floors may be closed.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "site_id": "sit_01890a5d-ac96-774b-bcce-b302099a8057",
    "plans": [{"plan_id": "pln_01890a5d-ac96-774b-bcce-b302099a8057"}],
    "from": "2026-07-27T06:00:00Z",
    "to": "2026-08-07T18:00:00Z",
    "crews": [{"name": "Day crew", "operatives": 3, "shifts": [
        {"days": ["monday", "tuesday", "wednesday", "thursday", "friday"], "from": "07:00", "to": "15:30"}
    ]}]
}))]
pub(crate) struct ScheduleRequest {
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    pub(crate) site_id: String,
    /// The plans, one a surface: allowed, neither superseded nor withdrawn, and made of the surface as it is now.
    #[schema(min_items = 1, max_items = 200)]
    pub(crate) plans: Vec<ScheduledPlan>,
    /// The moment from which work may be done: at most 300 days from now.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) from: DateTime<Utc>,
    /// The moment by which all floors are open: at most 92 days later.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) to: DateTime<Utc>,
    /// Who does the work. A plan is one crew's.
    #[schema(min_items = 1, max_items = 20)]
    pub(crate) crews: Vec<CrewRequest>,
    /// Machines of which there are only so many. Those that are not named are taken to be there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub(crate) machines: Vec<MachineCount>,
    /// How long crews take between floors, in the place of what the crews and storeys say.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 500)]
    pub(crate) moves: Vec<Move>,
    /// What is special about surfaces of these plans.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub(crate) surfaces: Vec<SurfaceTerms>,
    /// When every floor may be closed all the time, such as school holidays, whatever its weekly hours.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) open: Vec<Stretch>,
    /// The same as an iCalendar text (RFC 5545), such as one of the building's closing hours and holidays: all that its events take
    /// up. Read are events with a beginning, an end or a length, rules by days, weeks, months and years with COUNT, UNTIL, INTERVAL,
    /// BYDAY, BYMONTHDAY, BYMONTH, BYYEARDAY, BYSETPOS and WKST, days left out (EXDATE), single occurrences that were moved or
    /// cancelled (RECURRENCE-ID), and zones by their IANA names; without one the site's clock counts. What else would change when an
    /// event is (RDATE, hours within a day, numbers of weeks) is refused. Each fault is told with its line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100_000)]
    pub(crate) open_calendar: Option<String>,
    /// When no floor may be closed, such as days with guests, whatever else is said.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) closed: Vec<Stretch>,
    /// The same as an iCalendar text, such as one of events with guests.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100_000)]
    pub(crate) closed_calendar: Option<String>,
    /// What the schedule is made for; the others break ties.
    #[serde(default)]
    pub(crate) objective: ObjectiveWord,
    /// Where the random numbers of the search start: the same request gives the same schedules.
    #[serde(default = "one")]
    #[schema(default = 1, minimum = 0, maximum = 1_000_000_000)]
    pub(crate) seed: i64,
    /// How many schedules are tried at most.
    #[serde(default = "usual_effort")]
    #[schema(default = 1000, minimum = 1, maximum = 20_000)]
    pub(crate) schedules: i64,
}

const fn one() -> i64 {
    1
}

const fn usual_effort() -> i64 {
    1_000
}

/// What a schedule is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ObjectiveWord {
    /// The last floor opens as early as may be.
    #[default]
    EarliestReopening,
    /// All floors open early, each by its weight.
    WeightedReopening,
    /// As few crew-shifts as may be: operatives called, counted once for each of their shifts.
    FewestShifts,
    /// As little paid labour as may be.
    LeastCost,
}

impl From<ObjectiveWord> for Objective {
    fn from(word: ObjectiveWord) -> Self {
        match word {
            ObjectiveWord::EarliestReopening => Self::EarliestReopening,
            ObjectiveWord::WeightedReopening => Self::WeightedReopening,
            ObjectiveWord::FewestShifts => Self::FewestShifts,
            ObjectiveWord::LeastCost => Self::LeastCost,
        }
    }
}

impl From<Objective> for ObjectiveWord {
    fn from(objective: Objective) -> Self {
        match objective {
            Objective::EarliestReopening => Self::EarliestReopening,
            Objective::WeightedReopening => Self::WeightedReopening,
            Objective::FewestShifts => Self::FewestShifts,
            Objective::LeastCost => Self::LeastCost,
        }
    }
}

/// A plan to be scheduled.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ScheduledPlan {
    /// The plan.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    pub(crate) plan_id: String,
    /// The crew that does it, by its name. Left out, plans are shared out among the crews with the skills, by working time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 100)]
    pub(crate) crew: Option<String>,
    /// Skills that the crew must have.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 10)]
    pub(crate) skills: Vec<Skill>,
}

/// A skill, in the caller's own words; compared letter by letter.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(min_length = 1, max_length = 60)]
pub(crate) struct Skill(pub(crate) String);

/// Operatives who work the same shifts.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CrewRequest {
    /// What people call it.
    #[schema(min_length = 1, max_length = 100)]
    pub(crate) name: String,
    /// How many they are. A plan takes as many of them at once as it was made for.
    #[schema(minimum = 1, maximum = 50)]
    pub(crate) operatives: u32,
    /// What they can do.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub(crate) skills: Vec<Skill>,
    /// When they work, by the site's clock: nobody goes on with a piece of work after his shift. Setting up and cleaning
    /// down, by the site's rate card, are at its ends.
    #[schema(min_items = 1, max_items = 20)]
    pub(crate) shifts: Vec<AccessWindow>,
    /// Days on which no shift of theirs begins.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub(crate) days_off: Vec<DayOff>,
    /// Minutes from one floor to another: packing up, the way, setting up.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 240)]
    pub(crate) move_min: i64,
    /// Minutes more where the two floors are on different storeys: stairs, the lift, carrying.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 240)]
    pub(crate) storey_min: i64,
}

/// How long it is from one floor to another.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ScheduleMove)]
pub(crate) struct Move {
    /// A surface of these plans.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) from: String,
    /// Another; the way back is as long.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) to: String,
    /// Minutes: packing up, the way, setting up.
    #[schema(minimum = 0, maximum = 480)]
    pub(crate) minutes: i64,
}

/// A day.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[schema(value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
pub(crate) struct DayOff(pub(crate) NaiveDate);

/// How many machines of a type there are.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MachineCount {
    /// The key of the machine, as `GET /v1/tools` has it.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) machine: String,
    /// How many.
    #[schema(minimum = 1, maximum = 100)]
    pub(crate) count: u32,
}

/// From one moment up to another.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ScheduleStretch)]
pub(crate) struct Stretch {
    /// Its first moment.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) from: DateTime<Utc>,
    /// The moment after its last.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) to: DateTime<Utc>,
}

/// What is special about a surface.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SurfaceTerms {
    /// The surface of one of the plans.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// When people should be able to walk on it again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = DateTime, max_length = 40)]
    pub(crate) deadline: Option<DateTime<Utc>>,
    /// What its early reopening is worth beside that of the others, for `weighted_reopening`.
    #[serde(default = "one")]
    #[schema(default = 1, minimum = 1, maximum = 1000)]
    pub(crate) weight: i64,
    /// When it may be closed, by the site's clock, in the place of the survey's `access_windows`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 1, max_items = 20)]
    pub(crate) access_windows: Option<Vec<AccessWindow>>,
    /// When it may be closed besides.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) open: Vec<Stretch>,
    /// The same as an iCalendar text, such as one of its closing hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100_000)]
    pub(crate) open_calendar: Option<String>,
    /// When it may not be closed, whatever else is said.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) closed: Vec<Stretch>,
    /// The same as an iCalendar text, such as one of its bookings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100_000)]
    pub(crate) closed_calendar: Option<String>,
    /// Surfaces of these plans that are reached over this one alone: nobody works there while this one is worked on or wet.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) only_way_to: Vec<SurfaceIdText>,
}

/// Which choice is to be done.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"choice": 1}))]
pub(crate) struct ChooseRequest {
    /// Its number.
    #[schema(minimum = 1, maximum = 3)]
    pub(crate) choice: i64,
}
