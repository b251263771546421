//! When floors that are left alone come down to their limits, held to plain simulation and to laws.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use domain::{
    programme::{Comparison, Forecast, Limit, Silent, passage::Passing, wear::Use},
    survey::{Soil, Survey, Traffic},
};

use crate::programmes::{Story, asked, sound};

fn found(survey: &Survey, story: &Story) -> Comparison {
    asked(survey, story).expect("reckoned")
}

fn of(found: &Comparison, what: Limit) -> &Forecast {
    let mut all = found.forecasts.iter();
    all.find(|forecast| forecast.what == what).expect("told")
}

/// Days to the dates, those beyond the horizon as its end and later.
fn days(forecast: &Forecast) -> [i64; 3] {
    let passing = forecast.passing.expect("dates");
    passing.map(|passing| match passing {
        Passing::Already => 0,
        Passing::In(days) => days,
        Passing::Beyond => 1_000_000,
        Passing::Never => 2_000_000,
    })
}

/// Numbers that look random: splitmix64, and Box and Muller's way to a normal distribution.
struct Draws(u64);

impl Draws {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let top = u32::try_from((z ^ (z >> 31)) >> 32).expect("32 bits");
        (f64::from(top) + 0.5) / 4_294_967_296.0
    }

    fn normal(&mut self) -> f64 {
        let reach = (-2.0 * self.even().ln()).sqrt();
        reach * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// Read twice since the last coat.
fn read() -> Story {
    Story {
        done: vec![(60, "machine_strip_and_refinish")],
        gloss: vec![(30, 70.0), (2, 66.0)],
        grip: vec![(5, 37.5)],
        months: Some(120),
        ..Story::default()
    }
}

/// The days at which a tenth, a half and nine tenths of many paths have ended.
fn simulated(n: usize, mut path: impl FnMut(&mut Draws) -> u32) -> [f64; 3] {
    let mut draws = Draws(7);
    let mut ends: Vec<u32> = (0..n).map(|_| path(&mut draws)).collect();
    ends.sort_unstable();
    let nth = |at: usize| ends.get(at).copied().map_or(f64::NAN, f64::from);
    [n / 10, n / 2, n * 9 / 10].map(nth)
}

fn agrees(forecast: &Forecast, plain: [f64; 3]) {
    for (day, plain) in days(forecast).into_iter().zip(plain) {
        let day = f64::from(i32::try_from(day).expect("within the horizon"));
        // Of 20,000 paths a tenth is known within 0.7 % of them; steps of a day end a part of a day late.
        assert!(
            (day - plain).abs() <= 2.0 + 0.025 * plain,
            "{:?}: {day} is not {plain}",
            forecast.what
        );
    }
}

/// Days of wear one by one, each with its share more or less than usual, until the gloss lies below: no closed form is used.
#[test]
fn dates_of_gloss_are_those_of_a_plain_simulation() {
    let found = found(&sound(), &read());
    let state = found.look.as_ref().expect("a polish").gloss.state;
    let month = 365.25 / 12.0_f64;
    let kpass = 600.0 / 1e3;
    let spread = 0.3 * month.sqrt();
    let slope = state.covariance / state.gloss_variance;
    let left = (state.loss_variance - slope * state.covariance).sqrt();
    let plain = simulated(20_000, |draws| {
        // The other way round than the engine: first the gloss, then the loss that goes with it.
        let off = state.gloss_variance.sqrt() * draws.normal();
        let loss = state.loss + slope * off + left * draws.normal();
        let usual = 55.0 / 110.8;
        let loss = loss.clamp(0.2 * usual, 5.0 * usual);
        let mut gloss = state.gloss + off;
        let mut day = 0;
        while gloss >= 60.0 {
            let times = 1.0 + spread * draws.normal();
            gloss = 20.0 + (gloss - 20.0) * (-loss * kpass * times / 55.0).exp();
            day += 1;
        }
        day
    });
    agrees(of(&found, Limit::Gloss), plain);
}

#[test]
fn dates_of_the_last_coat_are_those_of_a_plain_simulation() {
    let found = found(&sound(), &read());
    let coats = found.coats;
    assert!(coats.low > 1.0 && coats.low < coats.likely && coats.likely < coats.high);
    let month = 365.25 / 12.0_f64;
    // 600 passes a day, 0.0741 µm for a thousand of them, 4.5 µm a coat.
    let daily = 0.6 * 0.0741 / 4.5;
    let spread = 0.3 * month.sqrt();
    let plain = simulated(20_000, |draws| {
        // A triangle by turning its distribution round.
        let (width, part) = (coats.high - coats.low, draws.even());
        let rise = coats.likely - coats.low;
        let mut film = if part < rise / width {
            coats.low + (part * width * rise).sqrt()
        } else {
            coats.high - ((1.0 - part) * width * (width - rise)).sqrt()
        };
        let rate = daily * (1.0 + 0.5 * draws.normal()).clamp(0.2, 5.0);
        let mut day = 0;
        while film > 1.0 {
            film -= rate * (1.0 + spread * draws.normal());
            day += 1;
        }
        day
    });
    agrees(of(&found, Limit::LastCoat), plain);
}

/// 75 GU fall to 60 in 58.8 days of 600 passes (by hand beside `left_alone_a_floor_falls_below_when_the_curve_does`).
#[test]
fn the_middle_date_of_new_coats_is_that_of_the_curve() {
    let story = Story {
        done: vec![(0, "machine_strip_and_refinish")],
        ..read()
    };
    let story = Story {
        gloss: Vec::new(),
        ..story
    };
    let found = found(&sound(), &story);
    let [early, middle, late] = days(of(&found, Limit::Gloss));
    assert!((52..=66).contains(&middle), "{middle}");
    assert!(early < middle && middle < late, "{early} {middle} {late}");
    let basis = of(&found, Limit::Gloss).basis.as_ref().expect("a basis");
    assert!(basis.source.starts_with("no reading"), "{}", basis.source);
}

#[test]
fn the_same_floor_has_the_same_dates_and_each_its_basis() {
    let (one, other) = (found(&sound(), &read()), found(&sound(), &read()));
    assert_eq!(one.forecasts, other.forecasts);
    for forecast in &one.forecasts {
        let basis = forecast.basis.as_ref().expect("a basis");
        assert!((0.0..=1.0 + 1e-9).contains(&basis.result), "{basis:?}");
        assert!(!basis.source.is_empty() && !basis.inputs.is_empty());
    }
    let source = &of(&one, Limit::Gloss)
        .basis
        .as_ref()
        .expect("a basis")
        .source;
    assert!(source.starts_with("2 reading(s)"), "{source}");
}

#[test]
fn what_has_no_dates_says_why() {
    // Nobody read it and nobody reported a coat: its gloss is a guess.
    let unread = found(&sound(), &Story::default());
    assert_eq!(of(&unread, Limit::Gloss).passing, Err(Silent::NoReading));
    assert_eq!(of(&unread, Limit::Grip).passing, Err(Silent::NoReading));
    assert_eq!(of(&unread, Limit::Grip).basis, None);
    let mut uncounted = sound();
    uncounted.film.coats = None;
    let story = |ptv: f64| Story {
        grip: vec![(5, ptv)],
        ..Story::default()
    };
    let told = |ptv: f64| {
        let found = found(&uncounted, &story(ptv));
        assert_eq!(of(&found, Limit::LastCoat).passing, Err(Silent::NotCounted));
        of(&found, Limit::Grip).passing
    };
    assert_eq!(told(37.0), Err(Silent::NotCounted));
    // 60 is kept even where the lane is worn through, 20 nowhere: neither asks for coats.
    assert_eq!(told(60.0), Ok([Passing::Never; 3]));
    assert_eq!(told(20.0), Ok([Passing::Already; 3]));
    // A gloss far below, and a film that lasts longer than was asked for.
    let dull = Story {
        gloss: vec![(1, 40.0), (1, 41.0)],
        months: Some(6),
        ..Story::default()
    };
    let survey = Survey {
        traffic: Some(Traffic::VeryLight),
        ..sound()
    };
    let dull = found(&survey, &dull);
    assert_eq!(of(&dull, Limit::Gloss).passing, Ok([Passing::Already; 3]));
    assert_eq!(of(&dull, Limit::LastCoat).passing, Ok([Passing::Beyond; 3]));
}

/// 37.5 ± 2.5 is below 36 with a chance of 0.274 today, and with 0.726 once the lane is worn through, which costs 3.
#[test]
fn the_grip_goes_when_the_lane_is_worn_through() {
    let found = found(&sound(), &read());
    let grip = of(&found, Limit::Grip);
    let passing = grip.passing.expect("dates");
    assert_eq!(passing[0], Passing::Already);
    assert!(matches!(passing[1], Passing::In(_)), "{passing:?}");
    assert_eq!(passing[2], Passing::Never);
    let [_, middle, _] = days(grip);
    let [early, _, _] = days(of(&found, Limit::LastCoat));
    assert!(middle > early);
}

/// More people, less matting, more soil: nothing comes later. Classes are compared, and counts across the borders of classes.
#[test]
fn heavier_traffic_and_less_matting_never_put_a_date_off() {
    let story = |told: Use| Story {
        done: vec![(3, "machine_strip_and_refinish")],
        told,
        ..Story {
            gloss: vec![(1, 72.0)],
            grip: vec![(1, 37.5)],
            ..read()
        }
    };
    let all = |survey: &Survey, told: Use| -> Vec<i64> {
        let found = found(survey, &story(told));
        found.forecasts.iter().flat_map(days).collect()
    };
    let rising = |dates: Vec<Vec<i64>>| {
        for pair in dates.windows(2) {
            let later = pair[0].iter().zip(&pair[1]);
            assert!(later.clone().all(|(one, other)| other <= one), "{pair:?}");
            assert!(later.clone().any(|(one, other)| other < one), "{pair:?}");
        }
    };
    let class = |traffic: &Traffic| Survey {
        traffic: Some(*traffic),
        ..sound()
    };
    let usual = Use::default();
    rising(Traffic::ALL.iter().map(|t| all(&class(t), usual)).collect());
    let soils = [Soil::Light, Soil::Normal, Soil::Heavy].map(|soil| Survey {
        soil: Some(soil),
        ..sound()
    });
    rising(soils.iter().map(|survey| all(survey, usual)).collect());
    let counted = [10.0, 40.0, 250.0, 251.0, 990.0, 1_010.0, 4_000.0, 9_000.0];
    let counted = counted.map(|passes| Use {
        passes_per_day: Some(passes),
        ..usual
    });
    rising(counted.iter().map(|told| all(&sound(), *told)).collect());
    let matted = [9.0, 4.6, 3.0, 1.5, 0.0].map(|length| Use {
        matting_m: Some(length),
        ..usual
    });
    rising(matted.iter().map(|told| all(&sound(), *told)).collect());
}
