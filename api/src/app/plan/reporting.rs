//! How the completion of a plan is reported by the contractor's own system: to which address, and in what form.

use std::collections::BTreeSet;

use chrono::TimeDelta;
use domain::{
    estimate::cost::LineKind,
    id::{ContractorId, PlanId, TenantId},
    knowledge::Products,
    quantity::{Labour, Volume},
};
use infra::row::PlanLineRow;

use crate::{
    app::{contractor_source, product},
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        plan::{Example, ReportingAddress, ReportingView},
    },
};

/// The most addresses that are told; who has more names the contractor.
const MAX_ADDRESSES: u64 = 100;

/// Where and how the work of a plan is reported.
///
/// # Errors
/// `not_found`; `state_conflict` if the plan holds no work; those of the store.
pub(crate) async fn reporting(
    ctx: &Context,
    tenant: TenantId,
    (id, contractor): (PlanId, Option<ContractorId>),
) -> Result<ReportingView, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let plan = tx.plans().get(id).await?.ok_or_else(Problem::not_found)?;
    if plan.process.is_none() {
        let detail = "The plan holds no work: there is nothing to report of it.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let sources = tx.contractor_sources();
    let sources = sources
        .list(contractor, true, (None, MAX_ADDRESSES))
        .await?;
    let lines = tx.plans().lines(id).await?;
    let own = product::own(&tx).await?;
    let products = Products {
        base: ctx.knowledge,
        own: &own,
    };
    let promised = wire::promise::promised(&plan.document)?;
    let now = ctx.clock.now();
    let begun = now.checked_sub_signed(TimeDelta::hours(12)).unwrap_or(now);
    let example = Example {
        surface_id: plan.surface_id,
        plan_id: plan.id,
        at: now,
        started_at: begun.max(plan.created_at),
        finished_at: now.max(plan.created_at) + TimeDelta::minutes(1),
        labour: labour(&lines),
        products: used(products, &promised.products, &lines),
        seal_coats: promised.seal_coats,
        polish_coats: promised.polish_coats,
    };
    let addresses = sources.items.iter();
    let addresses =
        addresses.map(|row| ReportingAddress::new(row, &contractor_source::path(tenant, row.id)));
    Ok(ReportingView::new(addresses.collect(), &example))
}

/// The planned hours of each part of the work.
fn labour(lines: &[PlanLineRow]) -> Vec<(&str, Labour)> {
    let lines = lines
        .iter()
        .filter(|line| line.kind == LineKind::Labour.word());
    lines
        .filter_map(|line| Some((line.stage.as_deref()?, Labour::from_seconds(line.seconds))))
        .collect()
}

/// The planned litres of each product.
fn used<'a>(
    products: Products<'_>,
    keys: &'a [String],
    lines: &[PlanLineRow],
) -> Vec<(&'a str, Volume)> {
    let keys: BTreeSet<&str> = keys.iter().map(String::as_str).collect();
    let row = |key: &'a str| {
        let class = &products.product(key)?.class;
        let of_class = lines
            .iter()
            .filter(|line| line.kind == LineKind::Product.word())
            .filter(|line| line.product_class.as_ref() == Some(class));
        let ml = of_class.fold(0_i64, |sum, line| sum.saturating_add(line.ml));
        Some((key, Volume::from_ml(ml)))
    };
    keys.into_iter().filter_map(row).collect()
}
