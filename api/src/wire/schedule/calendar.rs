//! Visits as a calendar (RFC 5545): moments in UTC, so that no zone need be told and no change of clocks can be misread.

use std::fmt::Write as _;

use chrono::{DateTime, Utc};

use super::visit::Booked;

/// What a calendar is sent as.
pub(crate) const CONTENT_TYPE: &str = "text/calendar; charset=utf-8";
/// The most octets of a line, without its end.
const LINE: usize = 75;

/// What a calendar is made from.
pub(crate) struct Calendar<'a> {
    /// The schedule.
    pub(crate) schedule: &'a str,
    /// What people call the calendar.
    pub(crate) name: String,
    /// Where the work is.
    pub(crate) site: &'a str,
    /// Whether the choice is to be done.
    pub(crate) is_chosen: bool,
    /// What is done, and what was to be done and is not any more.
    pub(crate) visits: Vec<Booked>,
}

/// Writes a calendar.
pub(crate) fn write(calendar: &Calendar<'_>) -> String {
    let mut out = String::new();
    line(&mut out, "BEGIN:VCALENDAR");
    line(&mut out, "VERSION:2.0");
    line(&mut out, "PRODID:-//Wearcourse//Schedules 1//EN");
    line(&mut out, "CALSCALE:GREGORIAN");
    text(&mut out, "NAME", &calendar.name);
    text(&mut out, "X-WR-CALNAME", &calendar.name);
    line(&mut out, "REFRESH-INTERVAL;VALUE=DURATION:PT1H");
    let status = if calendar.is_chosen {
        "CONFIRMED"
    } else {
        "TENTATIVE"
    };
    for booked in &calendar.visits {
        let status = if booked.is_on { status } else { "CANCELLED" };
        event(&mut out, calendar, booked, status);
    }
    line(&mut out, "END:VCALENDAR");
    out
}

fn event(out: &mut String, calendar: &Calendar<'_>, booked: &Booked, status: &str) {
    let visit = &booked.visit;
    let stamp = |at: DateTime<Utc>| at.format("%Y%m%dT%H%M%SZ").to_string();
    line(out, "BEGIN:VEVENT");
    let (schedule, surface, number) = (calendar.schedule, &visit.surface_id, visit.number);
    line(
        out,
        &format!("UID:{schedule}.{surface}.{number}@wearcourse"),
    );
    line(out, &format!("DTSTAMP:{}", stamp(booked.at)));
    line(out, &format!("SEQUENCE:{}", booked.sequence));
    line(out, &format!("STATUS:{status}"));
    line(out, &format!("DTSTART:{}", stamp(visit.from)));
    line(out, &format!("DTEND:{}", stamp(visit.to)));
    text(
        out,
        "SUMMARY",
        &format!("{}: {}", visit.surface, visit.parts.join(", ")),
    );
    let place = format!("{}, {}", visit.surface, calendar.site);
    text(out, "LOCATION", &place);
    let told = format!(
        "{}, {} operatives. The floor is closed until {} UTC. Plan {}.",
        visit.crew,
        visit.operatives,
        visit.walk_at.format("%Y-%m-%d %H:%M"),
        visit.plan_id
    );
    text(out, "DESCRIPTION", &told);
    line(out, "END:VEVENT");
}

/// Writes a property whose value is text.
fn text(out: &mut String, name: &str, value: &str) {
    let mut escaped = String::new();
    for c in value.chars() {
        match c {
            '\\' => escaped.push_str("\\\\"),
            ';' => escaped.push_str("\\;"),
            ',' => escaped.push_str("\\,"),
            '\n' => escaped.push_str("\\n"),
            c if c.is_control() => escaped.push(' '),
            c => escaped.push(c),
        }
    }
    line(out, &format!("{name}:{escaped}"));
}

/// Writes a line, folded so that no part is longer than 75 octets and no character is split.
fn line(out: &mut String, content: &str) {
    let mut length = 0_usize;
    for c in content.chars() {
        let octets = c.len_utf8();
        if length.saturating_add(octets) > LINE {
            out.push_str("\r\n ");
            length = 1;
        }
        let _ = out.write_char(c);
        length = length.saturating_add(octets);
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::{line, text};

    #[test]
    fn long_lines_are_folded_between_characters() {
        // RFC 5545, 3.1: at most 75 octets, then CRLF and a blank.
        let mut out = String::new();
        line(&mut out, &format!("SUMMARY:{}", "ü".repeat(60)));
        let lines: Vec<&str> = out.split("\r\n").collect();
        assert_eq!(lines.len(), 3);
        assert!(lines.iter().all(|line| line.len() <= 75));
        assert_eq!(lines[0].len(), 74);
        assert!(lines[1].starts_with(" ü"));
        let whole: String = [lines[0], &lines[1][1..]].concat();
        assert_eq!(whole, format!("SUMMARY:{}", "ü".repeat(60)));
    }

    #[test]
    fn text_is_escaped() {
        // RFC 5545, 3.3.11.
        let mut out = String::new();
        text(&mut out, "SUMMARY", "a;b,c\\d\ne");
        assert_eq!(out, "SUMMARY:a\\;b\\,c\\\\d\\ne\r\n");
    }
}
