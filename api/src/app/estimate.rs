//! Making and reading estimates over many surfaces.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use domain::{
    estimate::pool::{Planned, pool},
    id::{EstimateId, EventId, SiteId, SurfaceId, TenantId},
    knowledge::{Product, Products},
    plan::Plan,
    stock::Stock,
    survey::Wish,
};
pub(crate) use infra::store::EstimateFilter;
use infra::{
    row::{EstimateBrief, EstimateRow, SurfaceRow},
    store::{Page, SurfaceFilter, Tx},
};

use super::{
    film, plan, product, site, stock_item,
    surface::succession::{gone_by, is_gone},
    unrinsed::Unrinsed,
};
use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        climate::ClimateRequest,
        estimate::{EstimateHead, EstimateRequest, EstimateView, MaterialWish},
        plan::RateCardRef,
        wish::WishRequest,
    },
};

/// The most surfaces of one estimate.
const MAX_SURFACES: u64 = 1_000;

/// Plans every surface, pools what they need, keeps the answer and tells of it.
///
/// # Errors
/// `invalid_body` for sites, surfaces or processes that do not exist, or too many surfaces; those of the store.
pub(crate) async fn make(
    ctx: &Context,
    tx: &Tx,
    request: &EstimateRequest,
) -> Result<EstimateRow, Problem> {
    let mut faults = Faults::new();
    let own = product::own(tx).await?;
    let asked = (&request.wish, &request.wishes[..]);
    let wishes = Wishes::read(known(ctx, &own), asked, &mut faults);
    let site = match request.site_id.parse::<SiteId>() {
        Ok(id) => site::load(tx, id, own).await?,
        Err(_not_an_id) => None,
    };
    let Some(site) = site else {
        faults.push("#/site_id", "reference_not_found", "There is no such site.");
        return Err(faults.finish().err().unwrap_or_else(Problem::not_found));
    };
    let now = ctx.clock.now();
    let today = site::day_of(&site.row, now);
    let floors = floors(tx, (site.row.id, today), request, &mut faults).await?;
    let planned_on = stock_item::planned_day(request.planned_on, today, &mut faults);
    faults.finish()?;
    let items = stock_item::items(tx, site.row.id).await?;
    let stock = Stock {
        items: &items,
        on: planned_on,
    };
    let (card_row, card) = site::card_on(tx, &site.row, planned_on).await?;
    let climate = request
        .climate
        .as_ref()
        .map_or(site.climate, ClimateRequest::climate);
    let states = film::states(ctx, tx, &floors, now).await?;
    let left = Unrinsed::load(ctx, tx, &floors, now).await?;
    let air = (&climate, request.climate.is_none() && site.climate_assumed);
    let plans: Vec<Plan> = floors
        .iter()
        .map(|floor| {
            let state = states.get(&floor.id).ok_or_else(Problem::not_found)?;
            let (lies_on_it, wish) = ((floor, state, &left), wishes.of(&floor.material));
            let answers = plan::Answers::LeftOut;
            // What is left over goes once into what they need together.
            let card = (&card, Stock::NONE);
            plan::draft(ctx, lies_on_it, wish, air, card, &site, answers)
        })
        .collect::<Result<_, _>>()?;
    let planned = planned(&floors, &plans);
    let pooled: Vec<Planned<'_>> = planned.iter().map(|(_, floor)| *floor).collect();
    let estimate = pool(site.products(ctx), &card, &pooled, stock);
    let estimate = estimate.map_err(|error| Problem::internal(&error))?;
    let lines = estimate.cost.lines.iter();
    wire::money::check_counted("#/site_id", lines.map(|line| line.amount.amount))?;
    let head = EstimateHead {
        id: EstimateId::from_uuid(ctx.ids.uuid()),
        site_id: site.row.id,
        planned_on,
        knowledge_version: &ctx.knowledge.version,
        rate_card: RateCardRef::new(&card_row, &card),
        now,
    };
    let id = head.id;
    let view = EstimateView::new(head, &planned, &estimate);
    let row = EstimateRow {
        id,
        site_id: site.row.id,
        n_surfaces: i64::try_from(floors.len()).unwrap_or(i64::MAX),
        area: floors.iter().map(|floor| floor.area).sum(),
        net_amount: estimate.cost.net.amount,
        currency: card.currency,
        knowledge_version: ctx.knowledge.version.clone(),
        document: wire::document(&view)?,
        created_at: now,
    };
    tx.estimates().insert(&row).await?;
    let (event, subject) = (EventId::from_uuid(ctx.ids.uuid()), id.to_string());
    let kind = "wearcourse.estimate.made.v1";
    let event = wire::event::encode(event, kind, (&subject, 1), now, &view.head())?;
    tx.outbox().append(&event).await?;
    Ok(row)
}

/// Each floor with its plan.
fn planned<'a>(floors: &[SurfaceRow], plans: &'a [Plan]) -> Vec<(SurfaceId, Planned<'a>)> {
    let pairs = floors.iter().zip(plans);
    pairs
        .map(|(floor, plan)| {
            (
                floor.id,
                Planned {
                    area: floor.area,
                    plan,
                },
            )
        })
        .collect()
}

/// The wish for each material.
pub(super) struct Wishes {
    usual: Wish,
    by_material: BTreeMap<String, Wish>,
}

fn known<'a>(ctx: &Context, own: &'a [Product]) -> Products<'a> {
    Products {
        base: ctx.knowledge,
        own,
    }
}

impl Wishes {
    /// Reads the wishes of a request, the usual one and those for materials; they may name the tenant's own products.
    pub(super) fn read(
        known: Products<'_>,
        (usual, wishes): (&WishRequest, &[MaterialWish]),
        faults: &mut Faults,
    ) -> Self {
        let usual = usual.wish(known, "#/wish", faults);
        let mut by_material = BTreeMap::new();
        for (index, entry) in wishes.iter().enumerate() {
            if known.base.material(&entry.material).is_none() {
                let detail = format!(
                    "No material is named `{}`; GET /v1/materials lists them.",
                    entry.material
                );
                faults.push(
                    format!("#/wishes/{index}/material"),
                    "unknown_material",
                    detail,
                );
            }
            let wish = entry
                .wish
                .wish(known, &format!("#/wishes/{index}/wish"), faults);
            if by_material.insert(entry.material.clone(), wish).is_some() {
                let detail = "The material has a wish already.";
                faults.push(format!("#/wishes/{index}/material"), "duplicate", detail);
            }
        }
        Self { usual, by_material }
    }

    /// The wish for a surface of a material.
    pub(super) fn of(&self, material: &str) -> &Wish {
        self.by_material.get(material).unwrap_or(&self.usual)
    }
}

/// The surfaces of a request, in the order of their ids or of the request. Those that others have replaced by `today`
/// are left out, or are a fault where they are named.
async fn floors(
    tx: &Tx,
    (site_id, today): (SiteId, NaiveDate),
    request: &EstimateRequest,
    faults: &mut Faults,
) -> Result<Vec<SurfaceRow>, Problem> {
    let Some(wanted) = &request.surface_ids else {
        let filter = SurfaceFilter {
            site_id: Some(site_id),
            storey: request.storey.clone(),
            materials: request
                .materials
                .iter()
                .flatten()
                .map(|key| key.0.clone())
                .collect(),
            ..SurfaceFilter::default()
        };
        let page = tx.surfaces().list(&filter, None, MAX_SURFACES).await?;
        if page.next.is_some() {
            let detail = "More than 1,000 surfaces match; narrow them by storey or materials.";
            faults.push("#/site_id", "too_many", detail);
        }
        let mut floors = Vec::with_capacity(page.items.len());
        for row in page.items {
            if gone_by(&row, today)?.is_none() {
                floors.push(row);
            }
        }
        if floors.is_empty() {
            faults.push(
                "#/site_id",
                "no_surfaces",
                "No surface matches: name another storey or materials, or register surfaces.",
            );
        }
        return Ok(floors);
    };
    if request.storey.is_some() || request.materials.is_some() {
        let detail = "Name surfaces, or narrow them by storey and materials: not both.";
        faults.push("#/surface_ids", "conflicting", detail);
    }
    let ids: Vec<Option<SurfaceId>> = wanted.iter().map(|id| id.0.parse().ok()).collect();
    let known: Vec<SurfaceId> = ids.iter().flatten().copied().collect();
    let rows = tx.surfaces().get_many(&known).await?;
    let mut by_id: BTreeMap<SurfaceId, SurfaceRow> =
        rows.into_iter().map(|row| (row.id, row)).collect();
    let mut floors = Vec::with_capacity(ids.len());
    for (index, id) in ids.iter().enumerate() {
        // Taken out, so that a surface that is named twice is found once.
        let floor = id
            .and_then(|id| by_id.remove(&id))
            .filter(|row| row.site_id == site_id);
        if let Some(row) = floor {
            let place = format!("#/surface_ids/{index}");
            is_gone(&row, today, &place, faults)?;
            floors.push(row);
        } else {
            let detail = "There is no such surface at this site, or it is named twice.";
            faults.push(
                format!("#/surface_ids/{index}"),
                "reference_not_found",
                detail,
            );
        }
    }
    Ok(floors)
}

/// Up to `limit` estimates after an id, in short.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &EstimateFilter,
    after: Option<EstimateId>,
    limit: u64,
) -> Result<Page<EstimateBrief, EstimateId>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.estimates().list(filter, after, limit).await?)
}

/// One estimate.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: EstimateId,
) -> Result<EstimateRow, Problem> {
    let glance = ctx.store.glance(tenant);
    glance
        .estimates()
        .get(id)
        .await?
        .ok_or_else(Problem::not_found)
}
