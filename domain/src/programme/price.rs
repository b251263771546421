//! What each action costs on a floor, by the planner's own figures, and whether the rules allow it there.

use std::{cell::RefCell, collections::BTreeMap};

use chrono::TimeDelta;

use super::act::Act;
use crate::{
    due::goal,
    knowledge::{BUFF, Fact, Process, RECOAT, STRIP, Truth},
    plan::{self, PlanInput, Verdict, add_process, floor_facts},
    quantity::float,
    survey::{Film, FilmCondition, FilmKind, Survey, Wish},
};

/// Days since the last coat for which actions are priced: hard, and not fresh.
const HARD_DAYS: i64 = 30;

/// The conditions between which films other than polish are told apart.
const STATES: [FilmCondition; 2] = [FilmCondition::Scuffed, FilmCondition::Worn];

/// What one action costs once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Price {
    /// In 1/10,000 of the currency's unit, before tax.
    pub(super) cost: f64,
    /// Working hours of all operatives.
    pub(super) hours: f64,
    /// Whether the planner would ask for a fact first.
    pub(super) asks: bool,
}

/// Which film a price is for: coats that the planner is told of, and their condition.
type Key = (u8, FilmCondition);

/// A process that does an action, with its prices as far as they were asked for.
#[derive(Debug)]
pub(super) struct Way<'a> {
    pub(super) process: &'a Process,
    known: RefCell<BTreeMap<(u8, &'static str), Option<Price>>>,
    /// Whether it may suit a film in each of these conditions.
    suits: [(FilmCondition, bool); 2],
}

/// What can be done on a floor.
#[derive(Debug)]
pub(super) struct Prices<'a> {
    input: PlanInput<'a>,
    buff: Option<Way<'a>>,
    recoat: Option<Way<'a>>,
    kind: FilmKind,
    strip: Option<Way<'a>>,
}

impl<'a> Prices<'a> {
    /// Looks up which process does each action on this floor.
    pub(super) fn new(input: &PlanInput<'a>, kind: FilmKind) -> Self {
        let of = |key| {
            let row = input.base.programme.action(key, kind)?;
            let condition = FilmCondition::of(&row.condition)?;
            let process = suiting(input, &row.processes, condition)?;
            Some(Way {
                process,
                suits: STATES.map(|state| (state, may(input, process, state))),
                known: RefCell::default(),
            })
        };
        Self {
            input: *input,
            kind,
            buff: of(BUFF),
            recoat: of(RECOAT),
            strip: of(STRIP),
        }
    }

    /// The process of an action, where one suits this floor.
    pub(super) fn process(&self, act: Act) -> Option<&'a Process> {
        Some(self.way(act)?.process)
    }

    /// Whether what does an action may suit a film that is scuffed, or one that is worn through.
    pub(super) fn suits(&self, act: Act, condition: FilmCondition) -> bool {
        let suits = self.way(act).map(|way| way.suits);
        suits.is_some_and(|suits| suits.contains(&(condition, true)))
    }

    /// What an action is called in a sentence; `None` where this kind of film has none.
    pub(super) fn doing(&self, act: Act) -> Option<String> {
        let Some(key) = act.key() else {
            return Some("leaving it alone".to_owned());
        };
        let row = self.input.base.programme.action(key, self.kind)?;
        let times = match act {
            Act::Leave | Act::Recoat | Act::Strip => "",
            Act::Buff => " once",
            Act::BuffTwice => " twice",
            Act::BuffFour => " four times",
        };
        Some(format!("{}{times}", row.doing))
    }

    fn way(&self, act: Act) -> Option<&Way<'a>> {
        match act {
            Act::Leave => None,
            Act::Buff | Act::BuffTwice | Act::BuffFour => self.buff.as_ref(),
            Act::Recoat => self.recoat.as_ref(),
            Act::Strip => self.strip.as_ref(),
        }
    }

    /// What an action costs on such a film; `None` where no process suits, or the rules refuse it, or it cannot be worked out.
    pub(super) fn of(&self, act: Act, (coats, condition): Key) -> Option<Price> {
        let way = self.way(act)?;
        let key = (coats, condition.word());
        if let Some(price) = way.known.borrow().get(&key) {
            return *price;
        }
        let survey = self.film(coats, condition);
        let wish = Wish {
            process: Some(way.process.key.clone()),
            ..Wish::to(goal(way.process))
        };
        let worked = plan::price(&PlanInput {
            survey: &survey,
            wish: &wish,
            ..self.input
        });
        let price = match worked {
            Ok((Verdict::Refused, _)) | Err(_) => None,
            Ok((verdict, work)) => Some(Price {
                cost: float(work.cost.net.amount),
                hours: work.cost.lines.iter().map(|line| line.labour.hours()).sum(),
                asks: verdict == Verdict::NeedsInformation,
            }),
        };
        way.known.borrow_mut().insert(key, price);
        price
    }

    fn film(&self, coats: u8, condition: FilmCondition) -> Survey {
        filmed(&self.input, coats, condition)
    }
}

/// The floor of `input` with such a film on it, laid long enough ago to be hard.
fn filmed(input: &PlanInput<'_>, coats: u8, condition: FilmCondition) -> Survey {
    let kind = input.survey.film.kind.unwrap_or(FilmKind::Polish);
    Survey {
        film: Film {
            kind: Some(kind),
            coats: Some(i64::from(coats)),
            condition: Some(condition),
        },
        coated_at: Some(input.now - TimeDelta::days(HARD_DAYS)),
        ..input.survey.clone()
    }
}

/// Whether a process may suit a floor whose film is in such a condition.
fn may(input: &PlanInput<'_>, process: &Process, condition: FilmCondition) -> bool {
    let alone = std::slice::from_ref(&process.key);
    judged(input, alone, condition).is_some_and(|judged| !judged.is_empty())
}

/// The first of these processes that suits a floor of four coats in such a condition; where missing facts decide that, the first that may.
fn suiting<'a>(
    input: &PlanInput<'a>,
    processes: &'a [String],
    condition: FilmCondition,
) -> Option<&'a Process> {
    let judged = judged(input, processes, condition)?;
    let sure = judged.iter().find(|(_, sure)| *sure);
    let (key, _) = sure.or(judged.first())?;
    input.base.process(key)
}

/// Those of the processes that may suit a floor of four coats in such a condition, and whether they surely do.
fn judged<'k>(
    input: &PlanInput<'_>,
    processes: &'k [String],
    condition: FilmCondition,
) -> Option<Vec<(&'k String, bool)>> {
    let survey = filmed(input, 4, condition);
    let facts = floor_facts(&PlanInput {
        survey: &survey,
        ..*input
    });
    let facts = facts.ok()?;
    let judged = processes.iter().filter_map(|key| {
        let process = input.base.process(key)?;
        let mut facts = facts.clone();
        facts.set(Fact::WishGoal, goal(process).word());
        add_process(&mut facts, process, false);
        let is_open = process.on.holds(&facts) != Truth::False;
        let suits = process.suits.holds(&facts);
        (is_open && suits != Truth::False).then_some((key, suits == Truth::True))
    });
    Some(judged.collect())
}
