//! What lies on a floor at any moment, its history, and plans made from it.

mod dated;
mod history;
mod refused;

use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::{Answer, Caller},
    read,
};

/// A corridor of 240 m² under heavy traffic, surveyed at noon on 1 June 2026.
pub(crate) struct Floor {
    pub(crate) app: TestApp,
    pub(crate) admin: Caller,
    pub(crate) site: String,
    pub(crate) id: String,
}

impl Floor {
    /// With this film in its survey.
    pub(crate) async fn with(film: Value) -> Self {
        let app = TestApp::start().await;
        let admin = app.admin();
        let site = build::new_site(&admin).await;
        let mut body = build::surface(&site);
        body["film"] = film;
        let id = build::new_surface(&admin, &body).await;
        Self {
            app,
            admin,
            site,
            id,
        }
    }

    /// A moment `days` after now, as it is written.
    pub(crate) fn day(&self, days: i64) -> String {
        let moment: DateTime<Utc> = self.app.now() + TimeDelta::days(days);
        moment.to_rfc3339_opts(SecondsFormat::Millis, true)
    }

    /// Lets days pass; a token does not last as long.
    pub(crate) fn pass(&mut self, days: i64) {
        self.app.clock().advance(TimeDelta::days(days));
        self.admin = self.app.admin();
    }

    pub(crate) async fn see(&self, change: Value) -> Answer {
        let body = with(build::observation(), json!({"at": self.day(0)}));
        let path = format!("/v1/surfaces/{}/observations", self.id);
        self.admin.record(&path, &with(body, change)).await
    }

    /// Reports work on the whole floor that ended now.
    pub(crate) async fn work(&self, process: &str, change: Value) -> Answer {
        let hours = |hours| {
            let moment = self.app.now() - TimeDelta::hours(hours);
            moment.to_rfc3339_opts(SecondsFormat::Millis, true)
        };
        let body = with(
            build::completion(&self.id),
            json!({"process": process, "started_at": hours(8), "finished_at": hours(0), "products": []}),
        );
        self.admin
            .record("/v1/completions", &with(body, change))
            .await
            .must(201)
    }

    pub(crate) async fn state(&self, query: &str) -> Value {
        let path = format!("/v1/surfaces/{}/state{query}", self.id);
        self.admin.get(&path).await.must(200).json()["film"].clone()
    }

    async fn plan(&self) -> Value {
        let body = build::plan(&self.id);
        build::new_plan(&self.admin, &body).await.json()
    }
}

fn codes(film: &Value) -> Vec<&str> {
    let found = read::list(film, "/contradictions").iter();
    found.map(|one| read::text(one, "/code")).collect()
}

fn entries(film: &Value) -> Vec<&str> {
    let grounds = read::list(film, "/basis").iter();
    grounds
        .filter_map(|ground| ground["entry"].as_str())
        .collect()
}

const STRIP: &str = "machine_strip_and_refinish";

#[tokio::test]
async fn a_surveyed_film_is_an_observation_that_wears_with_time() {
    let floor = Floor::with(json!({"kind": "polish", "coats": 6, "condition": "sound"})).await;
    let film = floor.state("").await;
    assert_eq!(
        (&film["kind"], &film["coats"]),
        (&json!("polish"), &json!(6))
    );
    assert_eq!(
        film["polish_coats"],
        json!({"low": 5.0, "likely": 6.0, "high": 7.0})
    );
    assert_eq!(film["confidence"], 0.7);
    assert_eq!(film["condition"], "sound");
    let path = format!("/v1/surfaces/{}/observations", floor.id);
    let page = floor.admin.get(&path).await.must(200).json();
    let seen = &page["items"][0];
    assert_eq!(seen["origin"], "survey");
    assert_eq!(entries(&film), [read::text(seen, "/id")]);
    // 73 days are a fifth of a year: 0 to 4 coats a year under heavy traffic, likely 2.
    let later = floor.state(&format!("?at={}", floor.day(73))).await;
    assert_eq!(
        later["polish_coats"],
        json!({"low": 4.2, "likely": 5.6, "high": 7.0})
    );
    assert!(later["confidence"].as_f64() < Some(0.41));
    let before = floor.state(&format!("?at={}", floor.day(-1))).await;
    assert_eq!(
        (&before["kind"], &before["confidence"]),
        (&json!("unknown"), &json!(0.0))
    );
    let change = json!({"film": {"kind": "bare", "coats": null, "condition": null}});
    let changed = floor
        .admin
        .patch(&format!("/v1/surfaces/{}", floor.id), "*", &change)
        .await;
    let _done = changed.must(200);
    assert_eq!(floor.state("").await["kind"], "bare");
    // What does not touch the film says nothing new of it.
    let change = json!({"traffic": "light"});
    let changed = floor
        .admin
        .patch(&format!("/v1/surfaces/{}", floor.id), "*", &change)
        .await;
    let _done = changed.must(200);
    let page = floor.admin.get(&path).await.must(200).json();
    assert_eq!(read::list(&page, "/items").len(), 2);
}

#[tokio::test]
async fn a_plan_is_made_from_what_lies_there_on_its_day_and_says_so() {
    let mut floor = Floor::with(json!({"kind": "bare"})).await;
    let bare = floor.plan().await;
    assert_eq!(bare["film"]["kind"], "bare");
    floor.pass(1);
    let done = floor.work(STRIP, json!({"polish_coats": 4})).await;
    assert_eq!(codes(&floor.state("").await), ["strip_of_bare"]);
    floor.pass(30);
    let planned = floor.plan().await;
    let film = &planned["film"];
    assert_eq!(
        (&film["kind"], &film["coats"]),
        (&json!("polish"), &json!(4))
    );
    assert_eq!(entries(film), [done.id()]);
    assert_eq!(
        (&film["days_since_stripped"], &film["days_since_coated"]),
        (&json!(30), &json!(30))
    );
    assert_ne!(planned["process"], bare["process"]);
    // The estimate of the site is made from the same film.
    let wish = build::estimate(&floor.site);
    let estimate = floor
        .admin
        .post("/v1/estimates", &wish)
        .await
        .must(201)
        .json();
    assert_eq!(
        estimate["surfaces"][0]["process"],
        planned["process"]["key"]
    );
    // The survey still says what it said.
    let survey = floor.admin.get(&format!("/v1/surfaces/{}", floor.id)).await;
    assert_eq!(survey.must(200).json()["film"]["kind"], "bare");
}

#[tokio::test]
async fn what_is_superseded_changes_nothing() {
    let mut floor = Floor::with(json!({"kind": "polish", "coats": 6, "condition": "worn"})).await;
    floor.pass(1);
    let before = floor.state("").await;
    let wrong = floor
        .see(json!({"film": {"kind": "bare", "coats": null, "condition": null}}))
        .await;
    let wrong = wrong.must(201);
    assert_eq!(
        wrong.header("Location"),
        Some(format!("/v1/observations/{}", wrong.id()).as_str())
    );
    let film = floor.state("").await;
    assert_eq!(
        (&film["kind"], codes(&film)),
        (&json!("bare"), vec!["kind_differs"])
    );
    let supersede = format!("/v1/observations/{}/supersede", wrong.id());
    let right = with(
        build::observation(),
        json!({"at": floor.day(0), "origin": "measured", "film": {"coats": 6, "condition": "worn"}}),
    );
    let right = floor.admin.record(&supersede, &right).await.must(201);
    assert_eq!(right.json()["supersedes"], wrong.json()["id"]);
    let film = floor.state("").await;
    assert_eq!(
        film["polish_coats"],
        json!({"low": 6.0, "likely": 6.0, "high": 6.0})
    );
    assert!(codes(&film).is_empty());
    let old = floor
        .admin
        .get(&format!("/v1/observations/{}", wrong.id()))
        .await
        .must(200)
        .json();
    assert_eq!(
        (&old["status"], &old["superseded_by"]),
        (&json!("superseded"), &right.json()["id"])
    );
    let again = floor.admin.record(&supersede, &build::observation()).await;
    again.problem(409, "state_conflict");
    floor.pass(1);
    // A strip that was reported by mistake: the correction says that it was a dust mop.
    let mistake = floor.work(STRIP, json!({"polish_coats": 4})).await;
    assert_eq!(floor.state("").await["coats"], 4);
    let supersede = format!("/v1/completions/{}/supersede", mistake.id());
    let dusted = with(
        build::completion(&floor.id),
        json!({"process": "dust_mop", "products": [], "polish_coats": null}),
    );
    let _done = floor.admin.record(&supersede, &dusted).await.must(201);
    let film = floor.state("").await;
    assert_eq!(
        (&film["coats"], &film["last_stripped_at"]),
        (&json!(6), &Value::Null)
    );
    assert_ne!(film, before);
    let path = format!("/v1/surfaces/{}/observations", floor.id);
    let live = floor.admin.get(&path).await.must(200).json();
    assert_eq!(read::list(&live, "/items").len(), 2);
    let all = floor
        .admin
        .get(&format!("{path}?include_superseded=true&limit=2"))
        .await
        .must(200)
        .json();
    assert_eq!(read::list(&all, "/items").len(), 2);
    let cursor = read::text(&all, "/next_cursor");
    let rest = format!("{path}?include_superseded=true&limit=2&cursor={cursor}");
    let rest = floor.admin.get(&rest).await.must(200).json();
    assert_eq!(rest["items"], json!([right.json()]));
}

#[tokio::test]
async fn reports_that_come_late_and_out_of_order_tell_the_same_story() {
    let mut films = Vec::new();
    for order in [[0, 1, 2], [2, 0, 1]] {
        let mut floor =
            Floor::with(json!({"kind": "polish", "coats": 8, "condition": "yellowed"})).await;
        floor.pass(100);
        for step in order {
            let moment = |back: i64| floor.day(-back);
            match step {
                0 => floor.work(STRIP, json!({"started_at": moment(91), "finished_at": moment(90)})).await,
                1 => floor.work("scrub_and_recoat", json!({"started_at": moment(31), "finished_at": moment(30), "polish_coats": 2})).await,
                _ => floor.see(json!({"at": moment(10), "film": {"condition": "soiled", "coats": null}})).await.must(201),
            };
        }
        let mut film = floor.state("").await;
        // The records have other ids in another order.
        for ground in film["basis"].as_array_mut().unwrap() {
            ground["entry"] = Value::Null;
        }
        films.push(film);
    }
    assert_eq!(films[0], films[1]);
    assert_eq!(films[0]["condition"], "soiled");
    assert_eq!(films[0]["days_since_stripped"], 90);
    assert_eq!(films[0]["days_since_coated"], 30);
}

#[tokio::test]
async fn coats_that_nobody_reports_are_those_of_the_plan() {
    let mut floor = Floor::with(json!({"kind": "polish", "coats": 6, "condition": "worn"})).await;
    let plan = floor.plan().await;
    floor.pass(1);
    let cited = json!({"plan_id": plan["id"], "polish_coats": null});
    let done = floor.work(STRIP, cited).await.json();
    assert_eq!(done["planned_polish_coats"], 4);
    let film = floor.state("").await;
    assert_eq!(
        film["polish_coats"],
        json!({"low": 3.0, "likely": 4.0, "high": 5.0})
    );
    assert_eq!(film["basis"][0]["word"], "planned");
}
