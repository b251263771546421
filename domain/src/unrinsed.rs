//! Which products of earlier work still lie on a floor: what is laid next must not meet what it reacts with.

use crate::knowledge::{KnowledgeBase, Process};

/// What earlier work on a floor used.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierWork {
    /// The key of its process.
    pub process: String,
    /// The keys of the products that were used.
    pub products: Vec<String>,
    /// pH of the wet floor after rinsing, if it was read.
    pub surface_ph: Option<f64>,
}

/// The products of `work`, last first, that no reported rinse has taken off; each once.
///
/// Work that ends in a rinse counts as rinsed only with a pH that shows it: what was not read may still be there.
pub fn unrinsed(base: &KnowledgeBase, work: impl IntoIterator<Item = EarlierWork>) -> Vec<String> {
    let [least, most] = base.factors.rinsed_ph;
    let mut found: Vec<String> = Vec::new();
    for done in work {
        let shown = done.surface_ph.is_some_and(|ph| ph >= least && ph <= most);
        if shown && base.process(&done.process).is_some_and(ends_in_a_rinse) {
            break;
        }
        for product in done.products {
            if !found.contains(&product) {
                found.push(product);
            }
        }
    }
    found
}

/// Whether the last thing that a process lays wet, films apart, is clean water.
fn ends_in_a_rinse(process: &Process) -> bool {
    let wet = process
        .steps
        .iter()
        .rev()
        .filter(|step| step.repeat.is_none());
    let mut wet = wet.filter(|step| {
        step.product.is_some() || step.product_class_only.is_some() || step.water_ml_m2.is_some()
    });
    wet.next()
        .is_some_and(|step| step.product.is_none() && step.product_class_only.is_none())
}

#[cfg(test)]
mod tests {
    use super::{EarlierWork, unrinsed};
    use crate::knowledge::KnowledgeBase;

    fn work(process: &str, product: &str, surface_ph: Option<f64>) -> EarlierWork {
        EarlierWork {
            process: process.to_owned(),
            products: vec![product.to_owned()],
            surface_ph,
        }
    }

    #[test]
    fn a_rinse_takes_off_what_came_before_it_if_its_ph_was_read() {
        let base = KnowledgeBase::builtin().expect("usable");
        let bleached = work("disinfect", "disinfectant_hypochlorite", None);
        let rinsed = |ph| work("rinse_and_neutralise", "vinegar_5pct", ph);
        let left = |last: EarlierWork| unrinsed(base, [last, bleached.clone()]);
        assert_eq!(left(rinsed(Some(7.5))), Vec::<String>::new());
        // Nobody read it, or it shows that the rinse was none.
        for ph in [None, Some(10.0), Some(4.0)] {
            let found = left(rinsed(ph));
            assert_eq!(found, ["vinegar_5pct", "disinfectant_hypochlorite"]);
        }
        // A mop with cleaner is no rinse.
        let mopped = work("wet_mop", "cleaner_neutral", Some(7.5));
        assert_eq!(
            left(mopped),
            ["cleaner_neutral", "disinfectant_hypochlorite"]
        );
        let recoated = work("scrub_and_recoat", "polish_emulsion", Some(7.5));
        assert_eq!(left(recoated), Vec::<String>::new());
    }
}
