#![allow(warnings, clippy::all)]
use crate::common::*;
use domain::{plan::*, quantity::*, survey::*};
fn show(label: &str, s: &Survey, w: &Wish, c: &Climate) {
    let card = golden_card();
    let input = PlanInput {
        survey: s,
        wish: w,
        climate: c,
        card: &card,
        country: "GB",
        base: base(),
        now: now(),
    };
    match draft_plan(&input) {
        Err(e) => println!("## {label}: ERR {e}"),
        Ok(p) => {
            println!("## {label} -> {} {}", p.verdict.word(), p.process);
            println!(
                "   findings {:?}",
                p.findings
                    .iter()
                    .map(|f| format!("{}:{}", f.severity.word(), f.rule))
                    .collect::<Vec<_>>()
            );
            if !p.questions.is_empty() {
                println!(
                    "   ask {:?}",
                    p.questions
                        .iter()
                        .map(|q| format!("{} ({})", q.fact, q.because.join(",")))
                        .collect::<Vec<_>>()
                );
            }
            if !p.open_questions.is_empty() {
                println!(
                    "   open {:?}",
                    p.open_questions
                        .iter()
                        .map(|q| q.fact.clone())
                        .collect::<Vec<_>>()
                );
            }
            if !p.meanwhile.is_empty() {
                println!("   meanwhile {:?}", p.meanwhile);
            }
            if !p.instead.is_empty() {
                println!("   instead {:?}", p.instead);
            }
            if let Some(r) = &p.referral {
                println!("   referral {r:?}");
            }
            for c in &p.candidates {
                println!(
                    "   - {:26} {:22} suits {:?} net {} {}/yr {} min, {}",
                    c.process,
                    c.verdict.word(),
                    c.suits,
                    c.net,
                    c.net_per_year.text(),
                    c.elapsed_min,
                    c.rules.join(",")
                );
            }
            if let Some(wk) = &p.work {
                for st in &wk.steps {
                    println!(
                        "     {}. [{}] {} pad={:?} coat={:?} wait={:?} dry={:?} lab={:.2}h",
                        st.number,
                        st.stage.word(),
                        st.key,
                        st.pad,
                        st.coat
                            .map(|c| (c.number, c.direction.word(), c.gap.mm(), c.layer)),
                        st.wait.as_ref().map(|w| (
                            w.key.clone(),
                            w.label_min,
                            w.p50_min,
                            w.used_min
                        )),
                        st.dwell.as_ref().map(|d| d.dries_after_min),
                        st.labour.hours()
                    );
                }
                println!(
                    "     events {:?}",
                    wk.time_line
                        .events
                        .iter()
                        .map(|e| (e.key, e.used_min))
                        .collect::<Vec<_>>()
                );
                println!(
                    "     products {:?}",
                    wk.products
                        .iter()
                        .map(|p| (p.product.clone(), p.total.l(), p.ordered.l()))
                        .collect::<Vec<_>>()
                );
                println!(
                    "     water {:?}",
                    (
                        wk.water.clean.l(),
                        wk.water.dilution.l(),
                        wk.water.slurry.l()
                    )
                );
                println!(
                    "     cautions {:?}",
                    wk.cautions
                        .iter()
                        .map(|p| p.key.clone())
                        .collect::<Vec<_>>()
                );
            }
        }
    }
}
fn film(k: Option<FilmKind>, coats: Option<i64>, cond: Option<FilmCondition>) -> Film {
    Film {
        kind: k,
        coats,
        condition: cond,
    }
}
fn floor(m: &str, a: f64) -> Survey {
    let mut s = Survey::new(m, Area::from_m2(a).unwrap());
    s.built_year = Some(2010);
    s.traffic = Some(Traffic::Medium);
    s.obstruction = Some(Obstruction::Light);
    s.soil = Some(Soil::Normal);
    s
}
#[test]
fn explore() {
    use FilmCondition::*;
    use FilmKind::*;
    let c = climate();
    let g = |g: Goal| Wish::to(g);
    let all = [
        Goal::Clean,
        Goal::Maintain,
        Goal::Restore,
        Goal::Protect,
        Goal::MakeSafe,
    ];
    for m in [
        "vinyl_sheet",
        "vinyl_sheet_factory_finished",
        "vinyl_composition_tile",
        "safety_vinyl",
        "ceramic_tile",
        "concrete_bare",
        "concrete_sealed",
        "unknown_hard",
    ] {
        for goal in all {
            show(
                &format!("{m} nothing known {}", goal.word()),
                &Survey::new(m, Area::from_m2(80.0).unwrap()),
                &g(goal),
                &c,
            );
            let mut s = floor(m, 80.0);
            s.film = film(Some(Bare), None, None);
            show(&format!("{m} bare {}", goal.word()), &s, &g(goal), &c);
        }
    }
    for goal in [Goal::Maintain, Goal::Restore, Goal::Protect, Goal::Clean] {
        for cond in [
            None,
            Some(Sound),
            Some(Soiled),
            Some(Worn),
            Some(Yellowed),
            Some(Sticky),
        ] {
            for coats in [None, Some(1), Some(4), Some(11), Some(14)] {
                let mut s = floor("vinyl_composition_tile", 80.0);
                s.film = film(Some(Polish), coats, cond);
                show(
                    &format!("VCT polish {coats:?} {cond:?} {}", goal.word()),
                    &s,
                    &g(goal),
                    &c,
                );
            }
        }
        for (m, k, cond) in [
            ("vinyl_sheet_factory_finished", FactoryFinish, Some(Sound)),
            ("vinyl_sheet_factory_finished", FactoryFinish, Some(Worn)),
            ("vinyl_sheet_factory_finished", FactoryFinish, None),
            ("vinyl_sheet_factory_finished", Polish, Some(Yellowed)),
            ("safety_vinyl", Polish, Some(Worn)),
            ("ceramic_tile", Polish, Some(Peeling)),
            ("concrete_sealed", Seal, Some(Sound)),
            ("concrete_sealed", Seal, Some(Worn)),
            ("concrete_sealed", SealAndPolish, Some(Worn)),
            ("vinyl_sheet", WaxOrOil, Some(Soiled)),
            ("vinyl_sheet", Seal, Some(Sound)),
            ("concrete_bare", SealAndPolish, Some(Soiled)),
        ] {
            let mut s = floor(m, 200.0);
            s.film = film(Some(k), Some(3), cond);
            show(
                &format!("{m} {k:?} {cond:?} {}", goal.word()),
                &s,
                &g(goal),
                &c,
            );
        }
    }
    for a in [0.05, 4.0, 14.9, 15.0, 5000.0] {
        let mut s = floor("vinyl_composition_tile", a);
        s.film = film(Some(Polish), Some(5), Some(Yellowed));
        show(&format!("VCT {a} m2"), &s, &g(Goal::Restore), &c);
        s.soil = Some(Soil::Heavy);
        show(&format!("VCT {a} m2 clean heavy"), &s, &g(Goal::Clean), &c);
    }
    for (asb, year) in [
        (Asbestos::Confirmed, Some(1970)),
        (Asbestos::Untested, Some(1970)),
        (Asbestos::Untested, None),
    ] {
        for goal in all {
            for soil in [Soil::Normal, Soil::Heavy] {
                let mut s = floor("vinyl_composition_tile", 200.0);
                s.film = film(Some(Polish), Some(5), Some(Soiled));
                s.asbestos = asb;
                s.built_year = year;
                s.soil = Some(soil);
                show(
                    &format!("asbestos {asb:?} {year:?} {} {}", goal.word(), soil.word()),
                    &s,
                    &g(goal),
                    &c,
                );
            }
        }
    }
    let mut s = floor("vinyl_sheet", 80.0);
    s.film = film(Some(Bare), None, None);
    s.laid_on = Some(now().date_naive() - chrono::Days::new(1));
    show("new VSH laid yesterday protect", &s, &g(Goal::Protect), &c);
    s.laid_on = Some(now().date_naive() - chrono::Days::new(4));
    show("new VSH laid 4d protect", &s, &g(Goal::Protect), &c);
    s.laid_on = Some(now().date_naive() - chrono::Days::new(60));
    show("new VSH laid 60d protect", &s, &g(Goal::Protect), &c);
    for (air, fl, rh) in [
        (20.0, 8.0, 50.0),
        (20.0, 12.0, 55.0),
        (20.0, 19.0, 84.0),
        (35.0, 30.0, 20.0),
        (15.0, 14.0, 70.0),
    ] {
        let c = Climate {
            air_c: air,
            floor_c: fl,
            humidity_pct: rh,
            air_speed_m_s: 0.1,
        };
        show(
            &format!("climate {air} {fl} {rh}"),
            &s,
            &g(Goal::Protect),
            &c,
        );
    }
}
