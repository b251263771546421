//! Sums by month are those of the completions, in whatever order these come, are corrected and voided.

use domain::id::CompletionId;

use super::record::{Floor, floor};
use super::{Checked, World, line, voided};
use crate::row::{CompletionLineRow, CompletionRow, ContractorRow};
use crate::store::{CostFilter, CostRow, CostSums, Dim, StoreError, Wanted};

/// The same numbers on each run (a linear congruential generator; the factor is Knuth's, from memory).
struct Dice(u64);

impl Dice {
    fn throw(&mut self, sides: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (self.0 >> 33) % sides
    }

    fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        let sides = u64::try_from(of.len()).expect("small");
        let place = usize::try_from(self.throw(sides)).expect("small");
        of.get(place).expect("within")
    }
}

/// What happens to completions, in an order that can be changed.
#[derive(Debug, Clone)]
#[expect(clippy::large_enum_variant, reason = "a few hundred of them")]
enum Step {
    Record(CompletionRow),
    Correct(CompletionRow, CompletionRow),
    Void(CompletionRow),
}

/// Lines of which some share a stage, others a class of product, and some have neither.
fn lines(of: &CompletionRow, floor: &Floor) -> Vec<CompletionLineRow> {
    let all = [
        ("labour", Some("prepare"), None),
        ("product", Some("prepare"), Some("stripper_alkaline")),
        ("product", Some("protect"), Some("emulsion_polish")),
        ("product", Some("prepare"), Some("emulsion_polish")),
        ("labour", Some("protect"), None),
        ("overhead", None, None),
        ("tax", None, None),
    ];
    let all = (1_i64..).zip(all);
    all.map(|(n, (kind, stage, product_class))| CompletionLineRow {
        stage: stage.map(str::to_owned),
        product_class: product_class.map(str::to_owned),
        material: floor.surface.material.clone(),
        ..line(of, &floor.surface, n, kind)
    })
    .collect()
}

async fn apply(world: &World, floor: &Floor, step: &Step) -> Checked {
    let tx = world.begin().await;
    let completions = tx.completions();
    match step {
        Step::Record(row) => completions.insert(row, &lines(row, floor)).await?,
        Step::Correct(old, new) => {
            completions.supersede(old.id, new.id).await?;
            completions.insert(new, &lines(new, floor)).await?;
        }
        Step::Void(old) => {
            completions.amend(old, &voided(old)).await?;
        }
    }
    tx.commit().await?;
    Ok(())
}

/// Completions of a year, every fourth of them corrected and every fifth voided; a row is recorded before that.
fn happenings(
    world: &World,
    floor: &Floor,
    crew: &ContractorRow,
    dice: &mut Dice,
) -> Vec<Vec<Step>> {
    let months = ["2025-12", "2026-01", "2026-02", "2026-05"];
    let make = |dice: &mut Dice| CompletionRow {
        month: (*dice.pick(&months)).to_owned(),
        process: (*dice.pick(&["strip_and_refinish", "spray_buff"])).to_owned(),
        contractor_id: (dice.throw(2) == 0).then_some(crew.id),
        plan_id: (dice.throw(3) > 0).then_some(floor.plan.id),
        planned_share_ppm: if dice.throw(3) > 0 { 10_000 } else { 0 },
        ..world.completion(&floor.surface, &floor.card)
    };
    let one = |dice: &mut Dice| {
        let row = make(dice);
        let mut steps = vec![Step::Record(row.clone())];
        let mut last = row;
        if dice.throw(4) == 0 {
            let new = CompletionRow {
                supersedes: Some(last.id),
                ..make(dice)
            };
            steps.push(Step::Correct(last, new.clone()));
            last = new;
        }
        if dice.throw(5) == 0 {
            steps.push(Step::Void(last));
        }
        steps
    };
    (0..40).map(|_| one(dice)).collect()
}

/// The steps of all completions mixed, those of one completion in their order.
fn mixed(happenings: &[Vec<Step>], dice: &mut Dice) -> Vec<Step> {
    let mut left: Vec<_> = happenings.iter().map(|steps| steps.iter()).collect();
    let mut all = Vec::new();
    while !left.is_empty() {
        let sides = u64::try_from(left.len()).expect("small");
        let place = usize::try_from(dice.throw(sides)).expect("small");
        match left.get_mut(place).and_then(Iterator::next) {
            Some(step) => all.push(step.clone()),
            None => drop(left.swap_remove(place)),
        }
    }
    all
}

/// A floor with all that happened to completions on it.
async fn eventful(world: &World, seed: u64) -> Result<Floor, StoreError> {
    let floor = floor(world).await;
    let crew = world.contractor();
    let tx = world.begin().await;
    tx.contractors().insert(&crew).await?;
    tx.commit().await?;
    let dice = &mut Dice(seed);
    let happenings = happenings(world, &floor, &crew, dice);
    for step in mixed(&happenings, dice) {
        apply(world, &floor, &step).await.expect("it is kept");
    }
    Ok(floor)
}

fn all_time() -> CostFilter {
    CostFilter {
        from_month: "2025-01".to_owned(),
        to_month: "2027-01".to_owned(),
        ..CostFilter::default()
    }
}

async fn told(world: &World, dims: &[Dim]) -> Vec<CostRow> {
    told_of(world, &all_time(), dims).await
}

async fn told_of(world: &World, filter: &CostFilter, dims: &[Dim]) -> Vec<CostRow> {
    let tx = world.read().await;
    tx.reports().costs(filter, dims).await.expect("a report")
}

/// What a report says that is grouped by completions and added up here: the slow way, from the lines.
async fn slow(world: &World, filter: &CostFilter, dims: &[Dim]) -> Vec<(String, CostSums)> {
    let tx = world.read().await;
    let page = tx
        .reports()
        .completions(filter, dims, None, 1_000)
        .await
        .expect("completions");
    let mut sums: std::collections::BTreeMap<String, CostSums> = std::collections::BTreeMap::new();
    for mut row in page.items {
        row.key.completion_id = None;
        let sum = sums
            .entry(format!("{:?}{}", row.key, row.currency))
            .or_default();
        *sum = sum.plus(&row.sums).expect("small");
    }
    sums.into_iter().collect()
}

fn shown(rows: &[CostRow]) -> Vec<(String, CostSums)> {
    let mut shown: Vec<_> = rows
        .iter()
        .map(|row| (format!("{:?}{}", row.key, row.currency), row.sums))
        .collect();
    shown.sort_by(|one, other| one.0.cmp(&other.0));
    shown
}

#[tokio::test]
async fn any_order_of_records_corrections_and_voids_gives_the_sums_of_a_recount() -> Checked {
    for seed in 1..=4 {
        let world = World::new().await;
        eventful(&world, seed).await?;
        assert_eq!(world.store().count_wrong_rollups(world.ours).await?, 0);
        let whole = shown(&told(&world, &[]).await);
        for dims in [
            &[Dim::Month][..],
            &[Dim::Quarter, Dim::Contractor],
            &[Dim::Year, Dim::Process],
            &[Dim::Site, Dim::Storey, Dim::Surface, Dim::Material],
        ] {
            let rows = told(&world, dims).await;
            assert_eq!(
                shown(&rows),
                slow(&world, &all_time(), dims).await,
                "{dims:?} of seed {seed}"
            );
            let added = rows
                .iter()
                .try_fold(CostSums::default(), |sum, row| sum.plus(&row.sums));
            assert_eq!(added, Some(whole[0].1), "{dims:?} of seed {seed}");
            assert!(rows.len() < 40 && rows.iter().all(|row| row.sums.n_completions > 0));
        }
        let before = told(&world, &[Dim::Month, Dim::Contractor]).await;
        assert_eq!(world.store().rebuild_rollups(world.ours).await?, 4);
        assert_eq!(told(&world, &[Dim::Month, Dim::Contractor]).await, before);
    }
    Ok(())
}

/// What asks for parts of completions, and how a report of it is grouped.
fn of_parts() -> Vec<(CostFilter, &'static [Dim])> {
    let this = |word: &str| Wanted::This(word.to_owned());
    let of = |stage, product_class| CostFilter {
        stage,
        product_class,
        ..all_time()
    };
    let both = &[Dim::Month, Dim::Stage, Dim::ProductClass][..];
    vec![
        (all_time(), &[Dim::Stage]),
        (all_time(), &[Dim::ProductClass, Dim::Contractor]),
        (all_time(), both),
        (of(this("prepare"), Wanted::Any), &[]),
        (of(this("prepare"), Wanted::Any), &[Dim::ProductClass]),
        (of(Wanted::Nothing, Wanted::Any), &[Dim::Month]),
        (of(Wanted::Any, Wanted::Nothing), &[Dim::Year, Dim::Stage]),
        (of(Wanted::Any, this("emulsion_polish")), &[Dim::Process]),
        (of(this("protect"), Wanted::Nothing), &[Dim::Quarter]),
        (of(this("maintain"), Wanted::Any), &[Dim::Month]),
    ]
}

#[tokio::test]
async fn parts_by_stage_and_class_of_product_are_those_of_a_recount() -> Checked {
    let world = World::new().await;
    let floor = eventful(&world, 5).await?;
    let mut n_rows = Vec::new();
    for turn in 0..2 {
        assert_eq!(world.store().count_wrong_rollups(world.ours).await?, 0);
        for (filter, dims) in of_parts() {
            let rows = told_of(&world, &filter, dims).await;
            let wanted = slow(&world, &filter, dims).await;
            assert_eq!(shown(&rows), wanted, "{dims:?} of {filter:?}");
            let area = floor.surface.area.mm2();
            assert!(rows.iter().all(|row| row.floor_mm2 == area), "{dims:?}");
            n_rows.push(rows.len());
        }
        if turn == 0 {
            world.store().rebuild_rollups(world.ours).await?;
        }
    }
    let (before, after) = n_rows.split_at(of_parts().len());
    assert_eq!(before, after, "made anew");
    assert_eq!(before[0], 3, "two stages, and lines of none");
    assert_eq!(before.last(), Some(&0), "nothing was maintained");
    Ok(())
}

/// The step that makes the table finds a database with rows in it.
#[tokio::test]
async fn parts_of_what_is_recorded_already_are_made_with_their_table() -> Checked {
    let world = World::new().await;
    eventful(&world, 6).await?;
    let right = told(&world, &[Dim::Stage, Dim::ProductClass]).await;
    assert!(!right.is_empty());
    let step =
        "DELETE FROM seaql_migrations WHERE version = 'm20261130_200_create_cost_part_rollups'";
    for undo in ["DROP TABLE cost_part_rollups", step] {
        world.database.execute(undo).await?;
    }
    assert_eq!(world.store().migrate().await?, 1);
    assert_eq!(world.store().count_wrong_rollups(world.ours).await?, 0);
    assert_eq!(told(&world, &[Dim::Stage, Dim::ProductClass]).await, right);
    Ok(())
}

#[tokio::test]
async fn a_sum_that_went_wrong_is_found_and_made_anew() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let row = world.completion(&floor.surface, &floor.card);
    apply(&world, &floor, &Step::Record(row)).await?;
    let version = async || {
        let tx = world.read().await;
        tx.reports().version(&all_time()).await.expect("a version")
    };
    let both = async || [told(&world, &[]).await, told(&world, &[Dim::Stage]).await];
    let (first, right) = (version().await, both().await);
    for wrong in [
        "UPDATE cost_rollups SET actual_net = actual_net + 1",
        "DELETE FROM cost_rollups",
        "UPDATE cost_rollups SET month = '2024-01'",
        "UPDATE cost_part_rollups SET stage_area_mm2 = stage_area_mm2 - 1",
        "DELETE FROM cost_part_rollups",
    ] {
        world.database.execute(wrong).await?;
        assert!(
            world.store().count_wrong_rollups(world.ours).await? > 0,
            "{wrong}"
        );
        world.store().rebuild_rollups(world.ours).await?;
        assert_eq!(
            world.store().count_wrong_rollups(world.ours).await?,
            0,
            "{wrong}"
        );
        assert_eq!(both().await, right, "{wrong}");
        if wrong.starts_with("UPDATE cost_rollups SET actual") {
            assert_ne!(
                version().await,
                first,
                "wrong sums that were pulled are not taken for the right ones"
            );
        }
    }
    Ok(())
}

#[tokio::test]
async fn each_change_that_a_report_shows_changes_its_version_and_no_other_does() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let version = async |of: &CostFilter| {
        let tx = world.read().await;
        tx.reports().version(of).await.expect("a version")
    };
    let mut last = version(&all_time()).await;
    assert_eq!(version(&all_time()).await, last);
    let old = world.completion(&floor.surface, &floor.card);
    let new = CompletionRow {
        supersedes: Some(old.id),
        ..world.completion(&floor.surface, &floor.card)
    };
    for step in [
        Step::Record(old.clone()),
        Step::Correct(old, new.clone()),
        Step::Void(new),
    ] {
        apply(&world, &floor, &step).await?;
        let now = version(&all_time()).await;
        assert_ne!(now, last, "{step:?}");
        last = now;
    }
    let other_year = CostFilter {
        from_month: "2024-01".to_owned(),
        to_month: "2025-01".to_owned(),
        ..CostFilter::default()
    };
    let elsewhere = version(&other_year).await;
    let row = world.completion(&floor.surface, &floor.card);
    apply(&world, &floor, &Step::Record(row)).await?;
    assert_eq!(version(&other_year).await, elsewhere);
    Ok(())
}

/// Corrections that cross each other's months at the same moment end, each after the other.
#[tokio::test]
async fn writers_that_move_the_same_sums_do_not_wait_for_each_other_for_ever() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let of = |month: &str, supersedes: Option<CompletionId>| CompletionRow {
        month: month.to_owned(),
        supersedes,
        ..world.completion(&floor.surface, &floor.card)
    };
    let mut pairs = Vec::new();
    for (from, to) in [("2026-01", "2026-02"), ("2026-02", "2026-01")].repeat(8) {
        let old = of(from, None);
        apply(&world, &floor, &Step::Record(old.clone())).await?;
        let new = of(to, Some(old.id));
        pairs.push(Step::Correct(old, new));
    }
    let all = pairs.iter().map(|step| apply(&world, &floor, step));
    for done in futures_util::future::join_all(all).await {
        done?;
    }
    assert_eq!(world.store().count_wrong_rollups(world.ours).await?, 0);
    Ok(())
}
