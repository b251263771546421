//! Kills while eight writers write: what was answered is there, once, and nothing is half there.

use std::collections::BTreeMap;

use futures_util::future::join_all;
use serde_json::json;
use tests::{
    app::NORTH,
    ground::{Ground, Process},
};

use super::{
    PROGRAM, size, tell,
    writers::{Field, Reckoning, reckon},
};

const N_WRITERS: usize = 8;

/// Kills the service so many times, each after a few more answers, and starts it again.
async fn kill(ground: &Ground, field: &Field<'_>, first: Process, n_kills: usize) -> Process {
    let mut process = first;
    for n in 0..n_kills {
        // Uneven, so that kills meet requests at other points.
        field.gather(7 + n * 13 % 29).await;
        drop(process);
        process = ground.start(&[]).await;
        field.urls.send_replace(vec![process.url.clone()]);
    }
    field.gather(N_WRITERS).await;
    field.is_over.set(true);
    process
}

/// What each write leaves beside its record: an event, a row of the audit trail, the answer to its key; and no more.
async fn whole(ground: &Ground, kept: &BTreeMap<String, String>) {
    let n_work = kept.len() - usize::try_from(ground.count("contractors").await).unwrap();
    let events = |kind: &str| format!("outbox WHERE type = 'wearcourse.{kind}.v1'");
    for (rows, n) in [
        (events("contractor.registered"), kept.len() - n_work),
        (events("completion.recorded"), n_work),
        (
            "audit WHERE operation = 'registerContractor'".to_owned(),
            kept.len() - n_work,
        ),
        (
            "audit WHERE operation = 'recordCompletion'".to_owned(),
            n_work,
        ),
        ("idempotency_keys WHERE status = 201".to_owned(), kept.len()),
        ("idempotency_keys".to_owned(), kept.len()),
    ] {
        assert_eq!(
            ground.count(&rows).await,
            i64::try_from(n).unwrap(),
            "{rows}"
        );
    }
    for command in [["audit", "verify", NORTH], ["rollup", "verify", NORTH]] {
        let done = ground.run(&command);
        assert!(done.status.success(), "{command:?}: {done:?}");
    }
    if !ground.is_server() {
        let check = "pragma_integrity_check WHERE integrity_check <> 'ok'";
        assert_eq!(ground.count(check).await, 0);
        assert_eq!(ground.count("pragma_foreign_key_check").await, 0);
    }
}

#[tokio::test]
async fn f_01_f_03_kills_lose_nothing_that_was_answered_and_double_nothing() {
    let ground = Ground::new(PROGRAM).await;
    let n_kills = size(20, 200);
    let process = ground.start(&[]).await;
    let field = Field::new(&ground, vec![process.url.clone()]);
    let surfaces = field.surfaces(N_WRITERS).await;
    let writers = surfaces.iter().zip(1..);
    let writers = writers.map(|(surface, writer)| field.write(writer, surface, false));
    let killing = kill(&ground, &field, process, n_kills);
    let (_, process) = tokio::join!(join_all(writers), killing);
    let kept = field.kept.take();
    let admin = ground.caller(&process.url, NORTH);
    let found = reckon(&admin, &kept).await;
    assert_eq!(found, Reckoning::default());
    whole(&ground, &kept).await;
    // The control: what is not there, what is there twice and what nobody was told of are seen.
    let mut other = kept.clone();
    let (name, id) = other.pop_first().unwrap();
    other.insert("never-written".to_owned(), id);
    let twice = json!({ "name": name });
    let _made = admin.post("/v1/contractors", &twice).await.must(201);
    let control = reckon(&admin, &other).await;
    assert_eq!(control.lost, ["never-written"]);
    assert_eq!(
        (&control.doubled, &control.phantom),
        (&vec![name.clone()], &vec![name])
    );
    tell(
        "F-01 and F-03",
        &[
            ("kills", n_kills),
            ("acknowledged", kept.len()),
            ("unanswered", field.unanswered.get()),
            ("found-done", field.replayed.get()),
            ("lost", found.lost.len()),
            ("doubled", found.doubled.len()),
        ],
    );
}
