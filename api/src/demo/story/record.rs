//! Work done and what it cost, in words.

use std::io::Write;

use chrono::{DateTime, Datelike as _, Days, Months, NaiveDate, TimeDelta, Timelike as _, Utc};

use super::{
    super::{
        DemoError,
        answer::{Completion, CompletionLine, CostReport, CostRow, Money, Plan, Surface},
        client::{Answer, Client},
        fill::Estate,
        history::WEEKS,
        paper::{Column, Paper, Table},
        record::Report,
        words::{grouped, hours, litres, money, spoken, square_metres},
    },
    knowledge::Knowledge,
    show,
};

/// Reports the work on the hall, which did not go quite as planned.
pub(super) async fn log<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    estate: &Estate,
    (plan, hall): (&Plan, &Surface),
    now: DateTime<Utc>,
) -> Result<(), DemoError> {
    paper.part("7. Report the work")?;
    paper.text(
        "The crew was slower than planned, laid one coat of polish fewer and read no pH. What a contractor reports is \
         kept as it is and held against the plan.",
    )?;
    let no_work = || DemoError::Unexpected("the plan of the hall has no work".to_owned());
    let work = plan.work.as_ref().ok_or_else(no_work)?;
    let long = TimeDelta::minutes(work.time_line.elapsed_min.saturating_mul(2));
    let mut report = Report::of(
        plan,
        work,
        (&hall.id, estate.contractor(0)?),
        whole_minute(now - long),
        (112, 96),
    );
    report.cut_short(work);
    report.operative_ref = Some("crew-3".to_owned());
    let answer: Answer<Completion> = client
        .post("/v1/completions", &report, "story-work")
        .await?;
    show(paper, &answer)?;
    completion(paper, &answer.body)
}

fn completion<W: Write>(paper: &mut Paper<W>, done: &Completion) -> Result<(), DemoError> {
    let planned = done.money.planned_net.as_ref().map(money);
    paper.text(&format!(
        "It is {} and counts in {}: {} before tax, {} planned ({:.0} % of the plan).",
        done.status,
        done.month,
        money(&done.money.actual_net),
        planned.unwrap_or_else(|| "nothing".to_owned()),
        done.planned_share * 100.0
    ))?;
    paper.head("In what it differs from its plan")?;
    for deviation in &done.deviations {
        paper.point(
            "!",
            &format!("{} ({})", deviation.statement, deviation.code),
        )?;
    }
    if done.deviations.is_empty() {
        return Err(DemoError::Unexpected(
            "the report has no deviations".to_owned(),
        ));
    }
    paper.head("Planned beside actual")?;
    let mut table = Table::new(&[
        Column::Words("line"),
        Column::Figure("planned work"),
        Column::Figure("actual work"),
        Column::Figure("planned cost"),
        Column::Figure("actual cost"),
    ]);
    let (tax, lines): (Vec<_>, Vec<_>) = done.lines.iter().partition(|line| line.kind == "tax");
    for line in lines {
        table.row(line_cells(line));
    }
    table.sum([
        "before tax".to_owned(),
        String::new(),
        String::new(),
        or_dash(done.money.planned_net.as_ref()),
        money(&done.money.actual_net),
    ]);
    for line in tax {
        table.sum(line_cells(line));
    }
    paper.table(&table)?;
    Ok(())
}

fn line_cells(line: &CompletionLine) -> [String; 5] {
    let (planned, actual) = quantity(line);
    [
        label(line),
        planned,
        actual,
        or_dash(line.planned.as_ref()),
        money(&line.actual),
    ]
}

fn label(line: &CompletionLine) -> String {
    let parts = [
        Some(&line.kind),
        line.product_class.as_ref(),
        line.stage.as_ref(),
    ];
    parts
        .into_iter()
        .flatten()
        .map(|part| spoken(part))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Hours or litres of a line, planned and actual.
fn quantity(line: &CompletionLine) -> (String, String) {
    let shown = |planned: Option<f64>, actual: f64, show: fn(f64) -> String| {
        (planned.map_or_else(|| "-".to_owned(), show), show(actual))
    };
    match line.kind.as_str() {
        "labour" => shown(line.planned_hours, line.actual_hours, hours),
        "product" => shown(line.planned_l, line.actual_l, litres),
        _ => (String::new(), String::new()),
    }
}

fn or_dash(amount: Option<&Money>) -> String {
    amount.map_or_else(|| "-".to_owned(), money)
}

/// Pulls the cost reports of the half year.
pub(super) async fn costs<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    now: DateTime<Utc>,
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    paper.part("8. Pull the cost report")?;
    paper.text(&format!(
        "What the last {WEEKS} weeks cost before tax, planned beside actual; two currencies are never added. Reports say \
         hours and litres: what a plan holds besides, such as machines, pads and slurry, is on the planned side only, \
         unless the contractor charged a sum. Work without a plan is on the actual side only."
    ))?;
    let (from, to) = months(now.date_naive());
    let path = format!("/v1/reports/costs?from={from}&to={to}&group_by=site,month");
    let report: Answer<CostReport> = client.get(&path).await?;
    show(paper, &report)?;
    let mut site = None;
    table(paper, &["site", "month"], &report.body, |row| {
        let is_same = site == row.site_name;
        site.clone_from(&row.site_name);
        let name = if is_same { None } else { row.site_name.clone() };
        vec![
            name.unwrap_or_default(),
            row.month.clone().unwrap_or_default(),
        ]
    })?;
    let path = format!("/v1/reports/costs?from={from}&to={to}&group_by=process");
    let report: Answer<CostReport> = client.get(&path).await?;
    show(paper, &report)?;
    table(paper, &["process"], &report.body, |row| {
        let key = row.process.as_deref();
        vec![key.map_or_else(String::new, |key| knowledge.name(key))]
    })
}

/// The month in which the history began, and the month after that of tomorrow: somewhere it may be tomorrow already.
fn months(today: NaiveDate) -> (String, String) {
    let first = today
        .checked_sub_days(Days::new(u64::from(WEEKS) * 7))
        .unwrap_or(today);
    let last = today.succ_opt().unwrap_or(today);
    let after = last.checked_add_months(Months::new(1)).unwrap_or(last);
    let month = |day: NaiveDate| format!("{:04}-{:02}", day.year(), day.month());
    (month(first), month(after))
}

fn table<W: Write>(
    paper: &mut Paper<W>,
    by: &[&'static str],
    report: &CostReport,
    mut group: impl FnMut(&CostRow) -> Vec<String>,
) -> Result<(), DemoError> {
    let figures = [
        Column::Figure("jobs"),
        Column::Figure("no plan"),
        Column::Figure("area"),
        Column::Words("in"),
        Column::Figure("planned"),
        Column::Figure("actual"),
        Column::Figure("difference"),
    ];
    let by: Vec<_> = by.iter().copied().map(Column::Words).collect();
    let mut table = Table::new(&[by.as_slice(), &figures].concat());
    for row in &report.rows {
        table.row(group(row).into_iter().chain(cells(row)));
    }
    for total in &report.totals {
        let all = by
            .iter()
            .enumerate()
            .map(|(at, _)| if at == 0 { "all" } else { "" }.to_owned());
        table.sum(all.chain(cells(total)));
    }
    paper.table(&table)?;
    Ok(())
}

fn cells(row: &CostRow) -> [String; 7] {
    [
        row.n_completions.to_string(),
        row.n_unplanned.to_string(),
        square_metres(row.area_m2),
        row.currency.clone(),
        amount(row.planned.as_ref().map(|planned| &planned.net)),
        amount(Some(&row.actual.net)),
        amount(row.variance_net.as_ref()),
    ]
}

fn amount(money: Option<&Money>) -> String {
    money.map_or_else(|| "-".to_owned(), |money| grouped(&money.amount))
}

/// As a clock on the wall shows it.
fn whole_minute(moment: DateTime<Utc>) -> DateTime<Utc> {
    moment
        .with_second(0)
        .and_then(|moment| moment.with_nanosecond(0))
        .unwrap_or(moment)
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::months;

    #[test]
    fn the_report_covers_the_history_and_tomorrow() {
        let of =
            |year, month, day| months(NaiveDate::from_ymd_opt(year, month, day).expect("a day"));
        let months = |from: &str, to: &str| (from.to_owned(), to.to_owned());
        assert_eq!(of(2026, 11, 25), months("2026-05", "2026-12"));
        assert_eq!(of(2026, 12, 31), months("2026-07", "2027-02"));
    }
}
