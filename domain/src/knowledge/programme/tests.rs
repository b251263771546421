//! Wear by traffic, matting and soil.

use super::TrafficWear;
use crate::{knowledge::KnowledgeBase, survey::Traffic};

#[test]
fn wear_is_what_usual_intervals_imply() {
    let base = KnowledgeBase::builtin().unwrap();
    for traffic in Traffic::ALL {
        let row = base.programme.wear(*traffic, None).unwrap();
        let days = |process: &str| {
            let days = base.process(process).unwrap().interval_days[traffic.word()];
            crate::quantity::float(days)
        };
        let recoat = row.passes_per_day * days("scrub_and_recoat") / 1_000.0;
        let buff = row.passes_per_day * days("spray_buff") / 1_000.0;
        let film = 8.0 / recoat;
        let gloss = -buff / 0.85_f64.ln();
        assert!(
            (row.film_um_per_kpass / film - 1.0).abs() < 0.01,
            "{traffic:?}: {film}"
        );
        assert!(
            (row.gloss_kpass / gloss - 1.0).abs() < 0.01,
            "{traffic:?}: {gloss}"
        );
    }
}

#[test]
fn less_matting_wears_more_and_counted_passes_choose_the_class() {
    let figures = &KnowledgeBase::builtin().unwrap().programme;
    // By hand: at 3 m 48 % of the soil gets in, 14 % at 4.6 m: 1 + 2.3 × 0.34 / 0.86.
    let by_hand = [(0.0, 3.3), (3.0, 1.909_302), (4.6, 1.0), (9.0, 0.679_07)];
    for (length, times) in by_hand {
        assert!((figures.matted(length) - times).abs() < 1e-5, "{length}");
    }
    let class = |passes| &figures.wear(Traffic::Light, passes).unwrap().key;
    assert_eq!(class(None), "light");
    assert_eq!(class(Some(1_000.0)), "medium");
    assert_eq!(class(Some(1_001.0)), "heavy");
}

// By hand: 300 lie in the middle of 150 and 600 by their logarithms, so both figures are geometric means.
#[test]
fn counted_passes_lie_between_classes_and_more_of_them_never_wear_less() {
    let figures = &KnowledgeBase::builtin().unwrap().programme;
    let rates = |passes: f64| {
        let class = figures.wear(Traffic::Light, Some(passes)).unwrap();
        let of = |row: &TrafficWear| Some([row.film_um_per_kpass, row.gloss_kpass]);
        figures.rates(class, Some(passes), of).unwrap()
    };
    let ([film, gloss], source) = rates(300.0);
    assert!((film - 0.104_012).abs() < 1e-5);
    assert!((gloss - 78.347).abs() < 1e-2);
    assert!(source.contains("`light`") && source.contains("`medium`"));
    let counts = (1..=600).map(|step| 1.02_f64.powi(step));
    let a_day: Vec<(f64, f64)> = counts
        .map(|passes| {
            let ([film, gloss], _) = rates(passes);
            (passes * film, passes / gloss)
        })
        .collect();
    assert!(a_day.is_sorted_by(|one, other| one.0 < other.0 && one.1 < other.1));
    // What nobody counted is as the class has it.
    let class = figures.wear(Traffic::Heavy, None).unwrap();
    let own = figures.rates(class, None, |_| Some([1.0, 2.0]));
    assert_eq!(own, Some(([1.0, 2.0], class.source.clone())));
}
