//! What a report is asked for, out of the query string.

use chrono::NaiveDate;
use domain::id::{ContractorId, SiteId, SurfaceId};
use utoipa::IntoParams;
use uuid::Uuid;

use crate::{
    app::report::{Asked, CostFilter, Dim, MAX_MONTHS, MAX_MONTHS_OF_COMPLETIONS, Measure, Wanted},
    cursor::List,
    query::Query,
    wire::report::{DIMS, Month},
};

/// What asks for rows that lack something.
const NONE: &str = "none";

/// What rows can be ranked by, in the words of the wire.
const MEASURES: &[(&str, Measure)] = &[
    ("actual_net", Measure::ActualNet),
    ("planned_net", Measure::PlannedNet),
    ("variance_net", Measure::VarianceNet),
    ("committed_net", Measure::CommittedNet),
    ("area_m2", Measure::Area),
    ("actual_hours", Measure::Hours),
    ("actual_l", Measure::Litres),
    ("water_l", Measure::Water),
    ("voc_g", Measure::Voc),
    ("n_completions", Measure::Completions),
];

/// The parameters that say which completions a report covers; described here, read by [`filter`].
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "it only describes")]
pub(crate) struct Covered {
    /// The first month, such as `2026-01`; with `to`, unless `last_months` is sent.
    #[param(
        max_length = 7,
        pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$",
        example = "2026-01"
    )]
    from: Option<String>,
    /// The month after the last: at most 120 months after `from`; at most 12 where completions are listed.
    #[param(
        max_length = 7,
        pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$",
        example = "2027-01"
    )]
    to: Option<String>,
    /// In place of `from` and `to`: so many months up to and with this one (UTC).
    #[param(minimum = 1, maximum = 120)]
    last_months: Option<u32>,
    /// Only this site.
    #[param(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: Option<String>,
    /// Only on this storey.
    #[param(min_length = 1, max_length = 200)]
    storey: Option<String>,
    /// Only on this surface.
    #[param(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: Option<String>,
    /// Only work on this material.
    #[param(min_length = 1, max_length = 100)]
    material: Option<String>,
    /// Only work by this process.
    #[param(min_length = 1, max_length = 100)]
    process: Option<String>,
    /// Only lines of this stage; `none` for those of no stage, such as overhead and tax.
    #[param(max_length = 20, pattern = "^(prepare|protect|maintain|none)$")]
    stage: Option<String>,
    /// Only work by this contractor, to whom nothing is committed; `none` for work by nobody named.
    #[param(max_length = 40, pattern = "^(con_[0-9a-f-]{36}|none)$")]
    contractor_id: Option<String>,
    /// Only lines for this class of product; `none` for those that are for none.
    #[param(min_length = 1, max_length = 100)]
    product_class: Option<String>,
    /// Only in this currency.
    #[param(min_length = 3, max_length = 3, pattern = "^[A-Z]{3}$")]
    currency: Option<String>,
}

/// Takes what a report is asked for; nothing if its months are not in order, which the query then tells.
pub(super) fn take(query: &mut Query, today: NaiveDate) -> Option<Asked> {
    let filter = filter(query);
    let group_by = group_by(query);
    let top = top(query);
    let skip_empty = query.flag("skip_empty");
    let of_lines = filter.is_of_lines() || group_by.iter().any(|dim| dim.is_of_lines());
    let rework_days = rework_days(query, of_lines);
    let most = if rework_days.is_some() {
        MAX_MONTHS_OF_COMPLETIONS
    } else {
        MAX_MONTHS
    };
    let (from, to) = months(query, today, most)?;
    Some(Asked {
        from,
        to,
        group_by,
        filter: over(filter, (from, to)),
        top,
        skip_empty,
        rework_days,
    })
}

/// Takes which completions are listed.
pub(super) fn take_covered(query: &mut Query, today: NaiveDate) -> Option<CostFilter> {
    let filter = filter(query);
    let months = months(query, today, MAX_MONTHS_OF_COMPLETIONS)?;
    Some(over(filter, months))
}

/// The work that somebody may see who is bound to a contractor, or to nobody.
pub(super) fn seen_by(
    bound: Option<ContractorId>,
    asked: Wanted<ContractorId>,
) -> Wanted<ContractorId> {
    match (bound, asked) {
        (None, asked) => asked,
        (Some(own), Wanted::Any) => Wanted::This(own),
        (Some(own), Wanted::This(other)) if own == other => Wanted::This(own),
        // Told like one that never was: no record has this id. The least one stands for nobody in the sums.
        (Some(_), _) => Wanted::This(ContractorId::from_uuid(Uuid::max())),
    }
}

/// The list that a filter makes; a cursor is good for one.
pub(super) fn list_of(filter: &CostFilter) -> List {
    List::new("listReportedCompletions").filter("covered", Some(&format!("{filter:?}")))
}

fn over(filter: CostFilter, (from, to): (Month, Month)) -> CostFilter {
    CostFilter {
        from_month: from.to_string(),
        to_month: to.to_string(),
        ..filter
    }
}

fn filter(query: &mut Query) -> CostFilter {
    CostFilter {
        from_month: String::new(),
        to_month: String::new(),
        site_id: query.parsed::<SiteId>("site_id", "Must be the id of a site."),
        storey: query.text("storey", 200),
        surface_id: query.parsed::<SurfaceId>("surface_id", "Must be the id of a surface."),
        material: query.text("material", 100),
        process: query.text("process", 100),
        stage: stage(query),
        contractor_id: contractor(query),
        product_class: wanted(query.text("product_class", 100)),
        currency: query.text("currency", 3),
    }
}

fn wanted(text: Option<String>) -> Wanted<String> {
    match text {
        None => Wanted::Any,
        Some(text) if text == NONE => Wanted::Nothing,
        Some(text) => Wanted::This(text),
    }
}

fn stage(query: &mut Query) -> Wanted<String> {
    let words = ["prepare", "protect", "maintain", NONE].map(|word| (word, word));
    wanted(query.one_of("stage", &words).map(str::to_owned))
}

fn contractor(query: &mut Query) -> Wanted<ContractorId> {
    match wanted(query.text("contractor_id", 200)) {
        Wanted::Any => Wanted::Any,
        Wanted::Nothing => Wanted::Nothing,
        Wanted::This(text) => match text.parse() {
            Ok(id) => Wanted::This(id),
            Err(_not_an_id) => {
                query.malform(
                    "contractor_id",
                    "Must be the id of a contractor, or `none`.",
                );
                Wanted::Any
            }
        },
    }
}

fn months(query: &mut Query, today: NaiveDate, most: i32) -> Option<(Month, Month)> {
    let last = query.parsed::<i32>("last_months", "Must be a whole number of months.");
    if let Some(last) = last {
        if query.text("from", 200).is_some() | query.text("to", 200).is_some() {
            query.outside("last_months", "Send either this or `from` and `to`.");
            return None;
        }
        if !(1..=most).contains(&last) {
            query.outside("last_months", format!("Must be 1 to {most} months here."));
            return None;
        }
        let now = Month::of(today)?;
        return now.plus(1 - last).zip(now.plus(1));
    }
    let (from, to) = (month(query, "from"), month(query, "to"));
    let (from, to) = (from?, to?);
    if (1..=most).contains(&from.until(to)) {
        return Some((from, to));
    }
    let why = if most < MAX_MONTHS {
        ": completions, and work done again, are read one by one"
    } else {
        ""
    };
    query.outside(
        "to",
        format!("Must be 1 to {most} months after `from`{why}."),
    );
    None
}

fn month(query: &mut Query, name: &str) -> Option<Month> {
    let sent = query.repeated(name, 200);
    let month = match sent.as_slice() {
        [one] => one.parse().ok(),
        _ => None,
    };
    if month.is_none() {
        query.outside(name, "Send one month, such as `2026-01`.");
    }
    month
}

fn top(query: &mut Query) -> Option<(usize, Measure)> {
    let sent = query.text("top", 200);
    let by = query.one_of("top_by", MEASURES);
    let Some(sent) = sent else {
        if by.is_some() {
            query.outside("top_by", "Send `top` with it: how many rows.");
        }
        return None;
    };
    match sent.parse::<usize>() {
        Ok(n) if (1..=1_000).contains(&n) => Some((n, by.unwrap_or(Measure::ActualNet))),
        Ok(_) | Err(_) => {
            query.outside("top", "Must be a whole number from 1 to 1000.");
            None
        }
    }
}

fn rework_days(query: &mut Query, of_lines: bool) -> Option<i32> {
    let sent = query.text("rework_days", 200)?;
    let days = sent.parse().ok().filter(|days| (1..=366).contains(days));
    if days.is_none() {
        query.outside("rework_days", "Must be a whole number from 1 to 366.");
    } else if of_lines {
        let why = "Completions are done again, not their lines: ask for no `stage` and no `product_class` with it.";
        query.outside("rework_days", why);
    }
    days
}

/// The dimensions in the order in which they are named, each once.
fn group_by(query: &mut Query) -> Vec<Dim> {
    let sent = query.repeated("group_by", 200);
    if sent.is_empty() {
        return vec![Dim::Month];
    }
    if sent.len() > DIMS.len() {
        query.outside("group_by", format!("Send at most {} values.", DIMS.len()));
    }
    let mut dims = Vec::new();
    for word in sent.iter().flat_map(|value| value.split(',')) {
        match DIMS.iter().find(|(known, _)| *known == word) {
            Some((_, dim)) if dims.contains(dim) => {}
            Some((_, dim)) => dims.push(*dim),
            None => {
                let words: Vec<_> = DIMS.iter().map(|(word, _)| *word).collect();
                query.outside("group_by", format!("Must be any of {}.", words.join(", ")));
            }
        }
    }
    dims
}

#[cfg(test)]
mod tests {
    use super::take;
    use crate::{app::report::Dim, problem::Code, query::Query};

    /// The places of the faults, or what is grouped by and from where to where.
    fn read(text: &str) -> Result<(Vec<Dim>, String), (Code, Vec<String>)> {
        let mut query = Query::parse(text);
        let asked = take(&mut query, "2026-06-30".parse().unwrap());
        query
            .finish()
            .map(|()| {
                let asked = asked.unwrap();
                (asked.group_by, format!("{}..{}", asked.from, asked.to))
            })
            .map_err(|problem| {
                let places = problem.faults().iter().filter_map(|f| f.parameter.clone());
                (problem.code(), places.collect())
            })
    }

    fn dims(text: &str) -> Vec<Dim> {
        read(text).unwrap().0
    }

    #[test]
    fn a_report_is_grouped_by_what_is_named_in_its_order() {
        let months = "from=2026-01&to=2026-07";
        assert_eq!(dims(months), [Dim::Month]);
        let both = [Dim::Storey, Dim::Site];
        assert_eq!(dims(&format!("{months}&group_by=storey,site")), both);
        let twice = format!("{months}&group_by=storey&group_by=site,storey");
        assert_eq!(dims(&twice), both);
    }

    #[test]
    fn the_last_months_end_with_this_one() {
        let of = |text: &str| read(text).unwrap().1;
        assert_eq!(of("last_months=1"), "2026-06..2026-07");
        assert_eq!(of("last_months=12"), "2025-07..2026-07");
    }

    #[test]
    fn s_085_the_range_is_judged_and_never_cut() {
        assert!(read("from=2016-01&to=2026-01").is_ok());
        assert!(read("from=2016-01&to=2026-01&group_by=stage&product_class=none").is_ok());
        let refused = |text: &str, places: &[&str]| {
            let places = places.iter().map(|place| (*place).to_owned()).collect();
            assert_eq!(
                read(text),
                Err((Code::ParameterOutOfRange, places)),
                "{text}"
            );
        };
        refused("", &["from", "to"]);
        refused("from=2026-01", &["to"]);
        refused("from=2026-01&to=2026-01", &["to"]);
        refused("from=2026-02&to=2026-01", &["to"]);
        refused("from=2016-01&to=2026-02", &["to"]);
        refused("from=0001-01&to=9999-12", &["to"]);
        refused("from=2026-1&to=2026-13", &["from", "to"]);
        refused("from=2026-01&from=2026-02&to=2026-03", &["from"]);
        refused("from=2026-01&to=2026-03&group_by=floor", &["group_by"]);
        refused("from=2026-01&to=2026-03&group_by=site,", &["group_by"]);
        let twelve = "&group_by=site".repeat(12);
        refused(&format!("from=2026-01&to=2026-03{twelve}"), &["group_by"]);
        refused("from=2016-01&to=2026-02&group_by=site,stage", &["to"]);
        refused("last_months=121", &["last_months"]);
        refused("last_months=121&stage=none", &["last_months"]);
        refused("last_months=1&rework_days=0", &["rework_days"]);
        refused("last_months=1&rework_days=30&stage=none", &["rework_days"]);
        refused("last_months=13&rework_days=30", &["last_months"]);
        refused("last_months=3&from=2026-01", &["last_months"]);
        refused("last_months=1&top=0", &["top"]);
        refused("last_months=1&top=1001&top_by=money", &["top_by", "top"]);
        refused("last_months=1&top_by=actual_net", &["top_by"]);
    }
}
