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
/// So many chances are drawn once for all work; few plans have more lines.
const KEPT: u64 = 32;

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

    fn at(&self, shared: f64, own: f64) -> f64 {
        let tilted = |by: f64, z: f64| by * z - by * by / 2.0;
        self.mean * (tilted(self.shared, shared) + tilted(self.own, own)).exp()
    }
}

/// Litres of a product whose packs are counted anew.
#[derive(Debug)]
pub(super) struct Stepped {
    litres: Like,
    /// What is left over and good on the day, in mL.
    good_ml: i64,
    prices: PackPrices,
    zero: Money,
    /// By how much what is charged on top makes it dearer.
    charged: f64,
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
        let most_ml = ml_up(litres.at(FARTHEST, FARTHEST));
        Some(Self {
            litres,
            good_ml: line.stock.good.ml_half_even(),
            prices: PackPrices::up_to(most_ml, &sold).ok()??,
            zero: Money::zero(card.currency),
            charged,
        })
    }

    /// What its packs cost where so many litres are used.
    fn price(&self, litres: f64) -> f64 {
        let rest = ml_up(litres).saturating_sub(self.good_ml);
        let price = Money {
            amount: self.prices.of(rest),
            ..self.zero
        };
        float(price.shown().amount) * self.charged
    }
}

/// Whole millilitres of a demand. A fifth of a drop is what rounding each step may add: it buys no pack.
fn ml_up(litres: f64) -> i64 {
    whole(((litres * 1e6 - 10.0) / 1e3).ceil())
        .unwrap_or(i64::MAX)
        .max(1)
}

/// The percentiles of what goes without steps and of lines whose packs are counted anew.
pub(super) fn redraw(smooth: &Sum, stepped: &[Stepped], rho: f64) -> Percentiles {
    let groups = smooth.groups();
    let groups: Vec<Like> = groups
        .map(|(sigma, sums)| Like::new(sums, sigma, rho))
        .collect();
    let shared = chance(0);
    let mut drawn = vec![0.0; shared.len()];
    let mut number = 0;
    let mut add = |cost: &dyn Fn(f64, f64) -> f64| {
        number += 1;
        let own = chance(number);
        for (sum, (shared, own)) in drawn.iter_mut().zip(shared.iter().zip(own.iter())) {
            *sum += cost(*shared, *own);
        }
    };
    for line in stepped {
        add(&|shared, own| line.price(line.litres.at(shared, own)));
    }
    for group in &groups {
        add(&|shared, own| group.at(shared, own));
    }
    drawn.sort_by(f64::total_cmp);
    let of = |share: f64| {
        let at = whole(share * float(i64::from(DRAWS))).unwrap_or(0);
        let at = usize::try_from(at).unwrap_or(0);
        drawn.get(at).copied().unwrap_or(0.0)
    };
    Percentiles {
        p50: of(0.5),
        p80: of(0.8),
        p90: of(0.9),
    }
}
