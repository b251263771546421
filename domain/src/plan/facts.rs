//! Turns a survey, a climate and a candidate into the facts that conditions speak of.

use chrono::{Datelike, NaiveDate, TimeDelta, TimeZone, Utc};

use super::{DraftPlanError, PlanInput, coats::recoat_of};
use crate::{
    knowledge::{
        Chemical, Fact, Facts, IdentificationTest, KnowledgeBase, Material, Process, Product, Value,
    },
    physics::psychrometrics::Air,
    quantity::{Length, float},
    survey::{
        Arrangements, Asbestos, Consent, Cordon, Detection, DustBags, FilmCondition, FilmKind,
        Finish, Joints, MoistureMethod, Obstruction, Profile, Rags, Residue, SlurryRoute, Soil,
        Stock, Survey, Sweeping, Traffic, Ventilation, Zone,
    },
};

/// What holds for every candidate: the floor, its film, the air, the wish.
pub(super) fn floor_facts<'a>(
    input: &PlanInput<'a>,
    material: &'a Material,
    air: &Air,
) -> Result<Facts<'a>, DraftPlanError> {
    let mut facts = Facts::new();
    of_material(&mut facts, input.base, material)?;
    of_survey(&mut facts, input);
    of_closer_look(&mut facts, input);
    of_surroundings(&mut facts, input.survey, material);
    of_film(&mut facts, input, material);
    let climate = input.climate;
    facts.set(Fact::ClimateAssumed, input.climate_assumed);
    facts.set(Fact::RatesAssumed, input.card.assumed);
    facts.set(Fact::ClimateAirC, climate.air_c);
    facts.set(Fact::ClimateFloorC, climate.floor_c);
    facts.set(Fact::ClimateHumidityPct, climate.humidity_pct);
    facts.set(Fact::ClimateDewMarginK, climate.floor_c - air.dew_point_c());
    facts.set(Fact::WishGoal, input.wish.goal.word());
    facts.set(Fact::WishFinish, input.wish.finish.map(Finish::word));
    arranged(&mut facts, &input.wish.arrangements);
    Ok(facts)
}

/// What a floor covering stands, as facts.
pub(super) fn of_material<'a>(
    facts: &mut Facts<'a>,
    base: &KnowledgeBase,
    row: &'a Material,
) -> Result<(), DraftPlanError> {
    let rank = |key: &str| {
        let pad = base.pad(key).map(|pad| f64::from(pad.rank));
        pad.ok_or_else(|| DraftPlanError::Figure {
            what: format!("the rank of pad {key}"),
        })
    };
    facts.set(Fact::MaterialKey, row.key.as_str());
    facts.set(Fact::MaterialIdentified, row.identified);
    facts.set(Fact::MaterialResilient, row.resilient);
    facts.set(Fact::MaterialWater, f64::from(row.water));
    facts.set(Fact::MaterialSolvent, f64::from(row.solvent));
    facts.set(Fact::MaterialAcidWeak, f64::from(row.acid_weak));
    facts.set(Fact::MaterialAcidStrong, f64::from(row.acid_strong));
    facts.set(Fact::MaterialAlkali, f64::from(row.alkali));
    facts.set(Fact::MaterialPorosity, row.porosity.as_str());
    facts.set(Fact::MaterialSeal, row.seal.as_str());
    facts.set(Fact::MaterialPolish, row.polish.as_str());
    facts.set(Fact::MaterialPadRoutine, rank(&row.pad_routine)?);
    facts.set(Fact::MaterialPadRestorative, rank(&row.pad_restorative)?);
    let [ph_min, ph_max] = row.ph;
    facts.set(Fact::MaterialPhMin, ph_min);
    facts.set(Fact::MaterialPhMax, ph_max);
    facts.set(Fact::MaterialPhRestorativeMax, row.ph_restorative_max);
    facts.set(Fact::MaterialMop, row.mop.as_str());
    facts.set(Fact::MaterialTextured, row.textured);
    facts.set(Fact::MaterialFactoryFinished, row.factory_finished);
    facts.set(Fact::MaterialAsbestosEra, row.asbestos_era);
    facts.set(Fact::MaterialConcrete, row.concrete);
    facts.set(Fact::MaterialWood, row.wood);
    facts.set(Fact::MaterialStone, row.stone);
    facts.set(Fact::MaterialCeramic, row.ceramic);
    facts.set(Fact::MaterialCalcareous, row.calcareous);
    facts.set(Fact::MaterialResin, row.resin);
    facts.set(Fact::MaterialVeneer, row.veneer);
    facts.set(Fact::MaterialSports, row.sports);
    facts.set(Fact::MaterialImpregnator, row.impregnator.as_str());
    Ok(())
}

fn of_survey(facts: &mut Facts<'_>, input: &PlanInput<'_>) {
    let survey = input.survey;
    let (year, this_year) = (
        floor_year(survey),
        input.now.with_timezone(&input.zone).year(),
    );
    facts.set(Fact::SurveyBuiltYear, year.map(f64::from));
    let may_be_new = year.map(|year| year.saturating_add(1) >= this_year);
    facts.set(Fact::SurveyMayBeNew, may_be_new);
    facts.set(Fact::SurveyAsbestos, survey.asbestos.word());
    let cutoff = input.base.asbestos_cutoff(input.country);
    let cutoff_year = cutoff.map(|row| f64::from(row.year));
    facts.set(Fact::SurveyAsbestosCutoff, cutoff_year);
    let papers = cutoff.and_then(|row| row.papers_until).unwrap_or(0);
    facts.set(Fact::SurveyAsbestosPapersUntil, f64::from(papers));
    let is_old = year.is_none_or(|year| cutoff.is_none_or(|row| year < i32::from(row.year)));
    let of_era = facts.get(Fact::MaterialAsbestosEra) == Value::Flag(true) && is_old;
    let suspected = match survey.asbestos {
        Asbestos::Confirmed => true,
        Asbestos::TestedAbsent => false,
        Asbestos::Untested | Asbestos::DocumentedAbsent => {
            of_era || survey.black_adhesive == Some(true)
        }
    };
    facts.set(Fact::SurveyAsbestosSuspected, suspected);
    facts.set(Fact::SurveyBlackAdhesive, survey.black_adhesive);
    facts.set(Fact::SurveyAreaM2, survey.area.m2());
    let known = survey.perimeter.is_some() || survey.outline.is_some();
    facts.set(Fact::SurveyPerimeterGiven, known);
    let differs = survey.perimeter_differs(input.base.factors.outline_tolerance);
    facts.set(Fact::SurveyPerimeterDiffers, differs);
    let edge = survey.edge();
    facts.set(Fact::SurveyPerimeterPossible, !edge.approximated);
    let told = (!edge.approximated).then_some(edge.length);
    facts.set(Fact::SurveyPerimeterM, told.map(Length::m));
    facts.set(
        Fact::SurveySpace,
        survey.space.map_or("room", |space| space.word()),
    );
    facts.set(Fact::SurveyTraffic, survey.traffic.map(Traffic::word));
    facts.set(Fact::SurveySoil, survey.soil.map(Soil::word));
    facts.set(
        Fact::SurveyObstruction,
        survey.obstruction.map(Obstruction::word),
    );
    facts.set(
        Fact::SurveyFloorAgeH,
        survey.laid_on.and_then(|day| age_h(input, day)),
    );
    facts.set(Fact::SurveyMoistureRhPct, survey.moisture_rh_pct);
    facts.set(Fact::SurveyPtvWet, survey.ptv_wet);
    facts.set(Fact::SurveyGlossLossPct, survey.gloss_loss_pct);
    facts.set(Fact::SurveyWetInUse, survey.wet_in_use);
    facts.set(Fact::SurveyOccupied, survey.occupied);
    facts.set(Fact::SurveySoleEscapeRoute, survey.sole_escape_route);
    facts.set(Fact::SurveyStaticControl, survey.static_control);
    facts.set(Fact::SurveyRaisedAccess, survey.raised_access);
    facts.set(Fact::SurveyHeritage, survey.heritage);
    let consent = survey.heritage_consent.map(Consent::word);
    facts.set(Fact::SurveyHeritageConsent, consent);
}

/// Whole hours since the end of a day at the site: a floor is never taken to have lain longer than it has.
fn age_h(input: &PlanInput<'_>, laid: NaiveDate) -> Option<f64> {
    let next = laid.succ_opt()?;
    // Where the clock is put forward at midnight, the day begins an hour later.
    let mut begins = (0..3).filter_map(|hour| next.and_hms_opt(hour, 0, 0));
    let end = begins.find_map(|begin| input.zone.from_local_datetime(&begin).latest())?;
    Some(float(
        (input.now - end.with_timezone(&Utc)).num_hours().max(0),
    ))
}

fn of_closer_look<'a>(facts: &mut Facts<'a>, input: &PlanInput<'a>) {
    let look = &input.survey.closer;
    facts.set(Fact::SurveyZone, look.zone.map(Zone::word));
    facts.set(Fact::SurveyMixed, look.mixed_materials);
    facts.set(Fact::SurveySilicone, look.silicone);
    facts.set(Fact::SurveyWoodMoisturePct, look.wood_moisture_pct);
    facts.set(Fact::SurveyWearLayerMm, look.wear_layer_mm);
    facts.set(Fact::SurveyLead, look.lead.word());
    facts.set(Fact::SurveyResidue, look.residue.map(Residue::word));
    let products = input.products();
    let recent: Vec<&Product> = look
        .recent_products
        .iter()
        .filter_map(|key| products.product(key))
        .collect();
    for (chemical, _, recently) in CHEMICALS {
        if let Some(fact) = recently {
            facts.set(fact, any_contains(&recent, chemical));
        }
    }
}

/// What a candidate uses of each chemical, and what was used lately, as facts.
const CHEMICALS: [(Chemical, Fact, Option<Fact>); 12] = [
    (
        Chemical::Hypochlorite,
        Fact::UsedHypochlorite,
        Some(Fact::RecentHypochlorite),
    ),
    (Chemical::Acid, Fact::UsedAcid, Some(Fact::RecentAcid)),
    (Chemical::Hydrofluoric, Fact::UsedHydrofluoric, None),
    (Chemical::Amine, Fact::UsedAmine, Some(Fact::RecentAmine)),
    (Chemical::Alkali, Fact::UsedAlkali, Some(Fact::RecentAlkali)),
    (
        Chemical::Solvent,
        Fact::UsedSolvent,
        Some(Fact::RecentSolvent),
    ),
    (
        Chemical::Peroxide,
        Fact::UsedPeroxide,
        Some(Fact::RecentPeroxide),
    ),
    (
        Chemical::Cationic,
        Fact::UsedCationic,
        Some(Fact::RecentCationic),
    ),
    (
        Chemical::Anionic,
        Fact::UsedAnionic,
        Some(Fact::RecentAnionic),
    ),
    (Chemical::Salts, Fact::UsedSalts, None),
    (Chemical::Oil, Fact::UsedOil, None),
    (Chemical::Isocyanate, Fact::UsedIsocyanate, None),
];

fn any_contains(products: &[&Product], chemical: Chemical) -> bool {
    products.iter().any(|row| row.contains.contains(&chemical))
}

/// Tells the facts what the products of a candidate contain, and how strong and of what make they are.
///
/// A neutraliser is judged by rules of its own: what it may do is another question than what a cleaner may.
pub(super) fn add_products(
    facts: &mut Facts<'_>,
    used: &[&Product],
    neutraliser: Option<&Product>,
) {
    let phs = || {
        let others = used
            .iter()
            .filter(|row| neutraliser.is_none_or(|acid| acid.key != row.key));
        others.map(|product| product.ph_in_use)
    };
    facts.set(Fact::ProcessPhMax, phs().fold(7.0, f64::max));
    facts.set(Fact::ProcessPhMin, phs().fold(7.0, f64::min));
    let neutraliser = neutraliser.map(|row| row.ph_in_use);
    facts.set(Fact::ProcessNeutraliserPh, neutraliser);
    let supplied = || used.iter().map(|row| row.ph_supplied());
    facts.set(Fact::ProcessPhSuppliedMax, supplied().fold(7.0, f64::max));
    facts.set(Fact::ProcessPhSuppliedMin, supplied().fold(7.0, f64::min));
    let solvent = used.iter().any(|product| product.solvent);
    facts.set(Fact::ProcessSolvent, solvent);
    for (chemical, fact, _) in CHEMICALS {
        facts.set(fact, any_contains(used, chemical));
    }
}

fn arranged(facts: &mut Facts<'_>, said: &Arrangements) {
    facts.set(Fact::ArrangedCordon, said.cordon.map(Cordon::word));
    facts.set(Fact::ArrangedDetection, said.detection.map(Detection::word));
    facts.set(Fact::ArrangedRags, said.rags.map(Rags::word));
    facts.set(Fact::ArrangedDustBags, said.dust_bags.map(DustBags::word));
    facts.set(Fact::ArrangedStock, said.stock.map(Stock::word));
    facts.set(Fact::ArrangedSweeping, said.sweeping.map(Sweeping::word));
    facts.set(Fact::ArrangedMopZone, said.mop_zone.map(Zone::word));
    facts.set(Fact::ArrangedSolutionC, said.solution_c.map(float));
    let rated = said.machine_gradient_tenths;
    let rated = rated.map(|tenths| float(tenths) / 10.0);
    facts.set(Fact::ArrangedMachineGradientPct, rated);
}

fn of_surroundings(facts: &mut Facts<'_>, survey: &Survey, material: &Material) {
    let around = survey.surroundings;
    let rough = [Some(Profile::Studded), Some(Profile::Gritty)].contains(&around.profile);
    facts.set(Fact::MaterialTextured, material.textured || rough);
    let slope = around.ramp_gradient_pct.unwrap_or(0.0);
    facts.set(Fact::SurveyProfile, around.profile.map(Profile::word));
    facts.set(Fact::SurveyJoints, around.joints.map(Joints::word));
    let method = around.moisture_method.map(MoistureMethod::word);
    facts.set(Fact::SurveyMoistureMethod, method);
    facts.set(Fact::SurveyRampGradientPct, slope);
    facts.set(
        Fact::SurveyPtvOnLevel,
        survey.ptv_wet.map(|ptv| ptv - slope),
    );
    facts.set(Fact::SurveyUnderfloorHeating, around.underfloor_heating);
    facts.set(Fact::SurveyFloorBoxes, around.floor_boxes);
    facts.set(Fact::SurveySmokeDetection, around.smoke_detection);
    facts.set(Fact::SurveyRouteBypass, around.route_bypass);
    let ventilation = around.ventilation.map(Ventilation::word);
    facts.set(Fact::SurveyVentilation, ventilation);
    facts.set(Fact::SurveyIgnitionSource, around.ignition_source);
    facts.set(Fact::SurveyWater, around.water);
    facts.set(Fact::SurveyPower, around.power);
    facts.set(Fact::SurveyRcd, around.rcd);
    let slurry = around.slurry_to.map(SlurryRoute::word);
    facts.set(Fact::SurveySlurryTo, slurry);
}

/// The year that decides what a floor can be made of: that of the building, or that of laying where it is later.
fn floor_year(survey: &Survey) -> Option<i32> {
    let built = survey.built_year.map(i32::from);
    built.max(survey.laid_on.map(|day| day.year()))
}

fn of_film(facts: &mut Facts<'_>, input: &PlanInput<'_>, material: &Material) {
    let mut film = input.survey.film;
    film.kind = film
        .kind
        .or_else(|| FilmKind::of(material.film.as_deref()?));
    let one_of = |kinds: &[FilmKind]| film.kind.map(|kind| kinds.contains(&kind));
    let polished = one_of(&[FilmKind::Polish, FilmKind::SealAndPolish]);
    facts.set(Fact::FilmKind, film.kind.map(FilmKind::word));
    facts.set(Fact::FilmPolish, polished);
    facts.set(Fact::FilmWax, one_of(&[FilmKind::WaxOrOil]));
    let strippable = [FilmKind::Seal, FilmKind::Polish, FilmKind::SealAndPolish];
    facts.set(Fact::FilmPresent, one_of(&strippable));
    // What contradicts the kind of film counts for nothing: coats of polish under a seal, the state of no film.
    let coats = if polished == Some(false) {
        Some(0)
    } else {
        film.coats
    };
    facts.set(Fact::FilmCoats, coats.map(float));
    let recoated = coats.map(|coats| {
        let laid = input.wish.limits.polish_coats;
        coats.saturating_add(laid.unwrap_or_else(|| recoat_of(Some(coats))))
    });
    facts.set(Fact::FilmCoatsRecoated, recoated.map(float));
    let since = input.survey.coated_at.map(|at| input.now - at);
    // What was laid after this moment lies there in no plan that is made for it.
    let since = since.filter(|time| *time >= TimeDelta::zero());
    facts.set(Fact::FilmCoatedH, since.map(|time| float(time.num_hours())));
    let condition = film
        .condition
        .filter(|_state| film.kind != Some(FilmKind::Bare));
    facts.set(Fact::FilmCondition, condition.map(FilmCondition::word));
}

/// The field tests that help to find out something of this floor that nobody knows.
pub(super) fn tests_for(base: &KnowledgeBase, floor: &Facts<'_>) -> Vec<IdentificationTest> {
    let unknown = |fact| match fact {
        Fact::MaterialKey => floor.get(Fact::MaterialIdentified) == Value::Flag(false),
        _ => floor.get(fact).is_unknown(),
    };
    let tells = |name: &String| Fact::named(name).is_some_and(unknown);
    let suspected = floor.get(Fact::SurveyAsbestosSuspected) == Value::Flag(true);
    let tests = base.identification.iter();
    tests
        .filter(|test| !(test.disturbs && suspected))
        .filter(|test| test.tells.iter().any(tells))
        .cloned()
        .collect()
}

/// Adds what is known of a candidate before its steps are written out.
pub(crate) fn add_process<'a>(facts: &mut Facts<'a>, process: &'a Process, named: bool) {
    add_process_only(facts, process);
    facts.set(Fact::ProcessNamed, named);
    facts.set(Fact::PlanNothingSuits, false);
}

/// Adds what a process says of itself, whoever asks for it.
pub(super) fn add_process_only<'a>(facts: &mut Facts<'a>, process: &'a Process) {
    facts.set(Fact::ProcessKey, process.key.as_str());
    facts.set(Fact::ProcessWetness, f64::from(process.wetness));
    facts.set(Fact::ProcessStrips, process.strips);
    facts.set(Fact::ProcessScrubs, process.scrubs);
    facts.set(Fact::ProcessMains, process.mains);
    facts.set(Fact::ProcessDryBuffs, process.dry_buffs);
    facts.set(Fact::ProcessBurnishes, process.burnishes);
    facts.set(Fact::ProcessSweepsDry, process.sweeps_dry);
    facts.set(Fact::ProcessSands, process.sands);
    facts.set(Fact::ProcessImpregnates, process.impregnates);
    facts.set(Fact::ProcessBares, process.bares || process.strips);
    facts.set(Fact::ProcessOils, process.oils);
    facts.set(Fact::ProcessDewaxes, process.dewaxes);
    facts.set(Fact::ProcessDensifies, process.densifies);
    facts.set(Fact::ProcessWetsJoints, process.wets_joints);
    facts.set(Fact::ProcessSpecialist, process.specialist);
    facts.set(Fact::ProcessRecoat, process.recoat);
    facts.set(Fact::ProcessLaysPolish, process.lays_polish);
    facts.set(Fact::ProcessRestorative, process.restorative);
    facts.set(Fact::ProcessNeedsFilmKnown, process.needs_film_known);
    facts.set(Fact::ProcessClosesFloor, process.closes_floor);
}

/// The number of a fact, where it is one.
pub(super) fn number(facts: &Facts<'_>, fact: Fact) -> Option<f64> {
    match facts.get(fact) {
        Value::Number(number) => Some(number),
        Value::Unknown | Value::Flag(_) | Value::Word(_) => None,
    }
}

/// Whether more of a solution or rinse stays on the floor than on a smooth one: studs, grit, joints.
pub(super) fn is_rough(input: &PlanInput<'_>, facts: &Facts<'_>) -> bool {
    flag(facts, Fact::MaterialTextured)
        || flag(facts, Fact::MaterialCeramic)
        || input.survey.surroundings.joints == Some(Joints::Open)
}

/// Whether a fact is known to be so.
pub(super) fn flag(facts: &Facts<'_>, fact: Fact) -> bool {
    facts.get(fact) == Value::Flag(true)
}
