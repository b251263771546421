//! Every rule and every number in it is held by a scenario: what nobody would miss could be wrong for years.
//!
//! `scenarios.txt` says of small floors which rules fire for a process and which facts are asked for. The sweeps take
//! rules away, soften them and move their numbers; the table must notice each time.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a table that cannot be read must stop the test"
)]

use std::collections::BTreeMap;

use chrono::{DateTime, Days, TimeDelta, Utc};
use chrono_tz::Tz;
use domain::{
    card::RateCard,
    geometry::{Outline, Point},
    knowledge::{Condition, IfUnknown, KnowledgeBase, Rule, Severity},
    plan::{Plan, PlanInput, draft_plan},
    quantity::{Area, Length},
    survey::{
        Asbestos, Climate, Consent, Film, FilmCondition, FilmKind, Goal, Neutralise, Obstruction,
        Soil, Survey, Traffic, Ventilation, Wish,
    },
};

use crate::{
    common::{base, climate, now},
    floors::card,
    scenario_words::{set_arranged, set_base, set_closer_look, set_maker, set_surroundings},
};

/// A small floor, what is wished for it, and what must come out.
pub(crate) struct Scenario {
    line: String,
    pub(crate) expected: String,
    survey: Survey,
    wish: Wish,
    climate: Climate,
    climate_assumed: bool,
    rates_assumed: bool,
    country: String,
    now: DateTime<Utc>,
    base: KnowledgeBase,
    /// Rates of the site's own card, by activity.
    rates: BTreeMap<String, f64>,
}

impl Scenario {
    /// The plan for it.
    pub(crate) fn plan(&self, card: &RateCard) -> Plan {
        let card = &RateCard {
            rates: self.rates.clone(),
            assumed: self.rates_assumed,
            ..card.clone()
        };
        let input = PlanInput {
            survey: &self.survey,
            wish: &self.wish,
            climate: &self.climate,
            card,
            country: &self.country,
            base: &self.base,
            own_products: &[],
            stock: domain::stock::Stock::NONE,
            climate_assumed: self.climate_assumed,
            now: self.now,
            zone: Tz::UTC,
        };
        draft_plan(&input).expect("an answer")
    }

    /// Verdict, rules that fired, facts that are asked for.
    fn outcome(&self, card: &RateCard) -> String {
        let plan = self.plan(card);
        let mut said: Vec<String> = plan.findings.iter().map(|f| f.rule.clone()).collect();
        said.extend(plan.questions.iter().map(|q| format!("?{}", q.fact)));
        said.extend(plan.open_questions.iter().map(|q| format!("({})", q.fact)));
        said.sort();
        format!("{}: {}", plan.verdict.word(), said.join(" "))
            .trim_end()
            .to_owned()
    }

    pub(crate) fn read(line: &str) -> Self {
        let fields: Vec<&str> = line.split('|').map(str::trim).collect();
        let &[process, material, known, expected] = fields.as_slice() else {
            panic!("four fields: {line}");
        };
        let mut survey = Survey::new(material, Area::from_mm2(40_000_000));
        survey.perimeter = Some(Length::from_mm(26_000));
        survey.built_year = Some(2012);
        survey.traffic = Some(Traffic::Medium);
        survey.obstruction = Some(Obstruction::Light);
        survey.moisture_rh_pct = Some(60.0);
        survey.occupied = false;
        survey.soil = Some(Soil::Normal);
        survey.film.kind = Some(FilmKind::Bare);
        survey.surroundings.ventilation = Some(Ventilation::Natural);
        survey.surroundings.ignition_source = Some(false);
        let mut scenario = Self {
            line: line.to_owned(),
            expected: expected.to_owned(),
            survey,
            wish: Wish::to(Goal::Restore),
            climate: climate(),
            climate_assumed: false,
            rates_assumed: false,
            country: "GB".to_owned(),
            now: now(),
            base: base().clone(),
            rates: BTreeMap::new(),
        };
        if process != "-" {
            scenario.wish.process = Some(process.to_owned());
            // The other processes say nothing about the one that is named.
            scenario.base.processes.retain(|row| row.key == process);
        }
        for word in known.split_whitespace() {
            let (name, value) = word.split_once('=').unwrap_or((word, ""));
            let set = scenario.set_floor(name, value)
                || set_closer_look(&mut scenario.survey, name, value)
                || set_arranged(&mut scenario.wish, name, value)
                || set_surroundings(&mut scenario.survey.surroundings, name, value)
                || set_maker(&mut scenario.survey, name, value)
                || scenario.set_wish(name, value)
                || set_base(
                    &mut scenario.base,
                    &scenario.survey,
                    &mut scenario.rates,
                    name,
                    value,
                );
            assert!(set, "`{word}` in {line}");
        }
        scenario
    }

    fn set_floor(&mut self, name: &str, value: &str) -> bool {
        let number = || value.parse::<f64>().ok();
        let survey = &mut self.survey;
        match name {
            "film" => survey.film = film(value),
            "year" => survey.built_year = value.parse().ok(),
            "asbestos" => survey.asbestos = Asbestos::of(value).expect("a word"),
            "moisture" => survey.moisture_rh_pct = number(),
            "area" => {
                let area = number().and_then(Area::from_m2);
                survey.area = area.expect("an area");
                survey.perimeter = None;
            }
            "ptv" => survey.ptv_wet = number(),
            "traffic" => survey.traffic = Traffic::of(value),
            "obstruction" => survey.obstruction = Obstruction::of(value),
            "outline" => {
                let (width, height) = value.split_once('x').expect("outline=width x height");
                let (x, y) = (width.parse().expect("m"), height.parse().expect("m"));
                let ring = [(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)].map(|(x, y)| Point::new(x, y));
                let outline = Outline::new(&[ring.to_vec()]).expect("a rectangle");
                (survey.area, survey.outline) = (outline.area(), Some(outline));
            }
            "perimeter" => survey.perimeter = number().and_then(Length::from_m),
            "black" => survey.black_adhesive = Some(value != "no"),
            "soil" => survey.soil = Soil::of(value),
            "gloss" => survey.gloss_loss_pct = number(),
            "consent" => survey.heritage_consent = Consent::of(value),
            "raised" => survey.raised_access = true,
            "wet" => survey.wet_in_use = true,
            "occupied" => survey.occupied = true,
            "coated" => {
                let hours = TimeDelta::hours(value.parse().expect("hours"));
                survey.coated_at = Some(self.now - hours);
            }
            "sole" => survey.sole_escape_route = true,
            "static" => survey.static_control = true,
            "heritage" => survey.heritage = true,
            "age" => {
                let day = now().date_naive();
                survey.laid_on = Some(day);
                let end = day
                    .checked_add_days(Days::new(1))
                    .and_then(|next| next.and_hms_opt(0, 0, 0));
                let hours = TimeDelta::hours(value.parse().expect("hours"));
                self.now = end.expect("a moment").and_utc() + hours;
            }
            _ => return false,
        }
        true
    }

    fn set_wish(&mut self, name: &str, value: &str) -> bool {
        let number = || value.parse::<f64>().expect("a number");
        let limits = &mut self.wish.limits;
        match name {
            "goal" => self.wish.goal = Goal::of(value).expect("a word"),
            "seal" => limits.seal_coats = value.parse().ok(),
            "acid" => limits.neutralise = Some(Neutralise::Acid),
            "window" => limits.window_min = value.parse().ok(),
            "between" => limits.waits.between_coats_min = value.parse().ok(),
            "furniture" => limits.waits.to_furniture_min = value.parse().ok(),
            "wet_clean" => limits.waits.to_wet_clean_min = value.parse().ok(),
            "with" => {
                let (class, key) = value.split_once(':').expect("with=class:product");
                self.wish.products.insert(class.to_owned(), key.to_owned());
            }
            "country" => value.clone_into(&mut self.country),
            "assumed" => self.climate_assumed = true,
            "example_rates" => self.rates_assumed = true,
            "coats" => limits.polish_coats = value.parse().ok(),
            "air" => self.climate.air_c = number(),
            "floor" => self.climate.floor_c = number(),
            "wind" => self.climate.air_speed_m_s = number(),
            "rh" => self.climate.humidity_pct = number(),
            _ => return false,
        }
        true
    }
}

fn film(text: &str) -> Film {
    let parts: Vec<&str> = text.split(':').collect();
    let &[kind, coats, condition] = parts.as_slice() else {
        panic!("film=kind:coats:condition, not {text}");
    };
    Film {
        kind: FilmKind::of(kind),
        coats: coats.parse().ok(),
        condition: FilmCondition::of(condition),
    }
}

fn scenarios() -> Vec<Scenario> {
    let lines = include_str!("scenarios.txt").lines();
    let rows = lines.filter(|line| !line.is_empty() && !line.starts_with('#'));
    rows.map(Scenario::read).collect()
}

/// Whether a scenario comes out otherwise once `change` was made to the rule of this id.
fn noticed(
    scenarios: &mut [Scenario],
    card: &RateCard,
    id: &str,
    change: impl Fn(&mut Vec<Rule>, usize),
) -> bool {
    // Those that name the rule are asked first: they notice soonest.
    scenarios.sort_by_key(|scenario| {
        let named = scenario.expected.split([' ', ':']).any(|word| word == id);
        !named
    });
    scenarios.iter_mut().any(|scenario| {
        let at = scenario.base.rules.iter().position(|rule| rule.id == id);
        // A scenario without the rule says nothing of it.
        let Some(at) = at else { return false };
        let kept = scenario.base.rules.clone();
        change(&mut scenario.base.rules, at);
        let outcome = scenario.outcome(card);
        scenario.base.rules = kept;
        outcome != scenario.expected
    })
}

/// The conditions that a text turns into when one of its numbers is moved by one, each way.
fn moved(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let is_part = |c: char| c.is_ascii_alphanumeric() || "_.'".contains(c);
    let mut start = 0;
    for piece in text.split_inclusive(|c: char| !is_part(c)) {
        let token = piece.trim_end_matches(|c: char| !is_part(c));
        if let Ok(number) = token.parse::<f64>() {
            let (before, rest) = text.split_at(start);
            let after = rest.strip_prefix(token).unwrap_or_default();
            found.extend([1.0, -1.0].map(|by| format!("{before}{}{after}", number + by)));
        }
        start += piece.len();
    }
    found
}

#[test]
fn the_scenarios_come_out_as_the_table_says() {
    let card = card("EUR");
    let wrong: Vec<String> = scenarios()
        .iter()
        .map(|scenario| (scenario, scenario.outcome(&card)))
        .filter(|(scenario, outcome)| *outcome != scenario.expected)
        .map(|(scenario, outcome)| format!("{}\n    is {outcome}", scenario.line))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_rule_that_is_deleted_is_missed() {
    let (mut scenarios, card) = (scenarios(), card("EUR"));
    let mut unwatched: Vec<String> = Vec::new();
    for rule in &base().rules {
        let missed = noticed(&mut scenarios, &card, &rule.id, |rules, at| {
            rules.remove(at);
        });
        if !missed {
            unwatched.push(rule.id.clone());
        }
    }
    assert!(
        unwatched.is_empty(),
        "nothing misses\n{}",
        unwatched.join("\n")
    );
}

#[test]
fn a_rule_that_is_softened_or_hardened_is_missed() {
    let (mut scenarios, card) = (scenarios(), card("EUR"));
    let mut unwatched: Vec<String> = Vec::new();
    for rule in &base().rules {
        let other = match rule.severity {
            Severity::Warn | Severity::Ask => Severity::Refuse,
            Severity::Refuse | Severity::Open | Severity::Note => Severity::Warn,
        };
        let missed = noticed(&mut scenarios, &card, &rule.id, |rules, at| {
            for rule in rules.iter_mut().skip(at).take(1) {
                rule.severity = other;
            }
        });
        if !missed {
            unwatched.push(format!("how hard {} is", rule.id));
        }
        if rule.if_unknown == IfUnknown::Ask {
            let missed = noticed(&mut scenarios, &card, &rule.id, |rules, at| {
                for rule in rules.iter_mut().skip(at).take(1) {
                    rule.if_unknown = IfUnknown::Ignore;
                }
            });
            if !missed {
                unwatched.push(format!("what {} asks for", rule.id));
            }
        }
        if !rule.asks.is_empty() {
            let missed = noticed(&mut scenarios, &card, &rule.id, |rules, at| {
                for rule in rules.iter_mut().skip(at).take(1) {
                    rule.asks.clear();
                }
            });
            if !missed {
                unwatched.push(format!("the question of {}", rule.id));
            }
        }
    }
    assert!(
        unwatched.is_empty(),
        "nothing misses\n{}",
        unwatched.join("\n")
    );
}

#[test]
fn a_number_that_is_moved_is_missed() {
    let (mut scenarios, card) = (scenarios(), card("EUR"));
    let mut unwatched: Vec<String> = Vec::new();
    let mut n_moved = 0;
    for rule in &base().rules {
        for text in moved(rule.when.text()) {
            let when = Condition::parse(&text).expect("a condition");
            let missed = noticed(&mut scenarios, &card, &rule.id, |rules, at| {
                for rule in rules.iter_mut().skip(at).take(1) {
                    rule.when = when.clone();
                }
            });
            if !missed {
                unwatched.push(format!("{}: {text}", rule.id));
            }
            n_moved += 1;
        }
    }
    assert!(n_moved >= 60, "{n_moved} numbers were moved");
    assert!(
        unwatched.is_empty(),
        "nothing misses\n{}",
        unwatched.join("\n")
    );
}
