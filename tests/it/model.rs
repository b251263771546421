//! Long random sequences of requests beside a model of a few lines, which says what each of them must answer (V-02).
//!
//! Where tests run on a server, the same sequence is sent to a service on a file too, and both answer the same bytes (V-15).

use std::collections::{BTreeMap, BTreeSet};

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::{Answer, Caller},
};

const SEEDS: [u64; 6] = [3, 17, 29, 71, 113, 977];
const N_STEPS: usize = 50;

/// Numbers that are the same in every run (Knuth's MMIX constants; from memory, any full-period generator would do).
struct Dice(u64);

impl Dice {
    fn throw(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % n.max(1)
    }
}

/// A record as the model knows it.
#[derive(Debug, Clone)]
struct Known {
    name: String,
    version: u64,
    is_there: bool,
}

/// What the model knows: records by their paths, external names that are taken, keys and what they stand for.
#[derive(Default)]
struct Model {
    records: BTreeMap<String, Known>,
    sites: Vec<String>,
    surfaces: Vec<String>,
    taken: BTreeSet<String>,
    keys: BTreeMap<String, (Value, Vec<u8>)>,
}

/// One service, the model of it and what it has answered so far.
struct Walk {
    admin: Caller,
    dice: Dice,
    model: Model,
    answers: Vec<(String, u16, Vec<u8>)>,
}

impl Walk {
    fn note(&mut self, what: String, answer: &Answer) {
        // A problem carries the id of its request, which is another each time.
        let mut told = answer.json();
        if let Some(members) = told.as_object_mut() {
            members.remove("request_id");
            members.remove("instance");
        }
        let bytes = if told.is_null() {
            answer.body.clone()
        } else {
            told.to_string().into_bytes()
        };
        self.answers.push((what, answer.status, bytes));
    }

    fn pick(&mut self, among: &[String]) -> Option<String> {
        let n = self.dice.throw(among.len());
        among.get(n).cloned()
    }

    fn made(&mut self, path: &str, answer: &Answer, name: &str) -> String {
        let place = format!("{path}/{}", answer.id());
        let known = Known {
            name: name.to_owned(),
            version: 1,
            is_there: true,
        };
        self.model.records.insert(place.clone(), known);
        place
    }

    async fn contractor(&mut self, step: usize) {
        let (name, external) = (format!("Crew {step}"), self.dice.throw(6).to_string());
        let body = json!({"name": name, "external": {"system": "hr", "id": external}});
        let answer = self.admin.post("/v1/contractors", &body).await;
        self.note(body.to_string(), &answer);
        if self.model.taken.insert(external) {
            assert_eq!(answer.status, 201, "{}", answer.text());
            self.made("/v1/contractors", &answer, &name);
        } else {
            answer.problem(409, "already_exists");
        }
    }

    async fn site(&mut self, step: usize) {
        let name = format!("Site {step}");
        let body = with(build::site(), json!({ "name": name }));
        let answer = self.admin.post("/v1/sites", &body).await;
        self.note(name.clone(), &answer);
        assert_eq!(answer.status, 201, "{}", answer.text());
        let place = self.made("/v1/sites", &answer, &name);
        self.model.sites.push(place);
    }

    /// Something below a site, or below one that is not there.
    async fn below(&mut self, step: usize) {
        let sites = self.model.sites.clone();
        let Some(site) = self.pick(&sites) else {
            return;
        };
        let is_there = self.dice.throw(5) > 0;
        let id = if is_there {
            site.rsplit('/').next().unwrap()
        } else {
            "sit_0193e8a0-0000-7000-8000-00000000dead"
        };
        let name = format!("Floor {step}");
        if self.dice.throw(2) == 0 {
            let body = with(build::surface(id), json!({ "name": name }));
            let answer = self.admin.post("/v1/surfaces", &body).await;
            self.note(body.to_string(), &answer);
            assert_eq!(
                answer.status,
                if is_there { 201 } else { 422 },
                "{}",
                answer.text()
            );
            if is_there {
                let place = self.made("/v1/surfaces", &answer, &name);
                self.model.surfaces.push(place);
            }
        } else {
            let path = format!("/v1/sites/{id}/stock-items");
            let answer = self.admin.post(&path, &build::stock_item()).await;
            self.note(path, &answer);
            assert_eq!(
                answer.status,
                if is_there { 201 } else { 404 },
                "{}",
                answer.text()
            );
            if is_there {
                self.made("/v1/stock-items", &answer, "");
            }
        }
    }

    /// A change of a record with the version that it has, one that it had, any, or none.
    async fn change(&mut self, step: usize) {
        let places: Vec<String> = self.model.records.keys().cloned().collect();
        let Some(place) = self.pick(&places) else {
            return;
        };
        let known = self.model.records[&place].clone();
        let (is_item, has_change) = (
            place.contains("stock-items"),
            !place.contains("contractors"),
        );
        if !has_change {
            return;
        }
        let deletes = is_item && self.dice.throw(2) == 0;
        let name = format!("Name {step}");
        let patch = if is_item {
            json!({"left_l": step + 1})
        } else {
            json!({ "name": name })
        };
        let manner = self.dice.throw(4);
        let verb = if deletes {
            Method::DELETE
        } else {
            Method::PATCH
        };
        let call = self.admin.call(verb, &place);
        let call = if deletes {
            call
        } else {
            call.merge_patch(&patch)
        };
        let tag = if known.is_there {
            Some(self.admin.get(&place).await.must(200).etag())
        } else {
            None
        };
        let tag = tag.unwrap_or_else(|| "\"1\"".to_owned());
        let answer = match manner {
            0 => call.answer().await,
            1 => call.header("If-Match", "\"stale\"").answer().await,
            2 => call.header("If-Match", "*").answer().await,
            _ => call.header("If-Match", &tag).answer().await,
        };
        self.note(format!("{manner} {place}"), &answer);
        let wanted: &[u16] = match (known.is_there, manner) {
            (_, 0) => &[428],
            (false, _) => &[404],
            (true, 1) => &[412],
            (true, _) if deletes => &[204],
            (true, _) => &[200],
        };
        assert!(
            wanted.contains(&answer.status),
            "{place}: {} and not {wanted:?}: {}",
            answer.status,
            answer.text()
        );
        let known = self.model.records.get_mut(&place).unwrap();
        if answer.status == 204 {
            known.is_there = false;
        } else if answer.status == 200 {
            known.version += 1;
            if !is_item {
                known.name = name;
            }
        }
    }

    /// The same key with the same request, or with another.
    async fn again(&mut self) {
        let key = format!("key-{}", self.dice.throw(4));
        let name = format!("Keyed {}", self.dice.throw(3));
        let body = json!({ "name": name });
        let answer = self.admin.post_keyed("/v1/contractors", &key, &body).await;
        self.note(format!("{key} {name}"), &answer);
        match self.model.keys.get(&key) {
            None => {
                assert_eq!(answer.status, 201);
                self.made("/v1/contractors", &answer, &name);
                self.model.keys.insert(key, (body, answer.body.clone()));
            }
            Some((first, bytes)) if *first == body => {
                assert_eq!((answer.status, &answer.body), (201, bytes));
            }
            Some(_) => {
                answer.problem(422, "idempotency_key_reused");
            }
        }
    }

    /// A record says what the model says, and so does the length of its list.
    async fn look(&mut self) {
        let places: Vec<String> = self.model.records.keys().cloned().collect();
        let Some(place) = self.pick(&places) else {
            return;
        };
        let known = self.model.records[&place].clone();
        let answer = self.admin.get(&place).await;
        self.note(place.clone(), &answer);
        if known.is_there {
            let told = answer.must(200).json();
            assert_eq!(
                told["version"].as_u64().unwrap_or(1),
                known.version,
                "{place}"
            );
            if !known.name.is_empty() {
                assert_eq!(told["name"], known.name, "{place}");
            }
        } else {
            answer.problem(404, "not_found");
        }
        let (path, _) = place.rsplit_once('/').unwrap();
        if path.contains("stock-items") {
            return;
        }
        let list = self.admin.get(&format!("{path}?limit=200")).await.must(200);
        self.note(path.to_owned(), &list);
        let n = places
            .iter()
            .filter(|place| place.starts_with(path))
            .count();
        assert_eq!(list.json()["items"].as_array().unwrap().len(), n, "{path}");
    }
}

/// Walks so many steps and gives everything that was answered.
async fn walk(app: &TestApp, seed: u64, n_steps: usize) -> Vec<(String, u16, Vec<u8>)> {
    let mut walk = Walk {
        admin: app.admin(),
        dice: Dice(seed),
        model: Model::default(),
        answers: Vec::new(),
    };
    for step in 0..n_steps {
        match walk.dice.throw(8) {
            0 => walk.contractor(step).await,
            1 => walk.site(step).await,
            2 | 3 => walk.below(step).await,
            4 | 5 => walk.change(step).await,
            6 => walk.again().await,
            _ => walk.look().await,
        }
    }
    walk.answers
}

#[tokio::test]
async fn v_02_random_sequences_answer_what_a_model_says_on_both_databases() {
    let mut n_answers = 0;
    for seed in SEEDS {
        let app = TestApp::start().await;
        let answers = walk(&app, seed, N_STEPS).await;
        n_answers += answers.len();
        if app.is_server() {
            let file = walk(&TestApp::start_on_file().await, seed, N_STEPS).await;
            for (one, other) in answers.iter().zip(&file) {
                assert_eq!(one, other);
            }
        }
    }
    assert!(n_answers > SEEDS.len() * N_STEPS / 2, "{n_answers}");
    crate::fire::tell("V-02", &[("steps", n_answers), ("differences", 0)]);
}

/// The control: the model is not content with whatever is answered.
#[tokio::test]
async fn v_02_a_record_that_is_changed_behind_the_model_is_found() {
    let app = TestApp::start().await;
    let mut walk = Walk {
        admin: app.admin(),
        dice: Dice(1),
        model: Model::default(),
        answers: Vec::new(),
    };
    walk.site(0).await;
    let place = walk.model.sites[0].clone();
    let behind = json!({"name": "Behind its back"});
    let _changed = app.admin().patch(&place, "*", &behind).await.must(200);
    let told = app.admin().get(&place).await.json();
    let known = &walk.model.records[&place];
    assert_ne!(
        (told["version"].as_u64(), told["name"].as_str()),
        (Some(known.version), Some(known.name.as_str()))
    );
}
