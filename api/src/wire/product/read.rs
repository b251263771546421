//! From a data sheet as it was sent to a product that is planned with.

use std::collections::BTreeSet;

use domain::{
    knowledge::{Condition, Coverage, Grade, KnowledgeBase, OwnProduct, Pack, Product},
    quantity::whole,
};

use super::{CoverageRequest, ProductRequest};
use crate::body::Faults;

impl ProductRequest {
    /// Notes what the schema cannot know: classes, materials, and the figures that a class needs.
    pub(crate) fn check(&self, base: &KnowledgeBase, faults: &mut Faults) {
        if base.product(&self.key).is_some() {
            let detail = "A product of the knowledge base has this key; choose another.";
            faults.push("#/key", "reserved", detail);
        }
        let mut of_class = base.products.iter().filter(|row| row.class == self.class);
        if let Some(example) = of_class.next() {
            self.check_figures(example.coverage_first.is_some(), faults);
        } else {
            let classes: BTreeSet<_> = base.products.iter().map(|row| &*row.class).collect();
            let classes: Vec<_> = classes.into_iter().collect();
            let detail = format!("The classes are {}.", classes.join(", "));
            faults.push("#/class", "unknown_class", detail);
        }
        let mut seen = BTreeSet::new();
        for (at, key) in self.suits.iter().enumerate() {
            let place = format!("#/suits/{at}");
            if base.material(key).is_none() {
                let detail = format!("No material is named `{key}`; GET /v1/materials lists them.");
                faults.push(place, "unknown_material", detail);
            } else if !seen.insert(key) {
                faults.push(place, "duplicate", "Name each once.");
            }
        }
        let mut sizes = BTreeSet::new();
        for (at, pack) in self.packs.iter().enumerate() {
            if !sizes.insert(whole(pack.size_l * 1e3)) {
                let place = format!("#/packs/{at}/size_l");
                faults.push(place, "duplicate", "Name each once.");
            }
        }
    }

    /// What is laid in coats is planned by coverage and waits, everything else by its dose.
    fn check_figures(&self, in_coats: bool, faults: &mut Faults) {
        let members = [
            ("dose_ml_m2", !in_coats, self.dose_ml_m2.is_some()),
            ("coverage_first", in_coats, self.coverage_first.is_some()),
            ("coverage_next", in_coats, self.coverage_next.is_some()),
            ("water_share", in_coats, self.water_share.is_some()),
            ("coat_wait_min", in_coats, self.coat_wait_min.is_some()),
            ("foot_wait_min", in_coats, self.foot_wait_min.is_some()),
        ];
        let of_coats = [
            ("apply_min_c", self.apply_min_c.is_some()),
            ("apply_max_c", self.apply_max_c.is_some()),
            ("humidity_max_pct", self.humidity_max_pct.is_some()),
        ];
        for (name, _given) in of_coats
            .into_iter()
            .filter(|(_, given)| *given && !in_coats)
        {
            let detail =
                "This class is not laid in coats: no air is too cold, warm or humid for it.";
            faults.push(format!("#/{name}"), "not_of_class", detail);
        }
        let range = self.apply_min_c.zip(self.apply_max_c);
        if range.is_some_and(|(least, most)| least > most) {
            let detail = "The coldest is warmer than the warmest.";
            faults.push("#/apply_min_c", "contradiction", detail);
        }
        for (name, needed, given) in members {
            let detail = if in_coats {
                "This class is laid in coats: it is planned by coverage and waits, not by a dose."
            } else {
                "This class is not laid in coats: it is planned by its dose."
            };
            match (needed, given) {
                (true, false) => faults.push(format!("#/{name}"), "required", detail),
                (false, true) => faults.push(format!("#/{name}"), "not_of_class", detail),
                (true, true) | (false, false) => {}
            }
        }
    }

    /// The product that plans choose from, of this version.
    pub(crate) fn product(&self, version: i64) -> Product {
        let sheet = &self.sheet;
        Product {
            key: self.key.clone(),
            class: self.class.clone(),
            also: Vec::new(),
            name: self.name.clone(),
            when: Condition::always(),
            dilution: self.dilution,
            dose_ml_m2: self.dose_ml_m2,
            coverage_first: self.coverage_first.as_ref().map(Into::into),
            coverage_next: self.coverage_next.as_ref().map(Into::into),
            water_share: self.water_share,
            coat_wait_min: self.coat_wait_min,
            foot_wait_min: self.foot_wait_min,
            apply_min_c: self.apply_min_c,
            apply_max_c: self.apply_max_c,
            humidity_max_pct: self.humidity_max_pct,
            ph_in_use: self.ph_in_use,
            ph_undiluted: self.ph_undiluted,
            solvent: self.solvent,
            // Its materials say whether it is made for wood.
            for_wood: false,
            same_direction: false,
            voc_g_l: self.voc_g_l,
            contains: self.contains.iter().copied().map(Into::into).collect(),
            ppe: self.ppe.clone(),
            packs: self.packs.iter().filter_map(pack).collect(),
            source: format!("data sheet {}, edition {}", sheet.reference, sheet.edition),
            grade: Grade::Published,
            own: Some(OwnProduct {
                version,
                suits: self.suits.clone(),
                withdrawn: self.withdrawn,
            }),
        }
    }
}

fn pack(row: &super::ProductPackRequest) -> Option<Pack> {
    Some(Pack {
        size_ml: whole(row.size_l * 1e3)?,
        price: row.example_price.clone(),
    })
}

impl From<&CoverageRequest> for Coverage {
    fn from(row: &CoverageRequest) -> Self {
        Self {
            none: row.none,
            low: row.low,
            medium: row.medium,
            high: row.high,
        }
    }
}
