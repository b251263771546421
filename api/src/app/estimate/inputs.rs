//! What an estimate over many surfaces is made from.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use domain::{
    card::RateCard,
    film::State,
    id::{SiteId, SurfaceId},
    knowledge::{Product, Products},
    stock::{Stock, StockItem},
    survey::{Climate, Wish},
};
use infra::{
    row::{RateCardRow, SurfaceRow},
    store::{InputVersions, SurfaceFilter, Tx},
};

use crate::{
    app::{
        film, learning, product,
        site::{self, Site},
        stock_item,
        surface::succession::{gone_by, is_gone},
        unrinsed::Unrinsed,
    },
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        climate::ClimateRequest,
        estimate::{EstimateRequest, MaterialWish, SurfaceIdText},
        wish::WishRequest,
    },
};

/// The most surfaces of one estimate.
const MAX_SURFACES: u64 = 1_000;

/// All that an estimate is made from, as it is at one moment.
pub(super) struct Inputs {
    pub(super) wishes: Wishes,
    pub(super) site: Site,
    pub(super) card_row: RateCardRow,
    pub(super) card: RateCard,
    pub(super) floors: Floors,
    pub(super) left_over: Vec<StockItem>,
    pub(super) planned_on: NaiveDate,
    pub(super) climate: Climate,
    pub(super) climate_assumed: bool,
    pub(super) states: BTreeMap<SurfaceId, State>,
    pub(super) left: Unrinsed,
}

/// Which surfaces match, and in which versions all is there.
pub(super) type Versions = (Vec<SurfaceId>, InputVersions);

impl Inputs {
    /// Reads what a request names, and what is known of it now.
    ///
    /// # Errors
    /// `invalid_body` for sites, surfaces or processes that do not exist, or too many surfaces; those of the store.
    pub(super) async fn load(
        ctx: &Context,
        tx: &Tx,
        request: &EstimateRequest,
    ) -> Result<Self, Problem> {
        let mut faults = Faults::new();
        let own = product::own(tx).await?;
        let asked = (&request.wish, &request.wishes[..]);
        let wishes = Wishes::read(known(ctx, &own), asked, &mut faults);
        let Some(site) = site::named(tx, &request.site_id, own).await? else {
            return Err(site::no_such(faults));
        };
        let now = ctx.clock.now();
        let today = site::day_of(&site.row, now);
        site.is_retired(today, "#/site_id", &mut faults);
        let floors = floors(tx, (site.row.id, today), request, &mut faults).await?;
        let planned_on = stock_item::planned_day(request.planned_on, today, &mut faults);
        faults.finish()?;
        let (card_row, mut card) = site::card_on(tx, &site.row, planned_on).await?;
        learning::onto(ctx, tx, &site, now, &mut card).await?;
        let told = request.climate.as_ref().map(ClimateRequest::climate);
        Ok(Self {
            wishes,
            left_over: stock_item::items(tx, site.row.id).await?,
            planned_on,
            climate: told.unwrap_or(site.climate),
            climate_assumed: told.is_none() && site.climate_assumed,
            states: film::states(ctx, tx, &floors.rows, now).await?,
            left: Unrinsed::load(ctx, tx, &floors.rows, now).await?,
            card_row,
            card,
            floors,
            site,
        })
    }

    /// Which surfaces match now, and in which versions all of this is there.
    ///
    /// # Errors
    /// Those of the store.
    pub(super) async fn versions(
        &self,
        tx: &Tx,
        request: &EstimateRequest,
    ) -> Result<Versions, Problem> {
        let site = self.site.row.id;
        let matching = if request.surface_ids.is_some() {
            self.floors.matching.clone()
        } else {
            let filter = matching(site, request);
            tx.surfaces().ids(&filter, MAX_SURFACES + 1).await?
        };
        let versions = tx.plans().input_versions(site, &matching).await?;
        Ok((matching, versions))
    }

    /// What is left over and good on the day of the work.
    pub(super) fn stock(&self) -> Stock<'_> {
        Stock {
            items: &self.left_over,
            on: self.planned_on,
        }
    }
}

/// The wish for each material.
pub(in crate::app) struct Wishes {
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
    pub(in crate::app) fn read(
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
    pub(in crate::app) fn of(&self, material: &str) -> &Wish {
        self.by_material.get(material).unwrap_or(&self.usual)
    }
}

/// The surfaces of a request.
pub(super) struct Floors {
    /// All that match, those that are there no more too.
    matching: Vec<SurfaceId>,
    /// Those that are planned.
    pub(super) rows: Vec<SurfaceRow>,
}

/// Which surfaces match a request that names none.
pub(in crate::app) fn matching(site: SiteId, request: &EstimateRequest) -> SurfaceFilter {
    let materials = request.materials.iter().flatten();
    SurfaceFilter {
        site_id: Some(site),
        storey: request.storey.clone(),
        materials: materials.map(|key| key.0.clone()).collect(),
        ..SurfaceFilter::default()
    }
}

/// The surfaces of a request, in the order of their ids or of the request. Those that are there no more by `today`
/// are left out, or are a fault where they are named.
async fn floors(
    tx: &Tx,
    (site_id, today): (SiteId, NaiveDate),
    request: &EstimateRequest,
    faults: &mut Faults,
) -> Result<Floors, Problem> {
    let Some(wanted) = &request.surface_ids else {
        let filter = matching(site_id, request);
        let page = tx.surfaces().list(&filter, None, MAX_SURFACES).await?;
        if page.next.is_some() {
            let detail = "More than 1,000 surfaces match: narrow them by storey or materials, or POST /v1/estimate-jobs.";
            faults.push("#/site_id", "too_many", detail);
        }
        let matching = page.items.iter().map(|row| row.id).collect();
        let mut rows = Vec::with_capacity(page.items.len());
        for row in page.items {
            if gone_by(&row, today)?.is_none() {
                rows.push(row);
            }
        }
        if rows.is_empty() {
            faults.push(
                "#/site_id",
                "no_surfaces",
                "No surface matches: name another storey or materials, or register surfaces.",
            );
        }
        return Ok(Floors { matching, rows });
    };
    if request.storey.is_some() || request.materials.is_some() {
        let detail = "Name surfaces, or narrow them by storey and materials: not both.";
        faults.push("#/surface_ids", "conflicting", detail);
    }
    named(tx, (site_id, today), wanted, faults).await
}

/// The surfaces that a request names, in its order.
async fn named(
    tx: &Tx,
    (site_id, today): (SiteId, NaiveDate),
    wanted: &[SurfaceIdText],
    faults: &mut Faults,
) -> Result<Floors, Problem> {
    if wanted.len() > usize::try_from(MAX_SURFACES).unwrap_or(usize::MAX) {
        let detail = "An estimate that is answered at once covers up to 1,000 surfaces; POST /v1/estimate-jobs takes 10,000.";
        faults.push("#/surface_ids", "too_many", detail);
        return Ok(Floors {
            matching: Vec::new(),
            rows: Vec::new(),
        });
    }
    let ids: Vec<Option<SurfaceId>> = wanted.iter().map(|id| id.0.parse().ok()).collect();
    let known: Vec<SurfaceId> = ids.iter().flatten().copied().collect();
    let found = tx.surfaces().get_many(&known).await?;
    let mut by_id: BTreeMap<SurfaceId, SurfaceRow> =
        found.into_iter().map(|row| (row.id, row)).collect();
    let mut rows = Vec::with_capacity(ids.len());
    for (index, id) in ids.iter().enumerate() {
        // Taken out, so that a surface that is named twice is found once.
        let floor = id
            .and_then(|id| by_id.remove(&id))
            .filter(|row| row.site_id == site_id);
        if let Some(row) = floor {
            let place = format!("#/surface_ids/{index}");
            is_gone(&row, today, &place, faults)?;
            rows.push(row);
        } else {
            let detail = "There is no such surface at this site, or it is named twice.";
            faults.push(
                format!("#/surface_ids/{index}"),
                "reference_not_found",
                detail,
            );
        }
    }
    Ok(Floors {
        matching: known,
        rows,
    })
}
