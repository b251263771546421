//! The registry of facts that rules and choices may speak of, each with its type.
//!
//! A fact is what is known of a floor, of the air over it, of what is wished or of a candidate process. It may be
//! unknown: then nothing that depends on it is guessed. To add one, append a line to the table and fill it in
//! `plan::facts`.

mod asked;
mod candidate;
mod named;

/// What a fact's value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FactType {
    /// Yes or no.
    Flag,
    /// A number in the unit that the fact's name carries.
    Number,
    /// One of a closed list of words.
    Word(&'static [&'static str]),
    /// Any word, such as a key of the knowledge base.
    Key,
}

macro_rules! facts {
    ($($variant:ident $name:literal $kind:expr, $doc:literal;)+) => {
        /// A fact of the registry.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Fact {
            $(#[doc = $doc] $variant,)+
        }

        impl Fact {
            /// All facts, in the registry's order.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The name that the data files use.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)+ }
            }

            /// The type of its value.
            pub const fn kind(self) -> FactType {
                match self { $(Self::$variant => $kind,)+ }
            }

            /// What it says, in one line.
            pub const fn meaning(self) -> &'static str {
                match self { $(Self::$variant => $doc,)+ }
            }
        }
    };
}

/// How much a bare floor drinks: words shared by facts and rows.
pub(crate) const POROSITY: &[&str] = &["none", "low", "medium", "high"];
pub(crate) const FILMS: &[&str] = &[
    "bare",
    "factory_finish",
    "seal",
    "polish",
    "seal_and_polish",
    "wax_or_oil",
];
const ZONES: &[&str] = &["general", "washroom", "kitchen", "clinical"];
const CONDITIONS: &[&str] = &[
    "sound",
    "soiled",
    "scuffed",
    "worn",
    "yellowed",
    "peeling",
    "powdering",
    "sticky",
];

facts! {
    MaterialKey "material.key" FactType::Key, "The material's key.";
    MaterialIdentified "material.identified" FactType::Flag, "Whether anybody knows what the floor is made of.";
    MaterialResilient "material.resilient" FactType::Flag, "Whether it is a resilient covering.";
    MaterialWater "material.water" FactType::Number, "Sensitivity to water, 0 none to 4 never wet.";
    MaterialSolvent "material.solvent" FactType::Number, "Sensitivity to solvents, 0 to 3.";
    MaterialAcidWeak "material.acid_weak" FactType::Number, "Sensitivity to acid of vinegar strength, 0 to 3.";
    MaterialAcidStrong "material.acid_strong" FactType::Number, "Sensitivity to strong acid, 0 to 3.";
    MaterialAlkali "material.alkali" FactType::Number, "Sensitivity to alkali, 0 to 3.";
    MaterialPorosity "material.porosity" FactType::Word(POROSITY), "How much the bare floor drinks.";
    MaterialSeal "material.seal" FactType::Word(&["never", "optional", "needed"]), "Whether a seal belongs on it.";
    MaterialPolish "material.polish" FactType::Word(&["never", "optional", "yes"]), "Whether a polish belongs on it.";
    MaterialPadRoutine "material.pad_routine" FactType::Number, "Rank of the hardest pad for routine work.";
    MaterialPadRestorative "material.pad_restorative" FactType::Number, "Rank of the hardest pad for restorative work.";
    MaterialPhMin "material.ph_min" FactType::Number, "Lowest pH of routine solutions.";
    MaterialPhMax "material.ph_max" FactType::Number, "Highest pH of routine solutions.";
    MaterialPhRestorativeMax "material.ph_restorative_max" FactType::Number, "Highest pH of restorative solutions.";
    MaterialMop "material.mop" FactType::Word(&["wet", "damp", "dry"]), "The wettest mop that it stands.";
    MaterialTextured "material.textured" FactType::Flag, "Whether a rough face gives it its grip.";
    MaterialFactoryFinished "material.factory_finished" FactType::Flag, "Whether it left the factory with a wear coat.";
    MaterialAsbestosEra "material.asbestos_era" FactType::Flag, "Whether old floors of this kind were made with asbestos.";
    MaterialConcrete "material.concrete" FactType::Flag, "Whether it is concrete.";
    MaterialWood "material.wood" FactType::Flag, "Whether it is wood or cork.";
    MaterialStone "material.stone" FactType::Flag, "Whether it is stone or terrazzo.";
    MaterialCeramic "material.ceramic" FactType::Flag, "Whether it is fired tile in cement grout.";
    MaterialCalcareous "material.calcareous" FactType::Flag, "Whether acid dissolves it because it is lime.";
    MaterialResin "material.resin" FactType::Flag, "Whether it is a resin that was laid wet.";
    MaterialVeneer "material.veneer" FactType::Flag, "Whether it is wood with a thin layer on top.";
    MaterialSports "material.sports" FactType::Flag, "Whether sport is played on it.";
    MaterialImpregnator "material.impregnator" FactType::Word(&["never", "optional", "needed"]), "Whether an impregnator belongs into it.";
    SurveyBuiltYear "survey.built_year" FactType::Number, "Year in which the building was built.";
    SurveyAsbestos "survey.asbestos" FactType::Word(&["untested", "tested_absent", "documented_absent", "confirmed"]), "What a test or papers said of asbestos.";
    SurveyAsbestosCutoff "survey.asbestos_cutoff" FactType::Number, "First year in which the country presumes no asbestos.";
    SurveyAsbestosPapersUntil "survey.asbestos_papers_until" FactType::Number, "Year up to which the country wants papers all the same; 0 where it does not.";
    SurveyAsbestosSuspected "survey.asbestos_suspected" FactType::Flag, "Whether asbestos was found or is presumed.";
    SurveyBlackAdhesive "survey.black_adhesive" FactType::Flag, "Whether black adhesive lies under the floor.";
    SurveyAreaM2 "survey.area_m2" FactType::Number, "Area in m².";
    SurveyPerimeterGiven "survey.perimeter_given" FactType::Flag, "Whether a perimeter was given.";
    SurveyPerimeterDiffers "survey.perimeter_differs" FactType::Flag, "Whether the given perimeter is not that of the outline.";
    SurveyPerimeterM "survey.perimeter_m" FactType::Number, "Length of its edges in m, as given where that is possible.";
    SurveyPerimeterPossible "survey.perimeter_possible" FactType::Flag, "Whether the given perimeter can enclose the area.";
    SurveySpace "survey.space" FactType::Word(&["room", "corridor", "hall"]), "The kind of space.";
    SurveyTraffic "survey.traffic" FactType::Word(&["very_light", "light", "medium", "heavy", "very_heavy"]), "Traffic class.";
    SurveySoil "survey.soil" FactType::Word(&["light", "normal", "heavy"]), "How soiled it is.";
    SurveyObstruction "survey.obstruction" FactType::Word(&["open", "light", "medium", "heavy"]), "How much furniture stands on it.";
    SurveyFloorAgeH "survey.floor_age_h" FactType::Number, "Hours since the floor was laid.";
    SurveyMayBeNew "survey.may_be_new" FactType::Flag, "Whether the year of building or laying is this one or the last.";
    SurveyMoistureRhPct "survey.moisture_rh_pct" FactType::Number, "Moisture of the substrate in % RH.";
    SurveyPtvWet "survey.ptv_wet" FactType::Number, "Wet pendulum test value.";
    SurveyGlossLossPct "survey.gloss_loss_pct" FactType::Number, "How much gloss was lost since hand-over, in %.";
    SurveyWetInUse "survey.wet_in_use" FactType::Flag, "Whether it gets wet in use.";
    SurveyOccupied "survey.occupied" FactType::Flag, "Whether people are around during the work.";
    SurveySoleEscapeRoute "survey.sole_escape_route" FactType::Flag, "Whether it is the only way out of somewhere.";
    SurveyStaticControl "survey.static_control" FactType::Flag, "Whether it is a static-control floor.";
    SurveyRaisedAccess "survey.raised_access" FactType::Flag, "Whether it lies on a raised access floor.";
    SurveyHeritage "survey.heritage" FactType::Flag, "Whether it is a heritage floor.";
    SurveyHeritageConsent "survey.heritage_consent" FactType::Word(&["none", "given"]), "Whether work on a heritage floor has consent.";
    SurveyZone "survey.zone" FactType::Word(ZONES), "The colour zone that it lies in.";
    SurveyMixed "survey.mixed_materials" FactType::Flag, "Whether it is of more than one material.";
    SurveySilicone "survey.silicone" FactType::Flag, "Whether silicone was found on it.";
    SurveyWoodMoisturePct "survey.wood_moisture_pct" FactType::Number, "Moisture of the wood in %.";
    SurveyWearLayerMm "survey.wear_layer_mm" FactType::Number, "Thickness of the layer that can be sanded, in mm.";
    SurveyLead "survey.lead" FactType::Word(&["untested", "absent", "found"]), "What a test of old coatings for lead said.";
    SurveyResidue "survey.residue" FactType::Word(&["grease", "hard_water", "detergent", "cement_haze"]), "What was left on it.";
    RecentHypochlorite "recent.hypochlorite" FactType::Flag, "Whether bleach was used on it lately and not rinsed off.";
    RecentAcid "recent.acid" FactType::Flag, "Whether acid was used on it lately and not rinsed off.";
    RecentAmine "recent.amine" FactType::Flag, "Whether ammonia or amines were used on it lately and not rinsed off.";
    RecentAlkali "recent.alkali" FactType::Flag, "Whether strong alkali was used on it lately and not rinsed off.";
    RecentSolvent "recent.solvent" FactType::Flag, "Whether a solvent was used on it lately and not rinsed off.";
    RecentPeroxide "recent.peroxide" FactType::Flag, "Whether peroxide was used on it lately and not rinsed off.";
    RecentAnionic "recent.anionic" FactType::Flag, "Whether anionic detergent was used on it lately and not rinsed off.";
    RecentCationic "recent.cationic" FactType::Flag, "Whether a cationic disinfectant was used there lately and not rinsed off.";
    SurveyProfile "survey.profile" FactType::Word(&["smooth", "embossed", "studded", "gritty"]), "Its face, where it is another than that of its material.";
    SurveyJoints "survey.joints" FactType::Word(&["seamless", "welded", "filled", "open"]), "Its joints.";
    SurveyMoistureMethod "survey.moisture_method" FactType::Word(&["in_situ_probe", "surface_hood", "surface_meter"]), "How the moisture of the substrate was read.";
    SurveyRampGradientPct "survey.ramp_gradient_pct" FactType::Number, "Its slope in %; 0 where nobody said.";
    SurveyPtvOnLevel "survey.ptv_on_level" FactType::Number, "Wet pendulum test value, less one for each % of slope.";
    SurveyUnderfloorHeating "survey.underfloor_heating" FactType::Flag, "Whether it is heated from below.";
    SurveyFloorBoxes "survey.floor_boxes" FactType::Flag, "Whether boxes with sockets lie in it.";
    SurveySmokeDetection "survey.smoke_detection" FactType::Flag, "Whether smoke detectors watch the room.";
    SurveyRouteBypass "survey.route_bypass" FactType::Flag, "Whether people can be led past the work.";
    SurveyVentilation "survey.ventilation" FactType::Word(&["closed", "natural", "extract"]), "How the air of the room is changed.";
    SurveyIgnitionSource "survey.ignition_source" FactType::Flag, "Whether a flame, a heater or anything that sparks is near.";
    SurveyWater "survey.water" FactType::Flag, "Whether there is water to draw.";
    SurveyPower "survey.power" FactType::Flag, "Whether there is a socket for a machine.";
    SurveyRcd "survey.rcd" FactType::Flag, "Whether a residual-current device guards the socket.";
    SurveySlurryTo "survey.slurry_to" FactType::Word(&["foul_drain", "interceptor", "collect", "surface_water", "nowhere"]), "Where slurry may go.";
    MakerRead "maker.read" FactType::Flag, "Whether the instruction of the floor's maker was read.";
    MakerForbidsProcess "maker.forbids_process" FactType::Flag, "Whether the maker forbids the candidate.";
    MakerForbidsProduct "maker.forbids_product" FactType::Flag, "Whether the candidate uses a product of a class that the maker forbids.";
    MakerForbidsPad "maker.forbids_pad" FactType::Flag, "Whether the candidate uses a pad that is not one of the maker's.";
    MakerOtherProduct "maker.other_product" FactType::Flag, "Whether the candidate uses another product than the maker demands for its class.";
    MakerWettest "maker.wettest" FactType::Number, "The wettest that the maker allows: 0 dry, 1 damp, 2 wet, 3 flooded.";
    MakerPhMin "maker.ph_min" FactType::Number, "The lowest pH that the maker allows.";
    MakerPhMax "maker.ph_max" FactType::Number, "The highest pH that the maker allows.";
    MakerFinish "maker.finish" FactType::Word(&["bare", "seal", "polish", "seal_and_polish"]), "What the maker wants on the floor.";
    MakerOverruled "maker.overruled" FactType::Flag, "Whether the caller's own coats, gap or waits differ from the maker's.";
    FilmKind "film.kind" FactType::Word(FILMS), "What lies on the floor now.";
    FilmPresent "film.present" FactType::Flag, "Whether a film that can be stripped lies on it.";
    FilmPolish "film.polish" FactType::Flag, "Whether the top film is a polish.";
    FilmWax "film.wax" FactType::Flag, "Whether wax or oil lies on it.";
    FilmCoats "film.coats" FactType::Number, "Coats of polish on it.";
    FilmCoatsRecoated "film.coats_recoated" FactType::Number, "Coats of polish once it is recoated.";
    FilmCoatedH "film.coated_h" FactType::Number, "Hours since the last coat was laid, by what was recorded.";
    FilmCondition "film.condition" FactType::Word(CONDITIONS), "Condition of the film.";
    ClimateAssumed "climate.assumed" FactType::Flag, "Whether nobody has read or told the air over the floor.";
    RatesAssumed "rates.assumed" FactType::Flag, "Whether nobody has told the rates that the work is priced by.";
    ClimateAirC "climate.air_c" FactType::Number, "Air temperature in °C.";
    ClimateFloorC "climate.floor_c" FactType::Number, "Floor temperature in °C.";
    ClimateHumidityPct "climate.humidity_pct" FactType::Number, "Relative humidity in %.";
    ClimateDewMarginK "climate.dew_margin_k" FactType::Number, "Floor temperature above the dew point, in K.";
    ProcessKey "process.key" FactType::Key, "The candidate's key.";
    ProcessNamed "process.named" FactType::Flag, "Whether the caller asked for this very process.";
    ProcessWetness "process.wetness" FactType::Number, "0 dry, 1 damp, 2 wet, 3 flooded.";
    ProcessStrips "process.strips" FactType::Flag, "Whether it takes the film off.";
    ProcessScrubs "process.scrubs" FactType::Flag, "Whether a rotary machine scrubs wet.";
    ProcessDryBuffs "process.dry_buffs" FactType::Flag, "Whether a pad works the floor dry or nearly dry.";
    ProcessBurnishes "process.burnishes" FactType::Flag, "Whether a fast pad melts the top of a film into shine.";
    ProcessSweepsDry "process.sweeps_dry" FactType::Flag, "Whether it takes dust up dry.";
    ProcessSands "process.sands" FactType::Flag, "Whether it abrades the floor dry with screens or discs.";
    ProcessImpregnates "process.impregnates" FactType::Flag, "Whether it fills the floor's pores with an impregnator.";
    ProcessBares "process.bares" FactType::Flag, "Whether it takes everything off down to the bare floor.";
    ProcessOils "process.oils" FactType::Flag, "Whether it renews wax or oil.";
    ProcessDewaxes "process.dewaxes" FactType::Flag, "Whether it takes wax off.";
    ProcessDensifies "process.densifies" FactType::Flag, "Whether it hardens the floor's own surface.";
    ProcessWetsJoints "process.wets_joints" FactType::Flag, "Whether joints are soaked with water before an acid.";
    ProcessPadMaxRpm "process.pad_max_rpm" FactType::Number, "The fastest that its slowest pad may turn, in rpm.";
    ProcessRpm "process.rpm" FactType::Number, "The fastest that its pads or brushes turn, in rpm; 0 where nothing turns.";
    ProcessMachineMinM2 "process.machine_least_m2" FactType::Number, "The smallest floor that its largest machine is worth, in m².";
    ProcessMachineRides "process.machine_rides" FactType::Flag, "Whether a machine that somebody rides or nobody leads is used.";
    ProcessMachineTurns "process.machine_turns" FactType::Flag, "Whether a machine is used that turns a pad, a brush or a disc.";
    ProcessMachineUnused "process.machine_unused" FactType::Flag, "Whether the machine that the wish names has no work here.";
    UsedHypochlorite "used.hypochlorite" FactType::Flag, "Whether it uses bleach.";
    UsedAcid "used.acid" FactType::Flag, "Whether it uses acid.";
    UsedHydrofluoric "used.hydrofluoric" FactType::Flag, "Whether it uses hydrofluoric acid.";
    UsedAmine "used.amine" FactType::Flag, "Whether it uses ammonia or amines.";
    UsedAlkali "used.alkali" FactType::Flag, "Whether it uses strong alkali.";
    UsedSolvent "used.solvent" FactType::Flag, "Whether it uses a solvent.";
    UsedPeroxide "used.peroxide" FactType::Flag, "Whether it uses peroxide.";
    UsedCationic "used.cationic" FactType::Flag, "Whether it uses a cationic disinfectant.";
    UsedAnionic "used.anionic" FactType::Flag, "Whether it uses anionic detergent.";
    UsedSalts "used.salts" FactType::Flag, "Whether it uses salts that crystallise.";
    UsedOil "used.oil" FactType::Flag, "Whether it uses a drying oil.";
    UsedIsocyanate "used.isocyanate" FactType::Flag, "Whether it uses a product with diisocyanate.";
    ProcessSpecialist "process.specialist" FactType::Flag, "Whether it is the work of another trade.";
    ProcessRecoat "process.recoat" FactType::Flag, "Whether its coats renew a film instead of building one.";
    ProcessLaysSeal "process.lays_seal" FactType::Flag, "Whether it lays a seal.";
    ProcessLaysPolish "process.lays_polish" FactType::Flag, "Whether it lays a polish.";
    ProcessLaysFilm "process.lays_film" FactType::Flag, "Whether it lays a seal or a polish.";
    ProcessPadRank "process.pad_rank" FactType::Number, "Rank of its hardest pad.";
    ProcessRestorative "process.restorative" FactType::Flag, "Whether its pads and solutions are restorative ones.";
    ProcessPhMax "process.ph_max" FactType::Number, "Highest in-use pH of its products, that of a neutraliser apart.";
    ProcessPhMin "process.ph_min" FactType::Number, "Lowest in-use pH of its products, that of a neutraliser apart.";
    ProcessNeutraliserPh "process.neutraliser_ph" FactType::Number, "In-use pH of its neutraliser.";
    ProcessPhSuppliedMax "process.ph_supplied_max" FactType::Number, "Highest pH of its products as they are supplied.";
    ProcessPhSuppliedMin "process.ph_supplied_min" FactType::Number, "Lowest pH of its products as they are supplied.";
    ProcessMains "process.mains" FactType::Flag, "Whether a machine on a mains lead works or takes up the wet.";
    ProcessSolvent "process.solvent" FactType::Flag, "Whether it uses a solvent-based product.";
    ProcessApplyMinC "process.apply_min_c" FactType::Number, "The coldest air and floor that all its coats are laid in, in °C.";
    ProcessApplyMaxC "process.apply_max_c" FactType::Number, "The warmest air and floor that all its coats are laid in, in °C.";
    ProcessHumidityMaxPct "process.humidity_max_pct" FactType::Number, "The most humid air that all its coats are laid in, in %.";
    ProcessSealForWood "process.seal_for_wood" FactType::Flag, "Whether the seal that it lays is made for wood.";
    ProcessNeedsFilmKnown "process.needs_film_known" FactType::Flag, "Whether the film decides if it is right.";
    ProcessClosesFloor "process.closes_floor" FactType::Flag, "Whether nobody may walk there for hours.";
    WishGoal "wish.goal" FactType::Word(&["clean", "maintain", "restore", "protect", "make_safe"]), "What is wished.";
    WishFinish "wish.finish" FactType::Word(&["matt", "satin", "gloss"]), "The finish that is wished.";
    ArrangedCordon "arranged.cordon" FactType::Word(&["barrier", "signs_only"]), "How people are kept off.";
    ArrangedDetection "arranged.detection" FactType::Word(&["isolated_by_permit", "live"]), "What becomes of smoke detectors.";
    ArrangedRags "arranged.rags" FactType::Word(&["metal_bin_with_water", "spread_outdoors", "plastic_sack"]), "Where rags with oil go.";
    ArrangedDustBags "arranged.dust_bags" FactType::Word(&["emptied_outdoors", "kept_indoors"]), "Where dust bags are over night.";
    ArrangedStock "arranged.stock" FactType::Word(&["sound", "expired", "frozen"]), "In what state the products are.";
    ArrangedSweeping "arranged.sweeping" FactType::Word(&["plain", "oil_compound", "sand_compound"]), "What the dust is swept up with.";
    ArrangedMopZone "arranged.mop_zone" FactType::Word(ZONES), "The colour zone of the mops and cloths.";
    ArrangedSolutionC "arranged.solution_c" FactType::Number, "Temperature of the solutions in °C.";
    ArrangedMachineGradientPct "arranged.machine_gradient_pct" FactType::Number, "The steepest ramp that the machine is rated for, in %.";
    ProcessMachineGradientPct "process.machine_gradient_pct" FactType::Number, "The steepest ramp that machines of its kinds are usually rated for, in %; 0 for level floors only.";
    PlanDwellMin "plan.dwell_min" FactType::Number, "How long a stripper or cleaner is left to work, in minutes.";
    PlanDwellMostMin "plan.dwell_most_min" FactType::Number, "The longest that it may work, in minutes.";
    PlanSolutionDriesMin "plan.solution_dries_min" FactType::Number, "After how many minutes the solution would dry up.";
    PlanCoverage "plan.polish_m2_l" FactType::Number, "The largest area in m² that a litre of polish is spread over.";
    PlanCrewSize "plan.crew_size" FactType::Number, "Operatives who work at the same time.";
    PlanAreaEach "plan.m2_each" FactType::Number, "Floor in m² for each of them.";
    PlanRateTooGood "plan.rate_above_best" FactType::Flag, "Whether a rate of the site's card is above the best that the table knows.";
    PlanStrengthContradicts "plan.strength_contradicts" FactType::Flag, "Whether a strength was given as parts and as a share that differ.";
    PlanStrongerThanLabel "plan.stronger_than_label" FactType::Flag, "Whether a product is used stronger than its class ever is.";
    PlanWeakerThanLabel "plan.weaker_than_label" FactType::Flag, "Whether a product is used weaker than its class ever is.";
    PlanSealCoats "plan.seal_coats" FactType::Number, "Coats of seal that the candidate lays.";
    PlanNewCoats "plan.new_coats" FactType::Number, "Coats of polish that the candidate adds.";
    PlanTotalCoats "plan.total_coats" FactType::Number, "Coats of polish after the work.";
    PlanAcid "plan.acid" FactType::Flag, "Whether the candidate would use an acid neutraliser.";
    PlanRinsesInstead "plan.rinses_instead" FactType::Flag, "Whether rinses take the place of an acid neutraliser.";
    PlanSealLeftOut "plan.seal_left_out" FactType::Flag, "Whether a polish goes straight onto a floor that needs no seal.";
    PlanWaitsGiven "plan.waits_given" FactType::Flag, "Whether the caller gave waits shorter than those worked out.";
    PlanCoatsOneWay "plan.coats_one_way" FactType::Flag, "Whether the floor is too narrow for coats at a right angle to one another.";
    PlanLongestBlockMin "plan.longest_block_min" FactType::Number, "The longest part that cannot be split, in minutes.";
    PlanWindowMin "plan.window_min" FactType::Number, "The access window, in minutes.";
    PlanWindowOfFloor "plan.window_of_floor" FactType::Flag, "Whether the access window is the longest of the floor's own.";
    PlanNothingSuits "plan.nothing_suits" FactType::Flag, "Whether none of the processes for the goal is right for the floor.";
    PlanWaitBelowLeast "plan.wait_below_least" FactType::Flag, "Whether the caller gave a wait shorter than any that is safe.";
    PlanDoesNotDry "plan.does_not_dry" FactType::Flag, "Whether something that is laid does not dry in this air.";
    PlanRinses "plan.rinses" FactType::Number, "Clean rinses in the plan, where a solution leaves alkali.";
    PlanRinsesNeeded "plan.rinses_needed" FactType::Number, "Clean rinses that take the alkali off, where a solution leaves any.";
    PlanNeutraliserPhInWater "plan.neutraliser_ph_in_water" FactType::Number, "pH of the acid neutraliser as it is diluted, in this tap water.";
    PlanVocMgM3 "plan.voc_mg_m3" FactType::Number, "The most vapour that the air of the room holds, in mg/m³.";
    PlanVocLimitMgM3 "plan.voc_limit_mg_m3" FactType::Number, "What the air may hold of it over a working day, in mg/m³.";
    PlanSlurryPh "plan.slurry_ph" FactType::Number, "pH of the slurry, all of it mixed.";
    ProcessVocGL "process.voc_g_l" FactType::Number, "Volatile organic compounds in g/L of the coating that comes nearest to the law's limit, or beyond it.";
    ProcessVocLimitGL "process.voc_limit_g_l" FactType::Number, "That limit in the country of the site, in g/L.";
    PlanFilmC "plan.film_c" FactType::Number, "Temperature of a water-based coat while it dries, in °C: evaporation cools it.";
    PlanHumidityPeakPct "plan.humidity_peak_pct" FactType::Number, "How humid the room grows while a coat dries, in %.";
    PlanFurnitureWaitMin "plan.furniture_wait_min" FactType::Number, "The caller's wait from the last coat to furniture, in minutes.";
    PlanWetCleanWaitMin "plan.wet_clean_wait_min" FactType::Number, "The caller's wait from the last coat to wet cleaning, in minutes.";
    PlanElapsedMin "plan.elapsed_min" FactType::Number, "The whole elapsed time, in minutes.";
}

/// The value of a fact, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Value<'a> {
    /// Nobody knows.
    #[default]
    Unknown,
    /// Yes or no.
    Flag(bool),
    /// A number.
    Number(f64),
    /// A word.
    Word(&'a str),
}

impl Value<'_> {
    /// Whether the value is not known.
    pub const fn is_unknown(&self) -> bool {
        matches!(self, Self::Unknown)
    }
}

impl From<Option<f64>> for Value<'_> {
    fn from(value: Option<f64>) -> Self {
        value.map_or(Self::Unknown, Self::Number)
    }
}

impl From<Option<bool>> for Value<'_> {
    fn from(value: Option<bool>) -> Self {
        value.map_or(Self::Unknown, Self::Flag)
    }
}

impl<'a> From<Option<&'a str>> for Value<'a> {
    fn from(value: Option<&'a str>) -> Self {
        value.map_or(Self::Unknown, Self::Word)
    }
}

impl From<bool> for Value<'_> {
    fn from(value: bool) -> Self {
        Self::Flag(value)
    }
}

impl From<f64> for Value<'_> {
    fn from(value: f64) -> Self {
        Self::Number(value)
    }
}

impl<'a> From<&'a str> for Value<'a> {
    fn from(value: &'a str) -> Self {
        Self::Word(value)
    }
}

/// The values of all facts for one floor and one candidate.
#[derive(Debug, Clone)]
pub struct Facts<'a> {
    /// By their places in the registry: as many as it has, so that a fact is found without looking whether it is there.
    values: Box<[Value<'a>; Fact::ALL.len()]>,
    /// Whether a candidate is still to come.
    awaits_candidate: bool,
}

impl<'a> Facts<'a> {
    /// No fact known.
    #[expect(
        clippy::new_without_default,
        reason = "a default of no slots would forget whatever is set"
    )]
    pub fn new() -> Self {
        Self {
            values: Box::new([Value::Unknown; Fact::ALL.len()]),
            awaits_candidate: false,
        }
    }

    /// Sets a fact, or makes it unknown.
    pub fn set(&mut self, fact: Fact, value: impl Into<Value<'a>>) {
        if let Some(slot) = self.values.get_mut(position(fact)) {
            *slot = value.into();
        }
    }

    /// What is known of a fact.
    pub fn get(&self, fact: Fact) -> Value<'a> {
        self.values.get(position(fact)).copied().unwrap_or_default()
    }
}

/// Where a fact stands in the registry: the table's order is the enum's.
#[expect(
    clippy::as_conversions,
    reason = "the discriminant of a field-less enum is its position in the table"
)]
const fn position(fact: Fact) -> usize {
    fact as usize
}
