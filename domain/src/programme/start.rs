//! Where a programme begins: the gloss of a floor by its readings, its grip, and the coats in its lane, each with what is not known.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};

use super::{
    gloss::{GlossState, Noise, Taken},
    lane::{Bands, Lane, Spot, share_of},
    wear::Wear,
};
use crate::{
    due::{Done, times_done},
    film::{Coats, State},
    knowledge::{BUFF, KnowledgeBase, RECOAT, STRIP},
    normal::cdf,
    quantity::{Area, float, whole},
    survey::FilmCondition,
};

/// One value that was read on the floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Read {
    /// When.
    pub at: DateTime<Utc>,
    /// In the unit of its kind.
    pub value: f64,
}

/// A reading that lies too far off to count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unlikely {
    /// The reading.
    pub read: Read,
    /// How many standard deviations it lies off.
    pub off_by: f64,
}

/// The gloss of a floor today.
#[derive(Debug, Clone, PartialEq)]
pub struct GlossToday {
    /// Gloss and its loss.
    pub state: GlossState,
    /// Readings that count since the last coat.
    pub n_counted: usize,
    /// Readings since then that do not.
    pub unlikely: Vec<Unlikely>,
    /// Thousand passes in which 63 % of the gloss above the dullest is lost, by these readings.
    pub gloss_kpass: f64,
    /// The newest reading that counts since the last coat.
    pub newest: Option<Read>,
    /// When the last coat was laid, where somebody reported it.
    pub laid: Option<DateTime<Utc>>,
    /// Units lost per thousand passes by the traffic class.
    pub usual_loss: f64,
}

/// How many times the usual loss readings may make of it: at least, at most.
pub(super) const LOSS_TIMES: (f64, f64) = (0.2, 5.0);

/// The grip of a floor today: the mean of what was last read since the last coat over the whole floor, and its standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GripToday {
    /// Wet pendulum test value.
    pub ptv: f64,
    /// Of the mean.
    pub sigma: f64,
    /// Readings that count.
    pub n_read: usize,
}

impl GripToday {
    /// How likely it lies below a value.
    pub fn chance_below(&self, least: f64) -> f64 {
        cdf((least - self.ptv) / self.sigma)
    }
}

/// What is known of a floor's past.
#[derive(Debug, Clone, Copy)]
pub struct Known<'a> {
    /// Today.
    pub now: DateTime<Utc>,
    /// Its area: work on a part of it changes neither its gloss nor its grip as a whole.
    pub area: Area,
    /// When it was first surveyed.
    pub surveyed_at: DateTime<Utc>,
    /// What lies on it.
    pub state: &'a State,
    /// What was done on it.
    pub done: &'a [Done],
    /// Gloss in GU.
    pub gloss: &'a [Read],
    /// Wet pendulum test values.
    pub grip: &'a [Read],
}

/// Follows the gloss from the last coat to today, through each buffing and each reading (Kalman filter).
pub(super) fn gloss_today(base: &KnowledgeBase, wear: &Wear, known: Known<'_>) -> GlossToday {
    let (figures, doubt) = (&base.programme.gloss, &base.programme.doubt);
    let usual_loss = (figures.new_gu - figures.worn_gu) / wear.gloss_kpass;
    let noise = Noise {
        gloss_per_kpass: doubt.drift_gu2,
        loss_per_kpass: doubt.drift_loss * usual_loss * usual_loss,
        reading: doubt.reading_gu * doubt.reading_gu,
    };
    let begin = |gloss: f64, sigma: f64| GlossState {
        gloss,
        loss: usual_loss,
        gloss_variance: sigma * sigma,
        covariance: 0.0,
        loss_variance: (doubt.loss * usual_loss).powi(2),
    };
    let mut happened: Vec<(DateTime<Utc>, What)> = Vec::new();
    for (key, at) in times_done(base, known.area, known.done) {
        let process = base.process(&key);
        if let Some(process) = process.filter(|process| process.lays_polish) {
            let share = if process.recoat {
                figures.recoat_share
            } else {
                1.0
            };
            happened.push((at, What::Laid(share)));
        } else if base.programme.does(&key, BUFF) {
            happened.push((at, What::Buffed));
        }
    }
    happened.extend(known.gloss.iter().map(|read| (read.at, What::Read(*read))));
    happened.retain(|(at, _)| *at <= known.now);
    happened.sort_by_key(|(at, _)| *at);
    // Nothing is known before the first of these but what the film's condition says.
    let first = happened.first().map_or(known.now, |(at, _)| *at);
    let likely = match known.state.condition {
        Some(FilmCondition::Sound) => figures.target_gu,
        _ => figures.new_gu.midpoint(figures.worn_gu),
    };
    let (mut state, mut at) = (begin(likely, doubt.unknown_gu), first);
    let mut found = GlossToday {
        state,
        n_counted: 0,
        unlikely: Vec::new(),
        gloss_kpass: wear.gloss_kpass,
        newest: None,
        laid: None,
        usual_loss,
    };
    let curve = (figures.new_gu, figures.worn_gu);
    let pass = |state: GlossState, days: f64| state.worn(wear.kpass(days), curve, &noise);
    for (moment, what) in happened {
        state = pass(state, days(at, moment));
        at = moment.max(at);
        match what {
            What::Buffed => {
                let gained = figures.buff_restores * (figures.new_gu - state.gloss).max(0.0);
                state.gloss += gained;
                // What a buffing brings is itself uncertain: half of it.
                state.gloss_variance += (gained / 2.0).powi(2);
            }
            What::Laid(share) => {
                let loss = (state.loss, state.loss_variance);
                let reached = figures.worn_gu + share * (figures.new_gu - figures.worn_gu);
                state = begin(reached, doubt.new_gu);
                (state.loss, state.loss_variance) = loss;
                (found.n_counted, found.unlikely) = (0, Vec::new());
                (found.newest, found.laid) = (None, Some(moment));
            }
            What::Read(read) => match state.with_reading(read.value, &noise) {
                Taken::Counted(next) => {
                    state = next;
                    found.n_counted += 1;
                    found.newest = Some(read);
                }
                Taken::Unlikely { off_by } => found.unlikely.push(Unlikely { read, off_by }),
            },
        }
    }
    found.state = pass(state, days(at, known.now));
    // By how much the readings change the loss.
    let times = (found.state.loss / usual_loss).clamp(LOSS_TIMES.0, LOSS_TIMES.1);
    found.gloss_kpass = wear.gloss_kpass / times;
    found
}

/// What happened to a gloss.
#[derive(Debug, Clone, Copy)]
enum What {
    Buffed,
    Laid(f64),
    Read(Read),
}

fn days(from: DateTime<Utc>, to: DateTime<Utc>) -> f64 {
    float((to - from).num_minutes().max(0)) / 1_440.0
}

/// What is known of the grip of a floor.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grip {
    /// Today; `None` where nobody read it since the last coat over the whole floor.
    pub today: Option<GripToday>,
    /// Values below what is kept that do not show in that of today: averaged with higher ones, older, or of the floor under its last
    /// coat where nobody read since.
    pub low: Vec<Read>,
}

/// The grip by what was read since the last coat over the whole floor: the newest reading and those of the days before it. The value of
/// the survey counts where nothing was read since, unless such a coat was laid after it.
pub(super) fn grip_today(base: &KnowledgeBase, known: Known<'_>, told: Option<f64>) -> Grip {
    let figures = &base.programme;
    let done = times_done(base, known.area, known.done).into_iter();
    let lays = |key: &str| {
        let coats = base.process(key).is_some_and(|row| row.lays_polish);
        coats || figures.does(key, RECOAT) || figures.does(key, STRIP)
    };
    let laid = done.filter(|(key, _)| lays(key));
    let coat = laid.map(|(_, at)| at).filter(|at| *at <= known.now).max();
    let since = |read: &&Read| coat.is_none_or(|coat| read.at >= coat);
    let told = told.map(|value| Read {
        at: known.surveyed_at,
        value,
    });
    let readings = || known.grip.iter().filter(|read| read.at <= known.now);
    let newest = readings().filter(since).map(|read| read.at).max();
    let together = TimeDelta::days(figures.grip.same_days);
    let values: Vec<f64> = match newest {
        Some(newest) => {
            let near = readings()
                .filter(since)
                .filter(|read| newest - read.at <= together);
            near.map(|read| read.value).collect()
        }
        None => told.iter().filter(since).map(|read| read.value).collect(),
    };
    let n = u32::try_from(values.len()).ok().filter(|n| *n > 0);
    let today = n.map(|n| GripToday {
        ptv: values.iter().sum::<f64>() / f64::from(n),
        sigma: figures.doubt.reading_ptv / f64::from(n).sqrt(),
        n_read: values.len(),
    });
    let least = figures.grip.least_ptv;
    // Where the value of today lies below, nothing is lost: it says so itself.
    let shows = today.is_some_and(|today| today.ptv < least);
    let all = readings().chain(told.iter());
    let low = all.filter(|read| read.value < least && (today.is_none() || since(read)));
    Grip {
        low: low.filter(|_| !shows).copied().collect(),
        today,
    }
}

/// Where the floor may lie now, each with its chance; the coats in the lane between the fewest and the most that are likely, and
/// beside it the most, for nothing wears there.
pub(super) fn spots(
    base: &KnowledgeBase,
    lane: &Lane,
    gloss: Option<&GlossToday>,
    coats: Coats,
) -> Vec<(usize, f64)> {
    let figures = &base.programme.gloss;
    let below = |share: f64| {
        gloss.map_or(0.0, |gloss| {
            let sigma = gloss.state.gloss_variance.max(0.01).sqrt();
            let mean = share_of(figures, gloss.state.gloss);
            cdf((share - mean) * (figures.new_gu - figures.worn_gu) / sigma)
        })
    };
    let built = whole(coats.high).and_then(|coats| u8::try_from(coats).ok());
    let built = built.unwrap_or(u8::MAX).max(1);
    let counts = coats_between(lane.frame.of_coats(coats), lane.frame.most_counted());
    let last = Bands::ALL.end - 1;
    let mut found = BTreeMap::new();
    for band in Bands::followed(lane.frame) {
        let upper = if band == last {
            1.0
        } else {
            below(lane.bands.begins(band + 1))
        };
        let lower = if band == 0 {
            0.0
        } else {
            below(lane.bands.begins(band))
        };
        for &(coats, share) in &counts {
            let number = lane.number(Spot { band, coats, built });
            let chance = (upper - lower).max(0.0) * share;
            *found.entry(number).or_insert(0.0) += chance;
        }
    }
    // What is all but impossible is left out, and the rest is whole again.
    found.retain(|_, chance: &mut f64| *chance > 1e-4);
    let sum: f64 = found.values().sum();
    found
        .into_iter()
        .map(|(spot, chance)| (spot, chance / sum))
        .collect()
}

/// Whole coats from the fewest to the most, the likely count with the greatest weight (a triangle); more than a model holds count as
/// the most that it does.
fn coats_between(coats: Coats, most_counted: u8) -> Vec<(u8, f64)> {
    let most = f64::from(most_counted);
    let coats = Coats {
        low: coats.low.min(most),
        likely: coats.likely.min(most),
        high: coats.high.min(most),
    };
    let weight = |count: u8| {
        let count = f64::from(count);
        let side = if count < coats.likely {
            coats.likely - coats.low
        } else {
            coats.high - coats.likely
        };
        (1.0 - (count - coats.likely).abs() / (side + 1.0)).max(0.0)
    };
    let least = whole(coats.low.floor()).and_then(|count| u8::try_from(count).ok());
    let most = whole(coats.high.ceil()).and_then(|count| u8::try_from(count).ok());
    let range = least.unwrap_or(0)..=most.unwrap_or(u8::MAX).min(most_counted);
    let weights: Vec<(u8, f64)> = range.map(|count| (count, weight(count))).collect();
    let sum: f64 = weights.iter().map(|(_, weight)| weight).sum();
    weights
        .into_iter()
        .map(|(count, weight)| (count, weight / sum))
        .collect()
}

#[cfg(test)]
mod tests;
