//! What recurring work will cost, month by month: each process on each floor comes again after its interval, at today's
//! price of the planner, and may turn out dearer or cheaper.

use chrono::{Days, NaiveDate};

use super::{Due, look::goal};
use crate::{
    estimate::{cost::CostSheet, spread::Sum},
    knowledge::{Process, SpreadFigures},
    plan::{self, DraftPlanError, PlanInput, Verdict},
    survey::Wish,
};

/// What a job costs before tax, in 1/10,000 of the currency's unit, by what makes it uncertain.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Job {
    /// What goes with the time that it takes.
    pub labour: f64,
    /// What goes with what is used up.
    pub material: f64,
}

impl Job {
    /// The job of a cost sheet. What is charged on top is shared out in proportion.
    fn of(sheet: &CostSheet) -> Self {
        let parts = sheet.parts();
        Self {
            labour: parts.labour + parts.machine,
            material: parts.product + parts.worn,
        }
    }

    /// Adds it so many times to a sum.
    fn add_to(self, sum: &mut Sum, times: f64, spread: &SpreadFigures) {
        sum.add(self.labour, spread.labour, times);
        sum.add(self.material, spread.material, times);
    }
}

/// What a process costs on the floor of `input` as it is, by the planner's own figures, and what the rules say of it there.
/// The wish of `input` counts for nothing.
///
/// # Errors
/// As [`draft_plan`](crate::plan::draft_plan).
pub fn price(input: &PlanInput<'_>, process: &Process) -> Result<(Verdict, Job), DraftPlanError> {
    let wish = Wish {
        process: Some(process.key.clone()),
        ..Wish::to(goal(process))
    };
    let input = PlanInput {
        wish: &wish,
        ..*input
    };
    let (verdict, sheet) = plan::price(&input)?;
    Ok((verdict, Job::of(&sheet)))
}

/// A month of a forecast: its first day, and the first day after it.
pub type Month = (NaiveDate, NaiveDate);

/// What a month comes to so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MonthSum {
    /// How many jobs are due in it.
    pub n_jobs: u64,
    /// What they cost.
    pub sum: Sum,
}

/// Adds a job that recurs to the months of a forecast, which follow one another. What is overdue is done `today`; before the
/// first month it is done as it falls due. Nothing is due from the day on which the floor is gone.
pub fn add(
    months: &[Month],
    sums: &mut [MonthSum],
    (due, gone_on): (&Due, Option<NaiveDate>),
    (job, spread): (Job, &SpreadFigures),
    today: NaiveDate,
) {
    let mut next = due.due_on.max(today);
    let interval = u64::try_from(due.interval_days).unwrap_or(1).max(1);
    for ((first, after), month) in months.iter().zip(sums) {
        let after = gone_on.map_or(*after, |gone| gone.min(*after));
        next = come_again(next, *first, interval);
        let Ok(days @ 1..) = u64::try_from((after - next).num_days()) else {
            continue;
        };
        let times = days.div_ceil(interval);
        month.n_jobs = month.n_jobs.saturating_add(times);
        let count = u32::try_from(times).map_or(f64::from(u32::MAX), f64::from);
        job.add_to(&mut month.sum, count, spread);
        next = later(next, times.saturating_mul(interval));
    }
}

/// The first of the days `next`, `next + interval`, ... that is not before `first`.
fn come_again(next: NaiveDate, first: NaiveDate, interval: u64) -> NaiveDate {
    let missing = u64::try_from((first - next).num_days()).unwrap_or(0);
    later(next, missing.div_ceil(interval).saturating_mul(interval))
}

fn later(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_add_days(Days::new(days))
        .unwrap_or(NaiveDate::MAX)
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::{Job, Month, MonthSum, add};
    use crate::{
        due::{CountedFrom, Due, Why},
        knowledge::KnowledgeBase,
    };

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn due(due_on: &str, interval_days: i64) -> Due {
        Due {
            process: "p".to_owned(),
            routine: false,
            last_done_on: None,
            due_on: day(due_on),
            why: Why::Interval,
            counted_from: CountedFrom::LastDone,
            counted_from_on: day(due_on),
            interval_days,
        }
    }

    fn counts(item: &Due, gone: Option<&str>, today: &str) -> Vec<u64> {
        let firsts = ["2026-01-01", "2026-02-01", "2026-03-01", "2026-04-01"].map(day);
        let months: Vec<Month> = firsts.windows(2).map(|pair| (pair[0], pair[1])).collect();
        let mut sums = vec![MonthSum::default(); months.len()];
        let spread = &KnowledgeBase::builtin().unwrap().spread;
        let job = Job {
            labour: 1.0,
            material: 0.0,
        };
        add(
            &months,
            &mut sums,
            (item, gone.map(day)),
            (job, spread),
            day(today),
        );
        sums.iter().map(|month| month.n_jobs).collect()
    }

    #[test]
    fn a_job_comes_again_after_its_interval_in_whichever_month_that_is() {
        // Counted on the calendar: 10 Jan, 9 Feb, 11 Mar.
        assert_eq!(
            counts(&due("2026-01-10", 30), None, "2026-01-01"),
            [1, 1, 1]
        );
        // Every day has one.
        assert_eq!(
            counts(&due("2026-01-01", 1), None, "2026-01-01"),
            [31, 28, 31]
        );
        // 31 Jan and 2 Mar: none in February.
        assert_eq!(
            counts(&due("2026-01-31", 30), None, "2026-01-01"),
            [1, 0, 1]
        );
    }

    #[test]
    fn what_is_overdue_is_done_today_and_what_is_done_before_the_first_month_is_not_in_it() {
        assert_eq!(
            counts(&due("2024-05-01", 365), None, "2026-02-10"),
            [0, 1, 0]
        );
        // Done on 20 December, and again 60 days later, on 18 February.
        assert_eq!(
            counts(&due("2025-12-20", 60), None, "2025-12-01"),
            [0, 1, 0]
        );
    }

    #[test]
    fn nothing_is_due_on_a_floor_that_is_gone() {
        let weekly = due("2026-01-01", 7);
        assert_eq!(counts(&weekly, Some("2026-02-01"), "2026-01-01"), [5, 0, 0]);
        assert_eq!(counts(&weekly, Some("2025-12-01"), "2026-01-01"), [0, 0, 0]);
    }
}
