//! Processes on the wire, with every step.

use std::collections::BTreeMap;

use domain::knowledge::{FilmEffect, LaysSeal, Process, Step, Takes};
use serde::Serialize;
use utoipa::ToSchema;

use super::lists;

/// A process: a named chain of steps.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a row lists properties that a process has or has not"
)]
pub(crate) struct ProcessView {
    /// The word that names it everywhere.
    #[schema(max_length = 60)]
    key: &'static str,
    /// Its name for people.
    #[schema(max_length = 200)]
    name: &'static str,
    /// The goals that it can serve.
    #[schema(max_items = 20)]
    goals: &'static [String],
    /// Its place among those that suit: the lowest is chosen.
    #[schema(minimum = 0)]
    rank: u16,
    /// Whether its pads and solutions are restorative ones.
    restorative: bool,
    /// 0 dry, 1 damp, 2 wet, 3 flooded.
    #[schema(minimum = 0, maximum = 3)]
    wetness: u8,
    /// Whether it takes the film off.
    strips: bool,
    /// Whether a rotary machine scrubs wet.
    scrubs: bool,
    /// Whether a pad works the floor dry or nearly dry.
    dry_buffs: bool,
    /// Whether a fast pad melts the top of a film into shine.
    burnishes: bool,
    /// Whether it abrades the floor dry with screens or discs.
    sands: bool,
    /// Whether it fills the floor's pores with an impregnator.
    impregnates: bool,
    /// Whether it takes everything off the floor down to its bare material; stripping does so too.
    bares: bool,
    /// Whether it renews wax or oil.
    oils: bool,
    /// Whether it takes wax off.
    dewaxes: bool,
    /// Whether it hardens the floor's own surface with a densifier.
    densifies: bool,
    /// Whether it soaks joints with clean water before an acid.
    wets_joints: bool,
    /// Coats of seal where it lays any and nobody says how many, if not the usual number.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1)]
    seal_coats: Option<i64>,
    /// Whether it is the work of another trade.
    specialist: bool,
    /// Whether nobody may walk there for hours.
    closes_floor: bool,
    /// When it lays seal coats: never, plan (where the floor needs it or the wish asks for it) or always.
    #[schema(max_length = 20)]
    lays_seal: &'static str,
    /// Whether it lays polish coats.
    lays_polish: bool,
    /// Whether its polish coats renew a film instead of building one.
    recoat: bool,
    /// Whether the film decides if it is right.
    needs_film_known: bool,
    /// On which floors it is thought of at all, empty for all; elsewhere it is judged only for whoever names it.
    #[schema(max_length = 1000)]
    on: &'static str,
    /// When it is the right choice.
    #[schema(max_length = 1000)]
    suits: &'static str,
    /// Why it is, in words.
    #[schema(max_length = 1000)]
    why: &'static str,
    /// Why it is not, in words.
    #[schema(max_length = 1000)]
    why_not: &'static str,
    /// What it does to the film, apart from the coats that it lays.
    film: FilmEffectView,
    /// Days until it is due again, by traffic.
    interval_days: &'static BTreeMap<String, i64>,
    /// Its steps in order.
    #[schema(max_items = 100)]
    steps: Vec<StepView>,
    /// Where the row comes from.
    #[schema(max_length = 500)]
    source: &'static str,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&'static Process> for ProcessView {
    fn from(row: &'static Process) -> Self {
        Self {
            key: &row.key,
            name: &row.name,
            goals: &row.goals,
            rank: row.rank,
            restorative: row.restorative,
            wetness: row.wetness,
            strips: row.strips,
            scrubs: row.scrubs,
            dry_buffs: row.dry_buffs,
            burnishes: row.burnishes,
            sands: row.sands,
            impregnates: row.impregnates,
            bares: row.bares || row.strips,
            oils: row.oils,
            dewaxes: row.dewaxes,
            densifies: row.densifies,
            wets_joints: row.wets_joints,
            seal_coats: row.seal_coats,
            specialist: row.specialist,
            closes_floor: row.closes_floor,
            lays_seal: match row.lays_seal {
                LaysSeal::Never => "never",
                LaysSeal::Plan => "plan",
                LaysSeal::Always => "always",
            },
            lays_polish: row.lays_polish,
            recoat: row.recoat,
            needs_film_known: row.needs_film_known,
            on: row.on.text(),
            suits: row.suits.text(),
            why: &row.why,
            why_not: &row.why_not,
            film: (&row.film).into(),
            interval_days: &row.interval_days,
            steps: row.steps.iter().map(Into::into).collect(),
            source: &row.source,
            grade: row.grade.word(),
        }
    }
}

/// What a process does to a film.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct FilmEffectView {
    /// How much of it is gone afterwards: nothing, coats (of polish before seal), polish (all of it, not a seal below it) or all.
    #[schema(max_length = 20)]
    takes: &'static str,
    /// Those coats: least, likely, most.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Vec<f64>, min_items = 3, max_items = 3)]
    coats: Option<[f64; 3]>,
    /// The condition of the film afterwards; as before without it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20)]
    after: Option<&'static str>,
}

impl From<&'static FilmEffect> for FilmEffectView {
    fn from(effect: &'static FilmEffect) -> Self {
        let (takes, coats) = match effect.takes {
            Takes::Nothing => ("nothing", None),
            Takes::All => ("all", None),
            Takes::Polish => ("polish", None),
            Takes::Coats(coats) => ("coats", Some(coats)),
        };
        Self {
            takes,
            coats,
            after: effect.after.as_deref(),
        }
    }
}

/// A step of a process.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = ProcessStepView)]
pub(crate) struct StepView {
    /// The word that names it within its process.
    #[schema(max_length = 60)]
    key: &'static str,
    /// prepare, protect or maintain.
    #[schema(max_length = 20)]
    stage: &'static str,
    /// When it is done at all; empty for always.
    #[schema(max_length = 1000)]
    when: &'static str,
    /// What is done.
    #[schema(max_length = 1000)]
    action: &'static str,
    /// With what.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    tool: Option<&'static str>,
    /// The pad, by colour.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    pad: Option<&'static str>,
    /// The class of product that is used up.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    product_class: Option<&'static str>,
    /// Working solution in mL per m², where it differs from the product's own dose.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    dose_ml_m2: Option<f64>,
    /// Clean water in mL per m².
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    water_ml_m2: Option<f64>,
    /// Minutes that the product works.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    dwell: Option<DwellView>,
    /// The activity that pays the labour.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    activity: Option<&'static str>,
    /// This step's share of that activity's time.
    #[schema(minimum = 0)]
    share: f64,
    /// The wait after it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    wait: Option<&'static str>,
    /// The reading that must be met after it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    hold: Option<&'static str>,
    /// `seal` or `polish`: once a coat.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20)]
    repeat: Option<&'static str>,
    /// What to do if it fails.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 1000)]
    if_fails: Option<&'static str>,
}

/// How long a product works, in minutes.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = ProcessDwellView)]
pub(crate) struct DwellView {
    /// At least.
    #[schema(minimum = 0)]
    least_min: i64,
    /// Usually.
    #[schema(minimum = 0)]
    typical_min: i64,
    /// At most.
    #[schema(minimum = 0)]
    most_min: i64,
    /// What to watch while it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 1000)]
    note: Option<&'static str>,
}

impl From<&'static Step> for StepView {
    fn from(row: &'static Step) -> Self {
        let note = row.dwell_note.as_deref();
        let dwell = row
            .dwell_min
            .map(|[least_min, typical_min, most_min]| DwellView {
                least_min,
                typical_min,
                most_min,
                note,
            });
        Self {
            key: &row.key,
            stage: &row.stage,
            when: row.when.text(),
            action: &row.action,
            tool: row.tool.as_deref(),
            pad: row.pad.as_deref(),
            product_class: row.product.as_deref().or(row.product_class_only.as_deref()),
            dose_ml_m2: row.dose_ml_m2,
            water_ml_m2: row.water_ml_m2,
            dwell,
            activity: row.labour.as_deref(),
            share: row.share,
            wait: row.wait.as_deref(),
            hold: row.hold.as_deref(),
            repeat: row.repeat.as_deref(),
            if_fails: row.if_fails.as_deref(),
        }
    }
}

lists! {
    /// All processes.
    ProcessList of ProcessView;
}
