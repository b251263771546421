//! What is left over at a site, in plans and estimates: it never makes an estimate dearer, and nothing is ever short.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono::{NaiveDate, TimeDelta};
use domain::{
    estimate::{
        packs::{Pack, cover_packs},
        pool::{Estimate, Planned, pool},
        quantities::ProductLine,
    },
    id::StockItemId,
    plan::{Plan, PlanInput, draft_plan},
    quantity::Volume,
    stock::{Stock, StockItem},
    survey::{Goal, Limits, Strength, Survey},
};
use proptest::prelude::*;
use uuid::Uuid;

use crate::{
    common::{base, climate, now},
    floors::{any_floor, any_process, card, cases, film_for, named, plan_in},
};

fn today() -> NaiveDate {
    now().date_naive()
}

/// Something left over: which product of all, mL, and on which day from today it is used for the last time.
type Lot = (prop::sample::Index, i64, i64);

fn items(lots: &[Lot]) -> Vec<StockItem> {
    let item = |(n, (product, ml, days)): (usize, &Lot)| StockItem {
        id: StockItemId::from_uuid(Uuid::from_u128(u128::try_from(n).expect("few"))),
        product: product.get(&base().products).key.clone(),
        left: Volume::from_ml(*ml),
        batch: None,
        expires_on: today().checked_add_signed(TimeDelta::days(*days)),
        opening: None,
    };
    lots.iter().enumerate().map(item).collect()
}

fn some_lots() -> impl Strategy<Value = Vec<Lot>> {
    let lot = (any::<prop::sample::Index>(), 1..40_000_i64, -10..30_i64);
    // Many, so that the products that are needed are often among them.
    proptest::collection::vec(lot, 0..200)
}

fn planned(floors: &[Survey], process: &str) -> Vec<Plan> {
    let wish = named(process, Goal::Restore, Limits::default());
    let plan = |floor: &Survey| {
        let survey = Survey {
            film: film_for(process),
            ..floor.clone()
        };
        plan_in(base(), &survey, &wish, &climate(), &card("GBP"))
    };
    floors.iter().map(plan).collect()
}

fn estimate(floors: &[Survey], plans: &[Plan], stock: Stock<'_>) -> Estimate {
    let of = |(floor, plan): (&Survey, _)| Planned {
        area: floor.area,
        plan,
    };
    let planned: Vec<_> = floors.iter().zip(plans).map(of).collect();
    pool(base(), &card("GBP"), &planned, stock).expect("an estimate")
}

/// The packs of a line hold what is left over does not, at least cost; and what is said of both adds up.
fn adds_up(line: &ProductLine, items: &[StockItem]) -> Result<(), TestCaseError> {
    let demand = line.total.less(Volume::from_ul(10)).ml_up().max(1);
    let good: i64 = items
        .iter()
        .filter(|item| item.product == line.product)
        .filter(|item| item.expires_on.is_some_and(|day| day >= today()))
        .map(|item| item.left.ml_half_even())
        .sum();
    prop_assert_eq!(line.stock.total(), Volume::from_ml(good.min(demand)));
    let rest = demand - good.min(demand);
    let row = base().product(&line.product).expect("a product");
    let packs = card("GBP").packs_of(row).0.collect::<Vec<_>>();
    let sold: Vec<Pack> = packs
        .iter()
        .map(|pack| Pack {
            size_ml: pack.size_ml,
            price: pack.price.amount,
        })
        .collect();
    let bought = if rest == 0 {
        (0, 0)
    } else {
        let cover = cover_packs(rest, &sold).expect("packs");
        (cover.volume_ml, cover.price)
    };
    prop_assert_eq!(line.ordered, Volume::from_ml(bought.0));
    prop_assert_eq!(line.surplus, Volume::from_ml(bought.0 - rest));
    if line.whole {
        prop_assert_eq!(line.price.amount, bought.1);
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn what_is_left_over_never_makes_an_estimate_dearer(
        floors in proptest::collection::vec(any_floor(), 1..4),
        process in any_process(),
        lots in some_lots(),
    ) {
        let plans = planned(&floors, &process);
        let items = items(&lots);
        let without = estimate(&floors, &plans, Stock::NONE);
        let with = estimate(&floors, &plans, Stock { items: &items, on: today() });
        prop_assert!(with.cost.net.amount <= without.cost.net.amount);
        prop_assert!(with.cost.gross.amount <= without.cost.gross.amount);
        prop_assert_eq!(with.apart, without.apart);
        prop_assert_eq!(with.products.len(), without.products.len());
        for (line, bare) in with.products.iter().zip(&without.products) {
            prop_assert!(line.price.amount <= bare.price.amount && line.ordered <= bare.ordered);
            prop_assert_eq!(line.total, bare.total);
            adds_up(line, &items)?;
        }
    }
}

/// A corridor that is stripped and coated with the only polish of its class.
fn floor_with(stock: Stock<'_>) -> Plan {
    let survey = crate::common::corridor();
    let wish = named(
        "machine_strip_and_refinish",
        Goal::Restore,
        Limits::default(),
    );
    let (air, card) = (climate(), card("GBP"));
    let input = PlanInput {
        survey: &survey,
        wish: &wish,
        climate: &air,
        card: &card,
        country: "GB",
        base: base(),
        own_products: &[],
        stock,
        climate_assumed: false,
        now: now(),
        zone: chrono_tz::Tz::UTC,
    };
    draft_plan(&input).expect("an answer")
}

#[test]
fn a_plan_counts_what_is_good_tells_what_is_not_and_gives_the_reason() {
    let lot = |n: u128, days: i64, ml: i64| StockItem {
        id: StockItemId::from_uuid(Uuid::from_u128(n)),
        product: "polish_emulsion".to_owned(),
        left: Volume::from_ml(ml),
        batch: Some(format!("B{n}")),
        expires_on: today().checked_add_signed(TimeDelta::days(days)),
        opening: None,
    };
    let items = [lot(1, -1, 5_000), lot(2, 0, 6_000)];
    let bare = floor_with(Stock::NONE).work.expect("work");
    let work = floor_with(Stock {
        items: &items,
        on: today(),
    })
    .work
    .expect("work");
    let polish = |work: &domain::plan::Work| {
        let mut lines = work.products.iter();
        lines
            .find(|line| line.product == "polish_emulsion")
            .cloned()
            .expect("polish")
    };
    let line = polish(&work);
    let taken: Vec<_> = line.stock.taken.iter().map(|taken| taken.volume).collect();
    assert_eq!(taken, [Volume::from_ml(6_000)]);
    let reasons: Vec<_> = line
        .stock
        .not_counted
        .iter()
        .map(|item| item.reason.word())
        .collect();
    assert_eq!(reasons, ["expired"]);
    assert!(line.ordered < polish(&bare).ordered);
    assert!(work.cost.net.amount < bare.cost.net.amount);
    let told = work
        .basis
        .iter()
        .find(|row| row.id == "stock.polish_emulsion")
        .expect("told");
    assert!((told.result - 6.0).abs() < 1e-9);
    assert!(bare.basis.iter().all(|row| !row.id.starts_with("stock.")));
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn an_estimate_does_not_hang_on_the_order_of_its_floors(
        (a, b) in (any_floor(), any_floor()), one in any_process(), other in any_process(),
    ) {
        let floors = [a, b];
        let mut plans = planned(&floors[..1], &one);
        plans.extend(planned(&floors[1..], &other));
        let told = |floors: &[Survey], plans: &[Plan]| {
            let made = estimate(floors, plans, Stock::NONE);
            let line = |line: &ProductLine| (line.product.clone(), line.stage, line.total, line.price);
            let mut lines: Vec<_> = made.products.iter().map(line).collect();
            lines.sort_by(|one, other| one.0.cmp(&other.0));
            (lines, made.n_shifts, made.cost.net)
        };
        let turned = [floors[1].clone(), floors[0].clone()];
        let turned_plans = [plans[1].clone(), plans[0].clone()];
        prop_assert_eq!(told(&floors, &plans), told(&turned, &turned_plans));
    }

    #[test]
    fn the_reason_of_a_product_comes_to_its_result(
        floor in any_floor(), process in any_process(), parts in 1_i64..40,
    ) {
        let survey = Survey { film: film_for(&process), ..floor };
        let mut wish = named(&process, Goal::Restore, Limits::default());
        let strength = Strength { parts_thousandths: Some(parts * 1_000), ..Strength::default() };
        for class in ["stripper", "neutral_cleaner", "degreaser"] {
            wish.strengths.insert(class.to_owned(), strength);
        }
        let made = plan_in(base(), &survey, &wish, &climate(), &card("GBP"));
        let rows = made.work.iter().flat_map(|work| &work.basis);
        for row in rows.filter(|row| row.id.starts_with("product.")) {
            let of = |name: &str| {
                let mut inputs = row.inputs.iter();
                inputs.find(|input| input.name == name).map(|input| input.value)
            };
            let known = of("working_solution").zip(of("parts_of_water")).zip(of("loss"));
            let ((working, parts), loss) = known.expect("inputs");
            let again = working / (1.0 + parts) * (1.0 + loss);
            prop_assert!((again - row.result).abs() <= 1e-5 + 1e-6 * again, "{} {again}", row.result);
        }
    }
}
