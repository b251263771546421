//! Questions carry what their answers lead to, and only those are asked whose answers matter.
//!
//! Nothing outside says what an answer leads to; each claim is held against a plan that is made with the answer in the
//! survey, which shares no code with the way in which the claim was found but the planner itself.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use domain::{
    plan::{Answer, Plan, PlanInput, Reply, Verdict, draft_plan, lead_on},
    survey::{Asbestos, Film, FilmCondition, FilmKind, Goal, Soil, Survey, Traffic, Wish},
};

use crate::common::{base, climate, corridor, golden_card, now};

/// The plan of a floor with its answers worked out.
fn asked(survey: &Survey, wish: &Wish) -> Plan {
    let (card, climate) = (golden_card(), climate());
    let input = PlanInput {
        survey,
        wish,
        climate: &climate,
        card: &card,
        country: "GB",
        base: base(),
        own_products: &[],
        stock: domain::stock::Stock::NONE,
        climate_assumed: false,
        zone: chrono_tz::Tz::UTC,
        now: now(),
    };
    let plan = draft_plan(&input).expect("an answer");
    lead_on(&input, plan).expect("an answer")
}

fn restore() -> Wish {
    Wish::to(Goal::Restore)
}

fn facts(plan: &Plan) -> Vec<&str> {
    let questions = plan.questions.iter();
    questions.map(|question| question.fact.as_str()).collect()
}

/// Everything that an answer says but its prices.
fn short(answer: &Answer) -> (Reply, Verdict, &str, Vec<&str>) {
    (
        answer.is.clone(),
        answer.verdict,
        answer.process.key.as_str(),
        answer.then_asks.iter().map(String::as_str).collect(),
    )
}

#[test]
fn a_year_leads_to_a_test_for_asbestos_or_to_the_work() {
    // The cut-off of 2000 for Great Britain: ban of the remaining uses in 1999.
    let plan = asked(
        &Survey {
            built_year: None,
            ..corridor()
        },
        &restore(),
    );
    assert_eq!(facts(&plan), ["survey.built_year"]);
    let answers = plan.questions.first().map(|question| &question.answers);
    let found: Vec<_> = answers.expect("a question").iter().map(short).collect();
    let range = |from, to| Reply::Between { from, to };
    let strip = "machine_strip_and_refinish";
    assert_eq!(
        found,
        [
            (
                range(None, Some((2000.0, false))),
                Verdict::NeedsInformation,
                strip,
                vec!["survey.asbestos"]
            ),
            (
                range(Some((2000.0, true)), None),
                Verdict::Allowed,
                strip,
                vec![]
            ),
        ]
    );
}

#[test]
fn coats_on_a_sound_film_part_the_recoat_from_leaving_it_and_from_stripping() {
    let film = Film {
        kind: Some(FilmKind::Polish),
        coats: None,
        condition: Some(FilmCondition::Sound),
    };
    let plan = asked(&Survey { film, ..corridor() }, &restore());
    assert_eq!(facts(&plan), ["film.coats"]);
    let answers = &plan.questions.first().expect("a question").answers;
    let processes: Vec<_> = answers
        .iter()
        .map(|answer| answer.process.key.as_str())
        .collect();
    assert_eq!(
        processes,
        [
            "scrub_and_recoat",
            "leave_as_is",
            "machine_strip_and_refinish"
        ]
    );
    // Each answer's price is that of the plan that is made with it.
    for (answer, coats) in answers.iter().zip([1, 6, 13]) {
        let film = Film {
            coats: Some(coats),
            ..film
        };
        let told = asked(&Survey { film, ..corridor() }, &restore());
        let net = told.work.as_ref().map(|work| work.cost.net);
        assert_eq!(answer.verdict, told.verdict, "{coats} coats");
        assert_eq!(answer.process.key, told.process, "{coats} coats");
        let (least, most) = answer.net.expect("allowed");
        let net = net.expect("allowed");
        assert!(
            least.amount <= net.amount && net.amount <= most.amount,
            "{coats} coats"
        );
    }
}

#[test]
fn each_answer_leads_to_what_it_says_on_floors_of_which_little_is_known() {
    let bare_survey = Survey {
        film: Film::default(),
        built_year: None,
        traffic: None,
        ..corridor()
    };
    let plan = asked(&bare_survey, &restore());
    let mut n_tried = 0;
    for question in &plan.questions {
        for answer in &question.answers {
            let Reply::Words(words) = &answer.is else {
                continue;
            };
            for word in words {
                let mut survey = bare_survey.clone();
                match question.fact.as_str() {
                    "film.kind" => survey.film.kind = FilmKind::of(word),
                    "film.condition" => survey.film.condition = FilmCondition::of(word),
                    "survey.soil" => survey.soil = Soil::of(word),
                    "survey.asbestos" => survey.asbestos = Asbestos::of(word).expect("a word"),
                    other => panic!("{other} has no words here"),
                }
                let told = asked(&survey, &restore());
                assert_eq!(answer.verdict, told.verdict, "{word}");
                assert_eq!(answer.process.key, told.process, "{word}");
                n_tried += 1;
            }
        }
    }
    let n_words = FilmKind::ALL.len() + FilmCondition::ALL.len() + Soil::ALL.len();
    assert_eq!(n_tried, n_words);
}

#[test]
fn the_question_that_settles_most_comes_first() {
    let plan = asked(
        &Survey {
            film: Film::default(),
            built_year: None,
            ..corridor()
        },
        &restore(),
    );
    assert_eq!(facts(&plan).first(), Some(&"film.kind"));
    assert_eq!(plan.verdict, Verdict::NeedsInformation);
}

#[test]
fn a_question_whose_answers_change_nothing_is_not_asked() {
    // Confirmed asbestos: whatever year the building is of, nothing but a damp mop touches the floor.
    let survey = Survey {
        built_year: None,
        asbestos: Asbestos::Confirmed,
        ..corridor()
    };
    assert_eq!(facts(&asked(&survey, &restore())), Vec::<&str>::new());
    // Traffic decides the coats of a new film and with them the price, so it is asked; on a floor that is only mopped
    // damp its answers all cost the same, so it is not.
    let open = |wish: &Wish| {
        let plan = asked(
            &Survey {
                traffic: None,
                soil: Some(Soil::Normal),
                ..corridor()
            },
            wish,
        );
        let open = plan.open_questions.iter();
        open.map(|question| question.fact.clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(open(&restore()), ["survey.traffic"]);
    assert_eq!(
        open(&Wish {
            process: Some("damp_mop".to_owned()),
            ..Wish::to(Goal::Clean)
        }),
        Vec::<String>::new()
    );
    let prices: Vec<i64> = Traffic::ALL
        .iter()
        .map(|traffic| {
            let survey = Survey {
                traffic: Some(*traffic),
                ..corridor()
            };
            asked(&survey, &restore())
                .work
                .expect("allowed")
                .cost
                .net
                .amount
        })
        .collect();
    assert!(prices.iter().max() > prices.iter().min());
}

#[test]
fn a_yes_a_no_and_the_air_of_a_room_lead_to_a_solvent_or_to_a_refusal() {
    let survey = Survey {
        occupied: false,
        film: Film {
            kind: Some(FilmKind::Bare),
            ..Film::default()
        },
        ..Survey {
            material: "hardwood".to_owned(),
            ..corridor()
        }
    };
    let wish = Wish {
        process: Some("seal_wood".to_owned()),
        ..Wish::to(Goal::Protect)
    };
    let plan = asked(&survey, &wish);
    let refused = |fact: &str| {
        let question = plan.questions.iter().find(|asked| asked.fact == fact);
        let answers = question.map(|asked| &asked.answers).expect("it is asked");
        let refused = answers
            .iter()
            .filter(|answer| answer.verdict == Verdict::Refused);
        refused.map(|answer| answer.is.clone()).collect::<Vec<_>>()
    };
    assert_eq!(
        refused("survey.ignition_source"),
        [Reply::Words(vec!["true"])]
    );
    assert_eq!(
        refused("survey.ventilation"),
        [Reply::Words(vec!["closed"])]
    );
}
