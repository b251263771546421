//! What recurring work will cost, month by month: each process on each floor comes again after its interval, at today's
//! price of the planner, and may turn out dearer or cheaper.

use chrono::{Days, NaiveDate};

use super::{Due, look::goal};
use crate::{
    estimate::{
        outlook::{Amounts, Priced},
        spread::Sum,
    },
    knowledge::Process,
    plan::{self, DraftPlanError, PlanInput, Verdict, Work},
    survey::Wish,
};

/// What a job costs before tax, in 1/10,000 of the currency's unit: each line with the doubt that the outlook of a plan has of
/// it, by what jobs have told or as is usual.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Job {
    /// The lines.
    pub net: Sum,
}

impl Job {
    /// The job of worked-out work. What its plan pays for products goes with litres: packs are not counted anew for each job.
    fn of(input: &PlanInput<'_>, work: &Work) -> Self {
        let mut amounts = Amounts::default();
        let labour = (&*work.labour, work.time_line.crew_size);
        amounts.add(labour, &work.products, &work.pads);
        let priced = Priced {
            products: &work.products,
            cost: &work.cost,
            card: input.card,
            from: input.products(),
        };
        Self {
            net: amounts.net_by_litres(&priced, &input.base.spread),
        }
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
    let (verdict, work) = plan::price(&input)?;
    Ok((verdict, Job::of(&input, &work)))
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
    job: &Job,
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
        month.sum.add_all(&job.net.times(count));
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
        estimate::spread::Sum,
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
        let mut net = Sum::default();
        net.add(1.0, 0.3, 1.0);
        let job = Job { net };
        add(&months, &mut sums, (item, gone.map(day)), &job, day(today));
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
