//! The knowledge base: materials, products, processes, rates, rules and cautions as data that can be edited.
//!
//! The files stand in `domain/knowledge` and are built in. Reading them checks everything that can be checked: conditions are parsed and
//! typed, every name that a row uses must exist, every row has source and grade. This is the one module of the crate that knows serde.

mod acceptance;
mod check;
mod chemistry;
mod complete;
mod defaults;
mod drying;
mod evidence;
mod expr;
mod fact;
mod film;
mod identification;
mod lookup;
mod material;
mod process;
mod product;
mod programme;
mod rule;
#[cfg(test)]
mod tests;
mod tool;

use std::sync::OnceLock;

use serde::{Deserialize, de::DeserializeOwned};

pub use acceptance::{Defect, FinalCheck, InspectionDefaults};
pub use chemistry::{PhLimits, RinsingFigures, Vapour, VocLimit};
pub use defaults::{
    BayDefaults, BuildUp, ClimateDefaults, CrewFigures, Factors, LearningFigures, LearntRange,
    RateCardDefaults, SkillRate, SpreadFigures,
};
pub use drying::{Cure, Lever, Measure, RoomDefaults};
pub use evidence::Grade;
pub use expr::{Condition, ExprError, Truth};
pub use fact::{Fact, FactType, Facts, Value};
pub use film::{FilmEffect, FilmFigures, Takes, Trust};
pub use identification::{IdentificationTest, TestReading};
pub use material::{AsbestosCutoff, Aside, Finish, Material, Says};
use process::{Chain, StepOrChain};
pub use process::{Hold, HoldPoint, LaysSeal, Process, Step};
pub use product::{Chemical, Coverage, OwnProduct, Pack, Product, ProductClass, Products};
pub use programme::{
    BUFF, Coating, Doubt, GlossFigures, ProgrammeFigures, RECOAT, STRIP, TrafficWear, Upkeep,
};
pub use rule::{Caution, Concern, Harm, IfUnknown, Question, Rule, Severity};
pub use tool::{Consumable, Fills, Machine, Mop, Pad, Rate};

/// Why a knowledge base was refused: everything that is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the knowledge base is not usable:\n{}", faults.join("\n"))]
pub struct KnowledgeError {
    /// One line for each fault, naming the file or the row.
    pub faults: Vec<String>,
}

/// What a finish word of building data means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FinishMeaning<'k> {
    /// A hard floor of this material.
    Hard(&'k Material),
    /// A soft floor: not for this service.
    Soft,
    /// Several coverings in one space.
    Mixed,
    /// The dictionary does not have the word.
    NotFound,
}

impl PartialEq for Material {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

impl Eq for Material {}

/// Everything that the planner knows of the trade.
#[derive(Debug, Clone)]
pub struct KnowledgeBase {
    /// The edition; a plan records it.
    pub version: String,
    /// Floor coverings.
    pub materials: Vec<Material>,
    /// Finish words of building data.
    pub finishes: Vec<Finish>,
    /// Words that stand beside finish words.
    pub finish_asides: Vec<Aside>,
    /// Products by class.
    pub products: Vec<Product>,
    /// What the data sheets of each class usually say.
    pub product_classes: Vec<ProductClass>,
    /// Processes.
    pub processes: Vec<Process>,
    /// Production rates.
    pub rates: Vec<Rate>,
    /// Pads.
    pub pads: Vec<Pad>,
    /// Machines.
    pub machines: Vec<Machine>,
    /// Mops and applicators.
    pub mops: Vec<Mop>,
    /// What is used up.
    pub consumables: Vec<Consumable>,
    /// Waits.
    pub holds: Vec<Hold>,
    /// Readings that must be met.
    pub hold_points: Vec<HoldPoint>,
    /// Rules.
    pub rules: Vec<Rule>,
    /// Questions for missing facts.
    pub questions: Vec<Question>,
    /// Cautions, first to be shown first.
    pub cautions: Vec<Caution>,
    /// Field tests of floors and films.
    pub identification: Vec<IdentificationTest>,
    /// First years without presumed asbestos.
    pub asbestos_cutoffs: Vec<AsbestosCutoff>,
    /// Defaults of a rate card.
    pub rate_card: RateCardDefaults,
    /// Default climate.
    pub climate: ClimateDefaults,
    /// Factors on rates, losses and coats.
    pub factors: Factors,
    /// How much of a floor is looked at before it is handed over.
    pub inspection: InspectionDefaults,
    /// What is read before it is handed over.
    pub final_checks: Vec<FinalCheck>,
    /// What goes wrong.
    pub defects: Vec<Defect>,
    /// How films change with time.
    pub film: FilmFigures,
    /// How far jobs turn out from what was estimated.
    pub spread: SpreadFigures,
    /// What skill and the number of operatives do to a rate.
    pub crew: CrewFigures,
    /// What bays are measured by.
    pub bays: BayDefaults,
    /// The room over a floor where nobody told of it.
    pub room: RoomDefaults,
    /// How products harden that give off no water.
    pub cures: Vec<Cure>,
    /// How alkali is rinsed off.
    pub rinsing: RinsingFigures,
    /// At or beyond which pH a product counts as corrosive.
    pub corrosive: PhLimits,
    /// Between which pH slurry may go to the foul drain.
    pub drain: PhLimits,
    /// What products give off into the air.
    pub vapours: Vec<Vapour>,
    /// How much of volatile organic compounds coatings may hold.
    pub voc_limits: Vec<VocLimit>,
    /// What would shorten a wait.
    pub levers: Vec<Lever>,
    /// What programmes over years reckon with.
    pub programme: ProgrammeFigures,
}

/// The texts of the data files.
#[derive(Debug, Clone, Copy)]
pub struct Sources<'s> {
    /// `base.toml`: version, defaults, factors, holds and hold points.
    pub base: &'s str,
    /// `materials.toml`.
    pub materials: &'s str,
    /// `finishes.toml`.
    pub finishes: &'s str,
    /// `products.toml`.
    pub products: &'s str,
    /// `processes.toml`.
    pub processes: &'s str,
    /// `rates.toml`.
    pub rates: &'s str,
    /// `tools.toml`.
    pub tools: &'s str,
    /// `rules.toml`.
    pub rules: &'s str,
    /// `questions.toml`.
    pub questions: &'s str,
    /// `cautions.toml`.
    pub cautions: &'s str,
    /// `acceptance.toml`: inspection, final checks and defects.
    pub acceptance: &'s str,
    /// `programme.toml`.
    pub programme: &'s str,
    /// `identification.toml`.
    pub identification: &'s str,
}

/// The files that are built into the program.
pub const BUILTIN: Sources<'static> = Sources {
    base: include_str!("../../knowledge/base.toml"),
    materials: include_str!("../../knowledge/materials.toml"),
    finishes: include_str!("../../knowledge/finishes.toml"),
    products: include_str!("../../knowledge/products.toml"),
    processes: include_str!("../../knowledge/processes.toml"),
    rates: include_str!("../../knowledge/rates.toml"),
    tools: include_str!("../../knowledge/tools.toml"),
    rules: include_str!("../../knowledge/rules.toml"),
    questions: include_str!("../../knowledge/questions.toml"),
    cautions: include_str!("../../knowledge/cautions.toml"),
    acceptance: include_str!("../../knowledge/acceptance.toml"),
    programme: include_str!("../../knowledge/programme.toml"),
    identification: include_str!("../../knowledge/identification.toml"),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BaseFile {
    version: String,
    rate_card: RateCardDefaults,
    climate: ClimateDefaults,
    asbestos_cutoff: Vec<AsbestosCutoff>,
    factors: Factors,
    film: FilmFigures,
    spread: SpreadFigures,
    crew: CrewFigures,
    bays: BayDefaults,
    room: RoomDefaults,
    rinsing: RinsingFigures,
    corrosive: PhLimits,
    drain: PhLimits,
    shorten: Vec<Lever>,
    hold: Vec<Hold>,
    hold_point: Vec<HoldPoint>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AcceptanceFile {
    inspection: InspectionDefaults,
    check: Vec<FinalCheck>,
    defect: Vec<Defect>,
}

macro_rules! files {
    ($($name:ident { $($row:ident: $type:ty),+ })+) => {$(
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct $name { $($row: Vec<$type>),+ }
    )+};
}

files! {
    MaterialsFile { material: Material }
    FinishesFile { finish: Finish, aside: Aside }
    ProductsFile { product: Product, class: ProductClass, cure: Cure, vapour: Vapour, voc_limit: VocLimit }
    ProcessesFile { process: Process, chain: Chain }
    RatesFile { rate: Rate }
    ToolsFile { pad: Pad, machine: Machine, mop: Mop, consumable: Consumable }
    RulesFile { rule: Rule }
    QuestionsFile { question: Question }
    CautionsFile { caution: Caution }
    IdentificationFile { test: IdentificationTest }
}

impl KnowledgeBase {
    /// The knowledge base that is built into the program.
    ///
    /// # Errors
    /// [`KnowledgeError`] if a file was edited into something that cannot be used; a test keeps this from shipping.
    pub fn builtin() -> Result<&'static Self, KnowledgeError> {
        static BASE: OnceLock<Result<KnowledgeBase, KnowledgeError>> = OnceLock::new();
        BASE.get_or_init(|| Self::read(&BUILTIN))
            .as_ref()
            .map_err(Clone::clone)
    }

    /// Reads and checks a knowledge base.
    ///
    /// # Errors
    /// [`KnowledgeError`] with every fault that was found.
    pub fn read(sources: &Sources<'_>) -> Result<Self, KnowledgeError> {
        let base: BaseFile = file("base.toml", sources.base)?;
        let finishes: FinishesFile = file("finishes.toml", sources.finishes)?;
        let tools: ToolsFile = file("tools.toml", sources.tools)?;
        let products: ProductsFile = file("products.toml", sources.products)?;
        let processes: ProcessesFile = file("processes.toml", sources.processes)?;
        let mut cautions = file::<CautionsFile>("cautions.toml", sources.cautions)?.caution;
        cautions.sort_by_key(|caution| (caution.harm, caution.rank));
        let acceptance: AcceptanceFile = file("acceptance.toml", sources.acceptance)?;
        let mut read = Self {
            version: base.version,
            materials: file::<MaterialsFile>("materials.toml", sources.materials)?.material,
            finishes: finishes.finish,
            finish_asides: finishes.aside,
            products: products.product,
            product_classes: products.class,
            processes: processes.process,
            rates: file::<RatesFile>("rates.toml", sources.rates)?.rate,
            pads: tools.pad,
            machines: tools.machine,
            mops: tools.mop,
            consumables: tools.consumable,
            holds: base.hold,
            hold_points: base.hold_point,
            rules: file::<RulesFile>("rules.toml", sources.rules)?.rule,
            questions: file::<QuestionsFile>("questions.toml", sources.questions)?.question,
            cautions,
            identification: file::<IdentificationFile>(
                "identification.toml",
                sources.identification,
            )?
            .test,
            asbestos_cutoffs: base.asbestos_cutoff,
            rate_card: base.rate_card,
            climate: base.climate,
            factors: base.factors,
            inspection: acceptance.inspection,
            final_checks: acceptance.check,
            defects: acceptance.defect,
            film: base.film,
            spread: base.spread,
            crew: base.crew,
            bays: base.bays,
            room: base.room,
            cures: products.cure,
            rinsing: base.rinsing,
            corrosive: base.corrosive,
            drain: base.drain,
            vapours: products.vapour,
            voc_limits: products.voc_limit,
            levers: base.shorten,
            programme: file("programme.toml", sources.programme)?,
        };
        let mut faults = read.write_out(&processes.chain);
        faults.extend(check::faults(&read));
        faults.extend(complete::faults(&read));
        faults.extend(drying::faults(&read));
        faults.extend(read.spread.faults());
        faults.extend(chemistry::faults(&read));
        faults.extend(read.programme.faults(&read));
        if faults.is_empty() {
            Ok(read)
        } else {
            Err(KnowledgeError { faults })
        }
    }

    /// Puts each chain's steps in the place where a process names it.
    fn write_out(&mut self, chains: &[Chain]) -> Vec<String> {
        let mut faults = Vec::new();
        for process in &mut self.processes {
            let opening = around(chains, "opening", process);
            process.steps.extend(opening);
            for part in &process.parts {
                match part {
                    StepOrChain::Step(step) => process.steps.push(Step::clone(step)),
                    StepOrChain::Chain(used) => {
                        match chains.iter().find(|chain| chain.key == used.chain) {
                            Some(chain) => process.steps.extend(chain.steps.iter().cloned()),
                            None => faults.push(format!(
                                "process {}: no chain is named {}",
                                process.key, used.chain
                            )),
                        }
                    }
                }
            }
            let closing = around(chains, "closing", process);
            process.steps.extend(closing);
        }
        faults
    }
}

/// The steps of a chain that stands around every process, without those that this process never needs.
fn around(chains: &[Chain], key: &str, process: &Process) -> Vec<Step> {
    let mut facts = Facts::new();
    facts.set(Fact::ProcessSands, process.sands);
    facts.set(Fact::ProcessBurnishes, process.burnishes);
    facts.set(Fact::ProcessWetness, f64::from(process.wetness));
    facts.set(Fact::ProcessLaysPolish, process.lays_polish);
    let chain = chains.iter().filter(|chain| chain.key == key);
    let steps = chain.flat_map(|chain| &chain.steps);
    // What a process does by itself is not done twice.
    let has = |wanted: &Step| process.steps.iter().any(|step| step.key == wanted.key);
    steps
        .filter(|step| step.when.holds(&facts) != Truth::False && !has(step))
        .cloned()
        .collect()
}

/// A finish word as the dictionary has it: in capitals, blanks folded.
pub fn folded(text: &str) -> String {
    text.split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .to_uppercase()
}

fn file<T: DeserializeOwned>(name: &str, text: &str) -> Result<T, KnowledgeError> {
    toml::from_str(text).map_err(|error| KnowledgeError {
        faults: vec![format!("{name}: {error}")],
    })
}
