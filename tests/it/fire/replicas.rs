//! Several processes on one database server (one where the database is a file): each event is taken out by one of them,
//! kills lose none, and what reports say stays between what was acknowledged and what was attempted.

use std::{
    cell::Cell,
    collections::BTreeMap,
    time::{Duration, Instant},
};

use futures_util::future::{join, join_all};
use serde_json::json;
use tests::{
    app::NORTH,
    client::Caller,
    ground::{Ground, Process, completion},
    read,
    receiver::{Message, Receiver},
};

use super::{
    PROGRAM, size, tell,
    writers::{Field, Reckoning, reckon},
};

const N_WRITERS: usize = 6;
/// Attempts of one subscription that all processes together have open, as the courier's own constant says.
const IN_FLIGHT: usize = 4;
/// For how long an event may stay away: a lease of half a minute, and as long again.
const PATIENCE: Duration = Duration::from_secs(75);

/// Sends events, also to this machine.
const VARIABLES: [(&str, &str); 2] = [
    ("WEARCOURSE_OUTBOUND", "on"),
    ("WEARCOURSE_OUTBOUND_INSECURE", "on"),
];

/// Messages by the event that they tell of, once there are so many events.
async fn events(receiver: &Receiver, n: usize) -> BTreeMap<String, Vec<Message>> {
    let begun = Instant::now();
    loop {
        let mut events: BTreeMap<String, Vec<Message>> = BTreeMap::new();
        for message in receiver.messages() {
            let id = message.header("webhook-id").to_owned();
            events.entry(id).or_default().push(message);
        }
        if events.len() >= n {
            return events;
        }
        assert!(
            begun.elapsed() < PATIENCE,
            "{} events and not {n}",
            events.len()
        );
        let pause = std::future::pending::<()>();
        let _pause = tokio::time::timeout(Duration::from_millis(50), pause).await;
    }
}

/// Kills one process after the other, each once a few more writes were answered, and starts another in its place.
async fn kill(ground: &Ground, field: &Field<'_>, processes: &mut Vec<Process>, n_kills: usize) {
    for n in 0..n_kills {
        field.gather(11 + n * 17 % 23).await;
        let place = n % processes.len();
        drop(processes.remove(place));
        processes.insert(place, ground.start(&VARIABLES).await);
        let urls = processes.iter().map(|process| process.url.clone());
        field.urls.send_replace(urls.collect());
    }
    field.gather(N_WRITERS).await;
    field.is_over.set(true);
}

/// Reads the report over and over: its total is never less than what was acknowledged before it was asked for, and never
/// more than what was attempted before it was answered.
async fn watch(field: &Field<'_>, n_reads: &Cell<usize>) {
    for turn in 0.. {
        if field.is_over.get() {
            return;
        }
        let least = *field.acknowledged.borrow();
        let asked = field
            .caller(turn)
            .call(reqwest::Method::GET, "/v1/reports/costs?last_months=2");
        let Ok(answer) = asked.send().await else {
            let mut changed = field.urls.subscribe();
            let _there = tokio::time::timeout(Duration::from_secs(1), changed.changed()).await;
            continue;
        };
        let most = field.attempted.get();
        if answer.status == 503 {
            continue;
        }
        let told = answer.must(200).json();
        let found = match told["totals"][0]["n_completions"].as_u64() {
            Some(n) => usize::try_from(n).unwrap(),
            None => 0,
        };
        assert!(
            (least..=most).contains(&found),
            "{least} <= {found} <= {most}"
        );
        n_reads.set(n_reads.get() + 1);
    }
}

/// Two callers at two processes change one version at once: one of them is told so.
async fn meet(ground: &Ground, processes: &[Process], surface: &str, rounds: usize) {
    let callers = [0, processes.len() - 1].map(|n| ground.caller(&processes[n].url, NORTH));
    let path = format!("/v1/surfaces/{surface}");
    for round in 0..rounds {
        let tag = callers[0].get(&path).await.must(200).etag();
        let names = [0, 1].map(|n| json!({"name": format!("Name {round} of {n}")}));
        let (one, two) = join(
            callers[0].patch(&path, &tag, &names[0]),
            callers[1].patch(&path, &tag, &names[1]),
        )
        .await;
        let mut found = [one.status, two.status];
        found.sort_unstable();
        assert_eq!(found, [200, 412], "{} {}", one.text(), two.text());
    }
    let last = callers[0].get(&path).await.must(200).json();
    let changes = f64::from(u32::try_from(rounds).unwrap());
    assert_eq!(read::number(&last, "/version"), 1.0 + changes);
}

#[tokio::test]
async fn f_38_f_39_f_50_f_52_several_processes_lose_nothing_and_double_nothing() {
    let ground = Ground::new(PROGRAM).await;
    // More than one process on a file is not promised.
    let n_processes = if ground.is_server() { size(2, 4) } else { 1 };
    let starts = (0..n_processes).map(|_| ground.start(&VARIABLES));
    let mut processes: Vec<Process> = join_all(starts).await;
    let urls = processes.iter().map(|process| process.url.clone());
    let field = Field::new(&ground, urls.collect());
    let receiver = Receiver::start();
    let subscription = json!({
        "name": "Works orders", "url": receiver.url, "event_types": ["wearcourse.completion.recorded.v1"],
    });
    let made = field
        .caller(0)
        .post("/v1/subscriptions", &subscription)
        .await;
    let made = made.must(201);
    let surfaces = field.surfaces(N_WRITERS + 1).await;
    meet(&ground, &processes, &surfaces[N_WRITERS], size(30, 1_000)).await;

    // Nobody is killed: each event is taken out once.
    let work = |start: usize| {
        let writers = surfaces.iter().take(N_WRITERS).zip(start..);
        join_all(writers.map(|(surface, writer)| field.write(writer, surface, true)))
    };
    let calm = async {
        field.gather(size(120, 5_000)).await;
        field.is_over.set(true);
    };
    let _both = tokio::join!(work(100), calm);
    let n_calm = field.kept.borrow().len();
    let calm = events(&receiver, n_calm).await;
    assert!(calm.values().all(|messages| messages.len() == 1));
    assert_eq!(
        ground.count("deliveries").await,
        i64::try_from(n_calm).unwrap()
    );
    assert_eq!(
        ground.count("delivery_attempts").await,
        i64::try_from(n_calm).unwrap()
    );
    let secret = read::text(&made.json(), "/secret").to_owned();
    assert!(
        calm.values()
            .flatten()
            .all(|message| message.is_signed_with(&secret))
    );

    // One is killed after the other.
    field.is_over.set(false);
    let (n_kills, n_reads) = (size(5, 60), Cell::new(0));
    let killing = kill(&ground, &field, &mut processes, n_kills);
    let _all = tokio::join!(work(200), killing, watch(&field, &n_reads));
    let kept = field.kept.take();
    let admin = field.caller(0);
    let found = reckon(&admin, &kept).await;
    assert_eq!(found, Reckoning::default());
    let told = events(&receiver, kept.len()).await;
    assert_eq!(told.len(), kept.len(), "no event but one for each record");
    let n_repeats: usize = told.values().map(|messages| messages.len() - 1).sum();
    // The control for reports: they were read between the kills, and the last agrees with what is there.
    assert!(n_reads.get() > n_kills);
    assert!(n_repeats <= n_kills * IN_FLIGHT, "{n_repeats} repeats");
    for messages in told.values() {
        assert!(
            messages
                .iter()
                .all(|message| message.body == messages[0].body)
        );
    }
    is_seen(&admin, &receiver, &surfaces[0], &kept).await;
    tell(
        "F-38, F-39, F-50 and F-52",
        &[
            ("kills", n_kills),
            ("acknowledged", kept.len()),
            ("events", told.len()),
            ("repeated", n_repeats),
            ("reports", n_reads.get()),
            ("lost", found.lost.len()),
            ("doubled", found.doubled.len()),
        ],
    );
}

/// The control for events and records: one that nobody was told of is seen.
async fn is_seen(
    admin: &Caller,
    receiver: &Receiver,
    surface: &str,
    kept: &BTreeMap<String, String>,
) {
    let extra = completion(surface, "extra");
    let _done = admin.record("/v1/completions", &extra).await.must(201);
    let n = kept.len() + 1;
    assert_eq!(events(receiver, n).await.len(), n);
    assert_eq!(reckon(admin, kept).await.phantom, ["extra"]);
}
