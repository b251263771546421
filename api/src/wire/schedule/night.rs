//! What is done in a night or on a day, as a page for the crews: without scripts, for paper.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use maud::{DOCTYPE, PreEscaped, html};

use super::{
    told::TaskView,
    visit::{Visit, moment},
};
use crate::sheet::STYLE;

/// The hour at which one day's work ends and the next one's begins.
const TURNS_AT: TimeDelta = TimeDelta::hours(6);

/// The day of a task: a night belongs to the evening in which it begins.
pub(crate) fn day_of(task: &TaskView, zone: Tz) -> NaiveDate {
    let local = moment(&task.from).with_timezone(&zone).naive_local();
    (local - TURNS_AT).date()
}

/// The page of a day; `tasks` are those of it, in the order of time, `closed` all visits of the schedule.
pub(crate) fn page(
    (site, zone, day): (&str, Tz, NaiveDate),
    (schedule, choice): (&str, i64),
    (tasks, closed): (&[TaskView], &[Visit]),
) -> String {
    let clock = |at: DateTime<Utc>| at.with_timezone(&zone).format("%a %H:%M").to_string();
    let mut crews: Vec<&str> = tasks.iter().map(|task| task.crew.as_str()).collect();
    crews.sort_unstable();
    crews.dedup();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Floors on " (day) " – " (site) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { "Floors on " (day.format("%A, %-d %B %Y")) }
                p { (site) ". All times by the clock of " (zone.name()) "." }
                main {
                    @if tasks.is_empty() { p { "Nothing is done on this day." } }
                    @for crew in crews {
                        @let own: Vec<TaskView> = tasks.iter().filter(|task| task.crew == crew).cloned().collect();
                        h2 { (crew) }
                        table {
                            thead { tr { th { "From" } th { "To" } th { "Floor" } th { "What" } th { "Steps of the plan" } th { "Crew" } th { "Walk on it" } th { "Done" } } }
                            tbody {
                                @for task in &own {
                                    tr {
                                        td { (clock(moment(&task.from))) }
                                        td { (clock(moment(&task.to))) }
                                        td { (task.surface) }
                                        td { (task.part) @if task.of_bays > 1 { ", bay " (task.bay) " of " (task.of_bays) } @for machine in &task.machines { br; (machine) } }
                                        td { @for (index, step) in task.steps.iter().enumerate() { @if index > 0 { ", " } (step) } }
                                        td.n { (task.operatives) }
                                        td { @if let Some(at) = &task.walk_at { (clock(moment(at))) } @else { "stays closed" } }
                                        td { span.tick {} }
                                    }
                                }
                            }
                        }
                        h3 { "When each floor is open again" }
                        ul {
                            @for visit in closed.iter().filter(|visit| own.iter().any(|task| visit.holds(task))) {
                                li { (visit.surface) ": closed from " (clock(visit.from)) ", open at " (clock(visit.walk_at)) ". Job sheet of plan " (visit.plan_id) "." }
                            }
                        }
                        p { "Signed: " span.line {} }
                    }
                }
                footer.small { p { "Schedule " (schedule) ", choice " (choice) ". Steps, products, dilutions and cautions are in the job sheet of each plan: product labels come first." } }
            }
        }
    };
    page.into_string()
}

#[cfg(test)]
mod tests {
    use super::{day_of, page};
    use crate::wire::schedule::{told::TaskView, visit::visits};

    fn task(number: usize, from: &str, to: &str, walk_at: Option<&str>) -> TaskView {
        TaskView {
            number,
            surface_id: "srf_1".to_owned(),
            surface: "Hall".to_owned(),
            plan_id: "pln_1".to_owned(),
            crew: "Night crew".to_owned(),
            operatives: 2,
            part: format!("coat {number}"),
            bay: 1,
            of_bays: 1,
            steps: vec![1],
            machines: Vec::new(),
            from: from.to_owned(),
            to: to.to_owned(),
            walk_at: walk_at.map(str::to_owned),
        }
    }

    #[test]
    fn a_floor_on_which_work_goes_on_when_the_day_turns_is_not_said_to_be_open() {
        let zone = chrono_tz::Europe::London;
        let first = "2026-12-01T05:00:00Z";
        let all = [
            task(
                1,
                first,
                "2026-12-01T05:30:00Z",
                Some("2026-12-01T06:00:00Z"),
            ),
            task(
                2,
                "2026-12-01T06:30:00Z",
                "2026-12-01T07:00:00Z",
                Some("2026-12-01T09:00:00Z"),
            ),
        ];
        let closed = visits(&all);
        for (of_day, own) in all.iter().enumerate() {
            let day = day_of(own, zone);
            let own = std::slice::from_ref(own);
            let html = page(("House", zone, day), ("sch_1", 1), (own, &closed));
            assert!(html.contains("open at Tue 09:00"), "{of_day} {html}");
            assert!(!html.contains("open at Tue 06:00"), "{of_day}");
        }
    }
}
