//! Months at a site, and what of a site's request its schema cannot check.

use chrono::{DateTime, Utc};
use domain::{id::SiteId, knowledge::KnowledgeBase};
use infra::row::SiteRow;
use uuid::Uuid;

use super::{day_of, month_of, write::check};
use crate::{
    body::Faults,
    wire::{self, rate_card::RateCardRequest, site::SiteRequest},
};

fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn site(zone: &str) -> SiteRow {
    SiteRow {
        id: SiteId::from_uuid(Uuid::from_u128(1)),
        version: 1,
        name: "North clinic".to_owned(),
        time_zone: zone.to_owned(),
        currency: "GBP".parse().unwrap(),
        country: "GB".to_owned(),
        external: None,
        document: String::new(),
        created_at: at("2026-01-01T00:00:00Z"),
        updated_at: at("2026-01-01T00:00:00Z"),
    }
}

fn request(json: &str) -> SiteRequest {
    wire::stored(json).unwrap()
}

fn plain(zone: &str, currency: &str) -> SiteRequest {
    request(&format!(
        r#"{{"name":"x","country":"GB","time_zone":"{zone}","currency":"{currency}"}}"#
    ))
}

fn checked(request: &SiteRequest) -> (Option<RateCardRequest>, Vec<(String, &'static str)>) {
    let mut faults = Faults::new();
    let base = KnowledgeBase::builtin().unwrap();
    let checked = check(
        base.into(),
        request,
        at("2026-03-31T23:30:00Z"),
        &mut faults,
    );
    let faults = faults.into_inner().into_iter();
    let faults = faults.map(|fault| (fault.pointer.unwrap(), fault.code));
    (checked.map(|checked| checked.rate_card), faults.collect())
}

#[test]
fn days_and_months_are_those_at_the_site() {
    let late = at("2026-03-31T23:30:00Z");
    assert_eq!(month_of(&site("UTC"), late), "2026-03");
    assert_eq!(month_of(&site("Europe/London"), late), "2026-04");
    assert_eq!(month_of(&site("America/New_York"), late), "2026-03");
    assert_eq!(
        day_of(&site("Pacific/Auckland"), late).to_string(),
        "2026-04-01"
    );
    assert_eq!(
        month_of(&site("America/New_York"), at("2027-01-01T04:59:59.999Z")),
        "2026-12"
    );
}

#[test]
fn a_site_without_a_card_has_the_defaults_from_its_own_today_on() {
    let (card, faults) = checked(&plain("Europe/London", "JPY"));
    let card = card.unwrap();
    assert!(faults.is_empty());
    assert_eq!(card.valid_from.to_string(), "2026-04-01");
    assert_eq!(card.labour_per_h.currency, "JPY");
    assert_eq!(card.labour_per_h.amount, "16.5");
}

#[test]
fn every_fault_that_a_schema_cannot_see_is_told_at_once() {
    let (card, faults) = checked(&plain("Mars/Olympus", "XXX"));
    assert!(card.is_none());
    let expected = [
        ("#/time_zone", "unknown_time_zone"),
        ("#/currency", "unknown_currency"),
    ];
    assert_eq!(faults, expected.map(|(at, code)| (at.to_owned(), code)));
}

#[test]
fn a_card_is_kept_with_every_digit_and_in_order() {
    let card = r#"{"valid_from":"2026-05-01","labour_per_h":{"amount":"16.5","currency":"GBP"},
        "allowance_pct":10,"contingency_pct":5,"overhead_pct":12,"margin_pct":10,"tax_pct":17.555,"crew_size":2,
        "setup_min":30,"clean_down_min":30,"packs":[PACKS]}"#;
    let site = r#"{"name":"x","country":"GB","time_zone":"UTC","currency":"GBP","rate_card":CARD}"#;
    let with = |packs: &str| request(&site.replace("CARD", &card.replace("PACKS", packs)));
    let base = KnowledgeBase::builtin().unwrap();
    let product = &base.products[0].key;
    let pack = |size: &str, currency: &str| {
        format!(
            r#"{{"product":"{product}","size_l":{size},"price":{{"amount":"20.0001","currency":"{currency}"}}}}"#
        )
    };
    let (kept, faults) = checked(&with(&format!(
        "{},{}",
        pack("5", "GBP"),
        pack("2.5", "GBP")
    )));
    let kept = kept.unwrap();
    assert!(faults.is_empty());
    assert_eq!(kept.labour_per_h.amount, "16.50");
    let waste = kept.waste_per_l.as_ref().unwrap();
    assert_eq!(waste.amount, base.rate_card.waste_per_l);
    let sizes: Vec<f64> = kept.packs.iter().map(|pack| pack.size_l).collect();
    assert_eq!(sizes, [2.5, 5.0]);
    assert_eq!(kept.packs[0].price.amount, "20.0001");
    let document = wire::document(&kept).unwrap();
    let card = wire::rate_card::stored(&document, "GBP".parse().unwrap()).unwrap();
    assert_eq!(RateCardRequest::new(kept.valid_from, &card), kept);

    let unknown = pack("5", "GBP").replace(product, "no_such");
    let packs = [
        pack("5", "GBP"),
        pack("5.0", "GBP"),
        pack("9", "EUR"),
        unknown,
    ]
    .join(",");
    let (_, faults) = checked(&with(&packs));
    let expected = [
        ("#/rate_card/packs/3/product", "unknown_product"),
        ("#/rate_card/packs/1/size_l", "duplicate"),
        ("#/rate_card/packs/2/price/currency", "currency_mismatch"),
    ];
    assert_eq!(faults, expected.map(|(at, code)| (at.to_owned(), code)));
}
