//! Schedules that are being done, over HTTP: what has happened stands, little moves, and who was told of the old times is told of
//! the new ones.

mod held;
mod refused;

use std::collections::BTreeMap;

use chrono::{DateTime, Duration, Utc};
use serde_json::{Value, json};
use tests::{
    app::{NORTH, TestApp},
    build::{self, new_schedule, with},
    client::Caller,
    read,
};

const NIGHTS: [&str; 5] = ["monday", "tuesday", "wednesday", "thursday", "friday"];

/// A schedule of two floors over nights from Monday, 1 June 2026, of which the first choice is to be done.
struct World {
    app: TestApp,
    admin: Caller,
    path: String,
    surfaces: Vec<String>,
    plans: Vec<String>,
}

impl World {
    async fn new() -> Self {
        Self::of(|_surfaces| json!({})).await
    }

    /// The same, asked for with further terms for its surfaces.
    async fn of(terms: impl Fn(&[String]) -> Value) -> Self {
        let app = TestApp::start().await;
        let admin = app.admin();
        let site = admin.post("/v1/sites", &build::site()).await.must(201).id();
        let (mut plans, mut surfaces) = (Vec::new(), Vec::new());
        for name in ["Hall", "Corridor"] {
            let nights = json!([{"days": NIGHTS, "from": "18:00", "to": "06:00"}]);
            let change =
                json!({"name": name, "access_windows": nights, "area_m2": 80, "perimeter_m": 40});
            let surface = build::new_surface(&admin, &with(build::surface(&site), change)).await;
            plans.push(build::new_plan(&admin, &build::plan(&surface)).await.id());
            surfaces.push(surface);
        }
        let named: Vec<Value> = plans.iter().map(|plan| json!({"plan_id": plan})).collect();
        let machines = json!([{"machine": "rotary_43", "count": 1}]);
        let change = json!({"plans": named, "machines": machines, "schedules": 60});
        let body = with(with(build::schedule(&site, ""), change), terms(&surfaces));
        let told = new_schedule(&admin, &body).await;
        let path = format!("/v1/schedules/{}", read::text(&told, "/id"));
        let choice = json!({"choice": 1});
        let _chosen = admin
            .record(&format!("{path}/choose"), &choice)
            .await
            .must(200);
        Self {
            app,
            admin,
            path,
            surfaces,
            plans,
        }
    }

    async fn replan(&self, body: &Value) -> Value {
        let path = format!("{}/replan", self.path);
        self.admin.record(&path, body).await.must(200).json()
    }

    /// Its tasks by their numbers.
    async fn tasks(&self) -> BTreeMap<u64, Value> {
        let path = format!("{}/tasks?limit=200", self.path);
        let page = self.admin.get(&path).await.must(200).json();
        assert_eq!(page["next_cursor"], Value::Null);
        let items = read::list(&page, "/items").iter();
        items
            .map(|task| (task["number"].as_u64().unwrap(), task.clone()))
            .collect()
    }

    async fn moves(&self, rest: &str) -> Vec<Value> {
        let path = format!("{}/moves{rest}", self.path);
        let page = self.admin.get(&path).await.must(200).json();
        read::list(&page, "/items").to_vec()
    }

    /// Each visit of the calendar: what its `UID` is, and its other properties.
    async fn visits(&self) -> BTreeMap<String, BTreeMap<String, String>> {
        let path = format!("{}/calendar", self.path);
        let text = self.admin.get(&path).await.must(200).text();
        let whole = text.replace("\r\n ", "");
        let events = whole.split("BEGIN:VEVENT\r\n").skip(1);
        let read = |event: &str| -> BTreeMap<String, String> {
            let lines = event.split("\r\n").filter_map(|line| line.split_once(':'));
            lines
                .map(|(name, value)| (name.to_owned(), value.to_owned()))
                .collect()
        };
        events
            .map(read)
            .map(|event| (event["UID"].clone(), event))
            .collect()
    }

    async fn events(&self) -> Vec<Value> {
        let tx = self.app.store().read(self.app.tenant(NORTH)).await.unwrap();
        let events = tx.outbox().list(1_000).await.unwrap();
        let moved = events
            .iter()
            .filter(|event| event.kind == "wearcourse.schedule.moved.v1");
        moved
            .map(|event| serde_json::from_str(&event.payload).unwrap())
            .collect()
    }
}

fn moment(value: &Value, pointer: &str) -> DateTime<Utc> {
    read::text(value, pointer).parse().unwrap()
}

/// What no schedule may break: of one surface one thing after another, and each machine in one place.
fn is_sound(tasks: &BTreeMap<u64, Value>) {
    let all: Vec<&Value> = tasks.values().collect();
    for (at, one) in all.iter().enumerate() {
        let (from, to) = (moment(one, "/from"), moment(one, "/to"));
        let evening = (from - Duration::hours(17)).date_naive();
        let until = one.get("walk_at").map_or(to, |_| moment(one, "/walk_at"));
        let closes = evening.and_hms_opt(12, 0, 0).unwrap().and_utc() + Duration::hours(17);
        assert!(from < to && until <= closes, "{one}");
        for other in &all[at + 1..] {
            // Two operatives, and every task takes both.
            assert_eq!(
                (&one["operatives"], &other["operatives"]),
                (&json!(2), &json!(2))
            );
            let apart = to <= moment(other, "/from") || moment(other, "/to") <= from;
            assert!(apart, "{one} {other}");
        }
    }
}

#[tokio::test]
async fn nothing_moves_where_all_goes_as_planned() {
    let world = World::new().await;
    let before = world.tasks().await;
    let second = moment(&before[&2], "/from");
    world.app.clock().set(second);
    let told = world.replan(&json!({})).await;
    assert_eq!(told["outcome"], "revised", "{told:#}");
    assert_eq!(
        (&told["n_moved"], &told["is_fewest"]),
        (&json!(0), &json!(true))
    );
    assert_eq!(
        (&told["revision"], &told["n_begun"]),
        (&json!(1), &json!(1))
    );
    assert_eq!(world.tasks().await, before);
    assert_eq!(world.events().await, Vec::<Value>::new());
    assert_eq!(world.moves("").await, Vec::<Value>::new());
}

#[tokio::test]
async fn a_delay_moves_what_it_must_and_tells_the_calendar_and_the_subscribers() {
    let world = World::new().await;
    let (before, visits) = (world.tasks().await, world.visits().await);
    // The last task of the schedule is delayed to the next evening: nothing waits for it.
    let (last, task) = before
        .iter()
        .max_by_key(|(_, task)| moment(task, "/from"))
        .unwrap();
    let later = moment(task, "/from") + Duration::hours(12);
    let body = json!({"progress": [{"task": last, "not_before": later}]});
    let told = world.replan(&body).await;
    assert_eq!(
        (&told["n_moved"], &told["is_fewest"]),
        (&json!(1), &json!(true)),
        "{told:#}"
    );
    let listed_moves = world.moves("?revision=1").await;
    assert_eq!(listed_moves, read::list(&told, "/moves"));
    let moved = &listed_moves[0];
    assert_eq!(
        (&moved["task"], &moved["why"]),
        (&json!(last), &json!("told"))
    );
    let by = moment(moved, "/to") - moment(moved, "/from");
    assert_eq!(moved["by_min"], json!(by.num_minutes()));
    assert_eq!(told["shift_min"], json!(by.num_minutes()));
    assert!(moment(moved, "/to") >= later);
    let after = world.tasks().await;
    is_sound(&after);
    for (number, task) in &after {
        assert_eq!(number == last, *task != before[number], "{task}");
    }
    // Of visits those that changed have a higher sequence; each keeps its UID.
    let now = world.visits().await;
    let mut n_changed = 0;
    for (uid, old) in &visits {
        let new = &now[uid];
        let sequence = |visit: &BTreeMap<String, String>| visit["SEQUENCE"].parse::<i64>().unwrap();
        let same =
            ["DTSTART", "DTEND", "SUMMARY", "DESCRIPTION"].map(|name| old[name] == new[name]);
        if old["STATUS"] == "CONFIRMED" && same.contains(&false) {
            assert_eq!(json!(sequence(new)), told["version"]);
            assert!(sequence(new) > sequence(old));
            n_changed += 1;
        } else {
            assert_eq!(sequence(new), sequence(old), "{uid}");
        }
    }
    assert!((1..=2).contains(&n_changed), "{n_changed}");
    let events = world.events().await;
    let data = &events[0]["data"];
    assert_eq!((events.len(), &data["moves"]), (1, &json!(listed_moves)));
    assert!(read::text(data, "/moves_href").ends_with("/moves?revision=1"));
    // The same told once more, under a new key, is another revision, in which nothing moves.
    let again = world.replan(&body).await;
    assert_eq!(
        (&again["revision"], &again["n_moved"]),
        (&json!(2), &json!(0))
    );
    let listed = world
        .admin
        .get(&format!("{}/revisions?limit=1", world.path))
        .await;
    let listed = listed.must(200).json();
    assert_eq!(listed["items"], json!([told]));
    assert_ne!(listed["next_cursor"], Value::Null);
}

#[tokio::test]
async fn a_night_that_is_withdrawn_and_a_machine_that_is_away_move_their_tasks_alone() {
    let world = World::new().await;
    let before = world.tasks().await;
    let body = json!({
        "closed": [{"from": "2026-06-01T16:00:00Z", "to": "2026-06-02T06:00:00Z"}],
        "machines_away": [{"machine": "rotary_43", "from": "2026-06-02T16:00:00Z", "to": "2026-06-02T22:00:00Z"}],
    });
    let told = world.replan(&body).await;
    assert_eq!(told["outcome"], "revised", "{told:#}");
    let after = world.tasks().await;
    is_sound(&after);
    let opens: DateTime<Utc> = "2026-06-02T16:00:00Z".parse().unwrap();
    let back: DateTime<Utc> = "2026-06-02T22:00:00Z".parse().unwrap();
    for task in after.values() {
        assert!(moment(task, "/from") >= opens, "{task}");
        if task["machines"] != json!([]) {
            assert!(moment(task, "/from") >= back, "{task}");
        }
    }
    let reasons: Vec<String> = world
        .moves("")
        .await
        .iter()
        .map(|moved| read::text(moved, "/why").to_owned())
        .collect();
    assert!(reasons.contains(&"window".to_owned()), "{reasons:?}");
    let n_moved = before
        .iter()
        .filter(|(number, task)| after[number]["from"] != task["from"]);
    assert_eq!(told["n_moved"], json!(n_moved.count()));
    // What is away stays away in the next revision.
    let again = world.replan(&json!({})).await;
    assert_eq!(again["n_moved"], json!(0), "{again:#}");
    // And the crew as well: for good, which cannot be.
    let crew = json!([{"crew": "Night crew", "from": "2026-06-02T12:00:00Z", "to": "2026-06-15T12:00:00Z"}]);
    let none = world.replan(&json!({"crews_away": crew})).await;
    assert_eq!(none["outcome"], "impossible", "{none:#}");
    assert!(!read::list(&none, "/reasons").is_empty());
    assert_eq!(none.get("revision"), None);
    assert_eq!(world.tasks().await, after);
}

#[tokio::test]
async fn what_a_completion_reports_is_done_and_what_is_withdrawn_falls_away() {
    let world = World::new().await;
    let before = world.tasks().await;
    let own = |plan: &str, tasks: &BTreeMap<u64, Value>| -> Vec<Value> {
        let own = tasks.values().filter(|task| task["plan_id"] == plan);
        own.cloned().collect()
    };
    let [done, gone] = [&world.plans[0], &world.plans[1]];
    let begins = own(done, &before)
        .iter()
        .map(|task| moment(task, "/from"))
        .min()
        .unwrap();
    let ends = begins + Duration::hours(10);
    let report =
        json!({"plan_id": done, "process": null, "started_at": begins, "finished_at": ends});
    let report = with(build::completion(&world.surfaces[0]), report);
    let plan = world
        .admin
        .get(&format!("/v1/plans/{done}"))
        .await
        .must(200)
        .json();
    let process = plan["work"]["process"].clone();
    let report = with(report, json!({"process": process}));
    world.app.clock().set(ends);
    let _report = world
        .admin
        .record("/v1/completions", &report)
        .await
        .must(201);
    let path = format!("/v1/plans/{gone}");
    let tag = world.admin.get(&path).await.must(200).etag();
    let call = world
        .admin
        .call(reqwest::Method::POST, &format!("{path}/withdraw"));
    let _gone = call.header("If-Match", &tag).answer().await.must(200);
    let told = world.replan(&json!({})).await;
    assert_eq!(told["outcome"], "revised", "{told:#}");
    let after = world.tasks().await;
    for task in own(done, &after) {
        assert!(
            moment(&task, "/to") <= ends + Duration::minutes(1),
            "{task}"
        );
    }
    let left = own(gone, &after);
    assert!(left.iter().all(|task| moment(task, "/from") < ends));
    let n_gone = own(gone, &before).len() - left.len();
    assert!(n_gone > 0);
    assert_eq!(told["n_cancelled"], json!(n_gone));
    let moves = world.moves("?limit=200").await;
    let fell = moves.iter().filter(|moved| moved["why"] == "plan_gone");
    assert!(fell.clone().all(|moved| moved["to"] == Value::Null));
    assert_eq!(fell.count(), n_gone);
    let visits = world.visits().await;
    let cancelled = visits
        .values()
        .filter(|visit| visit["STATUS"] == "CANCELLED");
    let gone_visits = cancelled.filter(|visit| visit["UID"].contains(&world.surfaces[1]));
    assert!(gone_visits.count() > 0, "{visits:#?}");
    assert_eq!(
        world.events().await[0]["data"]["n_cancelled"],
        json!(n_gone)
    );
}
