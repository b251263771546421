//! Checks that a knowledge base is complete and in order: closed words, unique keys, prices that can be read, figures in
//! their order, and conditions that are never silently undecided.

use std::collections::{BTreeMap, BTreeSet};

use super::{Condition, Fact, FactType, IfUnknown, KnowledgeBase, Severity};
use crate::{
    money::{Currency, Money},
    survey::{Goal, Obstruction, Soil, Traffic},
};

/// Waits that the planner asks for by name.
const WAITS: [&str; 5] = [
    "to_foot",
    "to_furniture",
    "to_wet_clean",
    "to_burnish",
    "to_mats",
];

/// Everything that is missing, misspelt or out of order.
pub(super) fn faults(base: &KnowledgeBase) -> Vec<String> {
    let mut found = Vec::new();
    keys(base, &mut found);
    words(base, &mut found);
    figures(base, &mut found);
    prices(base, &mut found);
    conditions(base, &mut found);
    for wait in WAITS.iter().filter(|wait| base.hold(wait).is_none()) {
        found.push(format!("hold: no row for {wait}"));
    }
    found
}

/// A key or a rank that stands twice would hide the second row.
fn keys(base: &KnowledgeBase, found: &mut Vec<String>) {
    fn unique<K: Ord + ToString>(
        table: &str,
        keys: impl Iterator<Item = K>,
        found: &mut Vec<String>,
    ) {
        let mut seen = BTreeSet::new();
        for key in keys {
            let name = key.to_string();
            if !seen.insert(key) {
                found.push(format!("{table}: {name} stands twice"));
            }
        }
    }
    unique("material", base.materials.iter().map(|row| &row.key), found);
    unique("product", base.products.iter().map(|row| &row.key), found);
    unique("process", base.processes.iter().map(|row| &row.key), found);
    unique(
        "process rank",
        base.processes.iter().map(|row| row.rank),
        found,
    );
    unique("pad", base.pads.iter().map(|row| &row.key), found);
    unique("machine", base.machines.iter().map(|row| &row.key), found);
    unique("hold", base.holds.iter().map(|row| &row.key), found);
    unique(
        "hold_point",
        base.hold_points
            .iter()
            .map(|row| format!("{} {}", row.key, row.when.text())),
        found,
    );
    unique("rule", base.rules.iter().map(|row| &row.id), found);
    unique(
        "question",
        base.questions.iter().map(|row| &row.fact),
        found,
    );
    unique("caution", base.cautions.iter().map(|row| &row.key), found);
    unique(
        "caution rank",
        base.cautions
            .iter()
            .map(|row| format!("{} {}", row.harm.word(), row.rank)),
        found,
    );
    unique("finish", base.finishes.iter().map(|row| &row.word), found);
    for process in &base.processes {
        let table = format!("process {}, step", process.key);
        unique(&table, process.steps.iter().map(|row| &row.key), found);
    }
}

/// A word outside its closed list would be a silent "never".
fn words(base: &KnowledgeBase, found: &mut Vec<String>) {
    let mut one_of = |what: String, word: &str, list: &[&str]| {
        if !list.contains(&word) {
            found.push(format!("{what}: `{word}` is not one of {list:?}"));
        }
    };
    for row in &base.materials {
        let members = [
            (Fact::MaterialSeal, "seal", &row.seal),
            (Fact::MaterialPolish, "polish", &row.polish),
            (Fact::MaterialMop, "mop", &row.mop),
            (Fact::MaterialImpregnator, "impregnator", &row.impregnator),
        ];
        for (fact, name, word) in members {
            if let FactType::Word(list) = fact.kind() {
                one_of(format!("material {}: {name}", row.key), word, list);
            }
        }
        let conductances = ["stone", "resilient", "timber"];
        let what = format!("material {}: conductance", row.key);
        one_of(what, &row.conductance, &conductances);
    }
    let goals: Vec<&str> = Goal::ALL.iter().map(|goal| goal.word()).collect();
    for process in &base.processes {
        for goal in &process.goals {
            one_of(format!("process {}: goal", process.key), goal, &goals);
        }
        for step in &process.steps {
            if let Some(repeat) = &step.repeat {
                let what = format!("process {}, step {}: repeat", process.key, step.key);
                one_of(what, repeat, &["seal", "polish"]);
            }
        }
    }
    let traffic: Vec<&str> = Traffic::ALL.iter().map(|word| word.word()).collect();
    let factors = &base.factors;
    let obstruction: Vec<&str> = Obstruction::ALL.iter().map(|word| word.word()).collect();
    let soil: Vec<&str> = Soil::ALL.iter().map(|word| word.word()).collect();
    table(
        "factors: obstruction",
        &factors.obstruction,
        &obstruction,
        found,
    );
    for rule in &base.rules {
        if rule.severity == Severity::Warn && rule.concern.is_none() {
            found.push(format!("rule {}: a warning without its concern", rule.id));
        }
    }
    table("factors: soil", &factors.soil, &soil, found);
    table("factors: coats", &factors.coats, &traffic, found);
    for process in &base.processes {
        let what = format!("process {}: interval_days", process.key);
        table(&what, &process.interval_days, &traffic, found);
    }
}

/// A table by words has each of them and no other.
fn table<V>(what: &str, rows: &BTreeMap<String, V>, words: &[&str], found: &mut Vec<String>) {
    let keys: BTreeSet<&str> = rows.keys().map(String::as_str).collect();
    let wanted: BTreeSet<&str> = words.iter().copied().collect();
    for word in keys.symmetric_difference(&wanted) {
        found.push(format!(
            "{what}: `{word}` is missing or not one of {words:?}"
        ));
    }
}

/// Low, typical and high stand in this order; tables rise.
fn figures(base: &KnowledgeBase, found: &mut Vec<String>) {
    let mut rising = |what: String, figures: &[f64]| {
        if !figures.is_sorted_by(|a, b| a <= b) || !figures.iter().all(|figure| figure.is_finite())
        {
            found.push(format!("{what}: not in rising order"));
        }
    };
    for rate in &base.rates {
        rising(format!("rate {}: per_h", rate.name), &rate.per_h);
    }
    for hold in &base.holds {
        let minutes = [hold.least_min, hold.typical_min].map(crate::quantity::float);
        rising(format!("hold {}: minutes", hold.key), &minutes);
    }
    for pad in &base.pads {
        let life = pad.life_m2.map(crate::quantity::float);
        rising(format!("pad {}: life", pad.key), &life);
    }
    for process in &base.processes {
        for step in &process.steps {
            if let Some(dwell) = step.dwell_min {
                let what = format!("process {}, step {}: dwell", process.key, step.key);
                rising(what, &dwell.map(crate::quantity::float));
            }
        }
    }
    for (name, table) in [("room", &base.factors.room), ("loss", &base.factors.loss)] {
        let areas: Vec<f64> = table.iter().map(|[area, _value]| *area).collect();
        rising(format!("factors: {name}"), &areas);
    }
    rising("factors: edge_range".to_owned(), &base.factors.edge_range);
}

/// A price that cannot be read would make a pack vanish and a machine free.
fn prices(base: &KnowledgeBase, found: &mut Vec<String>) {
    let Ok(currency) = "EUR".parse::<Currency>() else {
        found.push("prices: no currency to read them in".to_owned());
        return;
    };
    let mut read = |what: String, price: &str| {
        if !Money::parse(price, currency).is_ok_and(|money| money.amount >= 0) {
            found.push(format!("{what}: `{price}` is no price"));
        }
    };
    for product in &base.products {
        for pack in &product.packs {
            read(format!("product {}", product.key), &pack.price);
        }
    }
    base.pads
        .iter()
        .for_each(|pad| read(format!("pad {}", pad.key), &pad.price));
    for machine in &base.machines {
        read(format!("machine {}", machine.key), &machine.per_h);
    }
    read("rate_card: labour".to_owned(), &base.rate_card.labour_per_h);
    read("rate_card: waste".to_owned(), &base.rate_card.waste_per_l);
}

/// What is undecided drops a step, a rate or a product without a word; what is asked must be answerable.
fn conditions(base: &KnowledgeBase, found: &mut Vec<String>) {
    let mut decided = |what: String, condition: &Condition| {
        for fact in condition.may_hang_on() {
            found.push(format!("{what}: {} may be unknown", fact.name()));
        }
    };
    for process in &base.processes {
        decided(format!("process {}: on", process.key), &process.on);
        for step in &process.steps {
            decided(
                format!("process {}, step {}", process.key, step.key),
                &step.when,
            );
        }
    }
    for rate in &base.rates {
        decided(format!("rate {}", rate.name), &rate.when);
    }
    for product in &base.products {
        decided(format!("product {}", product.key), &product.when);
    }
    for caution in &base.cautions {
        decided(format!("caution {}", caution.key), &caution.when);
    }
    let mut askable = |what: String, facts: Vec<Fact>| {
        for fact in facts {
            let row = fact.asked().and_then(|asked| base.question(asked.name()));
            if row.is_none() {
                found.push(format!("{what}: no question for {}", fact.name()));
            }
        }
    };
    for rule in &base.rules {
        if rule.if_unknown == IfUnknown::Ask {
            askable(format!("rule {}", rule.id), rule.when.may_hang_on());
        }
        let asks = rule.asks.iter().filter_map(|name| Fact::named(name));
        askable(format!("rule {}: asks", rule.id), asks.collect());
    }
    for process in &base.processes {
        askable(
            format!("process {}: suits", process.key),
            process.suits.may_hang_on(),
        );
    }
    let rules = base.rules.iter().map(|rule| (&rule.id, &rule.when));
    let suits = base.processes.iter().map(|row| (&row.key, &row.suits));
    let cautions = base.cautions.iter().map(|row| (&row.key, &row.when));
    let hold_points = base.hold_points.iter().map(|row| (&row.key, &row.when));
    for (name, condition) in rules.chain(suits).chain(cautions).chain(hold_points) {
        for (fact, key) in condition.keys() {
            let exists = match fact {
                Fact::MaterialKey => base.material(key).is_some(),
                Fact::ProcessKey => base.process(key).is_some(),
                _ => true,
            };
            if !exists {
                found.push(format!("{name}: {} `{key}` does not exist", fact.name()));
            }
        }
    }
}

#[cfg(test)]
mod tests;
