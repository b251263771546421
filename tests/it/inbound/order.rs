//! Events in every order, several times, in parts forged: the same records come of them.

use futures_util::future::join_all;
use serde_json::{Value, json};
use tests::{client::Answer, inbound::event};

use super::{Crew, completion_of};

/// Every order of these.
fn orders(of: &[usize]) -> Vec<Vec<usize>> {
    if of.is_empty() {
        return vec![Vec::new()];
    }
    let mut found = Vec::new();
    for first in of {
        let rest: Vec<usize> = of.iter().copied().filter(|n| n != first).collect();
        for mut order in orders(&rest) {
            order.insert(0, *first);
            found.push(order);
        }
    }
    found
}

/// The events of one report's life; `name` tells one report from another.
fn life(crew: &Crew, name: &str, words: &[&str]) -> Vec<(String, Value)> {
    let mut minute = 0;
    let one = |word: &&str| {
        minute += 1;
        let note = json!({"note": format!("{word} {minute}")});
        let data = match *word {
            "voided" => json!({"external": {"system": "crew-app", "id": name}}),
            _ => crew.report(name, note),
        };
        let told = event(&format!("completion.{word}"), minute, &data);
        (format!("{name}-{minute}"), told)
    };
    words.iter().map(one).collect()
}

#[tokio::test]
async fn f_32_events_in_every_order_lead_to_the_same_records() {
    let crew = Crew::new().await;
    let mut n = 0;
    for (words, last) in [
        (
            vec!["reported", "corrected", "corrected"],
            Some("corrected 3"),
        ),
        (vec!["reported", "corrected", "voided"], None),
        (vec!["reported", "voided"], None),
        (vec!["reported", "voided", "corrected"], Some("corrected 3")),
        (vec!["reported", "corrected", "corrected", "voided"], None),
    ] {
        let all: Vec<usize> = (0..words.len()).collect();
        for order in orders(&all) {
            n += 1;
            let name = format!("job-{n}");
            let events = life(&crew, &name, &words);
            for at in &order {
                let (id, told) = &events[*at];
                let _done = crew.send(id, told).await.must(200);
            }
            let path = format!("/v1/completions?external_system=crew-app&external_id={name}");
            let found = crew.admin.get(&path).await.must(200).json();
            let found = found["items"].as_array().unwrap();
            let notes: Vec<&Value> = found.iter().map(|item| &item["note"]).collect();
            assert_eq!(
                notes,
                last.iter().collect::<Vec<_>>(),
                "{words:?} {order:?}"
            );
        }
    }
    assert_eq!(n, 6 + 6 + 2 + 6 + 24);
}

#[tokio::test]
async fn a_correction_counts_at_once_and_the_report_that_comes_late_changes_nothing() {
    let crew = Crew::new().await;
    let events = life(&crew, "1", &["reported", "corrected"]);
    let corrected = crew.send(&events[1].0, &events[1].1).await.must(200);
    let reported = crew.send(&events[0].0, &events[0].1).await.must(200);
    assert_eq!(reported.json()["outcome"], "outdated");
    assert_eq!(completion_of(&reported), completion_of(&corrected));
    assert_eq!(crew.all().await.len(), 1);
    let again = life(&crew, "1", &["reported"]);
    let refused = crew.send("another", &again[0].1).await;
    refused.problem(409, "already_exists");
}

#[tokio::test]
async fn what_a_person_corrected_meanwhile_is_what_the_contractor_corrects() {
    let crew = Crew::new().await;
    let events = life(&crew, "1", &["reported", "corrected", "voided"]);
    let first = completion_of(&crew.send(&events[0].0, &events[0].1).await.must(200));
    let path = format!("/v1/completions/{first}/supersede");
    let by_hand = crew.report("1", json!({"external": null, "note": "by hand"}));
    let by_hand = crew.admin.record(&path, &by_hand).await.must(201).id();
    let second = crew.send(&events[1].0, &events[1].1).await.must(200);
    let path = format!("/v1/completions/{}", completion_of(&second));
    let kept = crew.admin.get(&path).await.must(200).json();
    assert_eq!(kept["supersedes"], by_hand);
    let voided = crew.send(&events[2].0, &events[2].1).await.must(200);
    assert_eq!(completion_of(&voided), completion_of(&second));
    assert!(crew.counting().await.is_empty());
}

#[tokio::test]
async fn f_31_events_sent_up_to_five_times_shuffled_and_in_part_forged_have_one_effect_each() {
    const N_EVENTS: u64 = 150;
    let crew = Crew::new().await;
    // A fixed generator (Knuth's multiplier for 64 bits), so that a failure can be repeated.
    let mut state = 1_u64;
    let mut random = |below: u64| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below
    };
    let mut sendings = Vec::new();
    let mut forged = 0;
    for n in 0..N_EVENTS {
        let told = event(
            "completion.reported",
            0,
            &crew.report(&n.to_string(), json!({})),
        );
        let is_forged = random(10) == 0;
        forged += u64::from(is_forged);
        for _ in 0..=random(5) {
            sendings.push((n, told.to_string(), is_forged));
        }
    }
    for at in (1..sendings.len()).rev() {
        let with = usize::try_from(random(u64::try_from(at).unwrap() + 1)).unwrap();
        sendings.swap(at, with);
    }
    assert!(forged > 0);
    let mut answers: Vec<(u64, bool, Answer)> = Vec::new();
    for some in sendings.chunks(16) {
        let send = async |(n, body, is_forged): &(u64, String, bool)| {
            let id = format!("evt-{n}");
            let call = (crew.sender).message(&crew.sender.path, &id, crew.app.now(), body);
            let call = if *is_forged {
                call.bytes(format!("{body} "))
            } else {
                call
            };
            (*n, *is_forged, call.answer().await)
        };
        answers.extend(join_all(some.iter().map(send)).await);
    }
    let mut ids = std::collections::BTreeMap::new();
    for (n, is_forged, answer) in &answers {
        match (is_forged, answer.status) {
            (true, _) => {
                answer.problem(401, "not_proven");
            }
            (false, 200) => {
                let id = completion_of(answer);
                assert_eq!(ids.entry(*n).or_insert_with(|| id.clone()), &id);
            }
            (false, _) => {
                answer.problem(409, "idempotency_in_flight");
            }
        }
    }
    let expected = usize::try_from(N_EVENTS - forged).unwrap();
    assert_eq!(ids.len(), expected);
    assert_eq!(crew.all().await.len(), expected);
}
