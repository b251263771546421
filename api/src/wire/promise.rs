//! What a kept plan promises: read back from the document that its caller was sent.

use domain::{quantity::Labour, record::Promised};
use serde::Deserialize;

use crate::problem::Problem;

/// What a kept plan promises, read from the document that was sent.
///
/// # Errors
/// `internal` if the kept document is not one that this service wrote.
pub(crate) fn promised(document: &str) -> Result<Promised, Problem> {
    let kept: Kept = serde_json::from_str(document).map_err(|error| Problem::internal(&error))?;
    let steps = kept
        .work
        .as_ref()
        .map(|work| work.steps.as_slice())
        .unwrap_or_default();
    let coats = |class: &str| {
        let laid = steps.iter().filter(|step| {
            step.coat.is_some()
                && step
                    .product
                    .as_ref()
                    .is_some_and(|product| product.class == class)
        });
        i64::try_from(laid.count()).unwrap_or(i64::MAX)
    };
    let last = steps
        .iter()
        .rposition(|step| step.coat.is_some())
        .unwrap_or(0);
    let between = steps.iter().take(last).filter(|step| step.coat.is_some());
    let least_wait = between
        .filter_map(|step| step.wait.as_ref())
        .map(KeptWait::least_min)
        .sum();
    let ph = steps
        .iter()
        .filter_map(|step| step.hold.as_ref())
        .find(|hold| hold.unit.as_deref() == Some("pH"));
    let hundredths = |value: f64| domain::quantity::whole(value * 100.0).unwrap_or(0);
    Ok(Promised {
        seal_coats: coats("seal"),
        polish_coats: coats("polish"),
        products: kept
            .work
            .iter()
            .flat_map(|work| work.products.iter().map(|line| line.product.key.clone()))
            .collect(),
        least_wait: Labour::from_minutes(least_wait),
        ph_hundredths: ph.and_then(|hold| Some((hundredths(hold.least?), hundredths(hold.most?)))),
        exceeded: false,
        later_than_work: false,
    })
}

#[derive(Deserialize)]
struct Kept {
    #[serde(default)]
    work: Option<KeptWork>,
}

#[derive(Deserialize)]
struct KeptWork {
    steps: Vec<KeptStep>,
    products: Vec<KeptLine>,
}

#[derive(Deserialize)]
struct KeptStep {
    #[serde(default)]
    coat: Option<serde::de::IgnoredAny>,
    #[serde(default)]
    product: Option<KeptProduct>,
    #[serde(default)]
    wait: Option<KeptWait>,
    #[serde(default)]
    hold: Option<KeptHold>,
}

#[derive(Deserialize)]
struct KeptProduct {
    class: String,
}

#[derive(Deserialize)]
#[expect(
    clippy::struct_field_names,
    reason = "the unit is part of a member's name"
)]
struct KeptWait {
    #[serde(default)]
    label_min: Option<i64>,
    #[serde(default)]
    usual_min: Option<i64>,
    #[serde(default)]
    maker_min: Option<i64>,
}

impl KeptWait {
    fn least_min(&self) -> i64 {
        let all = [self.label_min, self.usual_min, self.maker_min];
        all.into_iter().flatten().max().unwrap_or(0)
    }
}

#[derive(Deserialize)]
struct KeptHold {
    #[serde(default)]
    unit: Option<String>,
    #[serde(default)]
    least: Option<f64>,
    #[serde(default)]
    most: Option<f64>,
}

#[derive(Deserialize)]
struct KeptLine {
    product: KeptKey,
}

#[derive(Deserialize)]
struct KeptKey {
    key: String,
}
