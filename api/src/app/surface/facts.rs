//! What a surface's survey says beyond its schema: keys that must exist, figures that must agree.

use std::collections::BTreeSet;

use domain::knowledge::{Product, Products};
use infra::store::Tx;

use super::classify::at;
use crate::{
    app::product,
    body::Fault,
    problem::Problem,
    wire::surface::{MakerInstruction, SurfaceRequest},
};

/// The tenant's own products, if any of these instructions names products.
///
/// # Errors
/// Those of the store.
pub(super) async fn own_if<'r>(
    tx: &Tx,
    instructions: impl IntoIterator<Item = &'r Option<MakerInstruction>>,
) -> Result<Vec<Product>, Problem> {
    let mut read = instructions.into_iter().flatten();
    if read.any(|instruction| instruction.products.is_some()) {
        product::own(tx).await
    } else {
        Ok(Vec::new())
    }
}

/// Everything that is wrong with the facts of a survey.
pub(super) fn faults(known: Products<'_>, request: &SurfaceRequest, root: &str) -> Vec<Fault> {
    let mut faults = Vec::new();
    if let Some(read) = &request.maker_instruction {
        unknown_keys(
            known,
            read,
            &format!("{root}/maker_instruction"),
            &mut faults,
        );
    }
    for (index, window) in request.access_windows.iter().flatten().enumerate() {
        let days: BTreeSet<_> = window.days.iter().map(|day| format!("{day:?}")).collect();
        if days.len() < window.days.len() {
            let place = format!("access_windows/{index}/days");
            faults.push(at(root, &place, "duplicate", "Name each day once."));
        }
    }
    if let Some(services) = &request.services {
        let water = services.water.as_ref();
        let power = services.power.as_ref();
        let drain = services.drain.as_ref();
        let points = [
            ("water", water.map(|at| (at.present, at.distance_m))),
            ("power", power.map(|at| (at.present, at.distance_m))),
            ("drain", drain.map(|at| (at.present, at.distance_m))),
        ];
        for (name, point) in points {
            if let Some((false, Some(_far))) = point {
                let place = format!("services/{name}/distance_m");
                let detail = "What is not there is not at a distance.";
                faults.push(at(root, &place, "contradiction", detail));
            }
        }
    }
    faults
}

/// A fault for each key of an instruction that names nothing.
fn unknown_keys(known: Products<'_>, read: &MakerInstruction, root: &str, to: &mut Vec<Fault>) {
    let base = known.base;
    let is_class = |key: &str| base.products.iter().any(|row| row.class == key);
    let mut check =
        |member: &str, keys: &Option<Vec<String>>, code, exists: &dyn Fn(&str) -> bool| {
            for (index, key) in keys.iter().flatten().enumerate() {
                if !exists(key) {
                    let detail = format!("Nothing here is named `{key}`.");
                    to.push(at(root, &format!("{member}/{index}"), code, detail));
                }
            }
        };
    let processes = &read.forbidden_processes;
    check(
        "forbidden_processes",
        processes,
        "unknown_process",
        &|key| base.process(key).is_some(),
    );
    let classes = &read.forbidden_product_classes;
    check(
        "forbidden_product_classes",
        classes,
        "unknown_class",
        &is_class,
    );
    check("pads", &read.pads, "unknown_pad", &|key| {
        base.pad(key).is_some()
    });
    check("products", &read.products, "unknown_product", &|key| {
        known.product(key).is_some()
    });
}
