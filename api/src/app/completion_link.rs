//! Links to completion forms: made for a plan, taken back, opened by whoever has the address, and reported through.
//!
//! A crew without a system of its own reports through one. A link leads to one plan, and so many reports may be made through it;
//! it is no token, and nothing else is read or written by it.

mod report;

pub(crate) use report::{Sent, report};

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    id::{CompletionLinkId, ContractorId, PlanId, TenantId},
    plan::Verdict,
};
pub(crate) use infra::row::CompletionLinkRow;
use infra::{
    row::{LinkStatus, PlanRow, PlanStatus, SiteRow, SurfaceRow},
    store::{Page, Tx},
};

use crate::{
    app::capability::Capability,
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        completion_link::{CompletionLinkRequest, CompletionLinkView},
    },
};

/// Where forms are: the path before the last part of an address.
pub(crate) const PATH: &str = "/c/";

/// Makes a link for a plan; the path of its address is for this one answer. `bound_to` is the only contractor for whom the
/// caller may make one.
///
/// # Errors
/// `not_found`; `state_conflict` if nobody can report by the plan; `invalid_body` for a contractor that is not there; those of
/// the store.
pub(crate) async fn make(
    ctx: &Context,
    tx: &Tx,
    plan: PlanId,
    (request, bound_to): (&CompletionLinkRequest, Option<ContractorId>),
) -> Result<(CompletionLinkRow, String), Problem> {
    let plan = tx.plans().get(plan).await?.ok_or_else(Problem::not_found)?;
    if !is_open(&plan) {
        let detail =
            "Work is reported by a plan that holds work and is neither superseded nor withdrawn.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let contractor_id = contractor(tx, request, bound_to).await?;
    let (id, now) = (CompletionLinkId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let opens = Capability::make(tx.tenant(), id.uuid())?;
    let until = now.checked_add_signed(TimeDelta::days(request.days.into()));
    let row = CompletionLinkRow {
        id,
        version: 1,
        plan_id: plan.id,
        contractor_id,
        status: LinkStatus::Active,
        language: request.language.clone(),
        n_reports: 0,
        max_reports: request.reports.into(),
        secret_hash: opens.hash(),
        expires_at: until.unwrap_or(now),
        created_at: now,
        updated_at: now,
    };
    tx.completion_links().insert(&row).await?;
    Ok((row, format!("{PATH}{}", opens.address())))
}

/// The contractor whose work is reported through the link.
async fn contractor(
    tx: &Tx,
    request: &CompletionLinkRequest,
    bound_to: Option<ContractorId>,
) -> Result<Option<ContractorId>, Problem> {
    let named = request.contractor_id.as_ref().map(|id| id.parse().ok());
    let wanted = match (named, bound_to) {
        (None, own) => return Ok(own),
        (Some(named), Some(own)) => named.filter(|named| *named == own),
        (Some(named), None) => named,
    };
    let found = match wanted {
        Some(id) => tx.contractors().get(id).await?,
        None => None,
    };
    let mut faults = Faults::new();
    if found.is_none() {
        let detail = "There is no such contractor.";
        faults.push("#/contractor_id", "reference_not_found", detail);
    }
    faults.finish()?;
    Ok(found.map(|row| row.id))
}

/// Whether work can be reported by a plan.
fn is_open(plan: &PlanRow) -> bool {
    let verdict = Verdict::of(&plan.verdict);
    let has_work = matches!(
        verdict,
        Some(Verdict::Allowed | Verdict::AllowedWithWarnings)
    );
    let is_open = matches!(plan.status, PlanStatus::Proposed | PlanStatus::Accepted);
    has_work && plan.process.is_some() && is_open
}

/// Takes a link back for good.
///
/// # Errors
/// `state_conflict` if it was taken back before; those of the store.
pub(crate) async fn revoke(
    ctx: &Context,
    tx: &Tx,
    old: CompletionLinkRow,
) -> Result<CompletionLinkRow, Problem> {
    if old.status == LinkStatus::Revoked {
        let detail = "The link is revoked already.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let row = CompletionLinkRow {
        version: old.version.saturating_add(1),
        status: LinkStatus::Revoked,
        updated_at: ctx.clock.now(),
        ..old
    };
    tx.completion_links().update(&row, old.version).await?;
    Ok(row)
}

/// A link in a transaction, if the caller may know of it who is bound to a contractor.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(
    tx: &Tx,
    (id, bound_to): (CompletionLinkId, Option<ContractorId>),
) -> Result<CompletionLinkRow, Problem> {
    known_to(bound_to, tx.completion_links().get(id).await?)
}

/// One link.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    (id, bound_to): (CompletionLinkId, Option<ContractorId>),
) -> Result<CompletionLinkRow, Problem> {
    let glance = ctx.store.glance(tenant);
    known_to(bound_to, glance.completion_links().get(id).await?)
}

fn known_to(
    bound_to: Option<ContractorId>,
    found: Option<CompletionLinkRow>,
) -> Result<CompletionLinkRow, Problem> {
    let is_theirs = |row: &CompletionLinkRow| bound_to.is_none() || row.contractor_id == bound_to;
    found.filter(is_theirs).ok_or_else(Problem::not_found)
}

/// Up to `limit` links of a plan after an id.
///
/// # Errors
/// `not_found` without such a plan; those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    (plan, bound_to): (PlanId, Option<ContractorId>),
    page: (Option<CompletionLinkId>, u64),
) -> Result<Page<String, CompletionLinkId>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let _there = tx.plans().get(plan).await?.ok_or_else(Problem::not_found)?;
    let rows = tx.completion_links().list(plan, bound_to, page).await?;
    rows.try_map(|row| wire::document(&CompletionLinkView::new(&row)))
}

/// What a link opens.
#[derive(Debug)]
pub(crate) struct Opened {
    /// Whose it is.
    pub(crate) tenant: TenantId,
    /// The link.
    pub(crate) link: CompletionLinkRow,
    /// The plan whose work is reported.
    pub(crate) plan: PlanRow,
    /// Its floor.
    pub(crate) floor: SurfaceRow,
    /// The site of the floor.
    pub(crate) site: SiteRow,
}

impl Opened {
    /// Whether work can still be reported by the plan.
    pub(crate) fn is_open(&self) -> bool {
        is_open(&self.plan)
    }

    /// Whether as many reports were made through it as may be.
    pub(crate) fn is_used_up(&self) -> bool {
        self.link.n_reports >= self.link.max_reports
    }
}

/// What an address opens. There is one answer for every reason why it opens nothing, after the same look-up.
///
/// # Errors
/// `not_found` for an address that nobody was told, or whose link expired or was revoked; those of the store.
pub(crate) async fn open(ctx: &Context, address: &str) -> Result<Opened, Problem> {
    let asked = Capability::named(address);
    let (tenant, id) = (asked.tenant, CompletionLinkId::from_uuid(asked.link));
    let row = ctx.store.glance(tenant).completion_links().get(id).await?;
    let kept = row.as_ref().map_or("", |row| row.secret_hash.as_str());
    let proven = asked.is_proven(kept);
    let link = row.filter(|row| proven && opens(row, ctx.clock.now()));
    let link = link.ok_or_else(nothing)?;
    let tx = ctx.store.read(tenant).await?;
    let plan = tx.plans().get(link.plan_id).await?.ok_or_else(nothing)?;
    let floor = tx.surfaces().get(plan.surface_id).await?;
    let site = tx.sites().get(plan.site_id).await?;
    Ok(Opened {
        tenant,
        link,
        plan,
        floor: floor.ok_or_else(nothing)?,
        site: site.ok_or_else(nothing)?,
    })
}

/// Whether a link opens its form at a moment.
fn opens(row: &CompletionLinkRow, now: DateTime<Utc>) -> bool {
    row.status == LinkStatus::Active && now < row.expires_at
}

fn nothing() -> Problem {
    let detail = "Nothing is at this address, or not any more.";
    Problem::new(Code::NotFound, detail)
}
