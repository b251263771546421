//! Checks of a knowledge base as a whole: every name that a row uses must exist.

use super::{Fills, KnowledgeBase, Process, Step, Takes, fact, fact::Fact, film, folded};
use crate::sampling::QualityLimit;

/// Collects what is wrong, one line for each fault.
struct Check<'k> {
    base: &'k KnowledgeBase,
    faults: Vec<String>,
}

/// Everything that is wrong with a knowledge base.
pub(super) fn faults(base: &KnowledgeBase) -> Vec<String> {
    let mut check = Check {
        base,
        faults: Vec::new(),
    };
    check.floors();
    check.rates();
    check.faults.extend(base.film.faults());
    check.faults.extend(base.crew.faults());
    for process in &base.processes {
        check.film(process);
        for step in &process.steps {
            check.step(process, step);
        }
    }
    check.rules();
    check.acceptance();
    check.identification();
    check.need(
        base.asbestos_cutoffs.iter().any(|row| row.country == "*"),
        || "asbestos_cutoff: no row for `*`".to_owned(),
    );
    check.need(base.hold(&base.factors.bare_floor_wait).is_some(), || {
        "factors: bare_floor_wait".to_owned()
    });
    check.faults
}

fn is_film(word: &str) -> bool {
    fact::FILMS.contains(&word)
}

impl Check<'_> {
    fn need(&mut self, found: bool, what: impl FnOnce() -> String) {
        if !found {
            self.faults.push(what());
        }
    }

    fn floors(&mut self) {
        let base = self.base;
        for material in &base.materials {
            let key = &material.key;
            let porosity = fact::POROSITY.contains(&material.porosity.as_str());
            self.need(porosity, || format!("material {key}: porosity"));
            let film = material.film.as_deref();
            self.need(film.is_none_or(is_film), || {
                format!("material {key}: no film {}", film.unwrap_or_default())
            });
            for pad in [&material.pad_routine, &material.pad_restorative] {
                self.need(base.pad(pad).is_some(), || {
                    format!("material {key}: no pad {pad}")
                });
            }
        }
        for product in &base.products {
            let key = &product.key;
            self.need(
                product.dose_ml_m2.is_some() != product.coverage_first.is_some(),
                || format!("product {key}: either a dose or a coverage"),
            );
        }
        for product in &base.products {
            let (key, class) = (&product.key, &product.class);
            let known = base.product_classes.iter().any(|row| row.key == *class);
            self.need(known, || format!("product {key}: no class {class}"));
        }
        for finish in &base.finishes {
            let (word, means) = (&finish.word, &finish.means);
            let known =
                matches!(means.as_str(), "soft" | "mixed") || base.material(means).is_some();
            self.need(known, || format!("finish {word}: no material {means}"));
            self.need(folded(word) == *word, || {
                format!("finish {word}: write it in capitals")
            });
        }
        for word in base.finish_asides.iter().flat_map(|row| &row.words) {
            self.need(folded(word) == *word, || {
                format!("aside {word}: write it in capitals")
            });
        }
    }

    fn identification(&mut self) {
        let base = self.base;
        for test in &base.identification {
            let key = &test.key;
            for name in &test.tells {
                self.need(Fact::named(name).is_some(), || {
                    format!("test {key}: no fact {name}")
                });
            }
            for name in test.readings.iter().flat_map(|row| &row.points_to) {
                let known = match name.strip_prefix("film:") {
                    Some(film) => is_film(film),
                    None => base.material(name).is_some(),
                };
                self.need(known, || format!("test {key}: nothing is named {name}"));
            }
        }
    }

    fn rates(&mut self) {
        let base = self.base;
        for rate in &base.rates {
            let name = &rate.name;
            let machine = rate
                .machine
                .as_ref()
                .is_none_or(|key| base.machine(key).is_some());
            self.need(machine, || {
                format!("rate {name}: its machine does not exist")
            });
            let filled = |key: &String| {
                let row = base.machine(key);
                row.is_some_and(|row| {
                    row.tank_l.is_some_and(|litres| litres > 0)
                        && row.fill_min.is_some_and(|minutes| minutes >= 0)
                })
            };
            let tank = rate.fills != Some(Fills::Tank) || rate.machine.as_ref().is_some_and(filled);
            self.need(tank, || format!("rate {name}: its tank cannot be filled"));
            self.need(rate.per_h.iter().all(|per_h| *per_h > 0.0), || {
                format!("rate {name}: not above zero")
            });
            self.need(matches!(rate.unit.as_str(), "m2" | "m"), || {
                format!("rate {name}: unit")
            });
        }
    }

    fn film(&mut self, process: &Process) {
        let (film, key) = (&process.film, &process.key);
        self.need(film.after.is_none() || film.condition().is_some(), || {
            format!("process {key}: film: no such condition")
        });
        if let Takes::Coats(coats) = &film.takes {
            self.need(film::in_order(coats), || {
                format!("process {key}: film: coats are least, likely, most")
            });
        }
    }

    fn step(&mut self, process: &Process, step: &Step) {
        let base = self.base;
        let at = |what: &str| format!("process {}, step {}: {what}", process.key, step.key);
        let named =
            |name: &Option<String>, found: &dyn Fn(&str) -> bool| name.as_deref().is_none_or(found);
        let pad = named(&step.pad, &|key| base.pad(key).is_some());
        self.need(pad, || at("its pad does not exist"));
        for class in [&step.product, &step.product_class_only] {
            let found = named(class, &|class| {
                base.products.iter().any(|row| row.class == class)
            });
            self.need(found, || at("no product of its class"));
        }
        let rate = named(&step.labour, &|activity| {
            base.rates.iter().any(|row| row.activity == activity)
        });
        self.need(rate, || at("no rate for its activity"));
        self.need(named(&step.wait, &|key| base.hold(key).is_some()), || {
            at("its wait does not exist")
        });
        let hold = named(&step.hold, &|key| {
            let mut rows = base.hold_points.iter().filter(|row| row.key == key);
            rows.any(|row| row.when.is_always())
        });
        self.need(hold, || {
            at("its hold point does not exist, or not for every floor")
        });
        let rates = base.rates.iter();
        let rates = rates.filter(|rate| step.labour.as_ref() == Some(&rate.activity));
        let mut machines = rates.filter_map(|rate| base.machine(rate.machine.as_ref()?));
        let hangs_on_a_lead = machines.any(|machine| machine.mains);
        self.need(process.mains || !hangs_on_a_lead, || {
            at("its machine hangs on a lead, and the process does not say `mains`")
        });
        let stage = matches!(step.stage.as_str(), "prepare" | "protect" | "maintain");
        self.need(stage, || at("stage"));
    }

    fn acceptance(&mut self) {
        let row = &self.base.inspection;
        let limit = QualityLimit::of_pct(row.limit_pct);
        self.need(limit.is_some(), || {
            "inspection: limit_pct is not of the series".to_owned()
        });
        self.need(row.cell_m2 > 0.0, || "inspection: cell_m2".to_owned());
        let is_share = (0.0..=100.0).contains(&row.bad_share_pct);
        self.need(is_share, || "inspection: bad_share_pct".to_owned());
        for check in &self.base.final_checks {
            let right = check.points > 0 && check.m2_a_point.is_none_or(|m2| m2 > 0.0);
            self.need(right, || format!("check {}: points", check.key));
        }
    }

    fn rules(&mut self) {
        let base = self.base;
        for rule in &base.rules {
            let id = &rule.id;
            for name in &rule.asks {
                self.need(Fact::named(name).is_some(), || {
                    format!("rule {id}: no fact {name}")
                });
                self.need(base.question(name).is_some(), || {
                    format!("rule {id}: no question for {name}")
                });
            }
        }
        for question in &base.questions {
            let fact = &question.fact;
            self.need(Fact::named(fact).is_some(), || {
                format!("question: no fact {fact}")
            });
        }
    }
}
