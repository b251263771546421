//! A plan as a page of text, in the order in which a crew lead reads it.

use std::fmt::Write as _;

use domain::{
    plan::{Candidate, DrawnBay, Plan, PlannedBay, PlannedStep, Question, Reply, Work},
    quantity::Volume,
};

/// Lines of text, wrapped at 110 signs.
struct Page(String);

impl Page {
    fn head(&mut self, text: &str) {
        self.0.push('\n');
        self.0.push_str(text);
        self.0.push('\n');
    }

    /// A line whose continuation is set in by `deep` signs.
    fn line(&mut self, deep: usize, text: &str) {
        let lead = " ".repeat(deep);
        let mut length = 0;
        for word in text.split(' ') {
            let signs = word.chars().count();
            if length > 0 && length + 1 + signs > 110 - deep {
                self.0.push('\n');
                self.0.push_str(&lead);
                length = 0;
            }
            if length > 0 {
                self.0.push(' ');
                length += 1;
            }
            self.0.push_str(word);
            length += signs;
        }
        self.0.push('\n');
    }

    fn row(&mut self, text: &str) {
        self.0.push_str("- ");
        self.line(2, text);
    }

    fn under(&mut self, text: &str) {
        self.0.push_str("    ");
        self.line(4, text);
    }
}

fn l(volume: Volume) -> String {
    format!("{:.2} L", volume.l())
}

fn hours(minutes: i64) -> String {
    format!("{}:{:02} h", minutes / 60, minutes % 60)
}

/// The page of a plan for a floor of which `told` is known.
pub(super) fn page(told: &str, plan: &Plan) -> String {
    let mut page = Page(String::new());
    page.line(0, told);
    page.head(&format!(
        "VERDICT  {}: {}",
        plan.verdict.word(),
        plan.process_name
    ));
    for finding in &plan.findings {
        page.row(&format!(
            "[{} {}] {} Because: {} Cleared by: {} ({}: {})",
            finding.severity.word(),
            finding.rule,
            finding.statement,
            finding.reason,
            finding.clears,
            finding.grade.word(),
            finding.source,
        ));
    }
    questions(&mut page, "ASKED FIRST", &plan.questions);
    questions(&mut page, "WOULD NARROW THE COST", &plan.open_questions);
    if !plan.identification.is_empty() {
        page.head("FIELD TESTS");
        for test in &plan.identification {
            page.row(&format!("{}: {}", test.name, test.how));
        }
    }
    for (head, processes) in [("MEANWHILE", &plan.meanwhile), ("INSTEAD", &plan.instead)] {
        if !processes.is_empty() {
            page.head(head);
            for process in processes {
                page.row(&process.name);
            }
        }
    }
    if let Some(referral) = &plan.referral {
        page.head(&format!("HANDED TO  {}", referral.trade));
        for thing in &referral.hand_over {
            page.row(thing);
        }
    }
    if let Some(work) = &plan.work {
        steps(&mut page, work);
        amounts(&mut page, work);
        when(&mut page, work);
        hand_over(&mut page, work);
    }
    page.head("CAUTIONS");
    for called in &plan.cautions {
        page.row(&called.caution.text);
    }
    page.head("CONSIDERED");
    for candidate in &plan.candidates {
        page.row(&considered(candidate));
    }
    page.0
}

fn questions(page: &mut Page, head: &str, questions: &[Question]) {
    if questions.is_empty() {
        return;
    }
    page.head(head);
    for question in questions {
        page.row(&format!(
            "{} How to find out: {}",
            question.ask, question.how
        ));
        for answer in &question.answers {
            let mut says = format!(
                "{} -> {}: {}",
                reply(&answer.is),
                answer.verdict.word(),
                answer.process.name
            );
            if let Some((least, most)) = answer.net {
                let _ = write!(says, ", {least} to {most}");
            }
            if !answer.then_asks.is_empty() {
                let _ = write!(says, ", then asks {}", answer.then_asks.join(", "));
            }
            page.under(&says);
        }
    }
}

fn reply(reply: &Reply) -> String {
    match reply {
        Reply::Words(words) => words.join(" or "),
        Reply::Between { from, to } => {
            let from =
                from.map(|(value, with)| format!("{} {value}", if with { ">=" } else { ">" }));
            let to = to.map(|(value, with)| format!("{} {value}", if with { "<=" } else { "<" }));
            let ends: Vec<String> = from.into_iter().chain(to).collect();
            if ends.is_empty() {
                "any number".to_owned()
            } else {
                ends.join(" and ")
            }
        }
    }
}

fn steps(page: &mut Page, work: &Work) {
    page.head("STEPS");
    for step in &work.steps {
        page.line(4, &format!("{:>2}. {}", step.number, step.action));
        page.under(&with(step));
        if let Some(dwell) = &step.dwell {
            let dries = dwell
                .dries_after_min
                .map_or_else(String::new, |min| format!("; would dry in {min}"));
            page.under(&format!(
                "Works {} to {} min, usually {}{dries}. {}",
                dwell.least_min, dwell.most_min, dwell.typical_min, dwell.note
            ));
        }
        if let Some(wait) = &step.wait {
            page.under(&format!(
                "Wait {} min (half of the cases {}): {}; {}",
                wait.used_min, wait.p50_min, wait.name, wait.cause
            ));
        }
        if let Some(hold) = &step.hold {
            let when = if hold.before {
                "HOLD BEFORE IT"
            } else {
                "HOLD"
            };
            page.under(&format!("{when} {}: {}", hold.reading, hold.statement));
            page.under(&format!("If not: {}", hold.if_fails));
        }
    }
}

/// What a step is done with, and its coat.
fn with(step: &PlannedStep) -> String {
    let mut parts = Vec::new();
    parts.extend(step.tool.clone());
    parts.extend(step.pad.as_ref().map(|pad| format!("pad {pad}")));
    if let Some(product) = &step.product {
        let mut said = product.name.clone();
        if product.dilution > 0.0 {
            let _ = write!(said, " 1:{}", product.dilution);
        }
        if let (Some(working), Some(concentrate)) = (product.working, product.concentrate) {
            let _ = write!(
                said,
                ", {} of which concentrate {}",
                l(working),
                l(concentrate)
            );
        }
        if !product.ppe.is_empty() {
            let _ = write!(said, " ({})", product.ppe.join(", "));
        }
        parts.push(said);
    }
    if step.water.ml_up() > 0 {
        parts.push(format!("water {}", l(step.water)));
    }
    if let Some(coat) = &step.coat {
        parts.push(format!(
            "coat {} of {} on {:.2} m², {:.2} m short of the skirting, {:?}",
            coat.number,
            coat.of,
            coat.area.m2(),
            coat.gap.m(),
            coat.direction
        ));
    }
    parts.push(format!("{:.0} min of labour", step.labour.minutes()));
    parts.join("; ")
}

fn amounts(page: &mut Page, work: &Work) {
    page.head("PRODUCTS, WATER, PADS");
    for line in &work.products {
        let packs: Vec<String> = line
            .packs
            .iter()
            .map(|pack| format!("{} x {} L", pack.count, Volume::from_ml(pack.size_ml).l()))
            .collect();
        page.row(&format!(
            "{}: {} with losses, order {}",
            line.name,
            l(line.total),
            packs.join(" and ")
        ));
    }
    page.row(&format!(
        "Clean water {}, water for diluting {}, slurry {}",
        l(work.water.clean),
        l(work.water.dilution),
        l(work.water.slurry)
    ));
    for pad in &work.pads {
        page.row(&format!("{} {}", pad.count, pad.pad));
    }
    page.head("LABOUR AND COST");
    for line in &work.labour {
        page.row(&format!(
            "{}: {:.0} {} x {} at {:.0} an hour, {:.0} min",
            line.name,
            line.quantity,
            line.unit,
            line.times,
            line.per_h,
            line.time.minutes()
        ));
    }
    for line in &work.cost.lines {
        page.row(&format!("{}: {}", line.what, line.amount));
    }
    page.row(&format!(
        "Net {}, tax {}, gross {}",
        work.cost.net, work.cost.tax, work.cost.gross
    ));
}

fn when(page: &mut Page, work: &Work) {
    let line = &work.time_line;
    page.head("WHEN");
    page.row(&format!(
        "{} operatives; {:.0} min from closing to walking on it, {:.0} in half of the cases",
        line.crew_size,
        line.elapsed.minutes(),
        line.elapsed_p50.minutes()
    ));
    for event in &line.events {
        page.row(&format!("{}: {}", hours(event.used_min), event.what));
    }
    for night in &line.nights {
        page.row(&format!(
            "Night {}: {}; done after {}, open after {}, leaves {}",
            night.number,
            night.work.join(", "),
            hours(night.work_min),
            hours(night.open_after_min),
            night.leaves
        ));
    }
    for layout in &work.layouts {
        let bays: Vec<String> = layout.bays.iter().map(bay).collect();
        page.row(&format!(
            "{} in {} bays: {}",
            layout.treats.join(", "),
            layout.n_bays,
            bays.join(", ")
        ));
    }
}

fn bay(bay: &PlannedBay) -> String {
    let drawn = bay
        .drawn
        .as_ref()
        .map_or_else(String::new, |drawn: &DrawnBay| {
            format!(" towards {:.1}, {:.1}", drawn.towards.x, drawn.towards.y)
        });
    format!("{:.1} m²{drawn}", bay.area.m2())
}

fn hand_over(page: &mut Page, work: &Work) {
    page.head("HANDED OVER WHEN");
    for check in &work.acceptance.checks {
        page.row(&format!(
            "{} at {} places: {} If not: {}",
            check.row.reading, check.points, check.row.statement, check.row.if_fails
        ));
    }
    if let Some(look) = &work.acceptance.inspection {
        page.row(&format!(
            "{} of {} cells of {:.0} m² are looked at, up to {} may fail",
            look.sample,
            look.n_cells,
            look.cell.m2(),
            look.accept
        ));
    }
    page.head("WHAT CAN GO WRONG");
    for defect in &work.acceptance.defects {
        page.row(&format!(
            "{} From: {} Then: {}",
            defect.what,
            defect.causes.join("; "),
            defect.remedy
        ));
    }
}

fn considered(candidate: &Candidate) -> String {
    let mut said = format!("{}: {}", candidate.name, candidate.verdict.word());
    if candidate.suits != Some(true) {
        said.push_str(", not what is wished");
    }
    if let Some(net) = candidate.net {
        let _ = write!(said, ", {net}");
    }
    if let Some(net) = candidate.net_per_year {
        let _ = write!(said, ", {net} a year");
    }
    if let Some(min) = candidate.elapsed_min {
        let _ = write!(said, ", {}", hours(min));
    }
    let _ = write!(said, ". {}", candidate.why);
    if !candidate.rules.is_empty() {
        let _ = write!(said, " ({})", candidate.rules.join(", "));
    }
    said
}
