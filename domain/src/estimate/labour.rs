//! Working time by activity: quantity over production rate, with what slows it.

use crate::{
    estimate::{
        basis::{Basis, Input, Reasons, Telling, input as figure},
        filling::fill,
        rated::{Rated, rated},
    },
    knowledge::{Fact, Facts, Machine, Rate, Truth},
    plan::{DraftPlanError, PlanInput, PlannedStep, Stage, is_built_up},
    quantity::{Labour, float},
    survey::{Obstruction, Skill, Soil},
};

/// The labour of one activity in one stage.
#[derive(Debug, Clone, PartialEq)]
pub struct LabourLine {
    /// The activity.
    pub activity: String,
    /// Its name for people.
    pub name: String,
    /// The part of floor care.
    pub stage: Stage,
    /// Floor in m² or edge in m, once.
    pub quantity: f64,
    /// `m2` or `m`.
    pub unit: &'static str,
    /// How often the quantity is worked: coats.
    pub times: i64,
    /// Per operative and hour, after what slows it.
    pub per_h: f64,
    /// The slowest and the fastest that the table knows, or between which four of five jobs lie where it is learnt, after
    /// what slows it; wider where it is not known what does.
    pub per_h_range: [f64; 2],
    /// Working time of all operatives together, filling included, without allowance.
    pub time: Labour,
    /// How much of it is emptying and filling tanks or buckets on the way.
    pub filling: Labour,
    /// How far the time on one floor may turn out from it: the σ of its logarithm.
    pub sigma: f64,
    /// The machine that is kept busy.
    pub machine: Option<String>,
    /// Where its reason stands.
    pub basis: String,
}

/// The value of a table at `area`, straight between its points over the logarithm of the area, flat outside.
///
/// So interpolated, a larger floor never takes less time or material (a jump at a class limit would).
pub fn by_area(table: &[[f64; 2]], area_m2: f64) -> f64 {
    let mut before: Option<[f64; 2]> = None;
    for &[at, value] in table {
        if area_m2 <= at {
            let Some([at0, value0]) = before else {
                return value;
            };
            let share = (area_m2.ln() - at0.ln()) / (at.ln() - at0.ln());
            return value0 + share * (value - value0);
        }
        before = Some([at, value]);
    }
    before.map_or(1.0, |[_, value]| value)
}

/// As many lines as a plan usually has, and as many factors as a line has at most.
const LINES: usize = 8;
const FACTORS: usize = 6;

/// How fast an activity goes on this floor, and why.
struct Pace<'k> {
    row: &'k Rate,
    /// Before what slows it.
    rated: Rated,
    per_h: f64,
    range: [f64; 2],
    factors: Vec<Input>,
}

/// The crew that a plan is made for.
pub(crate) fn crew_size(input: &PlanInput<'_>) -> i64 {
    let wished = input.wish.limits.crew_size;
    wished.unwrap_or(input.card.crew_size).max(1)
}

/// What skill and the number of operatives do to every rate: the factors where they differ from one, each with its basis.
fn crew(input: &PlanInput<'_>, basis: &mut Reasons) -> Vec<Input> {
    let figures = &input.base.crew;
    let mut found = Vec::new();
    let skill = input.wish.limits.skill.unwrap_or(Skill::Trained);
    if let Some(row) = figures
        .skill(skill.word())
        .filter(|row| is_not_one(row.rate))
    {
        found.push(figure("skill", row.rate, ""));
        basis.add(|| Basis {
            id: "crew.skill".to_owned(),
            what: format!("share of the rate that {} operatives reach", skill.word()),
            formula: "by skill; the rates are those of trained operatives",
            inputs: Vec::new(),
            result: row.rate,
            unit: "",
            rounding: "none",
            source: row.source.clone(),
            grade: row.grade,
        });
    }
    let size = crew_size(input);
    let reached = figures.reached(size);
    if is_not_one(reached) {
        found.push(figure("crew", reached, ""));
        basis.add(|| Basis {
            id: "crew.size".to_owned(),
            what: "share of its rate that each operative of the crew reaches".to_owned(),
            formula: "by crew size: operatives wait for each other, for sockets and for space",
            inputs: vec![figure("crew_size", float(size), "operatives")],
            result: reached,
            unit: "",
            rounding: "none",
            source: figures.source.clone(),
            grade: figures.grade,
        });
    }
    found
}

/// What is left of the crew's factors for a rate that the site has told: as it was reached by the crew of its card.
fn of_own_rate(input: &PlanInput<'_>, crew: &[Input]) -> Vec<Input> {
    let figures = &input.base.crew;
    let share = figures.reached(crew_size(input)) / figures.reached(input.card.crew_size.max(1));
    let others = crew.iter().filter(|factor| factor.name != "crew");
    let mut found: Vec<Input> = others.cloned().collect();
    found.extend(is_not_one(share).then(|| figure("crew", share, "")));
    found
}

fn is_not_one(share: f64) -> bool {
    (share - 1.0).abs() > f64::EPSILON
}

/// The rate after obstruction, room size, soil and what the crew does to it.
///
/// What nobody has said widens the range: coats that may be many, edges that may be longer.
fn pace<'k>(input: &PlanInput<'_>, rate: &'k Rate, facts: &Facts<'_>, crew: &[Input]) -> Pace<'k> {
    let factors = &input.base.factors;
    let survey = input.survey;
    let rated = rated(input.card, rate);
    let mut found = Vec::with_capacity(FACTORS);
    if rated.is_of_card() {
        // A site's own rate is what its own crew reaches: only another crew reaches more or less of it.
        found.extend(of_own_rate(input, crew));
    } else {
        found.extend_from_slice(crew);
    }
    if rate.obstructed {
        let word = survey.obstruction.unwrap_or(Obstruction::Light).word();
        found.push(figure(
            "obstruction",
            factors.obstruction.get(word).copied().unwrap_or(1.0),
            "",
        ));
    }
    if rate.sized {
        found.push(figure(
            "room_size",
            by_area(&factors.room, survey.area.m2()),
            "",
        ));
    }
    if rate.soiled {
        let word = survey.soil.unwrap_or(Soil::Normal).word();
        found.push(figure(
            "soil",
            factors.soil.get(word).copied().unwrap_or(1.0),
            "",
        ));
    }
    let coats = &factors.build_up;
    let mut slower = 1.0;
    if rate.built_up {
        if is_built_up(input.base, facts) {
            found.push(figure("build_up", coats.rate, ""));
        } else if facts.get(Fact::FilmCoats).is_unknown() {
            slower = coats.rate;
        }
    }
    let mut faster = 1.0;
    if rate.unit == "m" && survey.edge().approximated {
        let [short, long] = factors.edge_range;
        (slower, faster) = (slower / long, 1.0 / short);
    }
    let product: f64 = found.iter().map(|factor| factor.value).product();
    let [low, high] = rated.range;
    Pace {
        row: rate,
        per_h: rated.per_h * product,
        range: [low * product * slower, high * product * faster],
        factors: found,
        rated,
    }
}

/// The labour of a candidate's steps, one line for each activity and stage; spreads it over the steps.
///
/// # Errors
/// [`DraftPlanError::Figure`] where an activity has no rate, or a rate that leads nowhere.
pub(crate) fn labour(
    input: &PlanInput<'_>,
    steps: &mut [PlannedStep],
    facts: &Facts<'_>,
    basis: &mut Reasons,
) -> Result<Vec<LabourLine>, DraftPlanError> {
    let crew = crew(input, basis);
    let mut lines: Vec<LabourLine> = Vec::with_capacity(LINES);
    let mut shares: Vec<(f64, Pace<'_>)> = Vec::with_capacity(LINES);
    for step in steps.iter() {
        let Some(activity) = &step.activity else {
            continue;
        };
        let known = lines
            .iter_mut()
            .zip(shares.iter_mut())
            .find(|(line, _)| line.activity == *activity && line.stage == step.stage);
        if let Some((line, (share, _pace))) = known {
            *share += step.share;
            if step.coat.is_some() || step.share >= 1.0 {
                line.times = line.times.saturating_add(1);
            }
        } else {
            let shown = (step.stage, basis.telling);
            let (line, pace) = line(input, activity, shown, (facts, &crew))?;
            lines.push(line);
            shares.push((step.share, pace));
        }
    }
    for (line, (share, pace)) in lines.iter_mut().zip(&shares) {
        fill(input, line, (pace.row, steps), basis)?;
        line.time = time(line)?.plus(line.filling);
        basis.add(|| reason(line, pace));
        for step in steps.iter_mut() {
            if step.activity.as_ref() == Some(&line.activity) && step.stage == line.stage {
                let hours = line.time.hours() * step.share / share;
                step.labour = Labour::from_hours(hours).ok_or_else(|| too_large(line))?;
            }
        }
    }
    Ok(lines)
}

/// The rate of an activity: that with the machine that the wish names, else the first that holds for the floor.
pub(crate) fn rate<'k>(
    input: &PlanInput<'k>,
    activity: &str,
    facts: &Facts<'_>,
) -> Option<&'k Rate> {
    let rows = || {
        let rows = input.base.rates.iter();
        rows.filter(move |row| row.activity == activity)
    };
    let wished = input.wish.machine.as_ref();
    let with = wished.and_then(|key| rows().find(|row| row.machine.as_ref() == Some(key)));
    with.or_else(|| rows().find(|row| row.when.holds(facts) == Truth::True))
}

/// The machine that works at a rate: that which the wish names if it is of the same kind, else the rate's own.
pub(crate) fn machine<'k>(input: &PlanInput<'k>, rate: &Rate) -> Option<&'k Machine> {
    let usual = input.base.machine(rate.machine.as_ref()?)?;
    let wished = input.wish.machine.as_ref();
    let wished = wished.and_then(|key| input.base.machine(key));
    Some(wished.filter(|row| row.kind == usual.kind).unwrap_or(usual))
}

fn line<'k>(
    input: &PlanInput<'k>,
    activity: &str,
    (stage, telling): (Stage, Telling),
    (facts, crew): (&Facts<'_>, &[Input]),
) -> Result<(LabourLine, Pace<'k>), DraftPlanError> {
    let row = rate(input, activity, facts).ok_or_else(|| DraftPlanError::Figure {
        what: format!("the rate of {activity}"),
    })?;
    let pace = pace(input, row, facts, crew);
    let (quantity, unit) = if row.unit == "m" {
        (input.survey.edge().length.m(), "m")
    } else {
        (input.survey.area.m2(), "m2")
    };
    let line = LabourLine {
        activity: activity.to_owned(),
        name: telling.text(|| row.name.clone()),
        stage,
        quantity,
        unit,
        times: 1,
        per_h: pace.per_h,
        per_h_range: pace.range,
        time: Labour::ZERO,
        filling: Labour::ZERO,
        sigma: pace.rated.sigma().unwrap_or(input.base.spread.labour),
        machine: machine(input, row).map(|machine| machine.key.clone()),
        basis: telling.text(|| format!("labour.{}.{activity}", stage.word())),
    };
    Ok((line, pace))
}

/// A time that is more than the ledger holds.
pub(super) fn too_large(line: &LabourLine) -> DraftPlanError {
    DraftPlanError::Figure {
        what: format!("the time of {}", line.activity),
    }
}

fn time(line: &LabourLine) -> Result<Labour, DraftPlanError> {
    let hours = line.quantity * float(line.times) / line.per_h;
    Labour::from_hours(hours).ok_or_else(|| too_large(line))
}

fn reason(line: &LabourLine, pace: &Pace<'_>) -> Basis {
    let unit = if line.unit == "m" { "m/h" } else { "m2/h" };
    let mut inputs = vec![
        figure("quantity", line.quantity, line.unit),
        figure("times", float(line.times), ""),
        figure("rate", pace.rated.per_h, unit),
    ];
    inputs.extend(pace.factors.iter().cloned());
    inputs.push(figure("filling", line.filling.hours(), "h"));
    inputs.extend(pace.rated.inputs(unit));
    Basis {
        id: line.basis.clone(),
        what: format!("labour: {}", line.name),
        formula: "quantity · times / (rate · factors) + filling",
        inputs,
        result: line.time.hours(),
        unit: "h",
        rounding: "to the microsecond; money once a line",
        source: pace.rated.source(pace.row),
        grade: pace.rated.grade(pace.row),
    }
}

#[cfg(test)]
mod tests {
    use super::by_area;

    #[test]
    fn a_table_is_straight_in_the_logarithm_and_flat_outside() {
        let table = [[10.0, 0.5], [1000.0, 1.0]];
        assert!((by_area(&table, 1.0) - 0.5).abs() < 1e-12);
        // The logarithm of 100 lies half-way between those of 10 and 1,000.
        assert!((by_area(&table, 100.0) - 0.75).abs() < 1e-12);
        assert!((by_area(&table, 5000.0) - 1.0).abs() < 1e-12);
    }
}
