//! Fills an empty service with the estate, through its own API.

use std::collections::BTreeMap;

use chrono::{DateTime, Days, Utc};
use serde_json::json;

use super::{
    DemoError,
    answer::{Batch, Made},
    client::Client,
    estate::{CONTRACTORS, External, SITES, SiteSeed, SurfaceRequest},
};

/// Days between the first day of the rate cards and now: longer than the history.
const RATES_DAYS: u64 = 240;

/// The ids that the service gave.
#[derive(Debug, Default)]
pub(super) struct Estate {
    pub(super) sites: Vec<String>,
    contractors: Vec<String>,
    floors: BTreeMap<&'static str, String>,
}

impl Estate {
    /// The surface of a floor.
    ///
    /// # Errors
    /// [`DemoError::Unknown`] if it was not registered.
    pub(super) fn floor(&self, id: &'static str) -> Result<&str, DemoError> {
        let floor = self.floors.get(id).map(String::as_str);
        floor.ok_or(DemoError::Unknown { what: id })
    }

    /// A contractor, by its place in the list.
    ///
    /// # Errors
    /// [`DemoError::Unknown`] if it was not registered.
    pub(super) fn contractor(&self, at: usize) -> Result<&str, DemoError> {
        let contractor = self.contractors.get(at).map(String::as_str);
        contractor.ok_or(DemoError::Unknown { what: "contractor" })
    }

    /// The site where the main job is done.
    ///
    /// # Errors
    /// [`DemoError::Unknown`] if it was not registered.
    pub(super) fn first_site(&self) -> Result<&str, DemoError> {
        let site = self.sites.first().map(String::as_str);
        site.ok_or(DemoError::Unknown { what: "site" })
    }
}

/// Registers sites, contractors and surfaces.
///
/// # Errors
/// [`DemoError`] if a call fails or a surface is not taken.
pub(super) async fn register(client: &Client, now: DateTime<Utc>) -> Result<Estate, DemoError> {
    let mut estate = Estate::default();
    for (id, name) in CONTRACTORS {
        let body = json!({"name": name, "external": External::new(id)});
        let made: Made = client.post("/v1/contractors", &body, id).await?.body;
        estate.contractors.push(made.id);
    }
    let today = now.date_naive();
    let valid_from = today
        .checked_sub_days(Days::new(RATES_DAYS))
        .unwrap_or(today);
    for site in &SITES {
        let made: Made = client
            .post("/v1/sites", &site.request(valid_from), site.id)
            .await?
            .body;
        register_floors(client, site, &made.id, &mut estate).await?;
        estate.sites.push(made.id);
    }
    Ok(estate)
}

async fn register_floors(
    client: &Client,
    site: &SiteSeed,
    site_id: &str,
    estate: &mut Estate,
) -> Result<(), DemoError> {
    let items: Vec<_> = site
        .floors
        .iter()
        .map(|floor| SurfaceRequest { site_id, floor })
        .collect();
    let body = json!({"mode": "atomic", "items": items});
    let key = format!("{}-floors", site.id);
    let batch: Batch = client.post("/v1/surfaces/batch", &body, &key).await?.body;
    for (floor, item) in site.floors.iter().zip(batch.items) {
        let id = item.surface_id.filter(|_| item.outcome == "created");
        let id = id.ok_or(DemoError::Unknown { what: floor.id() })?;
        estate.floors.insert(floor.id(), id);
    }
    Ok(())
}
