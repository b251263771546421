//! What happens when a receiver does not take what it is sent.

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    build,
    receiver::{Receiver, Reply},
};

use super::{Subscribed, app, replay, wait_for};
use tests::read;

#[tokio::test]
async fn f_34_a_dead_letter_is_replayed_under_its_own_id() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    receiver.always(Reply::status(500));
    let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let _made = build::new_contractor(&admin).await;
    let mut delivery = Value::Null;
    for n in 1..=10 {
        // A token of that day: the attempts are spread over three.
        let admin = app.admin();
        delivery = subscribed.tried(&admin, n).await;
        let is_last = n == 10;
        assert_eq!(delivery["status"], if is_last { "dead" } else { "pending" });
        if !is_last {
            wait_for(&app, &delivery);
        }
    }
    let admin = app.admin();
    assert_eq!(delivery["next_attempt_at"], Value::Null);
    let tried = receiver.messages();
    assert_eq!(tried.len(), 10);
    for pair in tried.windows(2) {
        assert_eq!(pair[0].header("webhook-id"), pair[1].header("webhook-id"));
        assert_eq!(pair[0].body, pair[1].body, "byte for byte");
        assert_ne!(
            pair[0].header("webhook-timestamp"),
            pair[1].header("webhook-timestamp")
        );
        assert!(pair[1].is_signed_with(&subscribed.secret));
    }
    // Twice at once: both are answered, nothing is lost, and every attempt is on record.
    receiver.always(Reply::status(200));
    let (one, two) = tokio::join!(replay(&admin, &delivery), replay(&admin, &delivery));
    let _both = (one.must(200), two.must(200));
    let done = subscribed
        .deliveries(&admin, |items| items[0]["status"] == "delivered")
        .await;
    let path = format!("/v1/deliveries/{}", read::text(&done[0], "/id"));
    let whole = admin.get(&path).await.must(200).json();
    let attempts = whole["attempts"].as_array().unwrap();
    assert_eq!(attempts.len(), receiver.messages().len());
    assert_eq!(json!(attempts.len()), whole["n_attempts"]);
    assert_eq!(
        (&attempts[0]["outcome"], &attempts[0]["http_status"]),
        (&json!("taken"), &json!(200))
    );
    assert_eq!(attempts.last().unwrap()["outcome"], "refused");
    let last = receiver.messages().pop().unwrap();
    assert_eq!(last.header("webhook-id"), tried[0].header("webhook-id"));
    // What arrived may be sent again too; a span takes it only if asked to.
    let span = |all: bool| json!({"from": "2026-06-01T00:00:00Z", "with_delivered": all});
    let path = format!("{}/replay", subscribed.path());
    let n = receiver.messages().len();
    let none = admin.record(&path, &span(false)).await.must(200).json();
    assert_eq!(
        (&none["n_replayed"], &none["n_missed"]),
        (&json!(0), &json!(0))
    );
    let again = admin.record(&path, &span(true)).await.must(200).json();
    assert_eq!(
        (&again["n_replayed"], &again["next_from"]),
        (&json!(1), &Value::Null)
    );
    assert_eq!(
        receiver.wait_for(n + 1).await.pop().unwrap().body,
        last.body
    );
}

#[tokio::test]
async fn f_36_a_receiver_that_has_too_much_to_do_is_left_alone_for_a_minute() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    let soon = "Mon, 01 Jun 2026 12:08:00 GMT";
    receiver.next([
        Reply::with(429, "Retry-After", "120"),
        Reply::with(503, "Retry-After", soon),
        Reply::with(503, "Retry-After", "-5"),
    ]);
    let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let _made = build::new_contractor(&admin).await;
    let wait =
        |delivery: &Value| (read::moment(delivery, "/next_attempt_at") - app.now()).num_seconds();
    let first = subscribed.tried(&admin, 1).await;
    assert_eq!(
        wait(&first),
        60,
        "the schedule has 5 s here, twice that is 10"
    );
    wait_for(&app, &first);
    let second = subscribed.tried(&admin, 2).await;
    assert_eq!(
        wait(&second),
        7 * 60,
        "the schedule has 5 minutes, and 7 were asked for"
    );
    wait_for(&app, &second);
    let third = subscribed.tried(&admin, 3).await;
    assert!(
        (24 * 60..=36 * 60).contains(&wait(&third)),
        "half an hour, and junk is passed over"
    );
}

#[tokio::test]
async fn f_37_a_receiver_that_is_gone_is_told_nothing_more_and_others_are_told_of_it() {
    let app = app().await;
    let (admin, receiver, watcher) = (app.admin(), Receiver::start(), Receiver::start());
    let types = json!({"event_types": ["wearcourse.subscription.disabled.v1", "wearcourse.contractor.registered.v1"]});
    let _watching = Subscribed::new(&admin, &watcher.url, types).await;
    receiver.next([Reply::status(410)]);
    let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let _made = build::new_contractor(&admin).await;
    let told = watcher.wait_for(2).await;
    let told = told
        .iter()
        .map(tests::receiver::Message::event)
        .rfind(|event| event["type"] == "wearcourse.subscription.disabled.v1")
        .unwrap();
    assert_eq!(
        (&told["subject"], &told["data"]["disabled_because"]),
        (&json!(subscribed.id), &json!("gone"))
    );
    let row = subscribed.read(&admin).await;
    assert_eq!(
        (&row["status"], &row["disabled_because"]),
        (&json!("disabled"), &json!("gone"))
    );
    assert_eq!(subscribed.tried(&admin, 1).await["status"], "dead");
    // What happens meanwhile passes it by, until it is enabled and asks for it.
    let missed = build::new_contractor(&admin).await;
    // Whoever watches has it, so it was handed out while the other one was disabled.
    let _handed_out = watcher.wait_for(3).await;
    let span = json!({"from": "2026-06-01T00:00:00Z"});
    let path = format!("{}/replay", subscribed.path());
    app.clock().advance(TimeDelta::seconds(1));
    admin
        .record(&path, &span)
        .await
        .problem(409, "state_conflict");
    admin
        .record(&format!("{}/ping", subscribed.path()), &json!({}))
        .await
        .problem(409, "state_conflict");
    let enabled = subscribed
        .change(&admin, &json!({"enabled": true}))
        .await
        .must(200)
        .json();
    assert_eq!(
        (&enabled["status"], &enabled["disabled_because"]),
        (&json!("enabled"), &Value::Null)
    );
    let again = admin.record(&path, &span).await.must(200).json();
    assert_eq!(
        (&again["n_replayed"], &again["n_missed"]),
        (&json!(1), &json!(1))
    );
    let subjects: Vec<_> = receiver
        .wait_for(3)
        .await
        .iter()
        .map(|m| m.event()["subject"].clone())
        .collect();
    assert!(subjects[1..].contains(&json!(missed)), "{subjects:?}");
}

#[tokio::test]
async fn f_37_a_receiver_that_fails_for_five_days_is_told_nothing_more() {
    let app = app().await;
    let receiver = Receiver::start();
    receiver.always(Reply::Reset);
    let subscribed = Subscribed::to_contractors(&app.admin(), &receiver.url).await;
    let statuses = async |hours: i64| {
        app.clock().advance(TimeDelta::hours(hours));
        let admin = app.admin();
        let n = receiver.messages().len();
        let _made = build::new_contractor(&admin).await;
        // The new one, and whatever was due again.
        let _more = receiver.wait_for(n + 1).await;
        let _recorded = subscribed
            .deliveries(&admin, |items| {
                items.iter().all(|item| item["n_attempts"] != 0)
            })
            .await;
        let row = subscribed.read(&admin).await;
        (row["status"].clone(), row["failing_since"] == Value::Null)
    };
    assert_eq!(statuses(0).await, (json!("enabled"), false));
    assert_eq!(statuses(100).await, (json!("enabled"), false));
    // One success within the five days, and they begin anew.
    receiver.always(Reply::status(200));
    assert_eq!(statuses(1).await, (json!("enabled"), true));
    receiver.always(Reply::Reset);
    assert_eq!(statuses(1).await, (json!("enabled"), false));
    assert_eq!(statuses(119).await, (json!("enabled"), false));
    let admin = app.admin();
    app.clock().advance(TimeDelta::hours(1));
    let _made = build::new_contractor(&admin).await;
    for _ in 0..200 {
        let row = subscribed.read(&admin).await;
        if row["status"] == "disabled" {
            assert_eq!(row["disabled_because"], "failing");
            return;
        }
        let _pause = tokio::time::timeout(
            std::time::Duration::from_millis(50),
            std::future::pending::<()>(),
        )
        .await;
    }
    panic!("it is still enabled");
}

#[tokio::test]
async fn f_40_f_43_who_comes_back_after_his_lease_changes_nothing() {
    let app = app().await;
    let (admin, receiver) = (app.admin(), Receiver::start());
    // The first attempt hangs past its lease of 30 s; the second, made meanwhile, is refused.
    receiver.next([Reply::Hang, Reply::status(500)]);
    let subscribed = Subscribed::to_contractors(&admin, &receiver.url).await;
    let _made = build::new_contractor(&admin).await;
    let _hangs = receiver.wait_for(1).await;
    app.clock().advance(TimeDelta::seconds(31));
    let both = receiver.wait_for(2).await;
    assert_eq!(
        both[0].header("webhook-id"),
        both[1].header("webhook-id"),
        "at least once, under one id"
    );
    let second = subscribed.tried(&admin, 1).await;
    receiver.release();
    // The late 200 is refused by its lease: the newer result stands, and the delivery is tried again.
    assert_eq!(second["status"], "pending");
    wait_for(&app, &second);
    let _third = receiver.wait_for(3).await;
    let done = subscribed
        .deliveries(&admin, |items| items[0]["status"] == "delivered")
        .await;
    assert_eq!(done[0]["n_attempts"], 2);
}

#[tokio::test]
async fn f_42_what_is_changed_between_two_attempts_counts_from_the_next() {
    let app = app().await;
    let (admin, old, new) = (app.admin(), Receiver::start(), Receiver::start());
    old.always(Reply::status(500));
    let subscribed = Subscribed::to_contractors(&admin, &old.url).await;
    let _made = build::new_contractor(&admin).await;
    let first = subscribed.tried(&admin, 1).await;
    // Disabled: nothing is sent, however long it has been due.
    let _off = subscribed
        .change(&admin, &json!({"enabled": false}))
        .await
        .must(200);
    wait_for(&app, &first);
    let others = Receiver::start();
    let witness = Subscribed::to_contractors(&admin, &others.url).await;
    let _made = build::new_contractor(&admin).await;
    let _turn = others.wait_for(1).await;
    assert_eq!((old.messages().len(), new.messages().len()), (1, 0));
    // Another address and another secret, and then enabled.
    let own = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
    let rotate = json!({"secret": own, "overlap_h": 0});
    let _rotated = admin
        .record(&format!("{}/rotate", subscribed.path()), &rotate)
        .await
        .must(200);
    let moved = json!({"enabled": true, "url": new.url});
    let _moved = subscribed.change(&admin, &moved).await.must(200);
    let message = new.wait_for(1).await.remove(0);
    assert!(message.is_signed_with(own) && !message.is_signed_with(&subscribed.secret));
    assert_eq!(old.messages().len(), 1);
    // Deleted: what waits is cancelled.
    others.always(Reply::status(500));
    let _made = build::new_contractor(&admin).await;
    let waiting = |items: &[Value]| {
        items
            .iter()
            .any(|item| item["status"] == "pending" && item["n_attempts"] == 1)
    };
    let items = witness.deliveries(&admin, waiting).await;
    let pending = items
        .iter()
        .find(|item| item["status"] == "pending")
        .unwrap()
        .clone();
    let n = others.messages().len();
    let gone = admin
        .call(Method::DELETE, &witness.path())
        .header("If-Match", "*")
        .answer()
        .await;
    let _gone = gone.must(204);
    admin.get(&witness.path()).await.problem(404, "not_found");
    let path = format!("/v1/deliveries/{}", read::text(&pending, "/id"));
    assert_eq!(
        admin.get(&path).await.must(200).json()["status"],
        "cancelled"
    );
    replay(&admin, &pending)
        .await
        .problem(409, "state_conflict");
    wait_for(&app, &pending);
    let n_new = new.messages().len();
    let _made = build::new_contractor(&admin).await;
    let _turn = new.wait_for(n_new + 1).await;
    assert_eq!(others.messages().len(), n);
}

#[tokio::test]
async fn f_35_a_receiver_that_hangs_holds_nobody_else_up() {
    let app = app().await;
    let (admin, bad, good) = (app.admin(), Receiver::start(), Receiver::start());
    bad.always(Reply::Hang);
    let _hanging = Subscribed::to_contractors(&admin, &bad.url).await;
    let _healthy = Subscribed::to_contractors(&admin, &good.url).await;
    for _ in 0..40 {
        let _made = build::new_contractor(&admin).await;
    }
    assert_eq!(good.wait_for(40).await.len(), 40);
    assert_eq!((bad.messages().len(), bad.most_open()), (4, 4));
    bad.release();
}
