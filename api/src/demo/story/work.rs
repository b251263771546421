//! Litres, hours and the time line of a plan in words.

use std::io::Write;

use super::super::{
    DemoError,
    answer::{
        Acceptance, Basis, Caution, Night, Pad, ProductLine, TimeLine, Water, WindowFit, Work,
    },
    paper::{Column, Paper, Table},
    words::{count, hours as in_hours, length, litres, minutes, money, source},
};

/// Litres and the packs to order, water and pads.
pub(super) fn quantities<W: Write>(
    paper: &mut Paper<W>,
    products: &[ProductLine],
    water: &Water,
    pads: &[Pad],
) -> Result<(), DemoError> {
    paper.head("Litres, and packs to order at least cost")?;
    let mut table = Table::new(&[
        Column::Words("product"),
        Column::Figure("solution"),
        Column::Figure("product"),
        Column::Figure("loss"),
        Column::Figure("at hand"),
        Column::Words("packs"),
        Column::Figure("price"),
    ]);
    for line in products {
        let packs = line
            .packs
            .iter()
            .map(|pack| format!("{} x {} L", pack.count, pack.size_l));
        table.row([
            line.product.name.clone(),
            litres(line.working_l),
            litres(line.need_l),
            litres(line.loss_l),
            litres(line.total_l),
            packs.collect::<Vec<_>>().join(" + "),
            money(&line.price),
        ]);
    }
    paper.table(&table)?;
    paper.gap()?;
    paper.item(
        "water",
        &format!(
            "{} clean, {} in solutions; {} of slurry to get rid of",
            litres(water.clean),
            litres(water.dilution),
            litres(water.slurry)
        ),
    )?;
    if !pads.is_empty() {
        let pads = pads
            .iter()
            .map(|pad| count(pad.count, &format!("{} pad", pad.pad)));
        paper.item("pads", &pads.collect::<Vec<_>>().join(", "))?;
    }
    Ok(())
}

/// Labour by activity.
pub(super) fn hours<W: Write>(paper: &mut Paper<W>, work: &Work) -> Result<(), DemoError> {
    paper.head("Hours of all operatives, without set-up and allowance")?;
    let mut table = Table::new(&[
        Column::Words("activity"),
        Column::Words("stage"),
        Column::Figure("quantity"),
        Column::Figure("times"),
        Column::Figure("rate"),
        Column::Figure("hours"),
    ]);
    for line in &work.labour {
        let unit = if line.unit == "m2" { "m²" } else { &line.unit };
        table.row([
            line.activity.name.clone(),
            line.stage.clone(),
            format!("{:.1} {unit}", line.quantity),
            line.times.to_string(),
            format!("{:.1} {unit}/h", line.per_h),
            in_hours(line.hours),
        ]);
    }
    paper.table(&table)?;
    Ok(())
}

/// When what may happen on the floor.
pub(super) fn time_line<W: Write>(paper: &mut Paper<W>, line: &TimeLine) -> Result<(), DemoError> {
    paper.head("Time line, counted from closing the floor, if it is done in one go")?;
    let mut table = Table::new(&[
        Column::Words("what"),
        Column::Figure("in half of all cases"),
        Column::Figure("planned with"),
    ]);
    for event in &line.events {
        table.row([
            event.what.clone(),
            minutes(event.p50_min),
            minutes(event.used_min),
        ]);
    }
    paper.table(&table)?;
    paper.gap()?;
    paper.text(&format!(
        "A crew of {} works {} in all. The longest part that cannot be interrupted takes {}.",
        line.crew_size,
        in_hours(line.crew_h),
        minutes(line.longest_block_min)
    ))?;
    nights(paper, line)?;
    Ok(())
}

/// What would make the work fit the access window.
pub(super) fn window<W: Write>(
    paper: &mut Paper<W>,
    fit: Option<&WindowFit>,
) -> Result<(), DemoError> {
    let Some(fit) = fit.filter(|fit| !fit.fits) else {
        return Ok(());
    };
    let (window, needs) = (minutes(fit.window_min), minutes(fit.elapsed_min));
    paper.head(&format!(
        "What would fit: a window has {window}, the work takes {needs} in one go"
    ))?;
    for way in &fit.ways {
        let what = match (way.kind.as_str(), &way.machine) {
            ("larger_crew", _) => format!("a crew of {}", way.crew_size),
            ("other_machine", Some(machine)) => format!("the machine {machine}"),
            ("other_process", _) => way.process.name.clone(),
            ("longer_window", _) => format!("a window of {}", minutes(way.window_min)),
            _ => "as planned".to_owned(),
        };
        let nights = way
            .n_nights
            .map_or_else(String::new, |n| format!(", {}", count(n, "night")));
        let fits = if way.fits {
            "fits"
        } else {
            "does not fit into one window"
        };
        let (time, change) = (minutes(way.elapsed_min), money(&way.net_change));
        paper.point(
            "-",
            &format!("{what}: {time} in one go{nights}, {change} more; {fits}."),
        )?;
    }
    Ok(())
}

fn nights<W: Write>(paper: &mut Paper<W>, line: &TimeLine) -> Result<(), DemoError> {
    let Some(window) = line.window_min.filter(|_| !line.nights.is_empty()) else {
        return Ok(());
    };
    paper.head(&format!("Spread over windows of {}", minutes(window)))?;
    for Night {
        number,
        work,
        work_min,
        open_after_min,
        leaves,
    } in &line.nights
    {
        let (done, open) = (minutes(*work_min), minutes(*open_after_min));
        paper.point(&format!("{number}."), &format!("{}.", work.join(", ")))?;
        paper.detail(
            "done",
            &format!("after {done}; people may walk there after {open}"),
        )?;
        paper.detail("leaves", leaves)?;
    }
    Ok(())
}

/// What to mind.
pub(super) fn cautions<W: Write>(
    paper: &mut Paper<W>,
    cautions: &[Caution],
) -> Result<(), DemoError> {
    paper.head("Mind")?;
    for caution in cautions {
        let from = source(&caution.source, &caution.grade);
        paper.point("!", &format!("{} Source: {from}.", caution.text))?;
    }
    Ok(())
}

/// What is read before the floor is handed over.
pub(super) fn acceptance<W: Write>(
    paper: &mut Paper<W>,
    acceptance: &Acceptance,
) -> Result<(), DemoError> {
    paper.head("Before it is handed over")?;
    for check in &acceptance.checks {
        let places = count(check.points, "place");
        paper.point(
            "-",
            &format!("{}, {places}: {}", check.reading, check.statement),
        )?;
        paper.detail("if not", &check.if_fails)?;
    }
    let Some(inspection) = &acceptance.inspection else {
        return Ok(());
    };
    let cells = format!(
        "{} of {} m²",
        count(inspection.n_cells, "field"),
        inspection.cell_m2
    );
    let sentence = match inspection.passes_all_the_same_pct {
        None => format!("All {cells} are looked at."),
        Some(chance) => format!(
            "{} of {cells} are looked at, picked at random; it passes with up to {} failed. With {} % failing it \
             passes all the same in {chance:.0} of 100 cases.",
            inspection.sample, inspection.accept, inspection.bad_share_pct
        ),
    };
    paper.point("-", &sentence)?;
    Ok(())
}

/// One number followed to where it comes from.
pub(super) fn basis<W: Write>(paper: &mut Paper<W>, work: &Work) -> Result<(), DemoError> {
    paper.head(&format!(
        "Where the figures come from: {} explained, one of them",
        count(length(&work.basis), "figure")
    ))?;
    let wanted = work.products.last().map(|line| line.basis.as_str());
    let Some(basis) = work
        .basis
        .iter()
        .find(|basis| Some(basis.id.as_str()) == wanted)
    else {
        return Err(DemoError::Unexpected(
            "the last product has no basis".to_owned(),
        ));
    };
    let Basis {
        what,
        formula,
        inputs,
        result,
        unit,
        rounding,
        source: from,
        grade,
        ..
    } = basis;
    paper.item("what", &format!("{what}: {result} {unit}"))?;
    paper.item("formula", formula)?;
    let inputs = inputs.iter().map(|input| {
        format!("{} = {} {}", input.name, input.value, input.unit)
            .trim_end()
            .to_owned()
    });
    paper.item("with", &inputs.collect::<Vec<_>>().join("; "))?;
    paper.item("rounding", rounding)?;
    paper.item("source", &source(from, grade))?;
    Ok(())
}
