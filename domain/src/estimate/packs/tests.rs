//! Pack covers against every other way of buying.

use proptest::prelude::*;

use super::*;

fn packs(sizes_and_prices: &[(i64, i64)]) -> Vec<Pack> {
    sizes_and_prices
        .iter()
        .map(|&(size_ml, price)| Pack { size_ml, price })
        .collect()
}

/// Order in which covers are compared, ties included; `packs` must come larger first.
fn rank(cover: &PackCover) -> (i64, i64, i64, Vec<Reverse<i64>>) {
    (
        cover.price,
        cover.volume_ml,
        cover.n_packs,
        cover.counts.iter().copied().map(Reverse).collect(),
    )
}

fn bought(packs: &[Pack], counts: &[i64]) -> PackCover {
    let sum = |each: fn(&Pack) -> i64| {
        packs
            .iter()
            .zip(counts)
            .map(|(pack, count)| each(pack) * count)
            .sum()
    };
    PackCover {
        counts: counts.to_vec(),
        volume_ml: sum(|pack| pack.size_ml),
        price: sum(|pack| pack.price),
        n_packs: sum(|_| 1),
    }
}

/// The slow, obvious way: every number of every pack that could be of use.
fn by_force(demand: i64, packs: &[Pack]) -> Option<PackCover> {
    let mut covers = vec![Vec::new()];
    for pack in packs {
        let most = demand / pack.size_ml + 1;
        covers = covers
            .into_iter()
            .flat_map(|counts: Vec<i64>| {
                (0..=most).map(move |count| [counts.as_slice(), &[count]].concat())
            })
            .collect();
    }
    covers
        .iter()
        .map(|counts| bought(packs, counts))
        .filter(|cover| cover.volume_ml >= demand)
        .min_by(|a, b| rank(a).cmp(&rank(b)))
}

/// Packs that come larger first, each size once.
fn some_packs(
    sizes: std::ops::Range<i64>,
    n: std::ops::Range<usize>,
) -> impl Strategy<Value = Vec<Pack>> {
    proptest::collection::btree_map(sizes, 0..60_i64, n).prop_map(|map| {
        map.into_iter()
            .rev()
            .map(|(size_ml, price)| Pack { size_ml, price })
            .collect()
    })
}

fn kinds(packs: &[Pack]) -> Vec<Kind> {
    packs
        .iter()
        .enumerate()
        .filter_map(|(index, pack)| {
            Some(Kind {
                index,
                size: pack.size_ml,
                steps: usize::try_from(pack.size_ml).ok()?,
                price: pack.price,
            })
        })
        .collect()
}

#[test]
fn a_drum_is_not_bought_for_a_litre() {
    let offer = packs(&[(1_000, 500), (200_000, 40_000)]);
    assert_eq!(cover_packs(900, &offer).map(|c| c.counts), Ok(vec![1, 0]));
}

#[test]
fn of_equally_cheap_covers_the_least_volume_wins() {
    assert_eq!(
        cover_packs(900, &packs(&[(2_000, 10), (1_000, 10)])).map(|c| c.counts),
        Ok(vec![0, 1])
    );
}

#[test]
fn of_equal_price_and_volume_the_fewest_packs_win() {
    assert_eq!(
        cover_packs(5_000, &packs(&[(1_000, 10), (5_000, 50)])).map(|c| c.counts),
        Ok(vec![0, 1])
    );
}

#[test]
fn of_equal_packs_the_larger_sizes_win() {
    // 3 + 1 and 2 + 2 hold and cost the same in as many packs.
    assert_eq!(
        cover_packs(4, &packs(&[(1, 10), (2, 20), (3, 30)])).map(|c| c.counts),
        Ok(vec![1, 0, 1])
    );
}

#[test]
fn of_twins_the_first_is_bought_and_of_one_size_the_cheaper() {
    assert_eq!(
        cover_packs(10, &packs(&[(5, 10), (5, 10), (5, 9), (5, 9)])).map(|c| c.counts),
        Ok(vec![0, 0, 2, 0])
    );
}

#[test]
fn a_free_pack_is_used_up_to_the_demand_and_no_further() {
    let cover = cover_packs(12_000, &packs(&[(5_000, 0), (10_000, 700)]));
    assert_eq!(cover.map(|c| (c.counts, c.price)), Ok((vec![3, 0], 0)));
}

#[test]
fn a_large_demand_in_us_gallons_is_exact() {
    // 1 and 5 US gal at 20.00 and 100.00 share no measure but the millilitre. 5000 L need 1321 cans' worth of money;
    // with n pails among it they hold 1321 · 3785 + 2 n = 4 999 985 + 2 n mL, so 8 pails are the least volume.
    let offer = packs(&[(3_785, 200_000), (18_927, 1_000_000)]);
    assert_eq!(
        cover_packs(5_000_000, &offer),
        Ok(PackCover {
            counts: vec![1_281, 8],
            volume_ml: 5_000_001,
            price: 264_200_000,
            n_packs: 1_289
        })
    );
}

#[test]
fn every_illegal_input_is_named() {
    let fine = packs(&[(1_000, 1)]);
    assert_eq!(
        cover_packs(0, &fine),
        Err(CoverPacksError::Demand { demand_ml: 0 })
    );
    assert_eq!(
        cover_packs(-5, &fine),
        Err(CoverPacksError::Demand { demand_ml: -5 })
    );
    assert_eq!(cover_packs(1, &[]), Err(CoverPacksError::NoPacks));
    assert_eq!(
        cover_packs(1, &packs(&[(5, 1), (0, 1)])),
        Err(CoverPacksError::Size {
            index: 1,
            size_ml: 0
        })
    );
    assert_eq!(
        cover_packs(1, &packs(&[(5, -1)])),
        Err(CoverPacksError::Price {
            index: 0,
            price: -1
        })
    );
    assert_eq!(
        cover_packs(1, &fine.repeat(65)),
        Err(CoverPacksError::TooManyPacks { n_packs: 65 })
    );
}

#[test]
fn what_cannot_be_held_is_refused_and_not_wrapped() {
    let dear = packs(&[(1, MAX_PRICE)]);
    assert_eq!(
        cover_packs(MAX_DEMAND_ML, &dear),
        Err(CoverPacksError::Overflow)
    );
    let huge = packs(&[(MAX_SIZE_ML, 10), (MAX_SIZE_ML - 1, 11)]);
    assert_eq!(
        cover_packs(MAX_DEMAND_ML, &huge),
        Err(CoverPacksError::TooFine {
            n_steps: MAX_DEMAND_ML
        })
    );
}

/// The price on the first step that reaches a demand.
fn listed_price(listed: &PackPrices, demand_ml: i64) -> i64 {
    let mut steps = listed.steps().iter();
    let step = steps.find(|(content, _)| *content >= demand_ml);
    step.expect("asked for").1
}

/// A gallon and five of them have no measure in common but the millilitre.
#[test]
fn prices_of_gallons_are_listed_far_beyond_what_a_floor_takes() {
    let offer = packs(&[(3_785, 30), (18_927, 120)]);
    let listed = PackPrices::up_to(400_000, &offer)
        .unwrap()
        .expect("few contents");
    for demand in (1..400_000).step_by(997) {
        assert_eq!(
            listed_price(&listed, demand),
            cover_packs(demand, &offer).unwrap().price,
            "{demand}"
        );
    }
}

proptest! {
    #[test]
    fn a_cover_is_never_short_and_never_dearer_than_another(
        demand in 1..400_000_i64,
        offer in proptest::collection::vec((1..500_i64, 0..100_000_i64), 1..6),
        tries in proptest::collection::vec(proptest::collection::vec(0..400_i64, 6), 20),
    ) {
        let offer: Vec<Pack> = offer.into_iter().map(|(size, price)| Pack { size_ml: size * 50, price }).collect();
        let cover = cover_packs(demand, &offer).map_err(|e| TestCaseError::fail(e.to_string()))?;
        prop_assert!(cover.volume_ml >= demand);
        prop_assert_eq!(&cover, &bought(&offer, &cover.counts));
        for counts in tries {
            let other = bought(&offer, &counts);
            prop_assert!(other.volume_ml < demand || cover.price <= other.price);
        }
    }

    #[test]
    fn a_cover_is_the_one_found_by_force(demand in 1..40_i64, offer in some_packs(1..15, 1..4)) {
        prop_assert_eq!(cover_packs(demand, &offer).ok(), by_force(demand, &offer));
    }

    /// Every amount of what is free, with every number of every pack: none leaves less to pay.
    #[test]
    fn what_is_free_first_is_the_cheapest_use_of_it_by_force(
        demand in 1..30_i64,
        free in 0..40_i64,
        offer in some_packs(1..12, 1..4),
    ) {
        let cheapest = (0..=free.min(demand))
            .filter_map(|used| match demand - used {
                0 => Some(0),
                rest => by_force(rest, &offer).map(|cover| cover.price),
            })
            .min();
        let cover = cover_rest(demand, free, &offer).map_err(|e| TestCaseError::fail(e.to_string()))?;
        prop_assert_eq!(Some(cover.price), cheapest);
        prop_assert!(cover.volume_ml + free >= demand);
        prop_assert_eq!(&cover, &bought(&offer, &cover.counts));
    }

    #[test]
    fn more_that_is_free_is_never_dearer(
        demand in 1..200_000_i64,
        free in 0..100_000_i64,
        more in 0..100_000_i64,
        offer in some_packs(1..300, 1..6),
    ) {
        let price = |free| cover_rest(demand, free, &offer).map(|cover| cover.price);
        let held = price(free).is_ok_and(|less| price(free + more).is_ok_and(|all| all <= less));
        prop_assert!(held);
    }

    #[test]
    fn both_searches_choose_the_same_packs(demand in 1..10_000_i64, offer in some_packs(1..60, 1..6)) {
        let kinds = kinds(&offer);
        let steps = usize::try_from(demand).map_err(|e| TestCaseError::fail(e.to_string()))?;
        if let Some(counts) = remainders::cheapest(demand, &kinds) {
            prop_assert_eq!(counts, grid::cheapest(steps, &kinds));
        } else {
            // A shape never holds more than the pigeonhole allows: beyond it, the search must find one.
            prop_assert!(demand < 60 * 60);
        }
    }

    #[test]
    fn more_is_never_cheaper(demand in 1..200_000_i64, more in 1..5_000_i64, offer in some_packs(1..300, 1..6)) {
        let price = |demand| cover_packs(demand, &offer).map(|cover| cover.price);
        let held = price(demand).is_ok_and(|less| price(demand + more).is_ok_and(|all| less <= all));
        prop_assert!(held);
    }

    /// The list of prices is a search of its own: each of its prices is that of the cover for that demand.
    #[test]
    fn listed_prices_are_those_of_the_covers(
        most in 1..200_000_i64,
        offer in proptest::collection::vec((1..500_i64, 0..100_000_i64), 1..6),
        demands in proptest::collection::vec(1..200_000_i64, 20),
    ) {
        let offer: Vec<Pack> = offer.into_iter().map(|(size, price)| Pack { size_ml: size * 50, price }).collect();
        let failed = |error: CoverPacksError| TestCaseError::fail(error.to_string());
        let listed = PackPrices::up_to(most, &offer).map_err(failed)?.expect("few steps");
        for demand in demands {
            let demand = demand.min(most);
            let cover = cover_packs(demand, &offer).map_err(failed)?;
            prop_assert_eq!(listed_price(&listed, demand), cover.price);
        }
        prop_assert_eq!(listed_price(&listed, 0), 0);
        let steps = listed.steps();
        prop_assert!(steps.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1));
        prop_assert!(steps.last().is_some_and(|(content, _)| *content >= most));
    }
}
