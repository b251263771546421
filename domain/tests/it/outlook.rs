//! How work may turn out: against the figures of the plan where nothing varies, and against draws made here.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use domain::{
    estimate::{
        cost::LineKind,
        packs::{Pack, cover_packs},
        pool::{Planned, pool},
        quantities::ProductLine,
    },
    knowledge::KnowledgeBase,
    learning::{Kind, LearntFigure},
    money::Money,
    plan::{Plan, Work},
    quantity::{Area, float, whole},
    stock::Stock,
    survey::{Goal, Limits, Survey},
};

use crate::{
    cases::bare,
    common::{base, climate},
    floors::{card, film_for, named, plan_in},
};

/// Z of the 80th percentile, as tables of the normal distribution print it.
const Z80: f64 = 0.841_621;

/// What lets every process be planned.
fn no_rules() -> KnowledgeBase {
    let mut own = base().clone();
    own.rules.clear();
    own
}

fn planned(base: &KnowledgeBase, process: &str, m2: i64) -> Plan {
    let survey = Survey {
        area: Area::from_mm2(m2 * 1_000_000),
        film: film_for(process),
        ..bare("vinyl_sheet")
    };
    let wish = named(process, Goal::Restore, Limits::default());
    plan_in(base, &survey, &wish, &climate(), &card("GBP"))
}

fn is_near(one: f64, other: f64, share: f64) -> bool {
    (one - other).abs() <= share * other.abs() + 1e-9
}

#[test]
fn where_nothing_varies_every_percentile_is_the_figure_of_the_plan() {
    let mut still = no_rules();
    (still.spread.labour, still.spread.material) = (0.0, 0.0);
    let (mut n_works, mut n_same) = (0, 0);
    for process in &still.processes {
        let told = planned(&still, &process.key, 120);
        let Some(work) = told.work else { continue };
        n_works += 1;
        let paid: f64 = work.cost.lines.iter().map(|line| line.labour.hours()).sum();
        let litres: f64 = work.products.iter().map(|line| line.total.l()).sum();
        let net = float(work.cost.net.amount);
        let outlook = work.outlook;
        for (found, wanted) in [
            (outlook.paid_h, paid),
            (outlook.product_l, litres),
            (outlook.net, net),
        ] {
            // A moment of labour is whole microseconds, a litre whole microlitres.
            assert!(
                is_near(found.p50, wanted, 1e-6) && is_near(found.p90, wanted, 1e-6),
                "{} {found:?} {wanted}",
                process.key
            );
        }
        let mut waits = work.steps.iter().filter_map(|step| step.wait.as_ref());
        if waits.all(|wait| wait.p50_min == wait.p80_min) {
            n_same += 1;
            let minutes = work.time_line.elapsed_p50.minutes();
            let found = work.elapsed_min;
            assert!(
                is_near(found.p50, minutes, 1e-6),
                "{} {found:?} {minutes}",
                process.key
            );
            assert!(is_near(found.p90, minutes, 1e-6), "{}", process.key);
        }
    }
    assert!(n_works > 10 && n_same > 3, "{n_works} {n_same}");
}

#[test]
fn percentiles_of_every_process_are_in_order_and_about_its_own_figures() {
    let own = no_rules();
    for process in &own.processes {
        let Some(work) = planned(&own, &process.key, 120).work else {
            continue;
        };
        let outlook = work.outlook;
        for found in [outlook.paid_h, outlook.net, work.elapsed_min] {
            assert!(
                found.p50 < found.p80 && found.p80 < found.p90,
                "{}",
                process.key
            );
        }
        let net = float(work.cost.net.amount);
        // Litres that lie just under the edge of a pack open one more in every other case, or one less just above it.
        let pack = if outlook.n_draws > 0 { 0.15 } else { 0.0 };
        assert!(
            outlook.net.p50 > (0.97 - pack) * net && outlook.net.p50 < (1.1 + pack) * net,
            "{}",
            process.key
        );
        let minutes = work.time_line.elapsed_p50.minutes();
        assert!(
            work.elapsed_min.p50 > 0.97 * minutes && work.elapsed_min.p50 < 1.15 * minutes,
            "{} {:?} {minutes}",
            process.key,
            work.elapsed_min
        );
    }
}

/// A seeded stream of standard normal numbers: splitmix64, then Box and Muller.
struct Normals(u64);

impl Normals {
    /// Within 0 and 1, neither included.
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (f64::from(u32::try_from(z >> 32).expect("32 bits")) + 0.5) / 4_294_967_296.0
    }

    fn next(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// What is paid for a product where so many times its litres are used: packs that hold them, or so many times its price.
fn paid(line: &ProductLine, times: f64) -> f64 {
    if !line.whole {
        return float(line.price.amount) * times;
    }
    let row = base().product(&line.product).expect("a product");
    let pack = |pack: &domain::knowledge::Pack| Pack {
        size_ml: pack.size_ml,
        price: Money::parse(&pack.price, line.price.currency)
            .expect("an amount")
            .amount,
    };
    let sold: Vec<Pack> = row.packs.iter().map(pack).collect();
    let demand_ml = whole((line.total.l() * times * 1_000.0).ceil()).expect("a demand");
    float(cover_packs(demand_ml, &sold).expect("packs").price)
}

/// Hours, price and minutes of 40,000 nights, each in order: every amount drawn anew from the lines of the plan.
fn nights(work: &Work) -> [Vec<f64>; 3] {
    let figures = &base().spread;
    let card = card("GBP");
    let allowance = 1.0 + float(card.allowance.ten_thousandths()) / 10_000.0;
    let around = float(card.setup_min + card.clean_down_min) / 60.0 * allowance;
    let crew = float(work.time_line.crew_size);
    let of_kind = |kind: LineKind| {
        let lines = work.cost.lines.iter().filter(|line| line.kind == kind);
        lines.map(|line| float(line.amount.amount)).sum::<f64>()
    };
    let charged = float(work.cost.net.amount) / float(work.cost.direct.amount);
    let worked: f64 = work.labour.iter().map(|line| line.time.hours()).sum();
    let machines_per_h = of_kind(LineKind::Machine) / worked;
    let per_h = float(card.labour_per_h.amount);
    let used_up = of_kind(LineKind::Consumable) + of_kind(LineKind::Waste);
    let last_coat = work.steps.iter().rposition(|step| step.coat.is_some());
    let mut normals = Normals(41);
    let mut drawn = [Vec::new(), Vec::new(), Vec::new()];
    for _ in 0..40_000 {
        let common = figures.shared.sqrt() * normals.next();
        let mut factor =
            |sigma: f64| (sigma * (common + (1.0 - figures.shared).sqrt() * normals.next())).exp();
        let times: Vec<f64> = work.labour.iter().map(|line| factor(line.sigma)).collect();
        let lines = work.labour.iter().zip(&times);
        let hours: f64 = lines.map(|(line, times)| line.time.hours() * times).sum();
        let used = work.products.iter();
        let used: f64 = used.map(|line| paid(line, factor(figures.material))).sum();
        let paid = hours * allowance + around;
        let direct =
            paid * per_h + hours * machines_per_h + used + used_up * factor(figures.material);
        let mut minutes = around * 60.0 / crew;
        for (index, step) in work.steps.iter().enumerate() {
            minutes += step.labour.minutes() * allowance / crew * factor(figures.labour);
            if let Some(wait) = step
                .wait
                .as_ref()
                .filter(|_| last_coat.is_none_or(|last| index <= last))
            {
                let (p50, p80) = (float(wait.p50_min), float(wait.p80_min));
                minutes += if p50 > 0.0 {
                    p50 * factor((p80 / p50).ln() / Z80)
                } else {
                    0.0
                };
            }
        }
        for (all, one) in drawn.iter_mut().zip([paid, direct * charged, minutes]) {
            all.push(one);
        }
    }
    drawn.map(|mut all| {
        all.sort_by(f64::total_cmp);
        all
    })
}

#[test]
fn percentiles_of_a_plan_are_those_of_nights_drawn_anew() {
    let own = no_rules();
    for process in ["machine_strip_and_refinish", "polish"] {
        let told = planned(&own, process, 250);
        let work = told.work.expect("work");
        let found = [work.outlook.paid_h, work.outlook.net, work.elapsed_min];
        for (drawn, found) in nights(&work).iter().zip(found) {
            for (found, tenths) in [(found.p50, 5), (found.p80, 8), (found.p90, 9)] {
                let wanted = drawn[drawn.len() / 10 * tenths];
                // 0.3 % by which the method may err, and what 40,000 draws leave open.
                assert!(
                    is_near(found, wanted, 0.01),
                    "{process} {tenths}: {found} {wanted}"
                );
            }
        }
    }
}

#[test]
fn floors_even_out_and_one_floor_is_as_its_plan_says() {
    let plan = planned(&no_rules(), "polish", 120);
    let area = Area::from_mm2(120_000_000);
    let floor = Planned { area, plan: &plan };
    let of = |count: usize| {
        let floors = vec![floor; count];
        pool(base(), &card("GBP"), &floors, Stock::NONE).expect("an estimate")
    };
    let (one, ten) = (of(1), of(10));
    let work = plan.work.as_ref().expect("work");
    assert!(is_near(
        one.outlook.paid_h.p80,
        work.outlook.paid_h.p80,
        1e-9
    ));
    assert!(is_near(one.outlook.net.p80, work.outlook.net.p80, 1e-3));
    assert!(ten.outlook.product_l.p80 < 9.9 * one.outlook.product_l.p80);
    assert!(ten.outlook.product_l.p50 > 9.9 * one.outlook.product_l.p50);
    assert!(ten.shifts.p50 < ten.shifts.p80 && ten.shifts.p90 <= 10.0 * one.shifts.p90);
    // Whole shifts of the estimate are those of the median, rounded up.
    assert!(float(ten.n_shifts) >= ten.shifts.p50.floor());
}

#[test]
fn what_jobs_have_told_narrows_the_hours() {
    let mut told_by_jobs = card("GBP");
    for rate in &base().rates {
        let learnt = LearntFigure {
            mean_log: 0.0,
            sd_log: 0.05,
            next_sd_log: 0.12,
            usual: 1.0,
            n_jobs: 40,
            n_jobs_anywhere: 40,
            weight: 40.0,
            from_prior: 0.02,
        };
        let activity = rate.activity.clone();
        told_by_jobs.learnt.insert(Kind::Rate, activity, learnt);
    }
    let survey = Survey {
        film: film_for("polish"),
        ..bare("vinyl_sheet")
    };
    let wish = named("polish", Goal::Restore, Limits::default());
    let of = |card| {
        let told = plan_in(&no_rules(), &survey, &wish, &climate(), card);
        told.work.expect("work").outlook.paid_h
    };
    let (usual, learnt) = (of(&card("GBP")), of(&told_by_jobs));
    assert!(is_near(usual.p50, learnt.p50, 0.02), "{usual:?} {learnt:?}");
    assert!(learnt.p90 / learnt.p50 < 0.6 * (usual.p90 / usual.p50 - 1.0) + 1.0);
}
