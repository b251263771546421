//! The text of the statements. Only words of this crate are put into it; values are bound.

use sea_orm::DbBackend;

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

/// What the lines of a completion are added up by before it counts: its area and the completion itself count once in each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Apart {
    /// Their stage.
    Stage,
    /// The class of product that they are for.
    Class,
    /// Both.
    Both,
}

/// How many completions count, and with what area, by name of the sum: where rows are told apart by both, by stage only, by class
/// only. In the latter two a completion counts in the first of its rows that agree in it.
pub(crate) const COUNTED: [[&str; 3]; 3] = [
    [
        "n_completions",
        "n_stage_completions",
        "n_class_completions",
    ],
    ["n_unplanned", "n_stage_unplanned", "n_class_unplanned"],
    ["area_mm2", "stage_area_mm2", "class_area_mm2"],
];

impl Apart {
    /// The column that holds a sum that counts completions.
    fn counted(self, sum: &str) -> &str {
        let [both, stage, class] = COUNTED
            .into_iter()
            .find(|[both, ..]| *both == sum)
            .unwrap_or([sum; 3]);
        match self {
            Self::Both => both,
            Self::Stage => stage,
            Self::Class => class,
        }
    }
}

/// Where the numbers of a report are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    /// Months that are added up already.
    Rollups,
    /// The same, told apart by what lines of one completion can differ in.
    Parts(Apart),
    /// The lines of completions.
    Lines,
}

impl Source {
    /// The name by which conditions name its rows.
    pub(super) const fn table(self) -> &'static str {
        match self {
            Self::Rollups => "r",
            Self::Parts(_) => "p",
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
            Self::Parts(apart) => {
                let keys = keys("p.");
                let sums = sums(|sum| format!("p.{} AS {sum}", apart.counted(sum)));
                format!(
                    "SELECT {keys}, NULLIF(p.stage, '') AS stage, NULLIF(p.product_class, '') AS product_class, {sums}
                    FROM cost_part_rollups AS p
                    WHERE p.tenant_id = $1 AND p.month >= $2 AND p.month < $3{more} AND p.n_completions > 0"
                )
            }
            Self::Lines => {
                let keys = keys("l.");
                let apart = dims.iter().filter(|dim| dim.is_of_lines());
                let parts: String = apart.flat_map(|dim| [", l.", dim.column()]).collect();
                let of_lines = of_lines();
                format!(
                    "SELECT l.completion_id, {keys}{parts}, {of_lines}
                    FROM {LINES}
                    WHERE l.tenant_id = $1 AND l.month >= $2 AND l.month < $3{more} AND c.status = 'recorded'
                    GROUP BY l.completion_id, {keys}{parts}"
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

/// The sum of what is 64 bits wide, or of sums of such, in 64 bits; refused where it does not fit.
fn total(backend: DbBackend, source: Source, of: &str) -> String {
    match (backend, source) {
        // Migration 210: SUM makes a numeric of each sum, which takes longer than adding.
        (DbBackend::Postgres, Source::Rollups | Source::Parts(_)) => format!("whole_sum({of})"),
        _ => format!("CAST(SUM({of}) AS bigint)"),
    }
}

/// Sums by currency and by `dims`, in their order. The area of the floor is told where each group is of one completion, and zero
/// elsewhere: [`floors`] tells it there.
pub(super) fn costs(
    backend: DbBackend,
    source: Source,
    (dims, more): (&[Dim], &str),
    limit: usize,
) -> String {
    let rows = source.rows(dims, more);
    let read = list(dims, Dim::expression);
    let whole = sums(|column| {
        let total = total(backend, source, &format!("r.{column}"));
        format!("{total} AS {column}")
    });
    let (floor, joined) = match source {
        Source::Lines => (
            "MAX(s.area_mm2)",
            "JOIN surfaces AS s ON s.tenant_id = $1 AND s.id = r.surface_id",
        ),
        Source::Rollups | Source::Parts(_) => ("CAST(0 AS bigint)", ""),
    };
    let by = places(dims.len().saturating_add(1));
    format!(
        "SELECT {read}r.currency AS currency, {whole}, {floor} AS floor_mm2
        FROM ({rows}) AS r
        {joined}
        GROUP BY {by}
        ORDER BY {by}
        LIMIT {limit}"
    )
}

/// The area of the floors of each of the same groups, each floor once however often it was worked on. By itself: as a group within
/// a group it would have all sums added up twice.
pub(super) fn floors(
    backend: DbBackend,
    source: Source,
    (dims, more): (&[Dim], &str),
    limit: usize,
) -> String {
    let rows = source.rows(dims, more);
    let (names, read) = (list(dims, Dim::column), list(dims, Dim::expression));
    let by = places(dims.len().saturating_add(1));
    let floor = total(backend, source, "s.area_mm2");
    format!(
        "SELECT {names}currency, {floor} AS floor_mm2
        FROM (SELECT DISTINCT {read}r.currency AS currency, r.surface_id AS floor_id FROM ({rows}) AS r) AS floors
        JOIN (SELECT id, area_mm2 FROM surfaces WHERE tenant_id = $1) AS s ON s.id = floors.floor_id
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
