//! Which rules could fire for a material, a process or a product, whatever else is or becomes known.

use super::{DraftPlanError, facts};
use crate::knowledge::{Fact, Facts, KnowledgeBase, Material, Process, Product, Rule, Truth};

/// What rules are looked for; what is absent is not asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct RuleSearch<'a> {
    /// The floor covering.
    pub material: Option<&'a Material>,
    /// The process.
    pub process: Option<&'a Process>,
    /// The product, as if it were the only one in use.
    pub product: Option<&'a Product>,
}

/// What a product decides of a candidate.
const OF_PRODUCT: [Fact; 4] = [
    Fact::ProcessPhMax,
    Fact::ProcessPhMin,
    Fact::ProcessSolvent,
    Fact::ProcessSealForWood,
];

/// The rules that speak of what is looked for and that it does not rule out, in the order of the data file.
///
/// A rule whose condition is false for the material, process and product together, whatever else there is to know, is
/// left out; so is one that speaks of none of them.
///
/// # Errors
/// [`DraftPlanError::Figure`] for a material whose pads do not exist.
pub fn rules_about<'k>(
    base: &'k KnowledgeBase,
    search: RuleSearch<'_>,
) -> Result<Vec<&'k Rule>, DraftPlanError> {
    let mut known = Facts::new();
    if let Some(material) = search.material {
        facts::of_material(&mut known, base, material)?;
    }
    if let Some(process) = search.process {
        facts::add_process_only(&mut known, process);
    }
    if let Some(product) = search.product {
        facts::add_products(&mut known, &[product], None);
    }
    let is_asked = |fact: Fact| {
        let name = fact.name();
        let of_product = name.starts_with("used.") || OF_PRODUCT.contains(&fact);
        (search.material.is_some() && name.starts_with("material."))
            || (search.product.is_some() && of_product)
            || (search.process.is_some() && name.starts_with("process.") && !of_product)
    };
    let asked = search.material.is_some() || search.process.is_some() || search.product.is_some();
    let speaks = |rule: &Rule| rule.when.facts().into_iter().any(is_asked);
    let rules = base.rules.iter();
    Ok(rules
        .filter(|rule| !asked || (speaks(rule) && rule.when.holds(&known) != Truth::False))
        .collect())
}

#[cfg(test)]
mod tests {
    use super::{RuleSearch, rules_about};
    use crate::knowledge::KnowledgeBase;

    #[test]
    fn a_rule_is_found_where_it_could_fire_and_nowhere_else() {
        let base = KnowledgeBase::builtin().expect("usable");
        let found = |search| -> Vec<&str> {
            let rules = rules_about(base, search).expect("usable");
            rules.into_iter().map(|rule| rule.id.as_str()).collect()
        };
        let of = |material: &str| {
            found(RuleSearch {
                material: base.material(material),
                ..RuleSearch::default()
            })
        };
        assert!(of("marble").contains(&"polish-where-film-forbidden"));
        assert!(!of("vinyl_sheet").contains(&"polish-where-film-forbidden"));
        assert!(of("marble").contains(&"acid-refused"));
        // Nothing of the floor is asked there.
        assert!(!of("marble").contains(&"too-humid-for-film"));
        let polishing = RuleSearch {
            material: base.material("vinyl_sheet"),
            process: base.process("polish"),
            ..RuleSearch::default()
        };
        assert!(found(polishing).contains(&"too-humid-for-film"));
        assert!(!found(polishing).contains(&"film-where-forbidden"));
        let bleach = RuleSearch {
            product: base.product("disinfectant_hypochlorite"),
            ..RuleSearch::default()
        };
        assert!(found(bleach).contains(&"bleach-meets-acid"));
        assert!(!found(bleach).contains(&"solvent-with-people"));
        assert_eq!(found(RuleSearch::default()).len(), base.rules.len());
    }
}
