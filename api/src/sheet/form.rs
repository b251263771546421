//! The form by which a crew without a system of its own reports that the work of a plan is done: one small page for a phone.
//!
//! It works without a script. With one, what was typed stays on the phone until it is recorded, also where the network drops.

mod ask;
mod done;
mod page;
mod read;

pub(crate) use self::ask::Ask;
pub(crate) use self::page::{Floor, Look, SCRIPT, STYLE, html};
pub(crate) use self::read::{Filled, place};
