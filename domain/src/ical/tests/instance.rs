//! Single occurrences that were moved or cancelled (RFC 5545, 3.8.4.4).

use chrono_tz::Europe::London;

use super::{Fault, Wrong, calendar, expand, june, pair, within};

/// Every Tuesday evening of June 2026 in London.
const WEEKLY: &str = "UID:choir\r\nDTSTART;TZID=Europe/London:20260602T190000\r\nDTEND;TZID=Europe/London:20260602T210000\r\n\
    RRULE:FREQ=WEEKLY;UNTIL=20260630T235959Z";

fn told(events: &[&str]) -> Vec<(String, String)> {
    let found = expand(
        &calendar(events),
        London,
        within("2026-01-01", "2027-01-01"),
    );
    let spans = found.unwrap().into_iter();
    let text = |at: chrono::DateTime<chrono::Utc>| at.format("%m-%d %H:%M").to_string();
    spans
        .map(|span| pair(&text(span.from), &text(span.to)))
        .collect()
}

fn evening(day: &str) -> (String, String) {
    pair(&format!("06-{day} 18:00"), &format!("06-{day} 20:00"))
}

#[test]
fn an_occurrence_that_was_moved_takes_up_its_new_time_and_not_its_old_one() {
    let moved = "UID:choir\r\nRECURRENCE-ID;TZID=Europe/London:20260609T190000\r\n\
        DTSTART;TZID=Europe/London:20260610T100000\r\nDURATION:PT3H";
    let expected = [
        evening("02"),
        pair("06-10 09:00", "06-10 12:00"),
        evening("16"),
        evening("23"),
        evening("30"),
    ];
    assert_eq!(told(&[WEEKLY, moved]), expected);
    // The order in the text does not count, and the same moment may be told in another zone.
    let in_utc = moved.replace(
        "RECURRENCE-ID;TZID=Europe/London:20260609T190000",
        "RECURRENCE-ID:20260609T180000Z",
    );
    assert_eq!(told(&[&in_utc, WEEKLY]), expected);
}

#[test]
fn an_occurrence_that_was_cancelled_takes_up_no_time() {
    let cancelled = "UID:choir\r\nRECURRENCE-ID;TZID=Europe/London:20260623T190000\r\n\
        DTSTART;TZID=Europe/London:20260623T190000\r\nDURATION:PT2H\r\nSTATUS:CANCELLED";
    let expected = [evening("02"), evening("09"), evening("16"), evening("30")];
    assert_eq!(told(&[WEEKLY, cancelled]), expected);
}

#[test]
fn of_two_changes_of_an_occurrence_the_one_of_the_higher_sequence_counts() {
    let change = |sequence: u32, hour: u32| {
        format!(
            "UID:choir\r\nSEQUENCE:{sequence}\r\nRECURRENCE-ID;TZID=Europe/London:20260602T190000\r\n\
             DTSTART;TZID=Europe/London:20260603T{hour:02}0000\r\nDURATION:PT1H"
        )
    };
    let found = told(&[WEEKLY, &change(2, 12), &change(1, 15)]);
    assert_eq!(found[0], pair("06-03 11:00", "06-03 12:00"));
    assert_eq!(found.len(), 5);
}

#[test]
fn a_change_of_another_event_changes_nothing_here() {
    let other = "UID:band\r\nRECURRENCE-ID;TZID=Europe/London:20260609T190000\r\n\
        DTSTART;TZID=Europe/London:20260610T100000\r\nDURATION:PT3H";
    let found = told(&[WEEKLY, other]);
    assert!(found.contains(&evening("09")));
    assert!(found.contains(&pair("06-10 09:00", "06-10 12:00")));
}

#[test]
fn a_change_that_cannot_be_placed_is_refused_with_its_line() {
    let later = "UID:choir\r\nRECURRENCE-ID;RANGE=THISANDFUTURE:20260609T180000Z\r\nDTSTART:20260609T170000Z";
    let of_a_day = "UID:choir\r\nRECURRENCE-ID;VALUE=DATE:20260609\r\nDTSTART;VALUE=DATE:20260610";
    let nameless = "RECURRENCE-ID:20260609T180000Z\r\nDTSTART:20260609T170000Z";
    let recurs = "UID:choir\r\nRECURRENCE-ID:20260616T180000Z\r\nDTSTART:20260616T170000Z\r\nRRULE:FREQ=DAILY";
    let events = [WEEKLY, later, of_a_day, nameless, recurs];
    let found = expand(&calendar(&events), London, june()).unwrap_err();
    let wrong = [
        (
            11,
            Wrong::NotRead("RECURRENCE-ID;RANGE=THISANDFUTURE".to_owned()),
        ),
        (16, Wrong::Kind("RECURRENCE-ID")),
        (20, Wrong::NoUid),
        (27, Wrong::NotRead("RRULE beside RECURRENCE-ID".to_owned())),
    ];
    let told = wrong.map(|(line, wrong)| Fault { line, wrong });
    assert_eq!(found, told);
}
