//! What a kept completion says was used, read back from the document that its caller was sent.

use domain::unrinsed::EarlierWork;
use serde::Deserialize;

use crate::problem::Problem;

/// What work used, by its document.
///
/// # Errors
/// `internal` if the kept document is not one that this service wrote.
pub(crate) fn earlier_work(process: &str, document: &str) -> Result<EarlierWork, Problem> {
    let kept: Kept = serde_json::from_str(document).map_err(|error| Problem::internal(&error))?;
    Ok(EarlierWork {
        process: process.to_owned(),
        products: kept.products.into_iter().map(|row| row.product).collect(),
        surface_ph: kept.surface_ph,
    })
}

#[derive(Deserialize)]
struct Kept {
    #[serde(default)]
    products: Vec<KeptProduct>,
    #[serde(default)]
    surface_ph: Option<f64>,
}

#[derive(Deserialize)]
struct KeptProduct {
    product: String,
}
