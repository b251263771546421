//! Searching the rules.

use domain::{
    id::TenantId,
    knowledge::{Rule, Severity},
    plan::{RuleSearch, rules_about},
};
use infra::store::Page;

use super::product;
use crate::{
    context::Context,
    problem::Problem,
    query::Query,
    wire::{document, knowledge::RuleView},
};

/// Which rules to list; what is absent is not asked for.
#[derive(Debug, Clone, Default)]
pub(crate) struct RuleQuery {
    /// What they do when they fire.
    pub(crate) severity: Option<Severity>,
    /// The key of a material for which they could fire.
    pub(crate) material: Option<String>,
    /// The key of a process for which they could fire.
    pub(crate) process: Option<String>,
    /// The key of a product, the tenant's own included, for which they could fire.
    pub(crate) product: Option<String>,
    /// What they say.
    pub(crate) text: Option<String>,
}

/// The rules that are looked for, in the order of the knowledge base; a key that does not exist is noted in `query`.
///
/// # Errors
/// Those of the store.
pub(crate) async fn rules(
    ctx: &Context,
    tenant: TenantId,
    wanted: &RuleQuery,
    query: &mut Query,
) -> Result<Vec<&'static Rule>, Problem> {
    let base = ctx.knowledge;
    let material = wanted.material.as_deref().map(|key| base.material(key));
    let process = wanted.process.as_deref().map(|key| base.process(key));
    let own = match &wanted.product {
        Some(_key) => product::own(&ctx.store.read(tenant).await?).await?,
        None => Vec::new(),
    };
    let product = wanted.product.as_deref().map(|key| {
        let own = own.iter().find(|row| row.key == key);
        own.or_else(|| base.product(key))
    });
    let missing = [
        ("material", material.is_some_and(|row| row.is_none())),
        ("process", process.is_some_and(|row| row.is_none())),
        ("product", product.is_some_and(|row| row.is_none())),
    ];
    for (name, _) in missing.iter().filter(|(_, missing)| *missing) {
        query.outside(name, format!("No {name} has this key."));
    }
    let search = RuleSearch {
        material: material.flatten(),
        process: process.flatten(),
        product: product.flatten(),
    };
    let found = rules_about(base, search).map_err(|error| Problem::internal(&error))?;
    let text = wanted.text.as_ref().map(|text| text.to_lowercase());
    let says = |rule: &Rule| {
        text.as_ref().is_none_or(|text| {
            let texts = [&rule.id, &rule.statement, &rule.reason, &rule.clears];
            texts.iter().any(|said| said.to_lowercase().contains(text))
        })
    };
    let rows = found.into_iter();
    let rows = rows.filter(|rule| {
        wanted
            .severity
            .is_none_or(|severity| rule.severity == severity)
    });
    Ok(rows.filter(|rule| says(rule)).collect())
}

/// Up to `limit` of them after the rule with the id `after`, as they are sent.
///
/// # Errors
/// `internal` for a rule that cannot be written.
pub(crate) fn page(
    rows: Vec<&'static Rule>,
    after: Option<&str>,
    limit: u64,
) -> Result<Page<String, String>, Problem> {
    let past = after.and_then(|id| rows.iter().position(|rule| rule.id == id));
    let begin = past.map_or(0, |at| at.saturating_add(1));
    let limit = usize::try_from(limit).unwrap_or(usize::MAX);
    let last = begin.saturating_add(limit).checked_sub(1);
    let more = rows.len() > begin.saturating_add(limit);
    let next = last.filter(|_at| more).and_then(|at| rows.get(at));
    let next = next.map(|rule| rule.id.clone());
    let rows = rows.into_iter().skip(begin).take(limit);
    let items: Result<_, Problem> = rows.map(|rule| document(&RuleView::from(rule))).collect();
    Ok(Page {
        next,
        items: items?,
    })
}
