//! What work costs where packs are paid whole: they are counted anew for each of many draws of what is used.
//!
//! Half a litre more may open a pail, and a little less opens no smaller one: the cost of packs goes in steps, which no
//! lognormal amount does. So each draw takes one chance that all lines share and one of its own for each, asks what the
//! packs for its litres cost, and adds what goes without steps. The draws are the same for all work: more of the same is
//! never cheaper by chance.
//!
//! They are not left to chance altogether: each of 1,024 equally likely slices of a normal distribution is met once by each chance, in
//! an order of its own (Latin hypercube sampling: McKay, Beckman and Conover, Technometrics 21, 1979; from memory), and each
//! draw has its mirror image.

use std::{borrow::Cow, sync::LazyLock};

use super::{
    outlook::Many,
    packs::{Pack, PackPrices},
    quantities::ProductLine,
    spread::{Percentiles, Sum},
};
use crate::{
    card::{PackPrice, RateCard},
    knowledge::Products,
    money::Money,
    normal::cdf,
    quantity::{float, whole},
    schedule::rng::{Purpose, Rng},
};

/// How many draws are made.
pub(crate) const DRAWS: u32 = 1_024;
/// Half of them; their mirror images are the other half.
const HALF: i64 = 512;
/// Any number: the draws are the same for all work.
const SEED: u64 = 0x5EED;
/// No draw comes to so many spreads above the median.
const FARTHEST: f64 = 3.4;
/// A hundredth of a millilitre, a fifth of a drop, is what rounding each step may add: it buys no pack.
const SPLASH_ML: f64 = 0.01;
/// So many chances are drawn once for all work; few plans have more lines.
const KEPT: u64 = 32;

/// Up to so many steps of a price are quicker gone up one by one than looked for.
const FEW_STEPS: usize = 16;

/// A standard normal number for each draw.
type Chance = Vec<f64>;

static CHANCES: LazyLock<Vec<Chance>> = LazyLock::new(|| (0..KEPT).map(draw).collect());

/// The middles of the upper half of the slices.
static SLICES: LazyLock<Chance> = LazyLock::new(|| {
    let middle = |slice: i64| {
        let share = 0.5 + (float(slice) + 0.5) / float(2 * HALF);
        let (mut low, mut high) = (0.0, FARTHEST);
        for _halving in 0..60 {
            let mid = f64::midpoint(low, high);
            if cdf(mid) < share {
                low = mid;
            } else {
                high = mid;
            }
        }
        low
    };
    (0..HALF).map(middle).collect()
});

/// The chance of this number.
fn draw(number: u64) -> Chance {
    let mut rng = Rng::new(SEED, Purpose::Cost, number);
    let mut drawn = SLICES.clone();
    rng.shuffle(&mut drawn);
    for z in &mut drawn {
        *z *= if rng.chance(1, 2) { 1.0 } else { -1.0 };
    }
    let mirrored: Chance = drawn.iter().map(|z| -z).collect();
    drawn.extend(mirrored);
    drawn
}

fn chance(number: u64) -> Cow<'static, [f64]> {
    let kept = usize::try_from(number).ok();
    match kept.and_then(|number| CHANCES.get(number)) {
        Some(kept) => Cow::Borrowed(kept),
        None => Cow::Owned(draw(number)),
    }
}

/// Like amounts, each by chance of its own, as one that follows the shared chance.
#[derive(Debug, Clone, Copy)]
struct Like {
    mean: f64,
    /// How far the shared chance tilts it, and how far its own.
    shared: f64,
    own: f64,
}

impl Like {
    /// Of amounts whose means and squares of means are summed, of one σ, correlated by `rho`. What each does by chance of its
    /// own is summed as lognormal with the same mean and variance, which is exact for a single one.
    fn new((means, squares): (f64, f64), sigma: f64, rho: f64) -> Self {
        let alone = squares / (means * means) * (sigma * sigma * (1.0 - rho)).exp_m1();
        Self {
            mean: means,
            shared: sigma * rho.sqrt(),
            own: alone.ln_1p().sqrt(),
        }
    }

    /// The logarithm of what two chances make of a mean of 1, and that of their mirror images.
    fn tilts(&self, shared: f64, own: f64) -> (f64, f64) {
        let by_chance = self.shared * shared + self.own * own;
        let down = self.squares() / 2.0;
        (by_chance - down, -by_chance - down)
    }

    fn squares(&self) -> f64 {
        self.shared * self.shared + self.own * self.own
    }
}

/// Litres of a product whose packs are counted anew.
#[derive(Debug)]
pub(super) struct Stepped {
    litres: Like,
    /// Each price, dearest last, after the logarithm of how many times the mean of the litres it holds up to.
    steps: Vec<(f64, f64)>,
}

impl Stepped {
    /// A line whose packs can be counted anew: it pays whole packs for all that it needs, and these are no tiny part of that.
    pub(super) fn of(
        line: &ProductLine,
        (card, products): (&RateCard, Products<'_>),
        ((litres, sigma), rho): ((Many, f64), f64),
        charged: f64,
    ) -> Option<Self> {
        if !line.whole || line.by_litre.l() > 0.0 || sigma <= 0.0 {
            return None;
        }
        let row = products.product(&line.product)?;
        let pack = |pack: PackPrice| Pack {
            size_ml: pack.size_ml,
            price: pack.price.amount,
        };
        let sold: Vec<Pack> = card.packs_of(row).0.map(pack).collect();
        let litres = Like::new(litres.means(sigma), sigma, rho);
        let (farthest, fewest) = litres.tilts(FARTHEST, FARTHEST);
        let most_ml = whole((litres.mean * farthest.exp() * 1e3).ceil()).unwrap_or(i64::MAX);
        let prices = PackPrices::up_to(most_ml.max(1), &sold).ok()??;
        // What is left over and good on the day is used first.
        let good_ml = line.stock.good.ml_half_even();
        let steps = prices.steps().iter().map(|(up_to_ml, price)| {
            let price = Money {
                amount: *price,
                currency: card.currency,
            };
            let up_to_l = (float(up_to_ml.saturating_add(good_ml)) + SPLASH_ML) / 1e3;
            let up_to = (up_to_l / litres.mean).ln();
            (up_to, float(price.shown().amount) * charged)
        });
        // What even the fewest litres exceed decides nothing.
        Some(Self {
            steps: steps.filter(|(up_to, _)| *up_to >= fewest).collect(),
            litres,
        })
    }

    /// What its packs cost where so many times the mean is used, given as logarithms.
    fn prices(&self, tilts: &[f64], prices: &mut [f64]) {
        let least = self.steps.first().map_or(0.0, |(_, price)| *price);
        if self.steps.len() > FEW_STEPS {
            for (found, tilt) in prices.iter_mut().zip(tilts) {
                let place = self.steps.partition_point(|(up_to, _)| up_to < tilt);
                let step = self.steps.get(place).or_else(|| self.steps.last());
                *found = step.map_or(least, |(_, price)| *price);
            }
            return;
        }
        // Few steps are gone up by all draws together.
        prices.fill(least);
        let higher = self.steps.iter().zip(self.steps.iter().skip(1));
        for (&(up_to, _), &(_, price)) in higher {
            for (found, &tilt) in prices.iter_mut().zip(tilts) {
                let here = *found;
                *found = if up_to < tilt { price } else { here };
            }
        }
    }
}

/// The percentiles of what goes without steps and of lines whose packs are counted anew.
pub(super) fn redraw(smooth: &Sum, stepped: &[Stepped], rho: f64) -> Percentiles {
    let shared = chance(0);
    let mut drawn = vec![0.0; shared.len()];
    let mut number = 0;
    let (mut tilts, mut prices) = (vec![0.0; shared.len()], vec![0.0; shared.len()]);
    let half = shared.len() / 2;
    for line in stepped {
        number += 1;
        let own = chance(number);
        let (first, mirrored) = tilts.split_at_mut(half);
        let chances = shared.iter().zip(own.iter());
        for ((tilt, back), (shared, own)) in first.iter_mut().zip(mirrored).zip(chances) {
            (*tilt, *back) = line.litres.tilts(*shared, *own);
        }
        line.prices(&tilts, &mut prices);
        for (sum, price) in drawn.iter_mut().zip(&prices) {
            *sum += price;
        }
    }
    let (first, mirrored) = drawn.split_at_mut(half);
    for (sigma, sums) in smooth.groups() {
        number += 1;
        let group = Like::new(sums, sigma, rho);
        let own = chance(number);
        let chances = shared.iter().zip(own.iter());
        let level = group.mean * (-group.squares() / 2.0).exp();
        if group.squares() <= 0.0 {
            first
                .iter_mut()
                .chain(&mut *mirrored)
                .for_each(|sum| *sum += level);
            continue;
        }
        for ((sum, mirror), (shared, own)) in first.iter_mut().zip(&mut *mirrored).zip(chances) {
            let times = (group.shared * shared + group.own * own).exp();
            *sum += level * times;
            *mirror += level / times;
        }
    }
    percentiles(&mut drawn)
}

/// The percentiles of draws, whose order is lost.
fn percentiles(drawn: &mut [f64]) -> Percentiles {
    let mut below = 0;
    let mut rest = drawn;
    let mut next = |share: f64| {
        let at = whole(share * float(i64::from(DRAWS))).unwrap_or(0);
        let at = usize::try_from(at).unwrap_or(0).saturating_sub(below);
        if at >= rest.len() {
            return 0.0;
        }
        // All that is sorted before goes no further: the shares rise.
        let (_, found, above) =
            std::mem::take(&mut rest).select_nth_unstable_by(at, f64::total_cmp);
        below = below.saturating_add(at).saturating_add(1);
        rest = above;
        *found
    };
    Percentiles {
        p50: next(0.5),
        p80: next(0.8),
        p90: next(0.9),
    }
}
