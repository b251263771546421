//! What people type, and what is told of it.

use super::{Ask, Filled, Floor, Language, Units, number};
use chrono_tz::Europe::London;

const HALL: Floor<'_> = Floor {
    surface: "Hall",
    storey: "2",
    site: "Clinic",
    area_m2: 120.0,
    zone: London,
    language: Language::English,
    units: Units::Metric,
};

#[test]
fn numbers_are_read_as_they_are_written_and_thousands_are_not_guessed() {
    for (text, value) in [
        ("6.5", 6.5),
        ("6,5", 6.5),
        ("1200", 1200.0),
        ("0,125", 0.125),
    ] {
        assert_eq!(number(text, Language::English), Some(value), "{text}");
    }
    assert_eq!(number("1,234", Language::English), None);
    assert_eq!(number("1,234", Language::German), Some(1.234));
    assert_eq!(number("1.234", Language::German), None);
    for text in [
        "",
        "-1",
        "1e3",
        "1,2,3",
        ".5",
        "5.",
        "six",
        "1 2",
        "NaN",
        "9999999999",
    ] {
        assert_eq!(number(text, Language::English), None, "{text}");
    }
}

fn wrong(body: &str) -> Vec<(String, &'static str)> {
    let filled = Filled::read(body.as_bytes()).unwrap();
    let ask = Ask {
        stages: vec![(0, 6.0)],
        ..Ask::default()
    };
    let floor = "srf_01890a5d-ac96-774b-bcce-b302099a8057";
    let read = filled.report(&ask, (floor, &HALL));
    let wrong = read.unwrap().err().unwrap_or_default();
    let pair = |one: &super::Wrong| (one.field.clone().unwrap_or_default(), one.code);
    wrong.iter().map(pair).collect()
}

/// The clocks of London went from 00:59 to 02:00 on 29 March 2026 (IANA time zone database).
#[test]
fn a_time_that_no_clock_showed_is_told_beside_its_field() {
    let told = wrong("started_at=2026-03-29T01%3A30&finished_at=2026-03-29T05:00&hours_prepare=6");
    assert_eq!(told, [("started_at".to_owned(), "no_such_moment")]);
    assert_eq!(
        wrong("started_at=2026-03-29T00:30&finished_at=2026-03-29T05:00&hours_prepare=6"),
        []
    );
}

/// And from 01:59 back to 01:00 on 25 October 2026: work from 01:40 to 01:20 took forty minutes.
#[test]
fn a_time_that_the_clock_showed_twice_is_the_one_that_makes_sense() {
    let body = "started_at=2026-10-25T01:40&finished_at=2026-10-25T01:20";
    let filled = Filled::read(body.as_bytes()).unwrap();
    let floor = "srf_01890a5d-ac96-774b-bcce-b302099a8057";
    let read = filled.report(&Ask::default(), (floor, &HALL));
    let report = read.unwrap().unwrap();
    let took = report.finished_at - report.started_at;
    assert_eq!(took.num_minutes(), 40);
}

#[test]
fn all_that_cannot_be_read_is_told_at_once() {
    let told = wrong(
        "started_at=&finished_at=yesterday&hours_prepare=six&area_m2=1,234&surface_ph=15&polish_coats=2.5",
    );
    let mut told: Vec<_> = told
        .iter()
        .map(|(field, code)| format!("{field} {code}"))
        .collect();
    told.sort();
    assert_eq!(
        told,
        [
            "area_m2 number",
            "finished_at moment",
            "hours_prepare number",
            "polish_coats whole",
            "started_at required",
            "surface_ph maximum"
        ]
    );
}

#[test]
fn a_key_is_one_that_a_form_of_ours_has() {
    let key = |body: &str| {
        Filled::read(body.as_bytes())
            .unwrap()
            .key()
            .map(str::to_owned)
    };
    assert_eq!(key("key=0190-ab").as_deref(), Some("0190-ab"));
    for bad in ["", "key=", "key=a%20b", "key=%3Cb%3E"] {
        assert_eq!(key(bad), None, "{bad}");
    }
    assert_eq!(key(&format!("key={}", "a".repeat(65))), None);
}

#[test]
fn quantities_are_taken_in_the_units_of_the_form_and_in_no_other() {
    let body = "started_at=2026-03-01T20:00&finished_at=2026-03-01T23:00&area_ft2=100&area_m2=50&hours_prepare=6";
    let filled = Filled::read(body.as_bytes()).unwrap();
    let ask = Ask {
        stages: vec![(0, 6.0)],
        ..Ask::default()
    };
    let floor = "srf_01890a5d-ac96-774b-bcce-b302099a8057";
    let area = |units| {
        let read = filled.report(&ask, (floor, &Floor { units, ..HALL }));
        read.unwrap().unwrap().area_m2.unwrap()
    };
    assert!((area(Units::Us) - 9.290_304).abs() < 1e-9);
    assert!((area(Units::Metric) - 50.0).abs() < 1e-9);
}
