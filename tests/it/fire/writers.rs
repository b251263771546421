//! Writers that never give up: each request is sent again under its key until it is answered, wherever the service is then.

use std::{
    cell::{Cell, RefCell},
    collections::BTreeMap,
    time::Duration,
};

use futures_util::future::join_all;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::NORTH,
    build,
    client::Caller,
    ground::{Ground, completion, site},
};
use tokio::sync::watch;

/// How long a writer waits for a service that hung up on it to be started again before it asks anew all the same.
const PATIENCE: Duration = Duration::from_secs(5);

/// What writers share.
pub(super) struct Field<'a> {
    ground: &'a Ground,
    /// Where the processes listen that are asked in turn.
    pub(super) urls: watch::Sender<Vec<String>>,
    /// How many requests were sent for the first time, and how many were answered with success.
    pub(super) attempted: Cell<usize>,
    pub(super) acknowledged: watch::Sender<usize>,
    /// Every name under which something was acknowledged, and the id that was told for it.
    pub(super) kept: RefCell<BTreeMap<String, String>>,
    /// How often a request had no answer, and how often its repeat found that it had been done.
    pub(super) unanswered: Cell<usize>,
    pub(super) replayed: Cell<usize>,
    pub(super) is_over: Cell<bool>,
}

impl<'a> Field<'a> {
    pub(super) fn new(ground: &'a Ground, urls: Vec<String>) -> Self {
        Self {
            ground,
            urls: watch::Sender::new(urls),
            attempted: Cell::new(0),
            acknowledged: watch::Sender::new(0),
            kept: RefCell::default(),
            unanswered: Cell::new(0),
            replayed: Cell::new(0),
            is_over: Cell::new(false),
        }
    }

    /// Waits until so many more writes were acknowledged.
    pub(super) async fn gather(&self, more: usize) {
        let mut acknowledged = self.acknowledged.subscribe();
        let goal = *acknowledged.borrow() + more;
        acknowledged.wait_for(|n| *n >= goal).await.unwrap();
    }

    /// A site with a surface for each of `n` writers.
    pub(super) async fn surfaces(&self, n: usize) -> Vec<String> {
        let admin = self.caller(0);
        let site = admin.post("/v1/sites", &site()).await.must(201).id();
        let surface = build::surface(&site);
        let made = (0..n).map(|_| build::new_surface(&admin, &surface));
        join_all(made).await
    }

    /// A caller of one of the processes.
    pub(super) fn caller(&self, turn: usize) -> Caller {
        let urls = self.urls.borrow();
        self.ground.caller(&urls[turn % urls.len()], NORTH)
    }

    /// Writes until it is over: a contractor and a report of work in turn.
    pub(super) async fn write(&self, writer: usize, surface: &str, only_work: bool) {
        let mut n = 0;
        while !self.is_over.get() {
            let name = format!("w{writer}-{n}");
            if only_work || n % 2 == 1 {
                let work = completion(surface, &name);
                self.until_answered((writer, n), &name, "/v1/completions", &work)
                    .await;
            } else {
                let body = json!({ "name": name });
                self.until_answered((writer, n), &name, "/v1/contractors", &body)
                    .await;
            }
            n += 1;
        }
    }

    /// Sends a request under its key until it is acknowledged.
    async fn until_answered(
        &self,
        (writer, n): (usize, usize),
        name: &str,
        path: &str,
        body: &Value,
    ) {
        self.attempted.set(self.attempted.get() + 1);
        for again in 0.. {
            let mut changed = self.urls.subscribe();
            let call = self
                .caller(writer + n + again)
                .call(Method::POST, path)
                .json(body)
                .header("Idempotency-Key", name);
            match call.send().await {
                Ok(answer) if answer.status == 201 => {
                    let is_repeat = answer.header("Idempotent-Replayed").is_some();
                    self.replayed
                        .set(self.replayed.get() + usize::from(is_repeat));
                    self.kept.borrow_mut().insert(name.to_owned(), answer.id());
                    self.acknowledged.send_modify(|n| *n += 1);
                    return;
                }
                // Its first attempt is not over on the server, or others are in the way.
                Ok(answer) if [409, 503].contains(&answer.status) => {}
                Ok(answer) => panic!("{name}: {} {}", answer.status, answer.text()),
                Err(_hung_up) => {
                    self.unanswered.set(self.unanswered.get() + 1);
                    // Whether or not it is there again, it is asked.
                    let _there = tokio::time::timeout(PATIENCE, changed.changed()).await;
                }
            }
        }
    }
}

/// What is there set beside what was acknowledged.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Reckoning {
    /// Names that were acknowledged and are not there, or under another id.
    pub(super) lost: Vec<String>,
    /// Names that are there more than once.
    pub(super) doubled: Vec<String>,
    /// Names that are there and that nobody had acknowledged.
    pub(super) phantom: Vec<String>,
}

/// Reads all contractors and completions, page by page, and compares them with what was acknowledged.
pub(super) async fn reckon(admin: &Caller, kept: &BTreeMap<String, String>) -> Reckoning {
    let mut there: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (path, pointer) in [
        ("/v1/contractors", "/name"),
        ("/v1/completions", "/external/id"),
    ] {
        let mut cursor = String::new();
        loop {
            let page = admin.get(&format!("{path}?limit=200{cursor}")).await;
            let page = page.must(200).json();
            for item in page["items"].as_array().unwrap() {
                let name = item.pointer(pointer).unwrap().as_str().unwrap();
                let id = item["id"].as_str().unwrap();
                there
                    .entry(name.to_owned())
                    .or_default()
                    .push(id.to_owned());
            }
            match page["next_cursor"].as_str() {
                Some(next) => cursor = format!("&cursor={next}"),
                None => break,
            }
        }
    }
    let mut found = Reckoning::default();
    for (name, id) in kept {
        if there.get(name).is_none_or(|ids| !ids.contains(id)) {
            found.lost.push(name.clone());
        }
    }
    for (name, ids) in there {
        if ids.len() > 1 {
            found.doubled.push(name.clone());
        }
        if !kept.contains_key(&name) {
            found.phantom.push(name);
        }
    }
    found
}
