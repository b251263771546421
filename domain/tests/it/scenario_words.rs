//! Words of the scenario table for what a closer look told, what is arranged, and the tools and figures of a wish.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a table that cannot be read must stop the test"
)]

use domain::survey::{
    Cordon, Detection, DustBags, Lead, Rags, Residue, Stock, Strength, Survey, Sweeping, Wish, Zone,
};

/// Sets what a closer look told; says whether it knows the word.
pub(crate) fn set_closer_look(survey: &mut Survey, name: &str, value: &str) -> bool {
    let look = &mut survey.closer;
    match name {
        "zone" => look.zone = Zone::of(value),
        "mixed" => look.mixed_materials = true,
        "silicone" => look.silicone = true,
        "wood_moisture" => look.wood_moisture_pct = value.parse().ok(),
        "layer" => look.wear_layer_mm = value.parse().ok(),
        "lead" => look.lead = Lead::of(value).expect("a word"),
        "residue" => look.residue = Residue::of(value),
        "recent" => look.recent_products.push(value.to_owned()),
        _ => return false,
    }
    true
}

/// Sets what is arranged, and the tools and figures of a wish; says whether it knows the word.
pub(crate) fn set_arranged(wish: &mut Wish, name: &str, value: &str) -> bool {
    let said = &mut wish.arrangements;
    match name {
        "cordon" => said.cordon = Cordon::of(value),
        "detection" => said.detection = Detection::of(value),
        "rags" => said.rags = Rags::of(value),
        "bags" => said.dust_bags = DustBags::of(value),
        "stock" => said.stock = Stock::of(value),
        "sweeping" => said.sweeping = Sweeping::of(value),
        "mop_zone" => said.mop_zone = Zone::of(value),
        "solution" => said.solution_c = value.parse().ok(),
        "dwell" => wish.limits.waits.dwell_min = value.parse().ok(),
        "crew" => wish.limits.crew_size = value.parse().ok(),
        "machine" => wish.machine = Some(value.to_owned()),
        "pad" => wish.pad = Some(value.to_owned()),
        "strength" => {
            let parts: Vec<&str> = value.split(':').collect();
            let &[class, parts, pct] = parts.as_slice() else {
                panic!("strength=class:parts:pct, not {value}");
            };
            let thousandths = |text: &str| text.parse::<i64>().ok().map(|whole| whole * 1_000);
            let strength = Strength {
                parts_thousandths: thousandths(parts),
                pct_thousandths: thousandths(pct),
            };
            wish.strengths.insert(class.to_owned(), strength);
        }
        _ => return false,
    }
    true
}
