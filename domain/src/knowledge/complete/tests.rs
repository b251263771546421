//! What the check of a whole knowledge base says of edits that break it.

use super::super::{BUILTIN, KnowledgeBase, Sources};

/// Each edit of a file, and what is said of it.
const EDITS: [(&str, &str, &str, &str); 21] = [
    (
        "materials",
        "seal = \"optional\"",
        "seal = \"sometimes\"",
        "seal",
    ),
    (
        "materials",
        "conductance = \"timber\"",
        "conductance = \"timbre\"",
        "conductance",
    ),
    (
        "materials",
        "key = \"marble\"",
        "key = \"granite\"",
        "stands twice",
    ),
    (
        "processes",
        "goals = [\"clean\", \"maintain\"]",
        "goals = [\"cleen\"]",
        "goal",
    ),
    (
        "processes",
        "rank = 21",
        "rank = 22",
        "rank: 22 stands twice",
    ),
    (
        "processes",
        "repeat = \"seal\"",
        "repeat = \"seel\"",
        "repeat",
    ),
    (
        "processes",
        "very_light = 180, light = 90",
        "light = 90",
        "interval_days",
    ),
    (
        "processes",
        "dwell_min = [5, 5, 15]",
        "dwell_min = [5, 20, 15]",
        "dwell",
    ),
    (
        "processes",
        "when = \"survey.wet_in_use\"",
        "when = \"survey.ptv_wet < 36\"",
        "may be unknown",
    ),
    (
        "rates",
        "per_h = [200, 300, 450]",
        "per_h = [300, 200, 450]",
        "rising",
    ),
    (
        "tools",
        "price = \"8.00\"",
        "price = \"eight\"",
        "is no price",
    ),
    (
        "tools",
        "per_h = \"2.50\"",
        "per_h = \"2,50\"",
        "is no price",
    ),
    ("base", "light = 0.85", "lite = 0.85", "obstruction"),
    ("tools", "tank_l = 25", "tank_l = 0", "cannot be filled"),
    ("base", "amount = 1.5", "amount = 15.0", "for fan"),
    (
        "products",
        "classes = [\"oil\"]",
        "classes = [\"oil\", \"seal\"]",
        "a class stands twice",
    ),
    ("products", "share = 0.25", "share = 1.25", "vapour"),
    (
        "products",
        "\"DE\", \"RS\"",
        "\"DE\", \"Serbia\"",
        "voc_limit",
    ),
    (
        "base",
        "key = \"to_foot\"",
        "key = \"to_feet\"",
        "no row for to_foot",
    ),
    (
        "rules",
        "material.key == 'rubber'",
        "material.key == 'linolium'",
        "does not exist",
    ),
    (
        "questions",
        "fact = \"survey.ptv_wet\"",
        "fact = \"survey.area_m2\"",
        "no question for",
    ),
];

#[test]
fn what_is_misspelt_missing_or_out_of_order_is_refused() {
    for (file, from, to, said) in EDITS {
        let mut sources: Sources<'_> = BUILTIN;
        let slot = match file {
            "materials" => &mut sources.materials,
            "processes" => &mut sources.processes,
            "rates" => &mut sources.rates,
            "tools" => &mut sources.tools,
            "base" => &mut sources.base,
            "rules" => &mut sources.rules,
            "products" => &mut sources.products,
            _ => &mut sources.questions,
        };
        assert!(slot.contains(from), "{file}: {from}");
        let edited = slot.replacen(from, to, 1);
        *slot = &edited;
        let error = KnowledgeBase::read(&sources).expect_err(to);
        let found = error.faults.iter().any(|fault| fault.contains(said));
        assert!(found, "{to}: {error}");
    }
}
