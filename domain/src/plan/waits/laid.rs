//! What goes on during a wait: time passes, a film dries, or a coat hardens.

use super::{
    super::{PlannedStep, facts, steps},
    Pace, Waits, minutes_up,
};
use crate::{
    estimate::covered::{Multiple, dried},
    knowledge::{Cure, Facts, Hold, Product},
    learning::WATER,
    physics::{
        curing::Curing,
        drying::{DryTime, WetFilm, WetFilmReading},
        room::Laying,
    },
};

/// What goes on during a wait.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Laid {
    /// Time passes.
    Nothing,
    /// Water leaves a film.
    Dries {
        film: WetFilm,
        laying: Laying,
        /// By how much jobs have told that such films differ from the model.
        dried: Multiple,
        /// For a coat: what a litre covers, the most that its class is ever spread over, and the warmest air for it.
        coat: Option<CoatLimits>,
    },
    /// A coat hardens, within these minutes at the temperature of its label.
    Hardens {
        curing: Curing,
        label_min: i64,
        warmest_c: f64,
    },
}

/// How far a coat may be spread, and how warm it may be laid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CoatLimits {
    pub(super) m2_l: f64,
    pub(super) most_m2_l: f64,
    pub(super) warmest_c: f64,
}

/// Median and four cases of five of a film's time, in minutes: the model's, times what jobs have told of such films.
pub(super) fn minutes_of(time: &DryTime, dried: &Multiple) -> (i64, i64) {
    let time = dried.learnt().map_or(*time, |learnt| {
        time.learnt(learnt.median(), learnt.next_sd_log)
    });
    (minutes_up(time.p50_s), minutes_up(time.p80_s))
}

impl Waits<'_> {
    /// What goes on during a wait after a step, whose label or usual minutes are `label_min`.
    pub(super) fn laid(
        &self,
        hold: &Hold,
        (product, step, pace): (Option<&Product>, &PlannedStep, &Pace<'_>),
        label_min: Option<i64>,
        known: &Facts<'_>,
    ) -> Laid {
        let is_rough = facts::is_rough(self.input, known);
        let rough = hold.water_rough_g_m2.filter(|_water| is_rough);
        if let Some(mass_g_m2) = rough.or(hold.water_g_m2) {
            let film = WetFilm::new(WetFilmReading::Water { mass_g_m2 });
            return film.map_or(Laid::Nothing, |film| Laid::Dries {
                film,
                laying: pace.of_water(),
                dried: dried(self.input, WATER),
                coat: None,
            });
        }
        let Some(row) = product else {
            return Laid::Nothing;
        };
        let usual = &self.input.base.factors;
        let warmest_c = row.apply_max_c.unwrap_or(usual.apply_max_c);
        if let (Some((_cure, curing)), Some(label_min)) =
            (Cure::of(self.input.base, row), label_min)
        {
            return Laid::Hardens {
                curing,
                label_min,
                warmest_c,
            };
        }
        let (true, Some(coat)) = (hold.coat, step.coat) else {
            return Laid::Nothing;
        };
        // A coat without a share of water is no water that air takes up: its label alone decides.
        let dries = row.water_share.and_then(|water_mass_fraction| {
            let m2_l = steps::coverage(row, coat.layer, known)?;
            let film = WetFilm::new(WetFilmReading::CoatThickness {
                thickness_um: 1_000.0 / m2_l,
                density_kg_m3: 1_000.0,
                water_mass_fraction,
            });
            let class = self.input.base.product_class(&row.class);
            let most_m2_l = class.map_or(m2_l, |class| class.coverage_m2_l[1]);
            Some(Laid::Dries {
                film: film.ok()?,
                laying: pace.of_coat(step, coat.area),
                dried: dried(self.input, &row.class),
                coat: Some(CoatLimits {
                    m2_l,
                    most_m2_l,
                    warmest_c,
                }),
            })
        });
        dries.unwrap_or(Laid::Nothing)
    }
}
