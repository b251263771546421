//! When a floor on which nothing is done beyond cleaning first comes down to its limits: gloss, last coat, grip.

use chrono::NaiveDate;

use super::{
    answer::Look,
    gloss::GlossState,
    passage::{Distance, Passing, normal_points, whole},
    start::{GripToday, LOSS_TIMES},
    wear::{MONTH_DAYS, Wear},
};
use crate::{
    estimate::basis::{Basis, Input, input},
    film::Coats,
    knowledge::{Doubt, KnowledgeBase},
    quantity::float,
    words::words,
};

words! {
    /// A limit to which a floor comes down.
    Limit {
        /// The gloss that is asked for.
        Gloss "gloss",
        /// The last coat in the lane.
        LastCoat "last_coat",
        /// The grip that is kept.
        Grip "grip",
    }
    /// Why a limit has no dates.
    Silent {
        /// Nobody read it since the last coat, and nobody reported that coat.
        NoReading "no_reading",
        /// Nobody counted the coats.
        NotCounted "coats_not_counted",
    }
}

/// The chances for which dates are told, in %.
pub const PERCENTILES: [u8; 3] = [10, 50, 90];
/// The film below which no wear is left: one coat.
const LAST_COAT: f64 = 1.0;
/// Points of the triangle between the fewest coats and the most.
const COATS: i64 = 32;

/// When a limit is first reached.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Which.
    pub what: Limit,
    /// Its value.
    pub value: f64,
    /// In what.
    pub unit: &'static str,
    /// The day from which dates count.
    pub today: NaiveDate,
    /// When it is reached with the chances of [`PERCENTILES`].
    pub passing: Result<[Passing; 3], Silent>,
    /// The chance that it is reached within the time that was asked for, with its reason; `None` where there are no dates.
    pub basis: Option<Basis>,
}

/// What is known of a floor today.
#[derive(Debug, Clone, Copy)]
pub(super) struct Today<'a> {
    pub(super) base: &'a KnowledgeBase,
    /// By the figures of its class.
    pub(super) wear: &'a Wear,
    /// How it looks; `None` where gloss is not followed.
    pub(super) look: Option<&'a Look>,
    pub(super) grip: Option<GripToday>,
    /// Coats in the lane; `None` where nobody counted them.
    pub(super) coats: Option<Coats>,
    pub(super) day: NaiveDate,
    /// How far it is looked ahead.
    pub(super) months: u32,
}

/// What a forecast rests on.
struct Ground {
    id: &'static str,
    what: &'static str,
    formula: &'static str,
    inputs: Vec<Input>,
    source: String,
}

impl Today<'_> {
    /// The dates of all limits.
    pub(super) fn forecasts(&self) -> Vec<Forecast> {
        let grip = &self.base.programme.grip;
        let gloss = self.look.map(|look| {
            let limit = (look.target_gu, "GU");
            self.told(Limit::Gloss, limit, self.gloss(look))
        });
        let film = [
            self.told(Limit::LastCoat, (LAST_COAT, "coats"), self.last_coat()),
            self.told(Limit::Grip, (grip.least_ptv, "PTV"), self.grip()),
        ];
        gloss.into_iter().chain(film).collect()
    }

    fn doubt(&self) -> &Doubt {
        &self.base.programme.doubt
    }

    fn told(
        &self,
        what: Limit,
        (value, unit): (f64, &'static str),
        reckoned: Result<(Distance, Ground), Silent>,
    ) -> Forecast {
        let months = f64::from(self.months);
        let days = crate::quantity::whole((months * MONTH_DAYS).round()).unwrap_or(0);
        let basis = |(distance, ground): &(Distance, Ground)| Basis {
            id: ground.id.to_owned(),
            what: ground.what.to_owned(),
            formula: ground.formula,
            inputs: ground.inputs.clone(),
            result: distance.within(months),
            unit: "1",
            rounding: "none",
            source: ground.source.clone(),
            grade: self.doubt().grade,
        };
        Forecast {
            what,
            value,
            unit,
            today: self.day,
            basis: reckoned.as_ref().ok().map(basis),
            passing: reckoned.map(|(distance, _)| {
                PERCENTILES.map(|pct| distance.first(f64::from(pct) / 100.0, days, MONTH_DAYS))
            }),
        }
    }

    fn spreads(&self) -> String {
        format!("spreads: {}", self.doubt().source)
    }

    /// The gloss by its filter; where it was neither read nor newly laid, it is a guess and has no dates.
    fn gloss(&self, look: &Look) -> Result<(Distance, Ground), Silent> {
        let today = &look.gloss;
        let figures = &self.base.programme.gloss;
        let known = match (today.newest, today.laid) {
            (Some(read), _) => format!(
                "{} reading(s) of gloss since the last coat, the newest {:.1} GU of {}",
                today.n_counted,
                read.value,
                read.at.date_naive()
            ),
            (None, Some(laid)) => format!(
                "no reading: the gloss of coats laid on {}, and its usual loss since ({})",
                laid.date_naive(),
                figures.source
            ),
            (None, None) => return Err(Silent::NoReading),
        };
        let (state, kpass) = (today.state, self.wear.kpass(MONTH_DAYS));
        let usual_loss = today.usual_loss;
        let span = figures.new_gu - figures.worn_gu;
        let asked = look.target_gu - figures.worn_gu;
        let level = |(gloss, loss): (f64, f64)| {
            let loss = loss.clamp(LOSS_TIMES.0 * usual_loss, LOSS_TIMES.1 * usual_loss);
            ((gloss - figures.worn_gu).max(0.0) / asked).ln() * span / (loss * kpass)
        };
        let both = both(state).into_iter().filter(|_| asked > 0.0);
        let levels = both.map(|(at, chance)| (level(at), chance));
        let month = self.doubt().month;
        let ground = Ground {
            id: "gloss_passage",
            what: "Chance that the gloss falls below what is asked for within the months asked for, if nothing is done beyond cleaning",
            formula: "inverse Gaussian with mean ln((gloss - worn) / (target - worn)) · span / (loss · kpass) months and shape (mean / month)², over gloss and loss",
            inputs: vec![
                input("gloss", state.gloss, "GU"),
                input("gloss_sigma", state.gloss_variance.max(0.0).sqrt(), "GU"),
                input("loss", state.loss, "GU/kpass"),
                input(
                    "loss_sigma",
                    state.loss_variance.max(0.0).sqrt(),
                    "GU/kpass",
                ),
                input("covariance", state.covariance, "GU²/kpass"),
                input("target", look.target_gu, "GU"),
                input("worn", figures.worn_gu, "GU"),
                input("span", span, "GU"),
                input("kpass", kpass, "kpass"),
                input("month", month, "1"),
            ],
            source: format!(
                "{known}; loss: {:.3} GU/kpass by the class, as the readings moved it; {}",
                usual_loss,
                self.spreads()
            ),
        };
        Ok((Distance::of(levels, month), ground))
    }

    /// How far the film is from `left` coats, each count and each rate of wear with its chance.
    fn film(&self, coats: Coats, left: f64) -> impl Iterator<Item = (f64, f64)> {
        let rate = self.wear.coats_per_month;
        let sigma = self.doubt().film;
        let times = move |z: f64| (1.0 + sigma * z).clamp(LOSS_TIMES.0, LOSS_TIMES.1);
        let counts = triangle(coats);
        counts.into_iter().flat_map(move |(count, share)| {
            let rates = normal_points().into_iter();
            rates.map(move |(z, chance)| ((count - left) / (rate * times(z)), share * chance))
        })
    }

    fn film_inputs(&self, coats: Coats) -> Vec<Input> {
        vec![
            input("coats", coats.likely, "coats"),
            input("coats_low", coats.low, "coats"),
            input("coats_high", coats.high, "coats"),
            input("film_wear", self.wear.coats_per_month, "coats"),
            input("film_sigma", self.doubt().film, "1"),
            input("month", self.doubt().month, "1"),
        ]
    }

    fn last_coat(&self) -> Result<(Distance, Ground), Silent> {
        let coats = self.coats.ok_or(Silent::NotCounted)?;
        let ground = Ground {
            id: "last_coat_passage",
            what: "Chance that the lane is worn to its last coat within the months asked for, if nothing is done beyond cleaning",
            formula: "inverse Gaussian with mean (coats - 1) / film_wear months and shape (mean / month)², over coats and film_wear",
            inputs: self.film_inputs(coats),
            source: format!(
                "coats by what was counted, laid and worn since; {}; {}",
                self.wear.film_source,
                self.spreads()
            ),
        };
        let levels = self.film(coats, LAST_COAT);
        Ok((Distance::of(levels, self.doubt().month), ground))
    }

    /// The grip by its readings: it falls when the lane is worn through. Where it is kept even then, coats need no counting.
    fn grip(&self) -> Result<(Distance, Ground), Silent> {
        let figures = &self.base.programme.grip;
        let read = self.grip.ok_or(Silent::NoReading)?;
        let today = read.chance_below(figures.least_ptv);
        let bare = read.chance_below(figures.least_ptv - figures.worn_through.min(0.0));
        let month = self.doubt().month;
        let may_fall = bare - today;
        let first = f64::from(PERCENTILES[0]) / 100.0;
        let last = f64::from(PERCENTILES[2]) / 100.0;
        let coats = match self.coats {
            Some(coats) => Some(coats),
            // Whatever the coats, these chances are reached now or never.
            None if bare < first || today >= last => None,
            None => return Err(Silent::NotCounted),
        };
        let ahead = coats.into_iter().flat_map(|coats| self.film(coats, 0.0));
        // What is worn through already was read so.
        let ahead = ahead.filter(|(level, _)| *level > 0.0);
        let levels = ahead.map(|(level, chance)| (level, chance * may_fall));
        let mut inputs = vec![
            input("ptv", read.ptv, "PTV"),
            input("ptv_sigma", read.sigma, "PTV"),
            input("least_ptv", figures.least_ptv, "PTV"),
            input("worn_through", figures.worn_through, "PTV"),
        ];
        inputs.extend(coats.into_iter().flat_map(|coats| self.film_inputs(coats)));
        let ground = Ground {
            id: "grip_passage",
            what: "Chance that the wet pendulum value falls below what is kept within the months asked for, if nothing is done beyond cleaning",
            formula: "P(ptv < least_ptv) + P(least_ptv ≤ ptv < least_ptv - worn_through) · P(worn through), the last an inverse Gaussian with mean coats / film_wear months and shape (mean / month)²",
            inputs,
            source: format!(
                "{} reading(s) of the wet pendulum value, mean {:.1}; what a worn lane takes: {}; {}",
                read.n_read,
                read.ptv,
                figures.source,
                self.spreads()
            ),
        };
        let mut distance = Distance::of(levels, month);
        distance.today += today;
        Ok((distance, ground))
    }
}

/// Gloss and loss together, each pair with its chance.
fn both(state: GlossState) -> Vec<((f64, f64), f64)> {
    let loss_sigma = state.loss_variance.max(0.0).sqrt();
    let slope = if state.loss_variance > 0.0 {
        state.covariance / state.loss_variance
    } else {
        0.0
    };
    let left = state.gloss_variance - slope * state.covariance;
    let gloss_sigma = left.max(0.0).sqrt();
    let points = normal_points();
    let pairs = points.iter().flat_map(|(z, chance)| {
        let off = loss_sigma * z;
        let mean = state.gloss + slope * off;
        points.iter().map(move |(z, share)| {
            let pair = (mean + gloss_sigma * z, state.loss + off);
            (pair, chance * share)
        })
    });
    pairs.collect()
}

/// Counts of coats between the fewest and the most, the likely one the likeliest, each with its chance.
fn triangle(coats: Coats) -> Vec<(f64, f64)> {
    let width = coats.high - coats.low;
    if width <= 0.0 {
        return vec![(coats.likely, 1.0)];
    }
    let likely = coats.likely.clamp(coats.low, coats.high);
    let density = |count: f64| {
        if count < likely {
            (count - coats.low) / (likely - coats.low)
        } else if count > likely {
            (coats.high - count) / (coats.high - likely)
        } else {
            1.0
        }
    };
    let middles = (0..COATS).map(|step| coats.low + width * (float(step) + 0.5) / float(COATS));
    whole(middles.map(|count| (count, density(count))).collect())
}
