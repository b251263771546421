//! Plans in words.

use std::io::Write;

use super::{
    super::{
        DemoError,
        answer::{Answer, Candidate, Finding, Plan, Question},
        paper::{Column, Paper, Table},
        words::{count, length, minutes, money as price, source, spoken},
    },
    expect_verdict,
    knowledge::Knowledge,
    money, step, work,
};

/// A plan that says yes: why, with what, for how long and for how much.
pub(super) fn allowed<W: Write>(
    paper: &mut Paper<W>,
    plan: &Plan,
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    expect_verdict(plan, &["allowed", "allowed_with_warnings"])?;
    let no_work = || DemoError::Unexpected("an allowed plan has no work".to_owned());
    let done = plan.work.as_ref().ok_or_else(no_work)?;
    verdict(paper, plan)?;
    findings(paper, "Reasons", &plan.findings)?;
    candidates(paper, plan, knowledge)?;
    step::steps(paper, done)?;
    work::quantities(paper, &done.products, &done.water, &done.pads)?;
    work::hours(paper, done)?;
    work::time_line(paper, &done.time_line)?;
    work::window(paper, plan.window.as_ref())?;
    money::cost(paper, &done.cost)?;
    questions(
        paper,
        "Would narrow the figures, and change nothing else",
        &plan.open_questions,
    )?;
    work::cautions(paper, &plan.cautions)?;
    work::acceptance(paper, &done.acceptance)?;
    work::basis(paper, done)
}

/// A plan that says no, and what could be done instead.
pub(super) fn refused<W: Write>(
    paper: &mut Paper<W>,
    plan: &Plan,
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    expect_verdict(plan, &["refused"])?;
    verdict(paper, plan)?;
    findings(paper, "Why not", harder_than_notes(plan))?;
    paper.head("What could be done instead")?;
    for key in &plan.instead {
        let candidate = plan
            .candidates
            .iter()
            .find(|candidate| candidate.process.key == *key);
        match candidate {
            Some(candidate) => paper.point("-", &instead(candidate))?,
            None => paper.point("-", &knowledge.name(key))?,
        }
    }
    if plan.instead.is_empty() {
        paper.point("-", "Nothing that is known here.")?;
    }
    Ok(())
}

fn instead(candidate: &Candidate) -> String {
    let net = candidate.net.as_ref().map(price);
    let net = net.map_or_else(String::new, |net| format!(" ({net} before tax)"));
    format!("{}: {}{net}", candidate.process.name, candidate.why)
}

/// A plan that cannot say yes or no yet.
pub(super) fn asking<W: Write>(
    paper: &mut Paper<W>,
    plan: &Plan,
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    expect_verdict(plan, &["needs_information"])?;
    verdict(paper, plan)?;
    findings(paper, "Why nothing is planned yet", harder_than_notes(plan))?;
    questions(paper, "What must be known", &plan.questions)?;
    paper.head("Right in the meantime, whatever the answers are")?;
    for key in &plan.meanwhile {
        paper.point("-", &knowledge.name(key))?;
    }
    Ok(())
}

/// Notes go with work; where there is none they only stand in the way.
fn harder_than_notes(plan: &Plan) -> impl Iterator<Item = &Finding> {
    plan.findings
        .iter()
        .filter(|finding| finding.severity != "note")
}

fn verdict<W: Write>(paper: &mut Paper<W>, plan: &Plan) -> Result<(), DemoError> {
    paper.text(&format!(
        "Verdict: {}",
        spoken(&plan.verdict).to_uppercase()
    ))?;
    paper.text(&plan.summary)?;
    Ok(())
}

fn findings<'a, W: Write>(
    paper: &mut Paper<W>,
    title: &str,
    findings: impl IntoIterator<Item = &'a Finding>,
) -> Result<(), DemoError> {
    let mut findings = findings.into_iter().peekable();
    if findings.peek().is_some() {
        paper.head(title)?;
    }
    for finding in findings {
        paper.item(
            &finding.severity,
            &format!("{} {}", finding.statement, finding.reason),
        )?;
        if finding.severity != "note" {
            paper.item("", &format!("What clears it: {}", finding.clears))?;
        }
        let from = source(&finding.source, &finding.grade);
        paper.item("", &format!("Rule {}. Source: {from}", finding.rule))?;
    }
    Ok(())
}

fn questions<W: Write>(
    paper: &mut Paper<W>,
    title: &str,
    questions: &[Question],
) -> Result<(), DemoError> {
    if questions.is_empty() {
        return Ok(());
    }
    paper.head(title)?;
    for (question, number) in questions.iter().zip(1..) {
        paper.point(
            &format!("{number}."),
            &format!("{} ({})", question.ask, question.fact),
        )?;
        paper.detail("find out", &question.how_to_find_out)?;
        paper.detail("leads to", &question.leads_to)?;
        for answer in &question.answers {
            paper.detail("here", &leads_to(answer))?;
        }
    }
    Ok(())
}

/// One answer and what it would lead to on this floor.
fn leads_to(answer: &Answer) -> String {
    let bounds = [
        ("at least", answer.at_least),
        ("more than", answer.more_than),
        ("at most", answer.at_most),
        ("less than", answer.less_than),
    ];
    let mut is: Vec<String> = answer.is.clone();
    is.extend(
        bounds
            .iter()
            .filter_map(|(word, bound)| Some(format!("{word} {}", (*bound)?))),
    );
    let then = if answer.then_asks.is_empty() {
        String::new()
    } else {
        format!("; then asks for {}", answer.then_asks.join(", "))
    };
    format!(
        "{}: {}, {}{then}",
        is.join(", "),
        spoken(&answer.verdict),
        answer.process.name
    )
}

/// All that was considered: figures in a table, reasons below it.
fn candidates<W: Write>(
    paper: &mut Paper<W>,
    plan: &Plan,
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    paper.head(&format!(
        "What was considered ({})",
        count(length(&plan.candidates), "process")
    ))?;
    let mut table = Table::new(&[
        Column::Words("process"),
        Column::Words("choice"),
        Column::Figure("labour"),
        Column::Figure("floor closed"),
        Column::Figure("price"),
        Column::Figure("price a year"),
    ]);
    for candidate in &plan.candidates {
        let choice = choice(plan, candidate);
        let is_out = candidate.verdict == "refused";
        let or_dash = |text: Option<String>| {
            let text = text.filter(|_text| !is_out);
            text.unwrap_or_else(|| "-".to_owned())
        };
        table.row([
            candidate.process.name.clone(),
            choice.to_owned(),
            or_dash(candidate.labour_h.map(|hours| format!("{hours:.2} h"))),
            or_dash(candidate.elapsed_min.map(minutes)),
            or_dash(candidate.net.as_ref().map(price)),
            or_dash(candidate.net_per_year.as_ref().map(price)),
        ]);
    }
    paper.table(&table)?;
    paper.gap()?;
    for candidate in &plan.candidates {
        let rules = match knowledge.refusing(&candidate.rules).as_slice() {
            [] => String::new(),
            rules => format!(" Refused by {}.", rules.join(", ")),
        };
        paper.point(
            "-",
            &format!("{}: {}{rules}", candidate.process.name, candidate.why),
        )?;
    }
    Ok(())
}

fn choice(plan: &Plan, candidate: &Candidate) -> &'static str {
    if candidate.process.key == plan.process.key {
        return "CHOSEN";
    }
    match (candidate.verdict.as_str(), candidate.suits) {
        ("refused", _) => "refused",
        ("needs_information", _) | (_, None) => "open",
        (_, Some(false)) => "not called for",
        (_, Some(true)) => "possible",
    }
}
