//! One floor asked for its programmes: what is compared, where it begins, and what the comparison rests on.

use chrono::NaiveDate;

use super::{
    compare::{Desk, likeliest},
    figures::{Programme, Terms},
    lane::{Act, Lane, Made},
    policy::Fault,
    price::Prices,
    start::{self, GlossToday, GripToday, Known, Read},
    wear::{Use, Wear},
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

/// Programmes side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// How the lane wears.
    pub wear: Wear,
    /// The gloss today.
    pub gloss: GlossToday,
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
    /// The gloss that is asked for.
    pub target_gu: f64,
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
    /// What the search made least, of best, fixed, longer, leave and wait: present cost with months below at their worth.
    pub objectives: [Option<f64>; 5],
}

/// Why no programme can be reckoned for a floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotReckoned {
    /// Nobody knows what lies on it.
    FilmUnknown,
    /// No polish lies on it that wears and is renewed.
    NoPolish,
    /// No process may take the film off here and lay it anew, so that nothing makes good a lane that is worn through.
    NotRenewable,
    /// A figure leads nowhere.
    Figure,
}

impl From<Fault> for NotReckoned {
    fn from(_: Fault) -> Self {
        Self::Figure
    }
}

/// Compares the programmes of one floor.
///
/// # Errors
/// [`NotReckoned`] for floors of which nothing can be reckoned.
pub fn compare(asked: Asked<'_>) -> Result<Comparison, NotReckoned> {
    let (input, base) = (asked.input, asked.input.base);
    match input.survey.film.kind {
        None => return Err(NotReckoned::FilmUnknown),
        Some(FilmKind::Polish | FilmKind::SealAndPolish) => {}
        Some(_) => return Err(NotReckoned::NoPolish),
    }
    let wear = Wear::of(base, input.survey, asked.told).ok_or(NotReckoned::Figure)?;
    let gloss = start::gloss_today(base, &wear, asked.known);
    let start::Grip {
        today: grip,
        low: grip_low,
    } = start::grip_today(base, asked.known, input.survey.ptv_wet);
    let traffic = input.survey.traffic.unwrap_or(Traffic::Medium).word();
    let full = base.factors.coats.get(traffic).copied().unwrap_or(3);
    let (coats, coats_counted) = coats(asked.known, float(full));
    let learnt = Wear {
        gloss_kpass: gloss.gloss_kpass,
        ..wear.clone()
    };
    let prices = Prices::new(&input);
    let target_gu = asked
        .told
        .target_gu
        .unwrap_or(base.programme.gloss.target_gu);
    let made = Made {
        base,
        wear: &learnt,
        prices: &prices,
        full: u8::try_from(full).unwrap_or(3),
        target_gu,
        traffic: input.survey.traffic,
    };
    let lane = Lane::new(made)?;
    if !lane.offers(Act::Strip) {
        return Err(NotReckoned::NotRenewable);
    }
    let spots = start::spots(base, &lane, &gloss, coats);
    let desk = Desk::new((&lane, made), &spots, grip, asked.terms);
    let best = desk.best()?;
    let worth = best.as_ref().map_or(0.0, |best| best.worth);
    let due = in_days(&asked);
    let fixed = desk.by_calendar(&desk.calendar(&due, 1.0))?;
    let longer = desk.by_calendar(&desk.calendar(&due, LONGER))?;
    let leave = desk.by_calendar(&[])?;
    let wait = match &best {
        Some(_) => desk.waiting(worth, WAIT_MONTHS)?,
        None => None,
    };
    let now = best.as_ref().map(|best| desk.now(best)).transpose()?;
    let offers = offers((&lane, &prices), likeliest(&spots), now.as_deref());
    let best = best.map(|best| best.programme);
    let of = |programme: &Option<Programme>| {
        let programme = programme.as_ref()?;
        Some(desk.objective(programme, worth))
    };
    let objectives = [of(&best), of(&fixed), of(&longer), of(&leave), of(&wait)];
    let grip_needed = desk.grip_needed(best.as_ref());
    Ok(Comparison {
        wear,
        gloss,
        grip,
        grip_low,
        grip_needed,
        coats,
        coats_counted,
        target_gu,
        offers,
        best,
        worth,
        fixed,
        longer,
        leave,
        wait,
        objectives,
    })
}

/// What is due, with the days until then.
fn in_days(asked: &Asked<'_>) -> Vec<(Due, i64)> {
    let today: NaiveDate = asked
        .input
        .now
        .with_timezone(&asked.input.zone)
        .date_naive();
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
        let price = lane
            .prices
            .get(here)
            .and_then(|row| *row.get(act.number())?);
        let extra = now.into_iter().flatten().find(|(now, _)| now == act);
        Offer {
            act: *act,
            process: prices.process(*act).map(|process| process.key.clone()),
            cost: price.map(|price| price.cost),
            hours: price.map(|price| price.hours),
            asks: price.is_some_and(|price| price.asks),
            extra_now: extra.and_then(|(_, extra)| *extra),
        }
    };
    Act::ALL.iter().map(offer).collect()
}
