//! Single occurrences of an event that were moved or cancelled (3.8.4.4): events of its name that say in whose place they are.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use super::{Event, Fault, Wrong};

/// Leaves out of events the occurrences in whose place others are. Of several in one place the newest counts: that of the highest
/// `SEQUENCE`, of equal ones the last.
pub(super) fn settle(events: Vec<Event>, site: Tz, faults: &mut Vec<Fault>) -> Vec<Event> {
    let (moved, mut events): (Vec<Event>, Vec<Event>) = events
        .into_iter()
        .partition(|event| event.instead_of.is_some());
    let mut newest: BTreeMap<(String, DateTime<Utc>), Event> = BTreeMap::new();
    for event in moved {
        let Some((line, moment)) = event.instead_of else {
            continue;
        };
        let Some(uid) = event.uid.clone() else {
            let wrong = Wrong::NoUid;
            faults.push(Fault { line, wrong });
            continue;
        };
        if let Some((line, _)) = event.rule {
            let wrong = Wrong::NotRead("RRULE beside RECURRENCE-ID".to_owned());
            faults.push(Fault { line, wrong });
        }
        let place = (uid, moment.at(site));
        if newest
            .get(&place)
            .is_none_or(|other| other.sequence <= event.sequence)
        {
            newest.insert(place, event);
        }
    }
    for event in events.iter_mut().filter(|event| event.uid.is_some()) {
        let own = newest.values().filter(|other| other.uid == event.uid);
        let places: Vec<_> = own.filter_map(|other| other.instead_of).collect();
        for (line, moment) in places {
            if event
                .start
                .is_some_and(|start| start.is_day != moment.is_day)
            {
                let wrong = Wrong::Kind("RECURRENCE-ID");
                faults.push(Fault { line, wrong });
            } else {
                event.left_out.push((line, moment));
            }
        }
    }
    events.extend(newest.into_values());
    events
}
