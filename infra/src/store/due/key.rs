//! Where a page of due dates ends.

use std::fmt;
use std::str::FromStr;

use chrono::NaiveDate;
use domain::id::SurfaceId;

/// Where a page of due dates ends: what is due on one day is told in the order of floors, then of processes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueKey {
    /// When the last one is due.
    pub due_on: NaiveDate,
    /// On which floor.
    pub surface: SurfaceId,
    /// By its key.
    pub process: String,
}

impl fmt::Display for DueKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}/{}", self.due_on, self.surface, self.process)
    }
}

/// A text that is no key of a list of due dates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not a day, a slash, the id of a surface, a slash and the key of a process")]
pub struct NoDueKey;

impl FromStr for DueKey {
    type Err = NoDueKey;

    fn from_str(text: &str) -> Result<Self, NoDueKey> {
        let read = || {
            let (day, rest) = text.split_once('/')?;
            let (surface, process) = rest.split_once('/')?;
            Some(Self {
                due_on: day.parse().ok()?,
                surface: surface.parse().ok()?,
                process: (!process.is_empty()).then(|| process.to_owned())?,
            })
        };
        read().ok_or(NoDueKey)
    }
}

#[cfg(test)]
mod tests {
    use super::DueKey;

    #[test]
    fn a_key_reads_back_what_it_writes_and_nothing_else() {
        let text = "2026-06-01/srf_01890a5d-ac96-774b-bcce-b302099a8057/spray_buff";
        let key: DueKey = text.parse().expect("a key");
        assert_eq!(key.to_string(), text);
        for other in ["", "2026-06-01", "2026-06-01/srf_1/x", "x/y/z"] {
            assert!(other.parse::<DueKey>().is_err(), "{other}");
        }
    }
}
