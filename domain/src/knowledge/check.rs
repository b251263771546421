//! Checks of a knowledge base as a whole: every name that a row uses must exist.

use super::{KnowledgeBase, Process, Step, Takes, fact, fact::Fact, film, folded};

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
    for process in &base.processes {
        check.film(process);
        for step in &process.steps {
            check.step(process, step);
        }
    }
    check.rules();
    check.need(
        base.asbestos_cutoffs.iter().any(|row| row.country == "*"),
        || "asbestos_cutoff: no row for `*`".to_owned(),
    );
    check.need(base.hold(&base.factors.bare_floor_wait).is_some(), || {
        "factors: bare_floor_wait".to_owned()
    });
    check.faults
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
        for finish in &base.finishes {
            let (word, means) = (&finish.word, &finish.means);
            let known =
                matches!(means.as_str(), "soft" | "mixed") || base.material(means).is_some();
            self.need(known, || format!("finish {word}: no material {means}"));
            self.need(folded(word) == *word, || {
                format!("finish {word}: write it in capitals")
            });
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
        let hold = named(&step.hold, &|key| base.hold_point(key).is_some());
        self.need(hold, || at("its hold point does not exist"));
        let stage = matches!(step.stage.as_str(), "prepare" | "protect" | "maintain");
        self.need(stage, || at("stage"));
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
