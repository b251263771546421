//! Half a year of work on the estate: what was planned, what was done, and the odd thing that went otherwise.

use chrono::{DateTime, Days, NaiveTime, TimeDelta, Utc};
use serde_json::json;

use super::{
    DemoError,
    answer::{Made, Plan, Work},
    client::Client,
    fill::Estate,
    record::{Report, Used, share},
};

/// How many weeks it goes back.
pub(super) const WEEKS: u32 = 26;

/// Work that comes back on one floor.
struct Series {
    floor: &'static str,
    goal: &'static str,
    process: &'static str,
    /// Weeks from one time to the next; more than [`WEEKS`] for work that is done once.
    every: u32,
    /// Weeks ago that it was done last.
    last: u32,
    contractor: usize,
    odd: Odd,
}

/// What is special about a series.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Odd {
    /// Nothing.
    None,
    /// Every third time nobody asks for a plan.
    Unplanned,
    /// The contractor charges a sum for each.
    Charged,
    /// The crew did not do as planned.
    Deviates,
    /// The report is corrected afterwards.
    Corrected,
}

const fn series(
    floor: &'static str,
    (goal, process): (&'static str, &'static str),
    (every, last): (u32, u32),
    contractor: usize,
    odd: Odd,
) -> Series {
    Series {
        floor,
        goal,
        process,
        every,
        last,
        contractor,
        odd,
    }
}

const ONCE: u32 = WEEKS + 1;
const PASS: (&str, &str) = ("clean", "scrubber_dryer");
const DEEP: (&str, &str) = ("clean", "safety_floor_deep_clean");
const MOP: (&str, &str) = ("clean", "damp_mop");
const BUFF: (&str, &str) = ("maintain", "spray_buff");
const RECOAT: (&str, &str) = ("restore", "scrub_and_recoat");
const STRIP: (&str, &str) = ("restore", "machine_strip_and_refinish");
const SEAL: (&str, &str) = ("restore", "seal");

#[rustfmt::skip]
const SERIES: &[Series] = &[
    series("T-G01", PASS,   (4, 1),     0, Odd::None),
    series("T-G02", PASS,   (5, 2),     0, Odd::None),
    series("T-G03", PASS,   (5, 3),     0, Odd::Unplanned),
    series("T-G04", DEEP,   (5, 1),     0, Odd::None),
    series("T-G06", PASS,   (8, 5),     0, Odd::None),
    series("T-G07", BUFF,   (8, 4),     0, Odd::None),
    series("T-G08", RECOAT, (ONCE, 12), 0, Odd::Deviates),
    series("T-G09", STRIP,  (ONCE, 15), 0, Odd::None),
    series("T-L03", PASS,   (6, 2),     0, Odd::Unplanned),
    series("T-101", RECOAT, (13, 9),    0, Odd::None),
    series("T-102", RECOAT, (ONCE, 8),  1, Odd::Charged),
    series("T-104", DEEP,   (8, 6),     0, Odd::None),
    series("T-105", MOP,    (6, 3),     0, Odd::None),
    series("Q-U2",  MOP,    (13, 5),    1, Odd::None),
    series("Q-U3",  SEAL,   (ONCE, 20), 1, Odd::Charged),
    series("Q-E1",  PASS,   (4, 2),     1, Odd::Charged),
    series("Q-E2",  BUFF,   (9, 6),     1, Odd::None),
    series("Q-E5",  PASS,   (5, 1),     1, Odd::Unplanned),
    series("Q-E5",  RECOAT, (ONCE, 10), 1, Odd::Charged),
    series("Q-E6",  DEEP,   (5, 3),     1, Odd::Charged),
    series("Q-O1",  STRIP,  (ONCE, 17), 1, Odd::Charged),
    series("Q-O1",  PASS,   (5, 4),     1, Odd::Charged),
    series("Q-O2",  RECOAT, (ONCE, 7),  1, Odd::Corrected),
    series("Q-O3",  DEEP,   (8, 2),     1, Odd::None),
];

impl Series {
    /// How often it had been done before the time that lies `weeks_ago`, if there was one.
    fn nth(&self, weeks_ago: u32) -> Option<u32> {
        let since_last = weeks_ago.checked_sub(self.last)?;
        let is_due = since_last.is_multiple_of(self.every);
        is_due.then(|| (WEEKS.saturating_sub(weeks_ago)) / self.every)
    }

    fn key(&self, weeks_ago: u32) -> String {
        format!("{}-{}-{weeks_ago}", self.floor, self.process)
    }
}

/// Plans, does and reports the work of half a year before `now`, oldest first.
///
/// # Errors
/// [`DemoError`] if a call fails or a plan refuses the work.
pub(super) async fn live(
    client: &Client,
    estate: &Estate,
    now: DateTime<Utc>,
) -> Result<(), DemoError> {
    let mut plans: Vec<Option<Plan>> = SERIES.iter().map(|_| None).collect();
    for weeks_ago in (1..=WEEKS).rev() {
        for (series, plan) in SERIES.iter().zip(&mut plans) {
            let Some(nth) = series.nth(weeks_ago) else {
                continue;
            };
            let is_unplanned = series.odd == Odd::Unplanned && nth % 3 == 2 && plan.is_some();
            if !is_unplanned {
                *plan = Some(ask(client, estate, series, weeks_ago).await?);
            }
            if let Some(plan) = plan {
                let night = Night {
                    series,
                    weeks_ago,
                    is_unplanned,
                    now,
                };
                report(client, estate, plan, &night).await?;
            }
        }
    }
    Ok(())
}

async fn ask(
    client: &Client,
    estate: &Estate,
    series: &Series,
    weeks_ago: u32,
) -> Result<Plan, DemoError> {
    let wish = json!({
        "surface_id": estate.floor(series.floor)?,
        "wish": {"goal": series.goal, "process": series.process},
    });
    let key = format!("plan-{}", series.key(weeks_ago));
    Ok(client.post("/v1/plans", &wish, &key).await?.body)
}

/// One time that the work of a series was done.
struct Night<'a> {
    series: &'a Series,
    weeks_ago: u32,
    is_unplanned: bool,
    now: DateTime<Utc>,
}

impl Night<'_> {
    /// A figure between two that looks like chance and is always the same.
    fn between(&self, least: u32, most: u32) -> u32 {
        let letters = self.series.floor.bytes().chain(self.series.process.bytes());
        let mixed = letters.fold(self.weeks_ago.wrapping_mul(2_654_435), |mixed, letter| {
            mixed.wrapping_mul(31).wrapping_add(letter.into())
        });
        least.saturating_add((mixed >> 3) % most.saturating_sub(least).saturating_add(1))
    }

    /// In the evening, on one of the days of its week.
    fn start(&self) -> DateTime<Utc> {
        let days = self
            .weeks_ago
            .saturating_mul(7)
            .saturating_sub(self.between(0, 4));
        let day = self.now.date_naive();
        let day = day.checked_sub_days(Days::new(days.into())).unwrap_or(day);
        let quarter = i64::from(self.between(68, 80)).saturating_mul(15);
        day.and_time(NaiveTime::MIN).and_utc() + TimeDelta::minutes(quarter)
    }
}

async fn report(
    client: &Client,
    estate: &Estate,
    plan: &Plan,
    night: &Night<'_>,
) -> Result<(), DemoError> {
    let series = night.series;
    let no_work = || DemoError::NoWork {
        floor: series.floor,
        summary: format!(
            "{} It asks: {}.",
            plan.summary,
            plan.questions
                .iter()
                .map(|question| question.fact.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        ),
    };
    let work = plan.work.as_ref().ok_or_else(no_work)?;
    let (floor, contractor) = (
        estate.floor(series.floor)?,
        estate.contractor(series.contractor)?,
    );
    let pace = (night.between(92, 124), night.between(94, 115));
    let mut report = Report::of(plan, work, (floor, contractor), night.start(), pace);
    report.operative_ref = Some(format!("crew-{}", night.between(1, 6)));
    match series.odd {
        Odd::Unplanned if night.is_unplanned => report = report.unplanned(&plan.process.key),
        Odd::Charged => report.charged = Some(share(&work.cost.net, night.between(97, 112))),
        Odd::Deviates => deviate(&mut report, work),
        Odd::None | Odd::Unplanned | Odd::Corrected => {}
    }
    let key = series.key(night.weeks_ago);
    let made: Made = client.post("/v1/completions", &report, &key).await?.body;
    if series.odd == Odd::Corrected {
        correct(client, report, &made, &key).await?;
    }
    Ok(())
}

/// One coat fewer, a product that the plan does not have, and nobody read the pH.
fn deviate(report: &mut Report, work: &Work) {
    report.cut_short(work);
    report.products.push(Used {
        product: "spray_maintainer".to_owned(),
        volume_l: 0.5,
    });
    report.note = Some("Ran out of time before the last coat.".to_owned());
}

/// The crew had written down half an hour too much.
async fn correct(
    client: &Client,
    mut report: Report,
    wrong: &Made,
    key: &str,
) -> Result<(), DemoError> {
    for part in report.labour.iter_mut().filter(|part| part.hours > 1.0) {
        part.hours = (part.hours * 100.0 - 50.0).round() / 100.0;
    }
    report.note = Some("Corrects the hours of the first report.".to_owned());
    let path = format!("/v1/completions/{}/supersede", wrong.id);
    let _: Made = client
        .post(&path, &report, &format!("{key}-corrected"))
        .await?
        .body;
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::{Odd, SERIES, WEEKS};
    use crate::demo::estate::SITES;

    #[test]
    fn every_series_is_on_a_floor_of_the_estate() {
        let floors = SITES.iter().flat_map(|site| site.floors);
        let known: HashSet<_> = floors.map(super::super::estate::Floor::id).collect();
        assert!(known.len() >= 24);
        assert!(SERIES.iter().all(|series| known.contains(series.floor)));
    }

    #[test]
    fn half_a_year_holds_enough_work_of_every_sort() {
        let nights =
            (1..=WEEKS).flat_map(|week| SERIES.iter().filter_map(move |s| Some((s, s.nth(week)?))));
        let nights: Vec<_> = nights.collect();
        assert!((60..=110).contains(&nights.len()), "{}", nights.len());
        let n_unplanned = nights
            .iter()
            .filter(|(s, nth)| s.odd == Odd::Unplanned && nth % 3 == 2);
        assert!(n_unplanned.count() >= 3);
        for odd in [Odd::Charged, Odd::Deviates, Odd::Corrected] {
            assert!(nights.iter().any(|(series, _)| series.odd == odd));
        }
    }
}
