//! One floor asked for its programmes: what is compared, where it begins, and what the comparison rests on.

use chrono::NaiveDate;

use super::{
    act::Act,
    compare::{Desk, likeliest},
    figures::{Programme, Terms},
    forecast::{Forecast, Today},
    frame::{Coated, Frame},
    lane::{Lane, Made},
    policy::Fault,
    price::Prices,
    start::{self, GlossToday, GripToday, Known, Read},
    wear::{self, Use, Wear},
};
use crate::{
    due::Due,
    film::Coats,
    plan::PlanInput,
    quantity::float,
    survey::{FilmKind, Traffic},
};

/// Months for which waiting is told.
pub const WAIT_MONTHS: u32 = 3;
/// How far the longer intervals stretch those of the due rules.
pub const LONGER: f64 = 1.5;

/// What is asked of one floor.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The floor with the film that lies on it now, and its prices. The wish counts for nothing.
    pub input: PlanInput<'a>,
    /// What is known of its past.
    pub known: Known<'a>,
    /// What is told of its use.
    pub told: Use,
    /// What is due on it by the rules.
    pub due: &'a [Due],
    /// On what terms.
    pub terms: Terms,
}

/// An action that this floor offers, once, on the film as it most likely lies.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// What is done.
    pub act: Act,
    /// What it is called in a sentence.
    pub doing: String,
    /// By which process; none for leaving it alone.
    pub process: Option<String>,
    /// In 1/10,000 of the currency's unit, before tax; `None` where the rules refuse it there or no process suits the floor.
    pub cost: Option<f64>,
    /// Working hours.
    pub hours: Option<f64>,
    /// Whether the planner asks for a fact before it is done.
    pub asks: bool,
    /// What it costs more than the best if it is taken now; `None` where rules or grip do not allow it.
    pub extra_now: Option<f64>,
}

/// How a floor looks, and is to look.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// The gloss today.
    pub gloss: GlossToday,
    /// The gloss that is asked for.
    pub target_gu: f64,
}

/// Programmes side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// How the lane wears.
    pub wear: Wear,
    /// What lies on the floor.
    pub film: FilmKind,
    /// How it looks; `None` for films whose gloss is not followed.
    pub look: Option<Look>,
    /// The grip today; `None` where nobody read it.
    pub grip: Option<GripToday>,
    /// Values of grip below what is kept that do not show in that of today.
    pub grip_low: Vec<Read>,
    /// The wet pendulum value that the floor has to show today so that the best programme never goes below what is kept.
    pub grip_needed: f64,
    /// The coats in the lane.
    pub coats: Coats,
    /// Whether somebody counted them.
    pub coats_counted: bool,
    /// The fewest coats in the lane that are allowed; none for a polish.
    pub least_coats: f64,
    /// What can be done.
    pub offers: Vec<Offer>,
    /// The best; `None` where every way would lose the grip.
    pub best: Option<Programme>,
    /// What a month below the asked gloss has to be worth for the best to be best, in 1/10,000 of the currency's unit.
    pub worth: f64,
    /// The intervals of the due rules.
    pub fixed: Option<Programme>,
    /// Longer ones.
    pub longer: Option<Programme>,
    /// Nothing beyond cleaning.
    pub leave: Option<Programme>,
    /// The best that waits first; `None` where that would lose the grip.
    pub wait: Option<Programme>,
    /// When a floor that is left alone comes down to its limits.
    pub forecasts: Vec<Forecast>,
    /// What the search made least, of best, fixed, longer, leave and wait: present cost with months below at their worth.
    pub objectives: [Option<f64>; 5],
}

/// Why no programme can be reckoned for a floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotReckoned {
    /// Nobody knows what lies on it.
    FilmUnknown,
    /// Nothing lies on it that wears.
    Bare,
    /// A film lies on it of whose wear or renewal nothing is known here.
    NotFollowed,
    /// Nobody counted its coats, and nobody told its condition lately.
    FilmLeftUnknown,
    /// No process may renew the film here or lay it anew, so that nothing makes good a lane that is worn through.
    NotRenewable,
    /// A figure leads nowhere.
    Figure,
}

impl From<Fault> for NotReckoned {
    fn from(_: Fault) -> Self {
        Self::Figure
    }
}

/// A film with what the model needs of it.
struct Ready<'a> {
    frame: Frame,
    film: wear::Film<'a>,
    coats: Coats,
    counted: bool,
}

impl<'a> Ready<'a> {
    fn of(asked: &Asked<'a>, kind: FilmKind, prices: &Prices<'a>) -> Result<Self, NotReckoned> {
        let base = asked.input.base;
        match kind {
            FilmKind::Polish | FilmKind::SealAndPolish => {
                let traffic = asked.input.survey.traffic.unwrap_or(Traffic::Medium).word();
                let full = base.factors.coats.get(traffic).copied().unwrap_or(3);
                let (coats, counted) = coats(asked.known, float(full));
                Ok(Self {
                    frame: Frame::polish(base, u8::try_from(full).unwrap_or(3)),
                    film: wear::Film::Polish,
                    coats,
                    counted,
                })
            }
            FilmKind::Bare => Err(NotReckoned::Bare),
            FilmKind::FactoryFinish | FilmKind::Seal | FilmKind::WaxOrOil => {
                if base.programme.coating(kind).is_none() {
                    return Err(NotReckoned::NotFollowed);
                }
                let coated = Coated::of(base, kind, prices).ok_or(NotReckoned::NotRenewable)?;
                let coats = coated.coats(asked.known.state);
                let (coats, counted) = coats.ok_or(NotReckoned::FilmLeftUnknown)?;
                Ok(Self {
                    frame: coated.frame,
                    film: coated.film,
                    coats,
                    counted,
                })
            }
        }
    }
}

/// How a polish looks; `None` where gloss is not followed.
fn look(asked: &Asked<'_>, frame: Frame, wear: &Wear) -> Option<Look> {
    let base = asked.input.base;
    frame.shines().then(|| Look {
        gloss: start::gloss_today(base, wear, asked.known),
        target_gu: asked
            .told
            .target_gu
            .unwrap_or(base.programme.gloss.target_gu),
    })
}

/// The programmes that are compared, and what each action is worth now.
struct Compared {
    best: Option<Programme>,
    worth: f64,
    fixed: Option<Programme>,
    longer: Option<Programme>,
    leave: Option<Programme>,
    wait: Option<Programme>,
    now: Option<Vec<(Act, Option<f64>)>>,
    objectives: [Option<f64>; 5],
    grip_needed: f64,
}

impl Compared {
    fn on(desk: &Desk<'_>, due: &[(Due, i64)]) -> Result<Self, Fault> {
        let best = desk.best()?;
        let worth = best.as_ref().map_or(0.0, |best| best.worth);
        let fixed = desk.by_calendar(&desk.calendar(due, 1.0))?;
        let longer = desk.by_calendar(&desk.calendar(due, LONGER))?;
        let leave = desk.by_calendar(&[])?;
        let wait = match &best {
            Some(_) => desk.waiting(worth, WAIT_MONTHS)?,
            None => None,
        };
        let now = best.as_ref().map(|best| desk.now(best)).transpose()?;
        let best = best.map(|best| best.programme);
        let of = |programme: &Option<Programme>| {
            let programme = programme.as_ref()?;
            Some(desk.objective(programme, worth))
        };
        Ok(Self {
            objectives: [of(&best), of(&fixed), of(&longer), of(&leave), of(&wait)],
            grip_needed: desk.grip_needed(best.as_ref()),
            best,
            worth,
            fixed,
            longer,
            leave,
            wait,
            now,
        })
    }
}

/// Compares the programmes of one floor.
///
/// # Errors
/// [`NotReckoned`] for floors of which nothing can be reckoned.
pub fn compare(asked: Asked<'_>) -> Result<Comparison, NotReckoned> {
    let (input, base) = (asked.input, asked.input.base);
    let kind = input.survey.film.kind.ok_or(NotReckoned::FilmUnknown)?;
    let prices = Prices::new(&input, kind);
    let ready = Ready::of(&asked, kind, &prices)?;
    let (frame, coats) = (ready.frame, ready.coats);
    let wear = Wear::of(base, input.survey, (asked.told, ready.film));
    let wear = wear.ok_or(NotReckoned::Figure)?;
    let look = look(&asked, frame, &wear);
    let start::Grip {
        today: grip,
        low: grip_low,
    } = start::grip_today(base, asked.known, input.survey.ptv_wet);
    let gloss = look.as_ref().map(|look| &look.gloss);
    let learnt = Wear {
        gloss_kpass: gloss.map_or(wear.gloss_kpass, |gloss| gloss.gloss_kpass),
        ..wear.clone()
    };
    let target_gu = look
        .as_ref()
        .map_or(base.programme.gloss.target_gu, |look| look.target_gu);
    let made = Made {
        base,
        wear: &learnt,
        prices: &prices,
        frame,
        target_gu,
        kind,
        traffic: input.survey.traffic,
    };
    let lane = Lane::new(made)?;
    let renews = !frame.shines() && lane.offers(Act::Recoat);
    if !renews && !lane.offers(Act::Strip) {
        return Err(NotReckoned::NotRenewable);
    }
    let spots = start::spots(base, &lane, gloss, coats);
    let desk = Desk::new((&lane, made), &spots, grip, asked.terms);
    let found = Compared::on(&desk, &in_days(&asked))?;
    let forecasts = Today {
        base,
        wear: &wear,
        look: look.as_ref(),
        grip,
        coats: Some(coats).filter(|_| ready.counted),
        day: today(&asked),
        months: asked.terms.months,
    }
    .forecasts();
    Ok(Comparison {
        film: kind,
        wear,
        look,
        grip,
        grip_low,
        grip_needed: found.grip_needed,
        coats,
        coats_counted: ready.counted,
        least_coats: f64::from(frame.least) / f64::from(frame.units),
        offers: offers((&lane, &prices), likeliest(&spots), found.now.as_deref()),
        best: found.best,
        worth: found.worth,
        fixed: found.fixed,
        longer: found.longer,
        leave: found.leave,
        wait: found.wait,
        forecasts,
        objectives: found.objectives,
    })
}

/// The day on which it is asked, where the floor is.
fn today(asked: &Asked<'_>) -> NaiveDate {
    let now = asked.input.now.with_timezone(&asked.input.zone);
    now.date_naive()
}

/// What is due, with the days until then.
fn in_days(asked: &Asked<'_>) -> Vec<(Due, i64)> {
    let today = today(asked);
    let due = asked.due.iter();
    due.map(|due| (due.clone(), (due.due_on - today).num_days()))
        .collect()
}

/// The coats in the lane, and whether somebody counted them; as many as usual, give or take, where nobody did.
fn coats(known: Known<'_>, usual: f64) -> (Coats, bool) {
    let counted = known.state.film().coats.is_some();
    let coats = known.state.polish.filter(|_| counted);
    let guessed = Coats {
        low: 0.0,
        likely: usual,
        high: 2.0 * usual,
    };
    (coats.unwrap_or(guessed), counted)
}

/// What the floor offers where it most likely lies.
fn offers(
    (lane, prices): (&Lane, &Prices<'_>),
    here: usize,
    now: Option<&[(Act, Option<f64>)]>,
) -> Vec<Offer> {
    let offer = |act: &Act| {
        let doing = prices.doing(*act)?;
        let price = lane
            .prices
            .get(here)
            .and_then(|row| *row.get(act.number())?);
        let extra = now.into_iter().flatten().find(|(now, _)| now == act);
        Some(Offer {
            act: *act,
            doing,
            process: prices.process(*act).map(|process| process.key.clone()),
            cost: price.map(|price| price.cost),
            hours: price.map(|price| price.hours),
            asks: price.is_some_and(|price| price.asks),
            extra_now: extra.and_then(|(_, extra)| *extra),
        })
    };
    Act::ALL.iter().filter_map(offer).collect()
}
