//! The days that a rule names (3.3.10), in their order.

use std::collections::VecDeque;

use chrono::{Datelike as _, Days, Months, NaiveDate};

use super::{Frequency, Rule, WeekdayOf};
use crate::ical::Wrong;

/// Days that a rule names, after the day on which the event begins.
#[derive(Debug)]
pub(super) struct Named<'r> {
    rule: &'r Rule,
    first: NaiveDate,
    /// The next day that is looked at.
    day: NaiveDate,
    /// What was picked from a period and not handed out.
    ready: VecDeque<NaiveDate>,
}

impl<'r> Named<'r> {
    pub(super) fn new(rule: &'r Rule, first: NaiveDate) -> Self {
        // Positions are counted from the beginning of a period, also of the one in which the event begins.
        let day = if rule.positions.is_empty() {
            first
        } else {
            period(rule, first)
        };
        let ready = VecDeque::new();
        Self {
            rule,
            first,
            day,
            ready,
        }
    }

    /// The next day that is named, if it begins before `end`. Each day that is looked at is taken off `left`.
    ///
    /// # Errors
    /// [`Wrong::Days`] where none is left.
    pub(super) fn next(
        &mut self,
        end: NaiveDate,
        left: &mut usize,
    ) -> Result<Option<NaiveDate>, Wrong> {
        loop {
            if let Some(day) = self.ready.pop_front() {
                if day > self.first {
                    return Ok(Some(day));
                }
                continue;
            }
            if self.day >= end {
                return Ok(None);
            }
            let of = period(self.rule, self.day);
            let mut named = Vec::new();
            while period(self.rule, self.day) == of {
                *left = left.checked_sub(1).ok_or(Wrong::Days)?;
                let day = self.day;
                let later = skipped(self.rule, self.first, day);
                self.day = match later.or_else(|| day.succ_opt()) {
                    Some(later) => later,
                    None => return Ok(None),
                };
                if later.is_none() && is_named(self.rule, self.first, day) {
                    named.push(day);
                    if self.rule.positions.is_empty() {
                        break;
                    }
                }
            }
            self.ready = picked(self.rule, named);
        }
    }
}

/// The days at the positions that a rule picks from those of a period (BYSETPOS); all where it picks none.
fn picked(rule: &Rule, named: Vec<NaiveDate>) -> VecDeque<NaiveDate> {
    if rule.positions.is_empty() {
        return named.into();
    }
    let at = |position: &i32| {
        let nth = usize::try_from(position.unsigned_abs()).ok()?;
        let index = if *position > 0 {
            nth.checked_sub(1)?
        } else {
            named.len().checked_sub(nth)?
        };
        named.get(index).copied()
    };
    let mut days: Vec<NaiveDate> = rule.positions.iter().filter_map(at).collect();
    days.sort_unstable();
    days.dedup();
    days.into()
}

/// The first day of the period that a day is in: the day itself, its week, month or year.
fn period(rule: &Rule, day: NaiveDate) -> NaiveDate {
    let back = match rule.frequency {
        Frequency::Daily => 0,
        Frequency::Weekly => day.weekday().days_since(rule.week_begins),
        Frequency::Monthly => day.day0(),
        Frequency::Yearly => day.ordinal0(),
    };
    day.checked_sub_days(Days::new(u64::from(back)))
        .unwrap_or(day)
}

/// The next day that need be looked at, where no day of this month can be named.
fn skipped(rule: &Rule, first: NaiveDate, day: NaiveDate) -> Option<NaiveDate> {
    let month = day.with_day(1)?;
    let years = i64::from(day.year()).saturating_sub(i64::from(first.year()));
    let interval = i64::from(rule.interval);
    if rule.frequency == Frequency::Yearly && years.rem_euclid(interval) != 0 {
        let ahead = interval.saturating_sub(years.rem_euclid(interval));
        let year = i64::from(day.year()).saturating_add(ahead);
        return NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, 1, 1).or(Some(NaiveDate::MAX));
    }
    let is_other_month = match rule.frequency {
        Frequency::Monthly => months(first, day).rem_euclid(interval) != 0,
        Frequency::Yearly => {
            is_bare(rule) && rule.months.is_empty() && day.month() != first.month()
        }
        Frequency::Daily | Frequency::Weekly => false,
    };
    let is_unnamed = !rule.months.is_empty() && !rule.months.contains(&day.month());
    if is_other_month || is_unnamed {
        return month.checked_add_months(Months::new(1));
    }
    None
}

/// Whether a rule names no days, so that they are those of the beginning.
fn is_bare(rule: &Rule) -> bool {
    rule.days.is_empty() && rule.month_days.is_empty() && rule.year_days.is_empty()
}

fn months(first: NaiveDate, day: NaiveDate) -> i64 {
    let number = |day: NaiveDate| {
        let years = i64::from(day.year()).saturating_mul(12);
        years.saturating_add(i64::from(day.month0()))
    };
    number(day).saturating_sub(number(first))
}

/// Whether a rule names a day of a month that is not skipped.
fn is_named(rule: &Rule, first: NaiveDate, day: NaiveDate) -> bool {
    let interval = i64::from(rule.interval);
    let is_in_turn = match rule.frequency {
        Frequency::Daily => (day - first).num_days().rem_euclid(interval) == 0,
        Frequency::Weekly => {
            let weeks = (period(rule, day) - period(rule, first)).num_days();
            weeks.div_euclid(7).rem_euclid(interval) == 0
        }
        Frequency::Monthly | Frequency::Yearly => true,
    };
    let (of_month, of_year) = (
        i64::from(day.num_days_in_month()),
        if day.leap_year() { 366 } else { 365 },
    );
    let is_listed = |list: &[i32], at0: u32, of: i64| {
        list.is_empty() || list.iter().any(|nth| is_nth(*nth, i64::from(at0), of))
    };
    let is_of_week = |named: &WeekdayOf| {
        let Some(nth) = named.nth.filter(|_| named.day == day.weekday()) else {
            return named.day == day.weekday();
        };
        // Of the month, but for rules that speak of the year.
        let is_of_year = rule.frequency == Frequency::Yearly && rule.months.is_empty();
        let (at0, of) = if is_of_year {
            (day.ordinal0(), of_year)
        } else {
            (day.day0(), of_month)
        };
        let at0 = i64::from(at0);
        let last = of.saturating_sub(1);
        let counted = if nth > 0 {
            at0
        } else {
            last.saturating_sub(at0)
        };
        i64::from(nth.unsigned_abs()) == counted.div_euclid(7).saturating_add(1)
    };
    let is_of_beginning = || match rule.frequency {
        Frequency::Daily => true,
        Frequency::Weekly => day.weekday() == first.weekday(),
        Frequency::Monthly | Frequency::Yearly => day.day() == first.day(),
    };
    is_in_turn
        && (!is_bare(rule) || is_of_beginning())
        && (rule.days.is_empty() || rule.days.iter().any(is_of_week))
        && is_listed(&rule.month_days, day.day0(), of_month)
        && is_listed(&rule.year_days, day.ordinal0(), of_year)
}

/// Whether a place, counted from 0, is the so-manieth of so many: from the end for a negative number.
fn is_nth(nth: i32, at0: i64, of: i64) -> bool {
    let nth = i64::from(nth);
    if nth > 0 {
        at0 == nth.saturating_sub(1)
    } else {
        at0 == of.saturating_add(nth)
    }
}
