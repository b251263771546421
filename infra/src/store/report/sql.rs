//! The text of the statements. Only words of this crate are put into it; values are bound.

use super::{CostSums, Dim};

/// What a rollup is told apart by, besides its tenant: all that every line of a completion agrees in.
pub(crate) const KEY: [&str; 8] = [
    "month",
    "site_id",
    "surface_id",
    "storey",
    "material",
    "process",
    "contractor_id",
    "currency",
];

/// What a line adds to a sum of a report, by the name of the sum. `l` are the lines, `c` the completion.
pub(crate) const OF_LINE: [(&str, &str); 16] = [
    ("planned_seconds", "l.planned_seconds"),
    ("actual_seconds", "l.actual_seconds"),
    ("planned_ml", "l.planned_ml"),
    ("actual_ml", "l.actual_ml"),
    ("water_ml", "l.water_ml"),
    ("voc_mg", "l.voc_mg"),
    ("voc_unknown_ml", "l.voc_unknown_ml"),
    (
        "planned_net",
        "CASE WHEN l.kind = 'tax' THEN 0 ELSE l.planned_amount END",
    ),
    (
        "computed_net",
        "CASE WHEN l.kind = 'tax' THEN 0 ELSE l.computed_amount END",
    ),
    (
        "actual_net",
        "CASE WHEN l.kind = 'tax' THEN 0 ELSE l.actual_amount END",
    ),
    (
        "planned_tax",
        "CASE WHEN l.kind = 'tax' THEN l.planned_amount ELSE 0 END",
    ),
    (
        "actual_tax",
        "CASE WHEN l.kind = 'tax' THEN l.actual_amount ELSE 0 END",
    ),
    (
        "quantity_net",
        "CASE WHEN c.planned_share_ppm > 0 THEN l.quantity_amount ELSE 0 END",
    ),
    (
        "productivity_net",
        "CASE WHEN c.planned_share_ppm > 0 THEN l.productivity_amount ELSE 0 END",
    ),
    (
        "overheads_net",
        "CASE WHEN c.planned_share_ppm > 0 AND l.kind IN ('contingency', 'overhead', 'margin')
            THEN l.computed_amount - l.planned_amount ELSE 0 END",
    ),
    (
        "unplanned_net",
        "CASE WHEN c.planned_share_ppm > 0 OR l.kind = 'tax' THEN 0 ELSE l.actual_amount - l.planned_amount END",
    ),
];

/// What the lines of one completion come to, beside what they are grouped by. Its area and the completion itself count
/// once however many lines it has.
pub(crate) fn of_lines() -> String {
    let sums = OF_LINE.map(|(name, term)| format!("SUM({term}) AS {name}"));
    format!(
        "1 AS n_completions, MAX(CASE WHEN c.plan_id IS NULL THEN 1 ELSE 0 END) AS n_unplanned,
        MAX(c.area_mm2) AS area_mm2, {}",
        sums.join(", ")
    )
}

/// Lines with their completions.
pub(crate) const LINES: &str = "completion_lines AS l
    JOIN completions AS c ON c.tenant_id = l.tenant_id AND c.id = l.completion_id";

/// Where the numbers of a report are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    /// Months that are added up already.
    Rollups,
    /// The lines of completions.
    Lines,
}

impl Source {
    /// The name by which conditions name its rows.
    pub(super) const fn table(self) -> &'static str {
        match self {
            Self::Rollups => "r",
            Self::Lines => "l",
        }
    }

    /// Its rows, each with the key and the sums; `more` is put to them. Of lines there is a row for each completion, and for
    /// each stage and class of product where `dims` ask for them.
    fn rows(self, dims: &[Dim], more: &str) -> String {
        match self {
            Self::Rollups => format!(
                "SELECT r.* FROM cost_rollups AS r
                WHERE r.tenant_id = $1 AND r.month >= $2 AND r.month < $3{more} AND r.n_completions > 0"
            ),
            Self::Lines => {
                let keys = keys("l.");
                let apart = dims.iter().filter(|dim| dim.is_of_lines());
                let parts: String = apart.flat_map(|dim| [", l.", dim.column()]).collect();
                let of_lines = of_lines();
                format!(
                    "SELECT l.tenant_id, l.completion_id, {keys}{parts}, {of_lines}
                    FROM {LINES}
                    WHERE l.tenant_id = $1 AND l.month >= $2 AND l.month < $3{more} AND c.status = 'recorded'
                    GROUP BY l.tenant_id, l.completion_id, {keys}{parts}"
                )
            }
        }
    }
}

/// The columns of the key, separated by commas.
pub(crate) fn keys(table: &str) -> String {
    KEY.map(|column| format!("{table}{column}")).join(", ")
}

/// The text of one term for each sum, separated by commas.
pub(crate) fn sums(term: impl Fn(&str) -> String) -> String {
    let terms: Vec<String> = CostSums::COLUMNS
        .iter()
        .map(|column| term(column))
        .collect();
    terms.join(", ")
}

/// Sums by currency and by `dims`. Within, each floor is one row, so that its area counts once however often it was worked on.
pub(super) fn costs(source: Source, dims: &[Dim], more: &str, limit: usize) -> String {
    let n_dims = dims.len();
    let rows = source.rows(dims, more);
    let names = list(dims, Dim::column);
    let read = list(dims, Dim::expression);
    let within = sums(|column| format!("SUM({column}) AS {column}"));
    let whole = sums(|column| format!("CAST(SUM({column}) AS bigint) AS {column}"));
    let (by, by_floor) = (
        places(n_dims.saturating_add(1)),
        places(n_dims.saturating_add(2)),
    );
    format!(
        "SELECT {names}currency, {whole}, CAST(SUM(floor_mm2) AS bigint) AS floor_mm2
        FROM (
            SELECT {read}r.currency, r.surface_id AS floor_id, {within}, MAX(s.floor_mm2) AS floor_mm2
            FROM ({rows}) AS r
            JOIN (SELECT tenant_id, id, area_mm2 AS floor_mm2 FROM surfaces) AS s
                ON s.tenant_id = r.tenant_id AND s.id = r.surface_id
            GROUP BY {by_floor}
        ) AS floors
        GROUP BY {by}
        ORDER BY {by}
        LIMIT {limit}"
    )
}

/// The terms, each followed by a comma.
pub(super) fn list(dims: &[Dim], term: impl Fn(Dim) -> &'static str) -> String {
    dims.iter().flat_map(|dim| [term(*dim), ", "]).collect()
}

/// `1, 2, 3`: the first columns of a statement, as GROUP BY and ORDER BY name them.
pub(super) fn places(n: usize) -> String {
    let all: Vec<String> = (1..=n).map(|place| place.to_string()).collect();
    all.join(", ")
}
