//! How the completion of a plan is reported by the contractor's own system: to which address, and in what form.

use domain::{
    estimate::cost::LineKind,
    id::{ContractorId, PlanId, TenantId},
    knowledge::Products,
    quantity::{Labour, Volume},
};
use infra::row::PlanLineRow;
use serde_json::{Value, json};

use crate::{
    app::{contractor_source, product},
    context::Context,
    problem::{Code, Problem},
    wire::{
        self, number,
        plan::{ReportingAddress, ReportingView},
        time,
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
    let started = now
        .checked_sub_signed(chrono::TimeDelta::hours(12))
        .unwrap_or(now);
    let mut data = json!({
        "surface_id": plan.surface_id.to_string(),
        "plan_id": plan.id.to_string(),
        "started_at": time::write(started.max(plan.created_at)),
        "finished_at": time::write(now.max(plan.created_at) + chrono::TimeDelta::minutes(1)),
        "labour": labour(&lines),
        "products": used(products, &promised.products, &lines),
        "external": {"system": "crew-app", "id": format!("job of {}", plan.id)},
    });
    for (name, coats) in [
        ("seal_coats", promised.seal_coats),
        ("polish_coats", promised.polish_coats),
    ] {
        if let Some(members) = data.as_object_mut().filter(|_| coats > 0) {
            members.insert(name.to_owned(), coats.into());
        }
    }
    Ok(ReportingView {
        plan_id: plan.id.to_string(),
        addresses: sources
            .items
            .iter()
            .map(|row| ReportingAddress::new(row, &contractor_source::path(tenant, row.id)))
            .collect(),
        example: json!({
            "type": "completion.reported", "timestamp": time::write(now), "data": data,
        }),
    })
}

/// The planned hours of each part of the work.
fn labour(lines: &[PlanLineRow]) -> Vec<Value> {
    let lines = lines
        .iter()
        .filter(|line| line.kind == LineKind::Labour.word());
    lines
        .filter_map(|line| {
            let hours = number::hours(Labour::from_seconds(line.seconds));
            Some(json!({"stage": line.stage.as_deref()?, "hours": hours}))
        })
        .collect()
}

/// The planned litres of each product.
fn used(products: Products<'_>, keys: &[String], lines: &[PlanLineRow]) -> Vec<Value> {
    let row = |key: &String| {
        let class = &products.product(key)?.class;
        let of_class = lines
            .iter()
            .filter(|line| line.kind == LineKind::Product.word())
            .filter(|line| line.product_class.as_ref() == Some(class));
        let ml = of_class.fold(0_i64, |sum, line| sum.saturating_add(line.ml));
        let litres = number::litres(Volume::from_ml(ml));
        Some(json!({"product": key, "volume_l": litres, "batch": "as printed on the can"}))
    };
    let mut keys = keys.to_vec();
    keys.sort_unstable();
    keys.dedup();
    keys.iter().filter_map(row).collect()
}
