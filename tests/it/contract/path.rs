//! Paths with parameters, and ids that nobody has to put into them.

/// An id of each kind that belongs to nobody.
const NOBODYS: &str = "0193e8a0-0000-7000-8000-00000000dead";

/// What stands before the parameter of a path, and its name.
pub(super) fn parameter(path: &str) -> Option<(&str, &str)> {
    let (before, rest) = path.split_once('{')?;
    Some((before, rest.split_once('}')?.0))
}

/// The names of all parameters of a path.
pub(super) fn parameters(path: &str) -> impl Iterator<Item = &str> {
    let parts = path.split('{').skip(1);
    parts.filter_map(|part| Some(part.split_once('}')?.0))
}

/// The path with ids that nobody has.
pub(super) fn nobodys_path(path: &str) -> Option<String> {
    let (_, name) = parameter(path)?;
    let one = nobodys(path, name);
    Some(nobodys_path(&one).unwrap_or(one))
}

/// The path with an id that nobody has in the place of one parameter.
fn nobodys(path: &str, name: &str) -> String {
    let prefix = match name {
        "site_id" => "sit",
        "stock_item_id" => "stk",
        "budget_id" => "bdg",
        "surface_id" => "srf",
        "contractor_id" => "con",
        "plan_id" => "pln",
        "estimate_id" => "est",
        "estimate_job_id" => "ejb",
        "import_id" => "imp",
        "finish_synonym_id" => "fin",
        "schedule_id" => "sch",
        "completion_id" => "cmp",
        "rate_card_id" => "rtc",
        "reading_id" => "rdg",
        "observation_id" => "obs",
        "source_id" => "src",
        "subscription_id" => "sub",
        "delivery_id" => "dlv",
        "report_link_id" => "rpl",
        "revocation_id" => "rev",
        "completion_link_id" => "cpl",
        "address" => return path.replace("{address}", &"A".repeat(86)),
        "source" => return path.replace("{source}", &"A".repeat(43)),
        "key" | "code" => return path.replace(&format!("{{{name}}}"), "no_such_key"),
        other => panic!("no case for the path parameter {other}"),
    };
    path.replace(&format!("{{{name}}}"), &format!("{prefix}_{NOBODYS}"))
}
