//! Turns a survey, a climate and a candidate into the facts that conditions speak of.

use chrono::{Datelike, NaiveDate, TimeZone, Utc};

use super::{DraftPlanError, PlanInput, coats::recoat_of};
use crate::{
    knowledge::{Fact, Facts, Material, Process, Value},
    physics::psychrometrics::Air,
    quantity::{Length, float},
    survey::{
        Asbestos, Consent, FilmCondition, FilmKind, Finish, Joints, MoistureMethod, Obstruction,
        Profile, SlurryRoute, Soil, Survey, Traffic, Ventilation,
    },
};

/// What holds for every candidate: the floor, its film, the air, the wish.
pub(super) fn floor_facts<'a>(
    input: &PlanInput<'a>,
    material: &'a Material,
    air: &Air,
) -> Result<Facts<'a>, DraftPlanError> {
    let mut facts = Facts::new();
    of_material(&mut facts, input, material)?;
    of_survey(&mut facts, input);
    of_surroundings(&mut facts, input.survey);
    of_film(&mut facts, input);
    let climate = input.climate;
    facts.set(Fact::ClimateAssumed, input.climate_assumed);
    facts.set(Fact::ClimateAirC, climate.air_c);
    facts.set(Fact::ClimateFloorC, climate.floor_c);
    facts.set(Fact::ClimateHumidityPct, climate.humidity_pct);
    facts.set(Fact::ClimateDewMarginK, climate.floor_c - air.dew_point_c());
    facts.set(Fact::WishGoal, input.wish.goal.word());
    facts.set(Fact::WishFinish, input.wish.finish.map(Finish::word));
    Ok(facts)
}

fn of_material<'a>(
    facts: &mut Facts<'a>,
    input: &PlanInput<'_>,
    row: &'a Material,
) -> Result<(), DraftPlanError> {
    let rank = |key: &str| {
        let pad = input.base.pad(key).map(|pad| f64::from(pad.rank));
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
    let rough = input.survey.surroundings.profile;
    let rough = rough.is_some_and(|profile| matches!(profile, Profile::Studded | Profile::Gritty));
    facts.set(Fact::MaterialTextured, row.textured || rough);
    facts.set(Fact::MaterialFactoryFinished, row.factory_finished);
    facts.set(Fact::MaterialAsbestosEra, row.asbestos_era);
    facts.set(Fact::MaterialConcrete, row.concrete);
    facts.set(Fact::MaterialWood, row.wood);
    facts.set(Fact::MaterialStone, row.stone);
    facts.set(Fact::MaterialCeramic, row.ceramic);
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
        Asbestos::Untested => of_era || survey.black_adhesive == Some(true),
    };
    facts.set(Fact::SurveyAsbestosSuspected, suspected);
    facts.set(Fact::SurveyBlackAdhesive, survey.black_adhesive);
    facts.set(Fact::SurveyAreaM2, survey.area.m2());
    facts.set(Fact::SurveyPerimeterGiven, survey.perimeter.is_some());
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

fn of_surroundings(facts: &mut Facts<'_>, survey: &Survey) {
    let around = survey.surroundings;
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

fn of_film(facts: &mut Facts<'_>, input: &PlanInput<'_>) {
    let film = input.survey.film;
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
    let condition = film
        .condition
        .filter(|_state| film.kind != Some(FilmKind::Bare));
    facts.set(Fact::FilmCondition, condition.map(FilmCondition::word));
}

/// Adds what is known of a candidate before its steps are written out.
pub(super) fn add_process<'a>(facts: &mut Facts<'a>, process: &'a Process, named: bool) {
    facts.set(Fact::ProcessKey, process.key.as_str());
    facts.set(Fact::ProcessNamed, named);
    facts.set(Fact::ProcessWetness, f64::from(process.wetness));
    facts.set(Fact::ProcessStrips, process.strips);
    facts.set(Fact::ProcessScrubs, process.scrubs);
    facts.set(Fact::ProcessMains, process.mains);
    facts.set(Fact::ProcessDryBuffs, process.dry_buffs);
    facts.set(Fact::ProcessBurnishes, process.burnishes);
    facts.set(Fact::ProcessSweepsDry, process.sweeps_dry);
    facts.set(Fact::ProcessSands, process.sands);
    facts.set(Fact::ProcessImpregnates, process.impregnates);
    facts.set(Fact::ProcessSpecialist, process.specialist);
    facts.set(Fact::ProcessRecoat, process.recoat);
    facts.set(Fact::ProcessLaysPolish, process.lays_polish);
    facts.set(Fact::ProcessRestorative, process.restorative);
    facts.set(Fact::ProcessNeedsFilmKnown, process.needs_film_known);
    facts.set(Fact::ProcessClosesFloor, process.closes_floor);
    facts.set(Fact::PlanNothingSuits, false);
}

/// The number of a fact, where it is one.
pub(super) fn number(facts: &Facts<'_>, fact: Fact) -> Option<f64> {
    match facts.get(fact) {
        Value::Number(number) => Some(number),
        Value::Unknown | Value::Flag(_) | Value::Word(_) => None,
    }
}
