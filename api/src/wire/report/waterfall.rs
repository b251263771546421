//! How planned cost became actual cost, as a chart (SVG 1.1) that is legible in black and white: a column for what was planned, one
//! for each part of the variance from where the last one ended, and one for what it cost.

use std::fmt::Write as _;

use domain::money::{Currency, Money};
use infra::store::{CostRow, CostSums};

use super::{
    Month,
    chart::{LEFT, PLOT, RIGHT, TOP, WIDTH, escaped, rect, text, tick_text, ticks},
};

const TITLE: &str = "From planned to actual cost of floor care";
const FOOT: f64 = 96.0;

/// A column: from where to where, in 1/10,000 of the currency's unit.
struct Column {
    name: &'static str,
    from: i64,
    to: i64,
    whole: bool,
}

/// The columns of the sums of one currency; each part begins where the one before it ended.
fn columns(sums: &CostSums) -> Vec<Column> {
    let mut at = sums.planned_net;
    let mut all = vec![Column {
        name: "planned",
        from: 0,
        to: at,
        whole: true,
    }];
    for (name, part) in [
        ("price", sums.price_net()),
        ("quantity", sums.quantity_net),
        ("productivity", sums.productivity_net),
        ("overheads", sums.overheads_net),
        ("unplanned", sums.unplanned_net),
    ] {
        let to = at.saturating_add(part);
        all.push(Column {
            name,
            from: at,
            to,
            whole: false,
        });
        at = to;
    }
    all.push(Column {
        name: "actual",
        from: 0,
        to: sums.actual_net,
        whole: true,
    });
    all
}

/// Draws the totals of a report, one picture below the other for each currency.
pub(crate) fn waterfall(totals: &[CostRow], (from, to): (Month, Month)) -> String {
    let (mut body, mut told, mut height) = (String::new(), Vec::new(), 0.0);
    for total in totals {
        let all = columns(&total.sums);
        let _ = write!(body, r#"<g transform="translate(0 {height:.0})">"#);
        picture(&mut body, &all, total.currency);
        let last = to.plus(-1).unwrap_or(to);
        let source = format!(
            "Source: Wearcourse, completions that count, {from} to {last}. Work that cites no plan is in “unplanned”."
        );
        text(&mut body, (24.0, TOP + PLOT + 72.0), 12, "start", &source);
        body.push_str("</g>");
        let words = all.iter().map(|column| {
            let size = if column.whole {
                column.to
            } else {
                column.to.saturating_sub(column.from)
            };
            format!("{} {}", column.name, amount(size, total.currency))
        });
        let words: Vec<String> = words.collect();
        told.push(format!(
            "In {}: {}.",
            total.currency.code(),
            words.join(", ")
        ));
        height += TOP + PLOT + FOOT;
    }
    if told.is_empty() {
        let nothing = "Nothing was done in these months.";
        text(&mut body, (24.0, 40.0), 14, "start", nothing);
        told.push(nothing.to_owned());
        height = 80.0;
    }
    format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" role="img" font-family="sans-serif" fill="#000"><title>{TITLE}</title><desc>{}</desc><defs><pattern id="saved" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#fff"/><path d="M0 6L6 0" stroke="#000" stroke-width="1"/></pattern></defs><rect width="100%" height="100%" fill="#fff"/>{body}</svg>"##,
        escaped(&told.join(" "))
    )
}

fn amount(amount: i64, currency: Currency) -> String {
    Money { amount, currency }.text()
}

fn units(amount: i64) -> f64 {
    domain::quantity::float(amount) / 1e4
}

fn picture(svg: &mut String, all: &[Column], currency: Currency) {
    text(svg, (24.0, 34.0), 20, "start", TITLE);
    let unit = format!("{}, before tax", currency.code());
    text(svg, (24.0, 60.0), 14, "start", &unit);
    for (x, fill, word) in [
        (520.0, "#222", "whole"),
        (620.0, "#999", "dearer than planned"),
        (810.0, "url(#saved)", "cheaper"),
    ] {
        rect(svg, (x, 48.0), (18.0, 14.0), fill);
        text(svg, (x + 26.0, 60.0), 14, "start", word);
    }
    // Parts may reach below nothing: the scale goes from the least end to the greatest.
    let ends = || {
        all.iter()
            .flat_map(|column| [units(column.from), units(column.to)])
    };
    let (most, least) = (ends().fold(0.0, f64::max), ends().fold(0.0, f64::min));
    let (step, top) = ticks((most - least).max(0.01));
    let bottom = (least / step).floor() * step;
    let span = (top.max(most) - bottom).max(step);
    let y = |size: f64| TOP + PLOT - PLOT * (size - bottom) / span;
    let (mut tick, end) = (bottom, WIDTH - RIGHT);
    while tick <= bottom + span + step / 2.0 {
        let at = y(tick);
        // Writing to a string does not fail.
        let _ = write!(
            svg,
            r##"<path d="M{LEFT} {at:.1}H{end:.1}" stroke="#bbb" stroke-width="1"/>"##
        );
        text(
            svg,
            (LEFT - 8.0, at + 5.0),
            13,
            "end",
            &tick_text(tick, step),
        );
        tick += step;
    }
    let slot = (end - LEFT) / super::chart::count(all.len());
    let wide = slot * 0.6;
    let mut middle = LEFT + slot / 2.0;
    for (n, column) in all.iter().enumerate() {
        let (from, to) = (y(units(column.from)), y(units(column.to)));
        let fill = match (column.whole, column.to >= column.from) {
            (true, _) => "#222",
            (false, true) => "#999",
            (false, false) => "url(#saved)",
        };
        rect(
            svg,
            (middle - wide / 2.0, from.min(to)),
            (wide, (from - to).abs()),
            fill,
        );
        // Where the next part begins.
        if n.saturating_add(1) < all.len() {
            let (left, right) = (middle + wide / 2.0, middle + slot - wide / 2.0);
            let _ = write!(
                svg,
                r##"<path d="M{left:.1} {to:.1}H{right:.1}" stroke="#000" stroke-width="1" stroke-dasharray="3 2"/>"##
            );
        }
        let size = if column.whole {
            column.to
        } else {
            column.to.saturating_sub(column.from)
        };
        let sign = if !column.whole && size > 0 { "+" } else { "" };
        let figure = format!("{sign}{}", amount(size, currency));
        text(svg, (middle, TOP + PLOT + 20.0), 13, "middle", column.name);
        text(svg, (middle, TOP + PLOT + 40.0), 13, "middle", &figure);
        middle += slot;
    }
    let floor = y(0.0);
    let _ = write!(
        svg,
        r##"<path d="M{LEFT} {floor:.1}H{end:.1}" stroke="#000" stroke-width="1.5"/>"##
    );
}
