//! Sites on the wire.

use chrono::{DateTime, NaiveDate, Utc};
use domain::{
    id::{ParseIdError, RateCardId, SiteId},
    survey::Climate,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    climate::ClimateRequest, external::External, patch::patch_of, rate_card::RateCardRequest, time,
};
use crate::problem::Problem;

/// A site to register.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "name": "North clinic", "country": "GB", "time_zone": "Europe/London", "currency": "GBP",
    "climate": {"air_c": 20, "humidity_pct": 55},
    "external": {"system": "building-register", "id": "B-7"},
}))]
pub(crate) struct SiteRequest {
    /// What people call it.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) name: String,
    /// Its country's ISO 3166-1 code; rules that differ by country go by it.
    #[schema(min_length = 2, max_length = 2, pattern = "^[A-Z]{2}$")]
    pub(crate) country: String,
    /// The name of its zone in the tz database, such as `Europe/London`: its days and months are those there.
    #[schema(min_length = 1, max_length = 60)]
    pub(crate) time_zone: String,
    /// The ISO 4217 code of the one currency of its money; it cannot be changed.
    #[schema(min_length = 3, max_length = 3, pattern = "^[A-Z]{3}$")]
    pub(crate) currency: String,
    /// The air over its floors; the knowledge base's without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) climate: Option<ClimateRequest>,
    /// Its rates; without them those of the knowledge base, whose amounts are examples.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) rate_card: Option<RateCardRequest>,
    /// The day from which its floors are looked after no more, such as one on which it was given up: from then on nothing is planned and
    /// nothing estimated there. What was recorded stays, and work of before can still be reported.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = Date, max_length = 10,
        pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) retired_on: Option<NaiveDate>,
    /// Figures that are not learnt from the work that was done here: rates by the key of their activity (`GET /v1/activities`), the
    /// others as `coverage.polish`, `dry_time.polish` or `dry_time.water`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub(crate) not_learnt: Vec<FigureName>,
    /// Its name in another system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) external: Option<External>,
}

/// The name of a figure that jobs may tell: an activity for its rate, `coverage.` or `dry_time.` with a class of product.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(
    min_length = 1,
    max_length = 100,
    pattern = "^[a-z0-9_]+([.][a-z0-9_]+)?$"
)]
pub(crate) struct FigureName(pub(crate) String);

patch_of! {
    /// A change of a site.
    SitePatchRequest, SiteRequest, {"name": "North clinic, new wing", "external": null}
}

/// A site with the newest edition of its rate card.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct SiteView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// What people call it.
    #[schema(min_length = 1, max_length = 200)]
    name: String,
    /// Its country's ISO 3166-1 code.
    #[schema(min_length = 2, max_length = 2, pattern = "^[A-Z]{2}$")]
    country: String,
    /// The name of its zone in the tz database.
    #[schema(min_length = 1, max_length = 60)]
    time_zone: String,
    /// The ISO 4217 code of its currency.
    #[schema(min_length = 3, max_length = 3, pattern = "^[A-Z]{3}$")]
    currency: String,
    /// The air over its floors.
    climate: ClimateRequest,
    /// Whether nobody has said what that air is: it is what is usual indoors, and plans warn of it.
    #[serde(default)]
    climate_assumed: bool,
    /// The newest edition of its rate card, which may be valid from a day to come only: `GET
    /// /v1/sites/{site_id}/rate-cards?on=` tells that of a day. What was valid on an earlier day stays so.
    rate_card: RateCardRequest,
    /// Whether nobody has told these rates: they are the examples of the knowledge base, and plans that are priced by them
    /// warn of it.
    #[serde(default)]
    rate_card_assumed: bool,
    /// The id of that edition.
    #[schema(max_length = 40, pattern = "^rtc_[0-9a-f-]{36}$")]
    rate_card_id: String,
    /// The number of that edition, from 1.
    #[schema(minimum = 1)]
    rate_card_number: i64,
    /// The day from which its floors are looked after no more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = Date, max_length = 10)]
    retired_on: Option<NaiveDate>,
    /// Figures that are not learnt from the work that was done here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    not_learnt: Vec<FigureName>,
    /// Its name in another system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    external: Option<External>,
    /// When it was registered.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

/// What of a site's view the request does not say.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SiteHead {
    /// The site.
    pub(crate) id: SiteId,
    /// Its version.
    pub(crate) version: i64,
    /// The newest edition of its rate card: id and number.
    pub(crate) edition: (RateCardId, i64),
    /// Whether nobody has told that edition.
    pub(crate) rates_assumed: bool,
    /// When it was registered.
    pub(crate) created_at: DateTime<Utc>,
    /// When it was last changed.
    pub(crate) updated_at: DateTime<Utc>,
}

impl SiteView {
    /// The site that a request makes; `climate` and `rate_card` are what the request says or what it left out.
    pub(crate) fn new(
        head: &SiteHead,
        request: &SiteRequest,
        climate: ClimateRequest,
        rate_card: RateCardRequest,
    ) -> Self {
        let (rate_card_id, rate_card_number) = head.edition;
        Self {
            id: head.id.to_string(),
            version: head.version,
            name: request.name.clone(),
            country: request.country.clone(),
            time_zone: request.time_zone.clone(),
            currency: request.currency.clone(),
            climate,
            climate_assumed: request.climate.is_none(),
            rate_card,
            rate_card_assumed: head.rates_assumed,
            rate_card_id: rate_card_id.to_string(),
            rate_card_number,
            retired_on: request.retired_on,
            not_learnt: request.not_learnt.clone(),
            external: request.external.clone(),
            created_at: time::write(head.created_at),
            updated_at: time::write(head.updated_at),
        }
    }

    /// The air over its floors.
    pub(crate) fn climate(&self) -> Climate {
        self.climate.climate()
    }

    /// Whether nobody has said what that air is.
    pub(crate) const fn climate_is_assumed(&self) -> bool {
        self.climate_assumed
    }

    /// The figures that are not learnt here, by their names.
    pub(crate) fn not_learnt(&self) -> Vec<String> {
        self.not_learnt.iter().map(|key| key.0.clone()).collect()
    }

    /// Whether nobody has told the newest edition of its rate card.
    pub(crate) const fn rates_are_assumed(&self) -> bool {
        self.rate_card_assumed
    }

    /// The day from which its floors are looked after no more.
    pub(crate) const fn retired_on(&self) -> Option<NaiveDate> {
        self.retired_on
    }

    /// The newest edition of its rate card: id and number.
    ///
    /// # Errors
    /// `internal` for a document that is not what was written.
    pub(crate) fn edition(&self) -> Result<(RateCardId, i64), Problem> {
        let id = self.rate_card_id.parse();
        let id = id.map_err(|error: ParseIdError| Problem::internal(&error))?;
        Ok((id, self.rate_card_number))
    }

    /// The site as its request would say it.
    pub(crate) fn into_request(self) -> SiteRequest {
        SiteRequest {
            name: self.name,
            country: self.country,
            time_zone: self.time_zone,
            currency: self.currency,
            climate: (!self.climate_assumed).then_some(self.climate),
            rate_card: Some(self.rate_card),
            retired_on: self.retired_on,
            not_learnt: self.not_learnt,
            external: self.external,
        }
    }
}

/// The site that a stored document holds.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn stored(document: &str) -> Result<SiteView, Problem> {
    super::stored(document)
}

/// A page of sites.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SitePage {
    /// The sites, oldest first.
    #[schema(max_items = 200)]
    items: Vec<SiteView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}
