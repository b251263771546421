//! What a plan of one floor is made from.

use chrono::NaiveDate;
use domain::{
    card::RateCard,
    film::State,
    id::SurfaceId,
    knowledge::Products,
    stock::StockItem,
    survey::{Climate, Wish},
};
use infra::{
    row::{RateCardRow, SurfaceRow},
    store::{InputVersions, Tx},
};

use crate::{
    app::{
        film, learning, product,
        site::{self, Site},
        stock_item,
        surface::succession::is_gone,
        unrinsed::Unrinsed,
    },
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{climate::ClimateRequest, plan::PlanRequest},
};

/// All that a plan is made from, as it is at one moment.
pub(super) struct Inputs {
    pub(super) wish: Wish,
    pub(super) floor: SurfaceRow,
    pub(super) site: Site,
    pub(super) card_row: RateCardRow,
    pub(super) card: RateCard,
    pub(super) left_over: Vec<StockItem>,
    pub(super) planned_on: NaiveDate,
    pub(super) climate: Climate,
    pub(super) climate_assumed: bool,
    pub(super) state: State,
    pub(super) left: Unrinsed,
}

impl Inputs {
    /// Reads what a request names, and what is known of it now.
    ///
    /// # Errors
    /// `invalid_body` for a surface or process that does not exist; those of the store.
    pub(super) async fn load(
        ctx: &Context,
        tx: &Tx,
        request: &PlanRequest,
    ) -> Result<Self, Problem> {
        let mut faults = Faults::new();
        let own = product::own(tx).await?;
        let known = Products {
            base: ctx.knowledge,
            own: &own,
        };
        let wish = request.wish.wish(known, "#/wish", &mut faults);
        let found = match request.surface_id.parse::<SurfaceId>() {
            Ok(id) => tx.surfaces().get(id).await?,
            Err(_not_an_id) => None,
        };
        let Some(floor) = found else {
            faults.push(
                "#/surface_id",
                "reference_not_found",
                "There is no such surface.",
            );
            return Err(faults.finish().err().unwrap_or_else(Problem::not_found));
        };
        faults.finish()?;
        let site = site::load(tx, floor.site_id, own)
            .await?
            .ok_or_else(Problem::not_found)?;
        let now = ctx.clock.now();
        let today = site::day_of(&site.row, now);
        let mut faults = Faults::new();
        is_gone(&floor, today, "#/surface_id", &mut faults)?;
        site.is_retired(today, "#/surface_id", &mut faults);
        let planned_on = stock_item::planned_day(request.planned_on, today, &mut faults);
        faults.finish()?;
        let (card_row, mut card) = site::card_on(tx, &site.row, planned_on).await?;
        learning::onto(ctx, tx, &site, now, &mut card).await?;
        let told = request.climate.as_ref().map(ClimateRequest::climate);
        Ok(Self {
            wish,
            left_over: stock_item::items(tx, site.row.id).await?,
            planned_on,
            climate: told.unwrap_or(site.climate),
            climate_assumed: told.is_none() && site.climate_assumed,
            state: film::state(ctx, tx, &floor, now).await?,
            left: Unrinsed::load(ctx, tx, std::slice::from_ref(&floor), now).await?,
            card_row,
            card,
            floor,
            site,
        })
    }

    /// In which versions all of this is there now.
    ///
    /// # Errors
    /// Those of the store.
    pub(super) async fn versions(&self, tx: &Tx) -> Result<InputVersions, Problem> {
        let plans = tx.plans();
        Ok(plans
            .input_versions(self.site.row.id, &[self.floor.id])
            .await?)
    }
}
