//! Words of the scenario table for what a closer look told, what is arranged, and the tools and figures of a wish.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a table that cannot be read must stop the test"
)]

use std::collections::BTreeMap;

use domain::{
    knowledge::{KnowledgeBase, Rule},
    survey::{
        AccessWindow, Cordon, Detection, DustBags, Joints, Lead, MakerFinish, MakerInstruction,
        MoistureMethod, Profile, Rags, Residue, SlurryRoute, Stock, Strength, Surroundings, Survey,
        Sweeping, Ventilation, Weekday, Wetness, Wish, Zone,
    },
};

use crate::common::now;

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
        "gradient" => {
            said.machine_gradient_tenths = value.parse::<i64>().ok().map(|pct| pct * 10);
        }
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

/// Sets what is in, under and around a floor; says whether it knows the word.
pub(crate) fn set_surroundings(around: &mut Surroundings, name: &str, value: &str) -> bool {
    let yes = match value {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    };
    match name {
        "profile" => around.profile = Profile::of(value),
        "joints" => around.joints = Joints::of(value),
        "method" => around.moisture_method = MoistureMethod::of(value),
        "ramp" => around.ramp_gradient_pct = value.parse().ok(),
        "vent" => around.ventilation = Ventilation::of(value),
        "changes" => around.air_changes_per_h = value.parse().ok(),
        "ceiling" => around.ceiling_height_m = value.parse().ok(),
        "alkalinity" => around.water_alkalinity_mg_l = value.parse().ok(),
        "residue_ph" => around.residue_ph = value.parse().ok(),
        "ignition" => around.ignition_source = yes,
        "heated" => around.underfloor_heating = true,
        "boxes" => around.floor_boxes = true,
        "smoke" => around.smoke_detection = true,
        "bypass" => around.route_bypass = true,
        "water" => around.water = yes,
        "power" => around.power = yes,
        "rcd" => around.rcd = yes,
        "slurry" => around.slurry_to = SlurryRoute::of(value),
        _ => return false,
    }
    true
}

/// Sets what the floor's maker says; says whether it knows the word.
pub(crate) fn set_maker(survey: &mut Survey, name: &str, value: &str) -> bool {
    if name == "opens" {
        let (from, to) = value.split_once('-').expect("opens=from-to, in hours");
        let hour = |text: &str| text.parse::<i64>().expect("an hour") * 60;
        survey.access_windows = vec![AccessWindow {
            days: vec![Weekday::Friday],
            from_min: hour(from),
            to_min: hour(to),
        }];
        return true;
    }
    let read = || MakerInstruction::new("care guide".to_owned(), now().date_naive());
    let Some(member) = name.strip_prefix("maker") else {
        return false;
    };
    let maker = survey.maker_instruction.get_or_insert_with(read);
    let (number, whole) = (value.parse::<f64>().ok(), value.parse::<i64>().ok());
    match member {
        "" => {}
        ".process" => maker.forbidden_processes = vec![value.to_owned()],
        ".class" => maker.forbidden_classes = vec![value.to_owned()],
        ".pads" => maker.pads = vec![value.to_owned()],
        ".product" => maker.products = vec![value.to_owned()],
        ".wettest" => maker.wettest = Wetness::of(value),
        ".ph_min" => maker.ph_min = number,
        ".ph_max" => maker.ph_max = number,
        ".finish" => maker.finish = MakerFinish::of(value),
        ".between" => maker.waits.between_coats_min = whole,
        ".seal" => maker.seal_coats = whole,
        _ => return false,
    }
    true
}

/// What no floor or product of the shipped data has.
pub(crate) fn set_base(
    base: &mut KnowledgeBase,
    survey: &Survey,
    rates: &mut BTreeMap<String, f64>,
    name: &str,
    value: &str,
) -> bool {
    let key = &survey.material;
    let rows = &mut base.materials;
    let row = rows
        .iter_mut()
        .find(|row| row.key == *key)
        .expect("a material");
    match name {
        "base.mop" => value.clone_into(&mut row.mop),
        "base.polish" => value.clone_into(&mut row.polish),
        "base.seal" => value.clone_into(&mut row.seal),
        "base.pad_routine" => value.clone_into(&mut row.pad_routine),
        "base.ph_min" => row.ph[0] = value.parse().expect("a number"),
        "base.ph_max" => {
            let most: f64 = value.parse().expect("a number");
            (row.ph[1], row.ph_restorative_max) = (most, most);
        }
        "base.pad_restorative" => value.clone_into(&mut row.pad_restorative),
        "base.acid_weak" => row.acid_weak = value.parse().expect("a number"),
        "base.alkali" => row.alkali = value.parse().expect("a number"),
        "base.acid_strong" => row.acid_strong = value.parse().expect("a number"),
        "base.sensitive" => row.solvent = value.parse().expect("a number"),
        "base.coverage" => {
            let m2_l = value.parse().expect("a number");
            let polish = base.products.iter_mut().filter(|p| p.class == "polish");
            for table in polish.filter_map(|p| p.coverage_next.as_mut()) {
                table.low = m2_l;
            }
        }
        "base.rpm" => {
            let rpm = value.parse().expect("a number");
            let rotary = base.machines.iter_mut();
            for machine in rotary.filter(|row| row.key == "rotary_43") {
                machine.rpm = Some([150, rpm]);
            }
        }
        "base.rate" => {
            let (activity, per_h) = value.split_once(':').expect("base.rate=activity:per_h");
            let per_h = per_h.parse().expect("a number");
            rates.insert(activity.to_owned(), per_h);
        }
        // Takes rules away that would refuse the same for another reason.
        "base.without" => {
            let gone = |rule: &Rule| value.split(',').any(|id| id == rule.id);
            assert!(base.rules.iter().any(gone), "no rule {value}");
            base.rules.retain(|rule| !gone(rule));
        }
        "base.voc" => {
            let content = value.parse().ok();
            base.products.iter_mut().for_each(|p| p.voc_g_l = content);
        }
        "base.solvent" => base.products.iter_mut().for_each(|p| p.solvent = true),
        "base.ph" => {
            let ph = value.parse().expect("a number");
            base.products.iter_mut().for_each(|p| p.ph_in_use = ph);
        }
        _ => return false,
    }
    true
}
