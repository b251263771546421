//! What a report says of hours, products and money, in the units of the ledger.

use chrono::NaiveDate;
use domain::{
    estimate::cost::LineKind,
    knowledge::{Process, Product, Products},
    money::{Money, UNITS},
    plan::Stage,
    quantity::{Labour, Volume, whole},
    record::{Dried, InvoiceLine, Reported, Used},
};
use infra::row::SiteRow;

use super::check::{CitedPlan, not_found};
use crate::{
    body::Faults,
    wire::{
        completion::{self as wire, CompletionRequest},
        money::MoneyRequest,
    },
};

/// The largest charge, in ledger units: sums of tens of thousands of them still fit.
const MAX_CHARGE: i64 = 10_000_000_000 * UNITS;

/// All but the products, whose part of the work depends on the process; that they exist is checked here.
pub(super) fn read(
    products: Products<'_>,
    request: &CompletionRequest,
    site: Option<&SiteRow>,
    faults: &mut Faults,
) -> Reported {
    if request.labour.is_empty()
        && request.products.is_empty()
        && request.charged.is_none()
        && request.invoice_lines.is_empty()
    {
        let detail = "Report hours, products or a charge.";
        faults.push("#/labour", "required", detail);
    }
    for (index, used) in request.products.iter().enumerate() {
        if products.product(&used.product).is_none() {
            not_found(faults, format!("#/products/{index}/product"), "product");
        }
    }
    for (index, dried) in request.dried.iter().enumerate() {
        let hold = products.base.hold(&dried.wait);
        if hold.is_none_or(|hold| !hold.coat && hold.water_g_m2.is_none()) {
            let pointer = format!("#/dried/{index}/wait");
            not_found(faults, pointer, "wait for a film that dries");
        }
    }
    Reported {
        dried: request.dried.iter().map(dried).collect(),
        labour: request
            .labour
            .iter()
            .map(|row| (row.stage.into(), seconds(row.hours)))
            .collect(),
        seal_coats: request.seal_coats,
        polish_coats: request.polish_coats,
        surface_ph_hundredths: request.surface_ph.and_then(|ph| whole(ph * 100.0)),
        charged: charged(request, site, faults),
        invoice: invoice(request, site, faults),
        ..Reported::default()
    }
}

fn dried(film: &wire::DriedFilm) -> Dried {
    Dried {
        wait: film.wait.clone(),
        after_min: film.after_min,
    }
}

/// The ledger keeps whole seconds; what is priced is what is kept.
fn seconds(hours: f64) -> Labour {
    let exact = Labour::from_hours(hours).unwrap_or(Labour::ZERO);
    Labour::from_seconds(exact.seconds_half_even())
}

/// The ledger keeps whole millilitres; what is priced is what is kept.
fn millilitres(litres: f64) -> Volume {
    let exact = Volume::from_l(litres).unwrap_or(Volume::ZERO);
    Volume::from_ml(exact.ml_half_even())
}

fn charged(
    request: &CompletionRequest,
    site: Option<&SiteRow>,
    faults: &mut Faults,
) -> Option<Money> {
    let (charged, site) = (request.charged.as_ref()?, site?);
    amount(charged, "#/charged", site, faults)
}

fn amount(
    sent: &MoneyRequest,
    pointer: &str,
    site: &SiteRow,
    faults: &mut Faults,
) -> Option<Money> {
    let money = sent.read_amount(site.currency, pointer, faults)?;
    if money.amount > MAX_CHARGE {
        let detail = format!("A charge may be up to {} units.", MAX_CHARGE / UNITS);
        faults.push(format!("{pointer}/amount"), "amount_out_of_range", detail);
    }
    Some(money)
}

/// The lines of the invoice; their sum is held to the same limit as a charge.
fn invoice(
    request: &CompletionRequest,
    site: Option<&SiteRow>,
    faults: &mut Faults,
) -> Vec<InvoiceLine> {
    let Some(site) = site else { return Vec::new() };
    let read = |(index, line): (usize, &wire::InvoiceLine)| {
        let pointer = format!("#/invoice_lines/{index}/net");
        Some(InvoiceLine {
            text: line.text.clone(),
            net: amount(&line.net, &pointer, site, faults)?,
        })
    };
    let lines: Vec<_> = request
        .invoice_lines
        .iter()
        .enumerate()
        .filter_map(read)
        .collect();
    let sum = lines
        .iter()
        .fold(0_i64, |sum, line| sum.saturating_add(line.net.amount));
    if sum > MAX_CHARGE {
        let detail = format!("Together they may be up to {} units.", MAX_CHARGE / UNITS);
        faults.push("#/invoice_lines", "amount_out_of_range", detail);
    }
    lines
}

/// The products that were used after their last day, on the day of the work.
pub(super) fn expired(request: &CompletionRequest, day: NaiveDate) -> Vec<String> {
    let late = |used: &&wire::UsedProduct| used.expires_on.is_some_and(|last| last < day);
    let late = request.products.iter().filter(late);
    late.map(|used| used.product.clone()).collect()
}

/// The products that are known, each in its part of the work; `usual` knows where one belongs that names none.
pub(super) fn used(
    products: Products<'_>,
    request: &CompletionRequest,
    usual: impl Fn(&Product) -> Stage,
) -> Vec<Used> {
    let rows = request.products.iter().filter_map(|row| {
        let product = products.product(&row.product)?;
        Some(Used {
            product: row.product.clone(),
            stage: row.stage.map_or_else(|| usual(product), Into::into),
            volume: millilitres(row.volume_l),
        })
    });
    rows.collect()
}

/// The part of the work in which the plan, else the process, uses products of a class; else the first part.
pub(super) fn usual_stage(
    product: &Product,
    plan: Option<&CitedPlan>,
    process: Option<&Process>,
) -> Stage {
    let lines = plan.map(|plan| plan.lines.as_slice()).unwrap_or_default();
    let planned = lines.iter().find(|line| {
        line.kind == LineKind::Product.word()
            && line.product_class.as_deref() == Some(product.class.as_str())
    });
    let steps = process
        .map(|process| process.steps.as_slice())
        .unwrap_or_default();
    let step = steps
        .iter()
        .find(|step| step.product.as_deref() == Some(product.class.as_str()))
        .or(steps.first());
    planned
        .and_then(|line| line.stage.as_deref())
        .or(step.map(|step| step.stage.as_str()))
        .and_then(Stage::of)
        .unwrap_or(Stage::Maintain)
}
