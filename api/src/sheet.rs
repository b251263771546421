//! A plan as the crew reads it: one HTML page that a phone shows and a printer prints, without scripts.
//!
//! All figures are those of the kept plan; nothing is worked out here but clock times and other units. What the knowledge base
//! says (steps, cautions) stands in its own language; the sheet's own words in one of two.

mod bar;
mod code;
mod drawing;
pub(crate) mod form;
mod measure;
mod page;
mod parts;
mod told;
mod words;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

pub(crate) use self::measure::Units;
pub(crate) use self::page::{STYLE, html};
pub(crate) use self::told::{Told, ToldFloor};
pub(crate) use self::words::Language;

/// What a sheet is made from beside the plan.
#[derive(Debug)]
pub(crate) struct Sheet<'a> {
    /// The plan.
    pub(crate) plan: &'a Told,
    /// What people call the site.
    pub(crate) site: &'a str,
    /// What people call the floor.
    pub(crate) surface: &'a str,
    /// The storey it lies on.
    pub(crate) storey: &'a str,
    /// Its outline and doors, where it has one and is still as it was when the plan was made.
    pub(crate) outline: Option<&'a ToldFloor>,
    /// The whole address of the form by which the work is reported, where a link was named.
    pub(crate) form: Option<&'a str>,
    /// How large it is, in m².
    pub(crate) area_m2: f64,
    /// The zone of the site.
    pub(crate) zone: Tz,
    /// When the floor is closed, where that was said: the time line then has clock times.
    pub(crate) closed_at: Option<DateTime<Utc>>,
    /// The language of the sheet's own words.
    pub(crate) language: Language,
    /// The units of what is measured.
    pub(crate) units: Units,
}
