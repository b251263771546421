//! When the floors of a schedule may be closed.

use std::collections::{BTreeMap, BTreeSet};

use chrono_tz::Tz;
use domain::{
    ical::{self, Wrong},
    placing::{Floor, Span, joined, minutes, weekly, without},
    survey::AccessWindow,
};
use infra::row::SurfaceRow;

use crate::{
    app::surface,
    body::Faults,
    problem::Problem,
    wire::schedule::{ScheduleRequest, Stretch, SurfaceTerms},
};

/// What hours are worked out from.
pub(super) struct Terms<'a> {
    pub(super) request: &'a ScheduleRequest,
    pub(super) zone: Tz,
    pub(super) span: Span,
    pub(super) floors: Vec<&'a SurfaceRow>,
}

/// The floors with their windows, and what was taken for granted.
pub(super) fn floors(
    terms: &Terms<'_>,
    faults: &mut Faults,
) -> Result<(Vec<Floor>, Vec<String>), Problem> {
    let request = terms.request;
    let mut days = ical::MAX_DAYS;
    let (mut open, mut closed) = (
        spans(&request.open, "#/open", faults),
        spans(&request.closed, "#/closed", faults),
    );
    open.extend(events(
        terms,
        request.open_calendar.as_deref(),
        "#/open_calendar",
        (&mut days, faults),
    ));
    closed.extend(events(
        terms,
        request.closed_calendar.as_deref(),
        "#/closed_calendar",
        (&mut days, faults),
    ));
    let of_site = (open, closed);
    let mut special: BTreeMap<&str, (usize, &SurfaceTerms)> = BTreeMap::new();
    let ids: BTreeSet<String> = terms
        .floors
        .iter()
        .map(|floor| floor.id.to_string())
        .collect();
    for (at, surface) in request.surfaces.iter().enumerate() {
        let place = format!("#/surfaces/{at}/surface_id");
        if !ids.contains(&surface.surface_id) {
            let detail = "Must be the surface of one of these plans.";
            faults.push(place, "reference_not_found", detail);
        } else if special.insert(&surface.surface_id, (at, surface)).is_some() {
            faults.push(place, "duplicate", "The surface is named before.");
        }
    }
    let (mut floors, mut assumptions) = (Vec::new(), Vec::new());
    for row in &terms.floors {
        let id = row.id.to_string();
        let own = special.get(id.as_str()).copied();
        let surveyed = surface::survey_of(row)?.access_windows;
        let told = own.and_then(|(_, own)| own.access_windows.as_ref());
        let hours: Option<Vec<AccessWindow>> = match told {
            Some(told) => Some(told.iter().map(Into::into).collect()),
            None => (!surveyed.is_empty()).then_some(surveyed),
        };
        if hours.is_none() {
            assumptions.push(format!(
                "{} may be closed at any time: nobody has told its access windows.",
                row.name
            ));
        }
        let found = (&mut days, &mut *faults);
        floors.push(floor(terms, row, (hours, own), &of_site, found));
    }
    Ok((floors, assumptions))
}

fn floor(
    terms: &Terms<'_>,
    row: &SurfaceRow,
    (hours, own): (Option<Vec<AccessWindow>>, Option<(usize, &SurfaceTerms)>),
    (open, closed_site): &(Vec<Span>, Vec<Span>),
    (days, faults): (&mut usize, &mut Faults),
) -> Floor {
    let span = terms.span;
    let mut spans_of = match hours {
        Some(hours) => weekly(&hours, terms.zone, span, |_day| false),
        None => vec![span],
    };
    spans_of.extend(open);
    let mut closed = closed_site.clone();
    let mut deadline = None;
    if let Some((at, own)) = own {
        let place = |member: &str| format!("#/surfaces/{at}/{member}");
        spans_of.extend(spans(&own.open, &place("open"), faults));
        let told = own.open_calendar.as_deref();
        let calendar = place("open_calendar");
        spans_of.extend(events(terms, told, &calendar, (&mut *days, faults)));
        closed.extend(spans(&own.closed, &place("closed"), faults));
        let told = own.closed_calendar.as_deref();
        let calendar = place("closed_calendar");
        closed.extend(events(terms, told, &calendar, (&mut *days, faults)));
        deadline = own.deadline.map(|by| (by - span.from).num_minutes());
        if own
            .deadline
            .is_some_and(|by| by <= span.from || by > span.to)
        {
            let place = format!("#/surfaces/{at}/deadline");
            faults.push(
                place,
                "out_of_range",
                "Must lie after `from` and not after `to`.",
            );
        }
    }
    // What is closed is closed, whatever else is said.
    let spans_of = without(joined(spans_of), &closed);
    Floor {
        name: row.name.clone(),
        windows: Some(minutes(&spans_of, span)),
        deadline,
        weight: own.map_or(1, |(_, own)| own.weight),
    }
}

/// What the events of a calendar take up; each of its faults is told with its line.
fn events(
    terms: &Terms<'_>,
    text: Option<&str>,
    place: &str,
    (days, faults): (&mut usize, &mut Faults),
) -> Vec<Span> {
    let Some(text) = text else {
        return Vec::new();
    };
    let found = ical::expand(text, terms.zone, terms.span, days);
    found.unwrap_or_else(|wrong| {
        for fault in wrong {
            let code = match fault.wrong {
                Wrong::Bytes | Wrong::Events | Wrong::Days | Wrong::Occurrences => "max_items",
                Wrong::NotRead(_) => "not_read",
                Wrong::NoCalendar
                | Wrong::Unbalanced
                | Wrong::Malformed
                | Wrong::Value(..)
                | Wrong::Zone(_)
                | Wrong::Twice(_)
                | Wrong::NoStart
                | Wrong::Ends
                | Wrong::EndAndLength
                | Wrong::Kind(_)
                | Wrong::NoUid
                | Wrong::Misplaced(_)
                | Wrong::UntilAndCount => "malformed",
            };
            faults.push(
                place,
                code,
                format!("Line {}: {}.", fault.line, fault.wrong),
            );
        }
        Vec::new()
    })
}

/// Stretches as spans; one that ends before it begins is a fault.
fn spans(stretches: &[Stretch], place: &str, faults: &mut Faults) -> Vec<Span> {
    let mut spans = Vec::new();
    for (at, stretch) in stretches.iter().enumerate() {
        if stretch.to <= stretch.from {
            let place = format!("{place}/{at}/to");
            faults.push(place, "out_of_range", "Must be later than `from`.");
        }
        spans.push(Span {
            from: stretch.from,
            to: stretch.to,
        });
    }
    spans
}
