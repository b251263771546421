//! Judges all processes side by side and lets the best one answer.

use std::rc::Rc;

use super::{
    DraftPlanError, Plan, PlanInput, ProcessRef, Question, Verdict, Work,
    candidate::candidate,
    cautions::called_for,
    facts,
    ground::Ground,
    judge::{Asked, Docket, Judgement, ask, findings, in_words},
    merit::{self, priorities},
    waits::RoomAir,
    work_up::{Place, Worked, work_up},
};
use crate::{
    estimate::basis::Telling,
    knowledge::{Fact, Facts, Material, Process, Truth},
    money::Money,
    physics::psychrometrics::{Air, AirReading, STANDARD_PRESSURE_PA},
    survey::{Criterion, Goal},
};

/// Makes the plan: works every process out, judges it, picks, and tells the one that answers in full.
pub(super) fn choose(input: &PlanInput<'_>) -> Result<Plan, DraftPlanError> {
    let bench = Bench::new(input)?;
    let (mut plan, best) = bench.decide(Telling::InFull)?;
    let facts = if is_feasible(plan.verdict) {
        &best.facts
    } else {
        &bench.floor
    };
    plan.cautions = called_for(input.base, facts);
    if is_feasible(plan.verdict) {
        let best = if best.telling.is_full() {
            best
        } else {
            work_up(input, best.process, &bench.place(), Telling::InFull)?
        };
        plan.work = Some(best.into_work(input, &bench.ground, &bench.air));
    }
    Ok(plan)
}

/// The plan without its work, and the price of that before tax where the verdict allows it: all that an answer to a
/// question is told by.
pub(super) fn foresee(
    input: &PlanInput<'_>,
    known: &Rc<RoomAir>,
) -> Result<(Plan, Option<Money>), DraftPlanError> {
    let bench = Bench::in_room(input, Some(known))?;
    let (plan, best) = bench.decide(Telling::Figures)?;
    let net = is_feasible(plan.verdict).then_some(best.work.cost.net);
    Ok((plan, net))
}

/// What the named process of a wish costs on a floor, and what the rules say of it there: in figures, and nothing else.
pub(super) fn price(input: &PlanInput<'_>) -> Result<(Verdict, Work), DraftPlanError> {
    let bench = Bench::new(input)?;
    let named = bench.forced.ok_or_else(|| DraftPlanError::Figure {
        what: "the price of a process that nobody names".to_owned(),
    })?;
    let worked = bench.work_up(input, named)?;
    Ok((worked.judgement.verdict, worked.work))
}

/// What all candidates for one floor share.
pub(super) struct Bench<'i, 'a> {
    input: &'i PlanInput<'a>,
    material: &'a Material,
    forced: Option<&'a Process>,
    floor: Facts<'a>,
    ground: Ground,
    air: Rc<RoomAir>,
    docket: Docket<'a>,
    priorities: Vec<Criterion>,
}

impl<'i, 'a> Bench<'i, 'a> {
    /// What all candidates for the floor of `input` share.
    pub(super) fn new(input: &'i PlanInput<'a>) -> Result<Self, DraftPlanError> {
        Self::in_room(input, None)
    }

    /// The same, in a room that is known.
    fn in_room(
        input: &'i PlanInput<'a>,
        known: Option<&Rc<RoomAir>>,
    ) -> Result<Self, DraftPlanError> {
        let material = input.material()?;
        let forced = match &input.wish.process {
            Some(key) => {
                let found = input.base.process(key);
                Some(found.ok_or_else(|| DraftPlanError::UnknownProcess { key: key.clone() })?)
            }
            None => None,
        };
        products_exist(input)?;
        tools_exist(input)?;
        let air = air(input)?;
        let floor = facts::floor_facts(input, material, &air)?;
        Ok(Self {
            input,
            material,
            forced,
            air: RoomAir::of(input, &air, &material.conductance, known)?,
            docket: Docket::of(input.base, &floor),
            floor,
            ground: Ground::of(input),
            priorities: priorities(input.wish),
        })
    }

    /// What candidates start from.
    fn place(&self) -> Place<'_, 'a> {
        Place {
            material: self.material,
            floor: &self.floor,
            ground: &self.ground,
            air: &self.air,
            docket: &self.docket,
        }
    }

    /// What is thought of for the wish, worked out and judged: what it names, and what serves its goal. All but the likeliest
    /// in figures.
    pub(super) fn for_goal(&self, likeliest: Telling) -> Result<Vec<Worked<'a>>, DraftPlanError> {
        let goal = self.input.wish.goal;
        let wanted = |process: &Process| self.is_named(process) || serves(process, goal);
        self.worked(wanted, likeliest)
    }

    /// One process by `input`, in figures: the floor and the air of this bench, by the same or another wish.
    pub(super) fn work_up<'b>(
        &self,
        input: &PlanInput<'b>,
        process: &'b Process,
    ) -> Result<Worked<'b>, DraftPlanError>
    where
        'a: 'b,
    {
        work_up(input, process, &self.place(), Telling::Figures)
    }

    /// The answer without its work, and the candidate that it is about, told so if it was the likeliest.
    fn decide(&self, likeliest: Telling) -> Result<(Plan, Worked<'a>), DraftPlanError> {
        let (input, goal) = (self.input, self.input.wish.goal);
        let mut ranked = self.for_goal(likeliest)?;
        self.rank(&mut ranked);
        let Some(best) = ranked.first() else {
            return Err(DraftPlanError::Figure {
                what: format!("a process for the goal {}", goal.word()),
            });
        };
        let named = self.forced.is_some();
        let judgement = if !named && order(best) >= 6 {
            let mut known = best.facts.clone();
            known.set(Fact::PlanNothingSuits, true);
            self.docket.judge(&known)
        } else {
            best.judgement.clone()
        };
        let (verdict, questions) = answer(input, named, best, &judgement, &ranked);
        let instead = match verdict {
            Verdict::Refused => self.feasible(&ranked, best, &[goal, Goal::Clean])?,
            _ => Vec::new(),
        };
        let meanwhile = match verdict {
            Verdict::NeedsInformation => self.feasible(&ranked, best, &[Goal::Clean])?,
            _ => Vec::new(),
        };
        let candidates = ranked.iter().map(|entry| candidate(input, entry)).collect();
        let best = ranked.swap_remove(0);
        let plan = Plan {
            verdict,
            process: best.process.key.clone(),
            process_name: best.process.name.clone(),
            findings: findings(input, &judgement.fired),
            questions,
            open_questions: in_words(input.base, &judgement.asked_for_cost),
            identification: facts::tests_for(input.base, &self.floor),
            meanwhile,
            instead,
            referral: judgement.referral,
            candidates,
            priorities: self.priorities.clone(),
            window: None,
            cautions: Vec::new(),
            work: None,
        };
        Ok((plan, best))
    }

    /// Whether the caller named this very process.
    fn is_named(&self, process: &Process) -> bool {
        self.forced.is_some_and(|forced| forced.key == process.key)
    }

    /// The processes that are thought of on this floor and that `wanted` picks, worked out and judged. The likeliest is what was
    /// named, else the first that is right for the floor whatever a candidate adds: what is told of it then is not told again.
    fn worked(
        &self,
        wanted: impl Fn(&Process) -> bool,
        mut likeliest: Telling,
    ) -> Result<Vec<Worked<'a>>, DraftPlanError> {
        let is_likely = |process: &Process| match self.forced {
            Some(_named) => self.is_named(process),
            None => process.suits.holds(&self.floor) == Truth::True,
        };
        let processes = self.input.base.processes.iter();
        processes
            .filter(|process| wanted(process))
            .filter(|process| {
                self.is_named(process) || process.on.holds(&self.floor) == Truth::True
            })
            .map(|process| {
                let telling = if is_likely(process) {
                    std::mem::replace(&mut likeliest, Telling::Figures)
                } else {
                    Telling::Figures
                };
                work_up(self.input, process, &self.place(), telling)
            })
            .collect()
    }

    /// Sorts candidates, the best first: what was named, then what may be done at all and is right, these by the
    /// criteria, and where they are equal in the order of the data.
    fn rank(&self, entries: &mut [Worked<'_>]) {
        entries.sort_by_cached_key(|entry| {
            let named = self.is_named(entry.process);
            let order = order(entry);
            let scores = if order == 0 {
                merit::scores(self.input, entry, &self.priorities)
            } else {
                Vec::new()
            };
            (!named, order, scores, entry.process.rank)
        });
    }

    /// What could be done for one of the goals in place of `best`, best first.
    ///
    /// Routine cleaning is right wherever it is allowed; anything else must suit the floor. Processes that serve
    /// another goal than the wish's are worked out only here.
    fn feasible(
        &self,
        ranked: &[Worked<'a>],
        best: &Worked<'a>,
        goals: &[Goal],
    ) -> Result<Vec<ProcessRef>, DraftPlanError> {
        let serves_one = |process: &Process| goals.iter().any(|goal| serves(process, *goal));
        let is_known =
            |process: &Process| ranked.iter().any(|entry| entry.process.key == process.key);
        let others = self.worked(
            |process| serves_one(process) && !is_known(process),
            Telling::Figures,
        )?;
        let right = |entry: &&Worked<'_>| {
            order(entry) < 4 || (serves(entry.process, Goal::Clean) && !entry.process.restorative)
        };
        let mut fit: Vec<&Worked<'_>> = ranked
            .iter()
            .chain(&others)
            .filter(|entry| serves_one(entry.process))
            .filter(|entry| entry.process.key != best.process.key)
            .filter(|entry| is_feasible(entry.judgement.verdict))
            .filter(right)
            .collect();
        fit.sort_by_key(|entry| (order(entry), entry.process.rank));
        let named = fit.iter().map(|entry| ProcessRef {
            key: entry.process.key.clone(),
            name: entry.process.name.clone(),
        });
        Ok(named.collect())
    }
}

/// What is known of the floor whatever is done to it, and the room over it.
pub(super) fn floor<'a>(input: &PlanInput<'a>) -> Result<(Facts<'a>, Rc<RoomAir>), DraftPlanError> {
    let (material, air) = (input.material()?, air(input)?);
    let floor = facts::floor_facts(input, material, &air)?;
    let room = RoomAir::of(input, &air, &material.conductance, None)?;
    Ok((floor, room))
}

/// What is known of the floor whatever is done to it.
pub(crate) fn floor_facts<'a>(input: &PlanInput<'a>) -> Result<Facts<'a>, DraftPlanError> {
    facts::floor_facts(input, input.material()?, &air(input)?)
}

/// Every product that the wish names exists and may stand for its class.
fn products_exist(input: &PlanInput<'_>) -> Result<(), DraftPlanError> {
    for (class, key) in &input.wish.products {
        let found = input.products().product(key);
        if !found.is_some_and(|row| row.serves(class)) {
            return Err(DraftPlanError::UnknownProduct {
                class: class.clone(),
                key: key.clone(),
            });
        }
    }
    Ok(())
}

/// Every tool that the wish names exists.
fn tools_exist(input: &PlanInput<'_>) -> Result<(), DraftPlanError> {
    let (machine, pad) = (&input.wish.machine, &input.wish.pad);
    let machine = machine
        .iter()
        .filter(|key| input.base.machine(key).is_none());
    let pad = pad.iter().filter(|key| input.base.pad(key).is_none());
    match machine.chain(pad).next() {
        Some(key) => Err(DraftPlanError::UnknownTool { key: key.clone() }),
        None => Ok(()),
    }
}

/// The air over the floor.
fn air(input: &PlanInput<'_>) -> Result<Air, DraftPlanError> {
    let climate = input.climate;
    let reading = AirReading {
        temperature_c: climate.air_c,
        relative_humidity: climate.humidity_pct / 100.0,
        speed_m_s: climate.air_speed_m_s,
        pressure_pa: STANDARD_PRESSURE_PA,
    };
    Air::new(reading).map_err(|refused| DraftPlanError::Climate {
        reason: refused.to_string(),
    })
}

fn serves(process: &Process, goal: Goal) -> bool {
    process.goals.iter().any(|word| word == goal.word())
}

/// The verdict and what must be asked for it.
///
/// A named process is judged by itself. Otherwise, where a missing fact decides which process is right, that fact
/// is asked for together with those that the processes still in question need: nothing is guessed.
fn answer(
    input: &PlanInput<'_>,
    named: bool,
    best: &Worked<'_>,
    judgement: &Judgement<'_>,
    ranked: &[Worked<'_>],
) -> (Verdict, Vec<Question>) {
    if named || matches!(order(best), 0 | 4..) {
        let asked = in_words(input.base, &judgement.asked);
        return (judgement.verdict, asked);
    }
    let mut asked: Vec<Asked<'_>> = Vec::new();
    for entry in ranked.iter().filter(|entry| order(entry) <= 3) {
        for known in &entry.judgement.asked {
            for because in &known.because {
                ask(&mut asked, known.fact, because);
            }
        }
        for fact in entry.process.suits.missing(&entry.facts) {
            ask(&mut asked, fact, &entry.process.key);
        }
    }
    asked.retain(|known| input.base.question(known.fact.name()).is_some());
    (Verdict::NeedsInformation, in_words(input.base, &asked))
}

pub(super) const fn is_feasible(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Allowed | Verdict::AllowedWithWarnings)
}

/// Safety and substrate first (what may be done at all), then fit, then what is not yet known.
///
/// A process that suits and is allowed beats one that may suit; one that does not suit comes last, however harmless.
pub(super) fn order(entry: &Worked<'_>) -> u8 {
    match (entry.suits, entry.judgement.verdict) {
        (Truth::True, Verdict::Allowed | Verdict::AllowedWithWarnings) => 0,
        (Truth::Undecided, Verdict::Allowed | Verdict::AllowedWithWarnings) => 1,
        (Truth::True, Verdict::NeedsInformation) => 2,
        (Truth::Undecided, Verdict::NeedsInformation) => 3,
        (Truth::True, Verdict::Refused) => 4,
        (Truth::Undecided, Verdict::Refused) => 5,
        (Truth::False, Verdict::Allowed | Verdict::AllowedWithWarnings) => 6,
        (Truth::False, Verdict::NeedsInformation) => 7,
        (Truth::False, Verdict::Refused) => 8,
    }
}
