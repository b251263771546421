//! Calendars against the examples of RFC 5545, section 3.8.5.3, each by its own words, and against a second way to count days.

mod instance;
mod monthly;

use chrono::{DateTime, Datelike as _, Days, NaiveDate, TimeZone as _, Utc};
use chrono_tz::{America::New_York, Europe::London, Tz};
use proptest::prelude::*;

use super::{Fault, MAX_BYTES, MAX_DAYS, MAX_EVENTS, Wrong};
use crate::placing::Span;

fn calendar(events: &[&str]) -> String {
    let events: Vec<String> = events
        .iter()
        .map(|event| format!("BEGIN:VEVENT\r\n{event}\r\nEND:VEVENT\r\n"))
        .collect();
    format!(
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{}END:VCALENDAR\r\n",
        events.concat()
    )
}

fn expand(text: &str, zone: Tz, within: Span) -> Result<Vec<Span>, Vec<Fault>> {
    super::expand(text, zone, within, &mut { MAX_DAYS })
}

fn day(text: &str) -> DateTime<Utc> {
    let date: NaiveDate = text.parse().unwrap();
    date.and_hms_opt(0, 0, 0).unwrap().and_utc()
}

fn within(from: &str, to: &str) -> Span {
    Span {
        from: day(from),
        to: day(to),
    }
}

/// What a clock in New York shows at the beginning of each occurrence from 1997 to 1998, as month, day and hour.
fn starts(rule: &str) -> Vec<(u32, u32, String)> {
    let event = format!("DTSTART;TZID=America/New_York:19970902T090000\r\nDURATION:PT1H\r\n{rule}");
    starts_of(&event)
}

fn starts_of(event: &str) -> Vec<(u32, u32, String)> {
    let spans = expand(
        &calendar(&[event]),
        London,
        within("1997-01-01", "1999-01-01"),
    );
    let spans = spans.unwrap();
    let told = |span: Span| {
        let at = span.from.with_timezone(&New_York);
        (at.month(), at.day(), at.format("%H:%M").to_string())
    };
    spans.into_iter().map(told).collect()
}

fn on(month: u32, days: &[u32]) -> Vec<(u32, u32, String)> {
    let nine = || "09:00".to_owned();
    days.iter().map(|day| (month, *day, nine())).collect()
}

#[test]
fn daily_for_10_occurrences() {
    let found = starts("RRULE:FREQ=DAILY;COUNT=10");
    assert_eq!(found, on(9, &[2, 3, 4, 5, 6, 7, 8, 9, 10, 11]));
}

#[test]
fn daily_until_december_24_1997() {
    let found = starts("RRULE:FREQ=DAILY;UNTIL=19971224T000000Z");
    // September 2-30; October 1-31; November 1-30; December 1-23. Nine o'clock before and after the change of clocks.
    assert_eq!(found.len(), 29 + 31 + 30 + 23);
    assert_eq!(found.last(), Some(&(12, 23, "09:00".to_owned())));
    assert!(found.iter().all(|(_, _, time)| time == "09:00"));
}

#[test]
fn every_other_day_forever() {
    let found = starts("RRULE:FREQ=DAILY;INTERVAL=2");
    let september: Vec<u32> = (2..=30).step_by(2).collect();
    assert_eq!(found[..15], on(9, &september));
    assert_eq!(found[15], (10, 2, "09:00".to_owned()));
    // Every other day of 486 until the span ends.
    assert_eq!(found.len(), 243);
}

#[test]
fn every_10_days_5_occurrences() {
    let found = starts("RRULE:FREQ=DAILY;INTERVAL=10;COUNT=5");
    assert_eq!(found, [on(9, &[2, 12, 22]), on(10, &[2, 12])].concat());
}

#[test]
fn weekly_for_10_occurrences() {
    let found = starts("RRULE:FREQ=WEEKLY;COUNT=10");
    let told = [
        on(9, &[2, 9, 16, 23, 30]),
        on(10, &[7, 14, 21, 28]),
        on(11, &[4]),
    ];
    assert_eq!(found, told.concat());
}

#[test]
fn weekly_until_december_24_1997() {
    let found = starts("RRULE:FREQ=WEEKLY;UNTIL=19971224T000000Z");
    let told = [
        on(9, &[2, 9, 16, 23, 30]),
        on(10, &[7, 14, 21, 28]),
        on(11, &[4, 11, 18, 25]),
        on(12, &[2, 9, 16, 23]),
    ];
    assert_eq!(found, told.concat());
}

#[test]
fn every_other_week_forever() {
    let found = starts("RRULE:FREQ=WEEKLY;INTERVAL=2;WKST=SU");
    let told = [on(9, &[2, 16, 30]), on(10, &[14, 28]), on(11, &[11, 25])];
    assert_eq!(found[..7], told.concat());
}

#[test]
fn weekly_on_tuesday_and_thursday_for_five_weeks() {
    let told = [on(9, &[2, 4, 9, 11, 16, 18, 23, 25, 30]), on(10, &[2])].concat();
    let until = "RRULE:FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH";
    assert_eq!(starts(until), told);
    let count = "RRULE:FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH";
    assert_eq!(starts(count), told);
}

#[test]
fn every_other_week_on_monday_wednesday_and_friday_until_december_24_1997() {
    let event = "DTSTART;TZID=America/New_York:19970901T090000\r\nDURATION:PT1H\r\n\
        RRULE:FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;\r\n BYDAY=MO,WE,FR";
    let told = [
        on(9, &[1, 3, 5, 15, 17, 19, 29]),
        on(10, &[1, 3, 13, 15, 17, 27, 29, 31]),
        on(11, &[10, 12, 14, 24, 26, 28]),
        on(12, &[8, 10, 12, 22]),
    ];
    assert_eq!(starts_of(event), told.concat());
}

#[test]
fn every_other_week_on_tuesday_and_thursday_for_8_occurrences() {
    let found = starts("RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH");
    let told = [on(9, &[2, 4, 16, 18, 30]), on(10, &[2, 14, 16])];
    assert_eq!(found, told.concat());
}

#[test]
fn an_example_where_the_days_generated_makes_a_difference_because_of_wkst() {
    let event = |begins: &str| {
        format!(
            "DTSTART;TZID=America/New_York:19970805T090000\r\nDURATION:PT1H\r\n\
             RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST={begins}"
        )
    };
    assert_eq!(starts_of(&event("MO")), on(8, &[5, 10, 19, 24]));
    assert_eq!(starts_of(&event("SU")), on(8, &[5, 17, 19, 31]));
}

#[test]
fn an_end_of_no_zone_is_of_the_clock_of_the_event() {
    // Nine o'clock in New York on the 4th, whatever the clock of the site in London shows.
    let found = starts("RRULE:FREQ=DAILY;UNTIL=19970904T090000");
    assert_eq!(found, on(9, &[2, 3, 4]));
    let found = starts("RRULE:FREQ=DAILY;UNTIL=19970904T085959");
    assert_eq!(found, on(9, &[2, 3]));
}

#[test]
fn calendars_share_the_days_that_are_looked_at() {
    let daily = calendar(&["DTSTART:20260601T180000\r\nDURATION:PT1H\r\nRRULE:FREQ=DAILY"]);
    let mut days = 40;
    let first = super::expand(&daily, London, june(), &mut days);
    assert_eq!(first.unwrap().len(), 30);
    let second = super::expand(&daily, London, june(), &mut days);
    assert_eq!(second.unwrap_err()[0].wrong, Wrong::Days);
}

fn june() -> Span {
    within("2026-06-01", "2026-07-01")
}

fn spans(event: &str, zone: Tz) -> Vec<(String, String)> {
    let found = expand(
        &calendar(&[event]),
        zone,
        within("2026-01-01", "2027-01-01"),
    );
    let told = |at: DateTime<Utc>| at.format("%m-%d %H:%M").to_string();
    let found = found.unwrap().into_iter();
    found.map(|span| (told(span.from), told(span.to))).collect()
}

fn pair(from: &str, to: &str) -> (String, String) {
    (from.to_owned(), to.to_owned())
}

#[test]
fn a_day_lasts_from_midnight_to_midnight_of_the_site() {
    let holidays = "DTSTART;VALUE=DATE:20260724\r\nDTEND;VALUE=DATE:20260902";
    assert_eq!(
        spans(holidays, London),
        [pair("07-23 23:00", "09-01 23:00")]
    );
    let day = "DTSTART;VALUE=DATE:20261225";
    assert_eq!(spans(day, London), [pair("12-25 00:00", "12-26 00:00")]);
    // Two days as they are on the calendar: 49 hours when the clock goes back.
    let days = "DTSTART;VALUE=DATE:20261024\r\nDURATION:P2D";
    assert_eq!(spans(days, London), [pair("10-23 23:00", "10-26 00:00")]);
}

#[test]
fn an_end_is_exact_and_a_length_of_days_is_that_of_the_calendar() {
    // 3.3.6 and 3.8.5.3: the clock in London goes back on 25 October 2026.
    let end =
        "DTSTART;TZID=Europe/London:20261024T180000\r\nDTEND;TZID=Europe/London:20261025T180000";
    assert_eq!(spans(end, London), [pair("10-24 17:00", "10-25 18:00")]);
    let length = "DTSTART;TZID=Europe/London:20261024T180000\r\nDURATION:P1D";
    assert_eq!(spans(length, London), [pair("10-24 17:00", "10-25 18:00")]);
    let hours = "DTSTART;TZID=Europe/London:20261024T180000\r\nDURATION:PT24H";
    assert_eq!(spans(hours, London), [pair("10-24 17:00", "10-25 17:00")]);
}

#[test]
fn times_that_a_clock_never_shows_or_shows_twice() {
    // 3.3.5: half past one on 29 March 2026 is by the clock as it was before; on 25 October it is the first of the two.
    let never = "DTSTART;TZID=Europe/London:20260329T013000\r\nDURATION:PT1H";
    assert_eq!(spans(never, London), [pair("03-29 01:30", "03-29 02:30")]);
    let twice = "DTSTART;TZID=Europe/London:20261025T013000\r\nDURATION:PT1H";
    assert_eq!(spans(twice, London), [pair("10-25 00:30", "10-25 01:30")]);
}

#[test]
fn days_that_are_left_out_are_left_out_and_cancelled_events_with_them() {
    let event = "DTSTART;TZID=Europe/London:20260601T180000\r\nDURATION:PT12H\r\nRRULE:FREQ=DAILY;COUNT=4\r\n\
        EXDATE;TZID=Europe/London:20260602T180000\r\nEXDATE:20260604T170000Z";
    let told = [
        pair("06-01 17:00", "06-02 05:00"),
        pair("06-03 17:00", "06-04 05:00"),
    ];
    assert_eq!(spans(event, London), told);
    let cancelled = "DTSTART:20260601T180000Z\r\nDURATION:PT1H\r\nSTATUS:CANCELLED";
    assert_eq!(spans(cancelled, London), []);
    // The site's clock counts where no zone is told; what an alarm says of time counts nowhere.
    let floating =
        "DTSTART:20260601T180000\r\nDURATION:PT1H\r\nBEGIN:VALARM\r\nDURATION:P9D\r\nEND:VALARM";
    assert_eq!(
        spans(floating, London),
        [pair("06-01 17:00", "06-01 18:00")]
    );
}

#[test]
fn every_fault_is_told_with_its_line() {
    let events = [
        "SUMMARY:No beginning",
        "DTSTART:20260601T180000Z\r\nDTEND:20260601T170000Z",
        "DTSTART;TZID=Europe/Atlantis:20260601T180000",
        "DTSTART;VALUE=DATE:20260601\r\nDTEND:20260601T170000Z",
        "DTSTART:20260631T180000Z",
        "DTSTART:20260601T180000Z\r\nDURATION:PT1H\r\nDTEND:20260601T190000Z",
        "DTSTART:20260601T180000Z\r\nRRULE:FREQ=DAILY;COUNT=2;UNTIL=20260701",
        "DTSTART:20260601T180000Z\r\nRRULE:FREQ=WEEKLY;BYDAY=MONDAY",
        "DTSTART:20260601T180000Z\r\nRDATE:20260602T180000Z",
        "DTSTART:20260601T180000Z\r\nno colon at all",
    ];
    let found = expand(&calendar(&events), London, june()).unwrap_err();
    let value = |text: &str, of| Wrong::Value(text.to_owned(), of);
    let told: Vec<(usize, Wrong)> = found
        .into_iter()
        .map(|fault| (fault.line, fault.wrong))
        .collect();
    let expected = [
        (3, Wrong::NoStart),
        (8, Wrong::Ends),
        (10, Wrong::NoStart),
        (11, Wrong::Zone("Europe/Atlantis".to_owned())),
        (15, Wrong::Kind("DTEND")),
        (17, Wrong::NoStart),
        (18, value("20260631T180000Z", "DTSTART")),
        (22, Wrong::EndAndLength),
        (27, Wrong::UntilAndCount),
        (31, value("BYDAY=MONDAY", "RRULE")),
        (35, Wrong::NotRead("RDATE".to_owned())),
        (39, Wrong::Malformed),
    ];
    assert_eq!(told, expected);
}

#[test]
fn what_is_no_calendar_or_too_much_of_one_is_refused() {
    let wrong = |text: &str| expand(text, London, june()).unwrap_err()[0].wrong.clone();
    assert_eq!(wrong(""), Wrong::NoCalendar);
    assert_eq!(wrong("SUMMARY:x"), Wrong::NoCalendar);
    assert_eq!(wrong("BEGIN:VCALENDAR\nBEGIN:VEVENT\n"), Wrong::NoCalendar);
    assert_eq!(wrong("BEGIN:VCALENDAR\nEND:VEVENT\n"), Wrong::Unbalanced);
    assert_eq!(wrong(&" ".repeat(MAX_BYTES + 1)), Wrong::Bytes);
    let event = "DTSTART:20260601T180000Z";
    assert_eq!(
        wrong(&calendar(&vec![event; MAX_EVENTS + 1])),
        Wrong::Events
    );
    let daily = "DTSTART:19700101T000000Z\r\nDURATION:PT1H\r\nRRULE:FREQ=DAILY";
    assert_eq!(wrong(&calendar(&[daily; 30])), Wrong::Days);
    let many = "DTSTART:20260601T000000Z\r\nDURATION:PT1H\r\nRRULE:FREQ=DAILY";
    assert_eq!(wrong(&calendar(&[many; 90])), Wrong::Occurrences);
}

proptest! {
    #[test]
    fn rules_name_the_days_that_a_count_of_weeks_names(
        first in 0_u64..400,
        interval in 1_u64..5,
        count in 1_usize..40,
        named in prop::collection::btree_set(0_usize..7, 1..4),
    ) {
        let names = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"];
        let origin = NaiveDate::from_ymd_opt(2026, 1, 5).unwrap();
        let start = origin + Days::new(first);
        let list: Vec<&str> = named.iter().map(|at| names[*at]).collect();
        let event = format!(
            "DTSTART;VALUE=DATE:{}\r\nRRULE:FREQ=WEEKLY;INTERVAL={interval};COUNT={count};BYDAY={}",
            start.format("%Y%m%d"),
            list.join(",")
        );
        let within = within("2026-01-01", "2060-01-01");
        let found = expand(&calendar(&[&event]), Tz::UTC, within).unwrap();
        // Days counted from a Monday: the week of a day is its number divided by seven.
        let is_on = |day: &u64| {
            let weeks = day / 7 - first / 7;
            *day == first || (weeks.is_multiple_of(interval) && named.contains(&usize::try_from(day % 7).unwrap()))
        };
        let told: Vec<u64> = (first..).filter(is_on).take(count).collect();
        let covered: Vec<u64> = (first..first + 10_000)
            .filter(|day| {
                let at = Utc.from_utc_datetime(&(origin + Days::new(*day)).and_hms_opt(12, 0, 0).unwrap());
                found.iter().any(|span| span.from <= at && at < span.to)
            })
            .collect();
        prop_assert_eq!(told, covered);
    }

    #[test]
    fn whatever_is_in_a_text_it_is_read_or_refused(text in "(BEGIN|END|DTSTART|RRULE|EXDATE|DURATION|[:;=,TZ0-9\"]|VEVENT|VCALENDAR|\r?\n| ){0,60}") {
        let _read = expand(&text, London, june());
        let _read = expand(&calendar(&[&text]), London, june());
    }
}

/// Found by inputs that a machine made up: the outer event had lost its line when it ended.
#[test]
fn an_event_within_an_event_is_told_with_its_line() {
    let whole = "DTSTART:19970902T090000Z\r\nDURATION:PT1H\r\n";
    let inner = format!("BEGIN:VEVENT\r\n{whole}END:VEVENT\r\n{whole}");
    let text = calendar(&[inner.trim_end()]);
    let faults = expand(&text, London, within("1997-01-01", "1999-01-01")).unwrap_err();
    let wrong = Wrong::NotRead("an event within an event".to_owned());
    assert_eq!(faults, [Fault { line: 4, wrong }]);
}
