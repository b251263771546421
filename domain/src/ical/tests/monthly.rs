//! Rules by months and years: the examples of RFC 5545, section 3.8.5.3, each by its own words, and a table of another library.

use chrono::{Datelike as _, NaiveDate};
use chrono_tz::{America::New_York, Europe::London, Tz};

use super::{Fault, Wrong, calendar, expand, june, within};

/// The days on which an event begins that begins at nine in New York, as `1997-09-05`, before the year 2004.
fn days(first: &str, rule: &str) -> Vec<String> {
    let event =
        format!("DTSTART;TZID=America/New_York:{first}T090000\r\nDURATION:PT1H\r\nRRULE:{rule}");
    let spans = expand(
        &calendar(&[&event]),
        London,
        within("1996-01-01", "2004-01-01"),
    );
    let spans = spans.unwrap();
    let told = spans.into_iter().map(|span| {
        let at = span.from.with_timezone(&New_York);
        assert_eq!(at.format("%H:%M").to_string(), "09:00");
        at.format("%Y-%m-%d").to_string()
    });
    told.collect()
}

/// Days written as `1997-09: 5 12; 1997-10: 3`.
fn listed(text: &str) -> Vec<String> {
    let months = text.split("; ").flat_map(|month| {
        let (month, days) = month.split_once(": ").unwrap();
        days.split(' ').map(move |day| format!("{month}-{day:0>2}"))
    });
    months.collect()
}

/// The example gives all days that there are.
#[track_caller]
fn all(first: &str, rule: &str, told: &str) {
    assert_eq!(days(first, rule), listed(told), "{rule}");
}

/// The example goes on for ever.
#[track_caller]
fn begins(first: &str, rule: &str, told: &str) {
    let (found, told) = (days(first, rule), listed(told));
    assert!(found.len() > told.len(), "{rule}");
    assert_eq!(found[..told.len()], told, "{rule}");
}

#[test]
fn every_day_in_january_for_3_years_by_a_rule_of_years_and_by_one_of_days() {
    let yearly = days(
        "19980101",
        "FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA",
    );
    let daily = days("19980101", "FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1");
    let january = |year: u32| (1..=31).map(move |day| format!("{year}-01-{day:02}"));
    let told: Vec<String> = (1998..=2000).flat_map(january).collect();
    assert_eq!(yearly, told);
    assert_eq!(daily, told);
}

#[test]
fn monthly_on_the_first_friday() {
    all(
        "19970905",
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "1997-09: 5; 1997-10: 3; 1997-11: 7; 1997-12: 5; 1998-01: 2; 1998-02: 6; 1998-03: 6; 1998-04: 3; 1998-05: 1; 1998-06: 5",
    );
    all(
        "19970905",
        "FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR",
        "1997-09: 5; 1997-10: 3; 1997-11: 7; 1997-12: 5",
    );
}

#[test]
fn every_other_month_on_the_first_and_last_sunday() {
    all(
        "19970907",
        "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
        "1997-09: 7 28; 1997-11: 2 30; 1998-01: 4 25; 1998-03: 1 29; 1998-05: 3 31",
    );
}

#[test]
fn monthly_on_the_second_to_last_monday() {
    all(
        "19970922",
        "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
        "1997-09: 22; 1997-10: 20; 1997-11: 17; 1997-12: 22; 1998-01: 19; 1998-02: 16",
    );
}

#[test]
fn monthly_on_days_counted_from_the_beginning_and_the_end() {
    begins(
        "19970928",
        "FREQ=MONTHLY;BYMONTHDAY=-3",
        "1997-09: 28; 1997-10: 29; 1997-11: 28; 1997-12: 29; 1998-01: 29; 1998-02: 26",
    );
    all(
        "19970902",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15",
        "1997-09: 2 15; 1997-10: 2 15; 1997-11: 2 15; 1997-12: 2 15; 1998-01: 2 15",
    );
    all(
        "19970930",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1",
        "1997-09: 30; 1997-10: 1 31; 1997-11: 1 30; 1997-12: 1 31; 1998-01: 1 31; 1998-02: 1",
    );
    all(
        "19970910",
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        "1997-09: 10 11 12 13 14 15; 1999-03: 10 11 12 13",
    );
}

#[test]
fn every_tuesday_every_other_month() {
    begins(
        "19970902",
        "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU",
        "1997-09: 2 9 16 23 30; 1997-11: 4 11 18 25; 1998-01: 6 13 20 27; 1998-03: 3 10 17 24 31",
    );
}

#[test]
fn yearly_in_months_that_are_named() {
    all(
        "19970610",
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        "1997-06: 10; 1997-07: 10; 1998-06: 10; 1998-07: 10; 1999-06: 10; 1999-07: 10; 2000-06: 10; 2000-07: 10; 2001-06: 10; 2001-07: 10",
    );
    all(
        "19970310",
        "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3",
        "1997-03: 10; 1999-01: 10; 1999-02: 10; 1999-03: 10; 2001-01: 10; 2001-02: 10; 2001-03: 10; 2003-01: 10; 2003-02: 10; 2003-03: 10",
    );
}

#[test]
fn yearly_on_days_counted_through_the_year() {
    begins(
        "19970101",
        "FREQ=YEARLY;INTERVAL=3;BYYEARDAY=1,100,200",
        "1997-01: 1; 1997-04: 10; 1997-07: 19; 2000-01: 1; 2000-04: 9; 2000-07: 18",
    );
    begins(
        "19970519",
        "FREQ=YEARLY;BYDAY=20MO",
        "1997-05: 19; 1998-05: 18; 1999-05: 17",
    );
}

#[test]
fn every_thursday_in_march_and_in_the_summer() {
    begins(
        "19970313",
        "FREQ=YEARLY;BYMONTH=3;BYDAY=TH",
        "1997-03: 13 20 27; 1998-03: 5 12 19 26; 1999-03: 4 11 18 25",
    );
    begins(
        "19970605",
        "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8",
        "1997-06: 5 12 19 26; 1997-07: 3 10 17 24 31; 1997-08: 7 14 21 28; 1998-06: 4 11 18 25",
    );
}

#[test]
fn every_friday_the_13th() {
    begins(
        "19970902",
        "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13\r\nEXDATE;TZID=America/New_York:19970902T090000",
        "1998-02: 13; 1998-03: 13; 1998-11: 13; 1999-08: 13; 2000-10: 13",
    );
}

#[test]
fn days_that_two_parts_of_a_rule_narrow_down() {
    // The first Saturday that follows the first Sunday of the month.
    begins(
        "19970913",
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
        "1997-09: 13; 1997-10: 11; 1997-11: 8; 1997-12: 13; 1998-01: 10; 1998-02: 7; 1998-03: 7; 1998-04: 11; 1998-05: 9; 1998-06: 13",
    );
    // Every 4 years, the first Tuesday after a Monday in November.
    all(
        "19961105",
        "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
        "1996-11: 5; 2000-11: 7",
    );
}

#[test]
fn positions_pick_from_the_days_of_a_period() {
    all(
        "19970904",
        "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
        "1997-09: 4; 1997-10: 7; 1997-11: 6",
    );
    begins(
        "19970929",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "1997-09: 29; 1997-10: 30; 1997-11: 27; 1997-12: 30; 1998-01: 29; 1998-02: 26; 1998-03: 30",
    );
}

#[test]
fn days_that_a_month_does_not_have_are_passed_over() {
    let event = "DTSTART;TZID=America/New_York:20070115T090000\r\nDURATION:PT1H\r\nRRULE:FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5";
    let spans = expand(
        &calendar(&[event]),
        London,
        within("2007-01-01", "2008-01-01"),
    );
    let days = spans
        .unwrap()
        .into_iter()
        .map(|span| (span.from.month(), span.from.day()));
    let told = [(1, 15), (1, 30), (2, 15), (3, 15), (3, 30)];
    assert_eq!(days.collect::<Vec<_>>(), told);
}

#[test]
fn rules_name_the_days_that_another_library_names() {
    let table = include_str!("../../../tests/reference/recurrence.csv");
    let mut n = 0;
    for row in table.lines().filter(|row| !row.starts_with(['#', 's'])) {
        let (start, rest) = row.split_once(",\"").unwrap();
        let (rule, rest) = rest.split_once("\",").unwrap();
        let cells: Vec<&str> = rest.split(',').collect();
        let event = format!(
            "DTSTART:{}T120000\r\nDURATION:PT1H\r\nRRULE:{rule}",
            start.replace('-', "")
        );
        // A span holds at most so many occurrences: what is named daily is looked at in parts.
        let mut found: Vec<String> = Vec::new();
        let ends = [
            "1990-01-01",
            "1999-01-01",
            "2004-01-01",
            "2008-01-01",
            "2012-01-01",
        ];
        for pair in ends.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let spans =
                super::super::expand(&calendar(&[&event]), Tz::UTC, within(from, to), &mut {
                    10_000
                });
            let spans = spans.unwrap_or_else(|faults| panic!("{rule}: {faults:?}"));
            found.extend(
                spans
                    .iter()
                    .map(|span| span.from.format("%Y-%m-%d").to_string()),
            );
        }
        assert_eq!(found.len(), cells[0].parse::<usize>().unwrap(), "{row}");
        assert_eq!(found.last().map(String::as_str), Some(cells[1]), "{row}");
        let told: Vec<&str> = cells[2].split(' ').collect();
        assert_eq!(found[..told.len()], told, "{row}");
        assert!(told[0].parse::<NaiveDate>().is_ok());
        n += 1;
    }
    assert!(n > 150, "{n}");
}

#[test]
fn yearly_events_of_long_ago_cost_little() {
    // Fixed days of a calendar that has been kept since 1990: a month is looked at for each year.
    let day = "DTSTART;VALUE=DATE:19901225\r\nRRULE:FREQ=YEARLY";
    let mut left = 2_000;
    let span = within("2026-01-01", "2027-01-01");
    let found = super::super::expand(&calendar(&[day]), London, span, &mut left).unwrap();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].from.to_rfc3339(), "2026-12-25T00:00:00+00:00");
}

#[test]
fn what_a_rule_says_that_is_not_read_or_does_not_fit_is_refused_with_its_line() {
    let events = [
        "FREQ=HOURLY;COUNT=3",
        "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO",
        "FREQ=DAILY;BYHOUR=9",
        "FREQ=WEEKLY;BYDAY=1MO",
        "FREQ=WEEKLY;BYMONTHDAY=3",
        "FREQ=MONTHLY;BYYEARDAY=3",
        "FREQ=MONTHLY;BYSETPOS=3",
        "FREQ=MONTHLY;BYMONTHDAY=0",
        "FREQ=MONTHLY;BYDAY=54MO",
        "FREQ=YEARLY;BYMONTH=-1",
    ];
    let events: Vec<String> = events
        .iter()
        .map(|rule| format!("DTSTART:20260601T090000Z\r\nRRULE:{rule}"))
        .collect();
    let events: Vec<&str> = events.iter().map(String::as_str).collect();
    let found = expand(&calendar(&events), London, june()).unwrap_err();
    let not_read = |what: &str| Wrong::NotRead(what.to_owned());
    let value = |text: &str| Wrong::Value(text.to_owned(), "RRULE");
    let nth = "a number before a day of BYDAY belongs to FREQ=MONTHLY or FREQ=YEARLY";
    let picks = "BYSETPOS picks from what BYDAY, BYMONTHDAY, BYYEARDAY or BYMONTH name";
    let told = [
        not_read("FREQ=HOURLY"),
        not_read("BYWEEKNO"),
        not_read("BYHOUR"),
        Wrong::Misplaced(nth),
        Wrong::Misplaced("BYMONTHDAY does not go with FREQ=WEEKLY"),
        Wrong::Misplaced("BYYEARDAY belongs to FREQ=YEARLY"),
        Wrong::Misplaced(picks),
        value("BYMONTHDAY=0"),
        value("BYDAY=54MO"),
        value("BYMONTH=-1"),
    ];
    let told = (5..).step_by(4).zip(told);
    let told = told.map(|(line, wrong)| Fault { line, wrong });
    assert_eq!(found, told.collect::<Vec<_>>());
}
