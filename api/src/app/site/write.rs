//! Registering and changing sites. Each change of the rates is a new edition of the rate card.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use domain::{
    card::RateCard,
    event::EventKind,
    id::{EventId, RateCardId, SiteId},
    knowledge::{KnowledgeBase, Product, Products},
    money::Currency,
};
use infra::{
    row::{RateCardRow, SiteRow},
    store::{StoreError, Tx},
};

use super::super::{learning::can_be_learnt, product};
use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        climate::ClimateRequest,
        event::data::{RateCardEventData, SiteEventData},
        rate_card::RateCardRequest,
        site::{SiteHead, SiteRequest, SiteView},
    },
};

/// What of a request is more than its words, with what it left out.
pub(super) struct Checked {
    currency: Currency,
    climate: ClimateRequest,
    pub(super) rate_card: RateCardRequest,
}

impl Checked {
    /// Whether the site would say what it says already.
    fn is_said_by(&self, asked: &SiteRequest, kept: &SiteRequest) -> bool {
        let asked = SiteRequest {
            climate: Some(self.climate.clone()),
            rate_card: Some(self.rate_card.clone()),
            ..asked.clone()
        };
        asked == *kept
    }
}

/// Registers a site with the first edition of its rate card, and tells of it.
///
/// # Errors
/// `invalid_body` with every fault; `already_exists` if another site has the external id; those of the store.
pub(crate) async fn register(
    ctx: &Context,
    tx: &Tx,
    request: &SiteRequest,
) -> Result<SiteRow, Problem> {
    let now = ctx.clock.now();
    let mut faults = Faults::new();
    let own = product::own(tx).await?;
    let products = products(ctx, &own);
    let checked = check(products, request, now, &mut faults);
    faults.finish()?;
    let checked = checked.ok_or_else(|| Problem::internal(&Unchecked))?;
    let head = SiteHead {
        id: SiteId::from_uuid(ctx.ids.uuid()),
        version: 1,
        edition: (RateCardId::from_uuid(ctx.ids.uuid()), 1),
        rates_assumed: request.rate_card.is_none(),
        created_at: now,
        updated_at: now,
    };
    let row = site(&head, request, &checked)?;
    tx.sites().insert(&row).await?;
    tx.rate_cards().insert(&edition(&head, &checked)?).await?;
    tell(ctx, tx, EventKind::SiteRegistered, &row).await?;
    Ok(row)
}

/// Changes a site to what a request says and tells of it; a request that says what the site says changes nothing.
///
/// # Errors
/// As [`register`]; `stale_version` if somebody else was faster.
pub(crate) async fn change(
    ctx: &Context,
    tx: &Tx,
    row: &SiteRow,
    request: &SiteRequest,
) -> Result<SiteRow, Problem> {
    let now = ctx.clock.now();
    let mut faults = Faults::new();
    if request.currency != row.currency.code() {
        let detail = "The currency of a site cannot be changed: its records are kept in it.";
        faults.push("#/currency", "read_only", detail);
    }
    // The rest is judged by the currency that the site has.
    let request = &SiteRequest {
        currency: row.currency.code().to_owned(),
        ..request.clone()
    };
    let own = product::own(tx).await?;
    let products = products(ctx, &own);
    let checked = check(products, request, now, &mut faults);
    faults.finish()?;
    let checked = checked.ok_or_else(|| Problem::internal(&Unchecked))?;
    let view = wire::site::stored(&row.document)?;
    let (id, number) = view.edition()?;
    let assumed = view.rates_are_assumed();
    let kept = view.into_request();
    if checked.is_said_by(request, &kept) {
        return Ok(row.clone());
    }
    let is_new = kept.rate_card.as_ref() != Some(&checked.rate_card);
    let next = (
        RateCardId::from_uuid(ctx.ids.uuid()),
        number.saturating_add(1),
    );
    let head = SiteHead {
        id: row.id,
        version: row.version.saturating_add(1),
        edition: if is_new { next } else { (id, number) },
        rates_assumed: if is_new {
            request.rate_card.is_none()
        } else {
            assumed
        },
        created_at: row.created_at,
        updated_at: now,
    };
    let changed = site(&head, request, &checked)?;
    tx.sites().update(&changed, row.version).await?;
    if is_new {
        let _edition = insert_edition(ctx, tx, &head, &checked).await?;
    }
    tell(ctx, tx, EventKind::SiteChanged, &changed).await?;
    Ok(changed)
}

/// Issues the next edition of a site's rate card, even if it says what the newest says, and tells of it.
///
/// The site shows its newest edition, so it has another version afterwards.
///
/// # Errors
/// `invalid_body` with every fault; `contended` if another edition was issued meanwhile; those of the store.
pub(crate) async fn issue(
    ctx: &Context,
    tx: &Tx,
    row: &SiteRow,
    card: &RateCardRequest,
) -> Result<RateCardRow, Problem> {
    let now = ctx.clock.now();
    let mut faults = Faults::new();
    let own = product::own(tx).await?;
    card.check_keys(products(ctx, &own), "#", &mut faults);
    let mut sent = card.clone();
    sent.complete(ctx.knowledge, row.currency);
    let read = sent.card(row.currency, "#", &mut faults);
    faults.finish()?;
    let read = read.ok_or_else(|| Problem::internal(&Unchecked))?;
    let view = wire::site::stored(&row.document)?;
    let (_, number) = view.edition()?;
    let kept = view.into_request();
    let climate = kept.climate.clone();
    let checked = Checked {
        currency: row.currency,
        climate: climate.unwrap_or_else(|| (&ctx.knowledge.climate).into()),
        rate_card: RateCardRequest::new(sent.valid_from, &read),
    };
    let head = SiteHead {
        id: row.id,
        version: row.version.saturating_add(1),
        edition: (
            RateCardId::from_uuid(ctx.ids.uuid()),
            number.saturating_add(1),
        ),
        rates_assumed: false,
        created_at: row.created_at,
        updated_at: now,
    };
    let changed = site(&head, &kept, &checked)?;
    let done = tx.sites().update(&changed, row.version).await;
    done.map_err(|error| match error {
        // The caller named no version, so it is ours to try again with the one that is there now.
        StoreError::StaleVersion => StoreError::Contended.into(),
        other => Problem::from(other),
    })?;
    let issued = insert_edition(ctx, tx, &head, &checked).await?;
    tell(ctx, tx, EventKind::SiteChanged, &changed).await?;
    Ok(issued)
}

/// Keeps an edition after the first and tells of it; the first is told of with its site.
async fn insert_edition(
    ctx: &Context,
    tx: &Tx,
    head: &SiteHead,
    checked: &Checked,
) -> Result<RateCardRow, Problem> {
    let row = edition(head, checked)?;
    tx.rate_cards().insert(&row).await?;
    let (event, data) = (
        EventId::from_uuid(ctx.ids.uuid()),
        RateCardEventData::from(&row),
    );
    let event = wire::event::encode(event, EventKind::RateCardIssued, row.created_at, &data)?;
    tx.outbox().append(&event).await?;
    Ok(row)
}

/// A request that has faults none of which was noted: a mistake of ours.
#[derive(Debug, thiserror::Error)]
#[error("a site could not be read and no fault was noted")]
struct Unchecked;

/// The products that a rate card of the tenant may name.
const fn products<'a>(ctx: &Context, own: &'a [Product]) -> Products<'a> {
    Products {
        base: ctx.knowledge,
        own,
    }
}

/// Reads what the schema cannot check; `None` if that is not possible, and then there are faults.
pub(super) fn check(
    products: Products<'_>,
    request: &SiteRequest,
    now: DateTime<Utc>,
    faults: &mut Faults,
) -> Option<Checked> {
    let base = products.base;
    let zone: Option<Tz> = request.time_zone.parse().ok();
    if zone.is_none() {
        let detail = "Name a zone of the tz database, such as Europe/London.";
        faults.push("#/time_zone", "unknown_time_zone", detail);
    }
    let currency: Option<Currency> = request.currency.parse().ok();
    if currency.is_none() {
        let detail = "Name a current currency by its ISO 4217 code, such as GBP.";
        faults.push("#/currency", "unknown_currency", detail);
    }
    if let Some(card) = &request.rate_card {
        card.check_keys(products, "#/rate_card", faults);
    }
    for (at, key) in request.not_learnt.iter().enumerate() {
        if !can_be_learnt(base, &key.0) {
            let detail = format!(
                "Nothing that is learnt is named `{}`: name an activity of GET /v1/activities, or a class of product as in \
                 `coverage.polish`, `dry_time.polish` or `dry_time.water`.",
                key.0
            );
            faults.push(format!("#/not_learnt/{at}"), "unknown_activity", detail);
        }
    }
    let (zone, currency) = (zone?, currency?);
    let today = now.with_timezone(&zone).date_naive();
    let rate_card = rate_card(base, request, (currency, today), faults)?;
    let climate = request.climate.as_ref().map(ClimateRequest::climate);
    let climate = climate.map_or_else(|| (&base.climate).into(), ClimateRequest::from);
    Some(Checked {
        currency,
        climate,
        rate_card,
    })
}

/// The card of the request as it is kept, or the defaults from today on.
fn rate_card(
    base: &KnowledgeBase,
    request: &SiteRequest,
    (currency, today): (Currency, NaiveDate),
    faults: &mut Faults,
) -> Option<RateCardRequest> {
    if let Some(mut sent) = request.rate_card.clone() {
        sent.complete(base, currency);
        let card = sent.card(currency, "#/rate_card", faults)?;
        return Some(RateCardRequest::new(sent.valid_from, &card));
    }
    let card = RateCard::defaults(base, currency).ok()?;
    Some(RateCardRequest::new(today, &card))
}

fn site(head: &SiteHead, request: &SiteRequest, checked: &Checked) -> Result<SiteRow, Problem> {
    let (climate, rate_card) = (checked.climate.clone(), checked.rate_card.clone());
    let view = SiteView::new(head, request, climate, rate_card);
    Ok(SiteRow {
        id: head.id,
        version: head.version,
        name: request.name.clone(),
        time_zone: request.time_zone.clone(),
        currency: checked.currency,
        country: request.country.clone(),
        external: request.external.as_ref().map(Into::into),
        document: wire::document(&view)?,
        created_at: head.created_at,
        updated_at: head.updated_at,
    })
}

fn edition(head: &SiteHead, checked: &Checked) -> Result<RateCardRow, Problem> {
    let (id, number) = head.edition;
    Ok(RateCardRow {
        id,
        site_id: head.id,
        number,
        valid_from: checked.rate_card.valid_from,
        document: wire::rate_card::kept(&checked.rate_card, head.rates_assumed)?,
        created_at: head.updated_at,
    })
}

async fn tell(ctx: &Context, tx: &Tx, kind: EventKind, row: &SiteRow) -> Result<(), Problem> {
    let event = EventId::from_uuid(ctx.ids.uuid());
    let event = wire::event::encode(event, kind, row.updated_at, &SiteEventData::from(row))?;
    tx.outbox().append(&event).await?;
    Ok(())
}
