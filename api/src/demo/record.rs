//! Reports of work done, as a contractor's system would send them: from the plan, at the pace of a real night.

use chrono::{DateTime, TimeDelta, Utc};
use serde::Serialize;

use super::answer::{Money, Plan, Work};

/// A report of work done.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Report {
    pub(super) surface_id: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) plan_id: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) process: Option<String>,
    pub(super) contractor_id: String,
    pub(super) started_at: DateTime<Utc>,
    pub(super) finished_at: DateTime<Utc>,
    pub(super) labour: Vec<Labour>,
    pub(super) products: Vec<Used>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) seal_coats: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) polish_coats: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) surface_ph: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) charged: Option<Money>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) operative_ref: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) note: Option<String>,
}

/// Hours of all operatives in one part of the work.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Labour {
    pub(super) stage: String,
    pub(super) hours: f64,
}

/// Undiluted product that was used.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Used {
    pub(super) product: String,
    pub(super) volume_l: f64,
}

impl Report {
    /// What a crew reports that worked as planned but took `pace` of the planned time and `thirst` of the planned
    /// product, both in per cent.
    pub(super) fn of(
        plan: &Plan,
        work: &Work,
        (surface_id, contractor_id): (&str, &str),
        started_at: DateTime<Utc>,
        (pace, thirst): (u32, u32),
    ) -> Self {
        let (pace, thirst) = (f64::from(pace) / 100.0, f64::from(thirst) / 100.0);
        let products = work.products.iter().map(|line| Used {
            product: line.product.key.clone(),
            volume_l: hundredths(line.need_l * thirst),
        });
        let reads_ph = work
            .steps
            .iter()
            .filter_map(|step| step.hold.as_ref())
            .any(|hold| hold.unit.as_deref() == Some("pH"));
        Self {
            surface_id: surface_id.to_owned(),
            plan_id: Some(plan.id.clone()),
            process: None,
            contractor_id: contractor_id.to_owned(),
            started_at,
            finished_at: started_at + elapsed(work, pace),
            labour: labour(work, pace),
            products: products.collect(),
            seal_coats: coats(work, "seal"),
            polish_coats: coats(work, "polish"),
            surface_ph: reads_ph.then_some(7.6),
            charged: None,
            operative_ref: None,
            note: None,
        }
    }

    /// The same work with one coat of polish fewer and the polish that it would have taken, and without a pH reading.
    pub(super) fn cut_short(&mut self, work: &Work) {
        let Some(coats) = self
            .polish_coats
            .and_then(|coats| u32::try_from(coats).ok())
        else {
            return;
        };
        let left = f64::from(coats.saturating_sub(1)) / f64::from(coats);
        for line in work.products.iter().filter(|line| line.class == "polish") {
            for used in self
                .products
                .iter_mut()
                .filter(|used| used.product == line.product.key)
            {
                used.volume_l = hundredths(used.volume_l * left);
            }
        }
        self.polish_coats = self.polish_coats.map(|coats| coats.saturating_sub(1));
        self.surface_ph = None;
    }

    /// The same work without a plan: nobody had asked for one.
    pub(super) fn unplanned(mut self, process: &str) -> Self {
        self.plan_id = None;
        self.process = Some(process.to_owned());
        self
    }
}

/// Hours by stage, in the order in which the stages come.
fn labour(work: &Work, pace: f64) -> Vec<Labour> {
    // Crews are paid for set-up and rest too and write them down with the rest of their hours.
    let working: f64 = work.labour.iter().map(|line| line.hours).sum();
    let paid = work.time_line.crew_h * f64::from(work.time_line.crew_size);
    let mut stages: Vec<Labour> = Vec::new();
    for line in &work.labour {
        let hours = line.hours / working * paid * pace;
        match stages.iter_mut().find(|sum| sum.stage == line.stage) {
            Some(sum) => sum.hours += hours,
            None => stages.push(Labour {
                stage: line.stage.clone(),
                hours,
            }),
        }
    }
    for sum in &mut stages {
        sum.hours = hundredths(sum.hours);
    }
    stages
}

/// Coats of a class of product, if the plan lays any.
fn coats(work: &Work, class: &str) -> Option<usize> {
    let is_coat = |step: &&super::answer::Step| {
        let product = step.product.as_ref();
        step.coat.is_some() && product.is_some_and(|product| product.class == class)
    };
    Some(work.steps.iter().filter(is_coat).count()).filter(|n| *n > 0)
}

/// From beginning to end: waits are kept, work takes longer or shorter.
fn elapsed(work: &Work, pace: f64) -> TimeDelta {
    let minutes = work.time_line.elapsed_min.max(10);
    let longer = (work.time_line.crew_h * 60.0 * (pace - 1.0)).max(0.0);
    TimeDelta::minutes(minutes.saturating_add(whole(longer)))
}

/// To two digits behind the point, as people write hours and litres.
fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// To a whole number of minutes.
fn whole(minutes: f64) -> i64 {
    format!("{minutes:.0}").parse().unwrap_or(0)
}

/// A share of an amount in per cent, to the digits that the amount has.
pub(super) fn share(money: &Money, pct: u32) -> Money {
    let digits: String = money.amount.chars().filter(|c| *c != '.').collect();
    let n_behind = money
        .amount
        .split_once('.')
        .map_or(0, |(_, behind)| behind.len());
    let units = digits
        .parse::<i64>()
        .unwrap_or(0)
        .saturating_mul(pct.into())
        / 100;
    let text = format!("{units:0>width$}", width = n_behind.saturating_add(1));
    let (whole, behind) = text
        .split_at_checked(text.len().saturating_sub(n_behind))
        .unwrap_or((&text, ""));
    let point = if n_behind > 0 { "." } else { "" };
    Money {
        amount: format!("{whole}{point}{behind}"),
        currency: money.currency.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::{Money, share};

    fn part(amount: &str, pct: u32) -> String {
        let currency = "GBP".to_owned();
        let amount = amount.to_owned();
        share(&Money { amount, currency }, pct).amount
    }

    #[test]
    fn a_share_has_the_digits_of_the_whole() {
        assert_eq!(part("200.00", 110), "220.00");
        assert_eq!(part("0.09", 50), "0.04");
        assert_eq!(part("1000", 95), "950");
    }
}
