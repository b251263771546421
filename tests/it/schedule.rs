//! Schedules over HTTP: nights that end with an open floor, choices with honest bounds, reasons where nothing fits.

mod hours;

use chrono::{DateTime, Duration, Timelike as _, Utc};
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, new_schedule, with},
    client::Caller,
    read,
};

const NIGHTS: [&str; 5] = ["monday", "tuesday", "wednesday", "thursday", "friday"];

/// A school with a corridor that may be closed on week nights from 18:00 to 06:00, and the plan that restores it.
async fn corridor(caller: &Caller, change: Value) -> (String, String, String) {
    let site = caller
        .post("/v1/sites", &build::site())
        .await
        .must(201)
        .id();
    let (surface, plan) = floor(caller, &site, change).await;
    (site, surface, plan)
}

async fn floor(caller: &Caller, site: &str, change: Value) -> (String, String) {
    let nights = json!({"access_windows": [{"days": NIGHTS, "from": "18:00", "to": "06:00"}]});
    let surface = with(with(build::surface(site), nights), change);
    let surface = build::new_surface(caller, &surface).await;
    let plan = build::new_plan(caller, &build::plan(&surface)).await.id();
    (surface, plan)
}

fn crew(operatives: u32) -> Value {
    json!({"name": "Night crew", "operatives": operatives, "shifts": [{"days": NIGHTS, "from": "18:00", "to": "06:00"}]})
}

/// From Monday, 1 June 2026, 12:00 UTC on.
fn asked(site: &str, plans: &[&str], to: &str) -> Value {
    let plans: Vec<Value> = plans.iter().map(|plan| json!({"plan_id": plan})).collect();
    let change = json!({"plans": plans, "to": to, "schedules": 100});
    with(build::schedule(site, ""), change)
}

fn moment(value: &Value, pointer: &str) -> DateTime<Utc> {
    read::text(value, pointer).parse().unwrap()
}

async fn tasks(caller: &Caller, schedule: &Value) -> Vec<Value> {
    let id = read::text(schedule, "/id");
    let mut path = format!("/v1/schedules/{id}/tasks?limit=50");
    let mut tasks = Vec::new();
    loop {
        let page = caller.get(&path).await.must(200).json();
        tasks.extend(read::list(&page, "/items").iter().cloned());
        match page["next_cursor"].as_str() {
            Some(cursor) => path = format!("/v1/schedules/{id}/tasks?limit=50&cursor={cursor}"),
            None => return tasks,
        }
    }
}

/// Whether all of it lies in one night from 18:00 to 06:00 in London, where the clock is an hour ahead of UTC in June.
fn in_a_night(from: DateTime<Utc>, to: DateTime<Utc>) -> bool {
    let since_noon = |at: DateTime<Utc>| at - Duration::hours(17);
    let (from, to) = (since_noon(from), since_noon(to));
    from.date_naive() == to.date_naive() && to.hour() * 60 + to.minute() <= 12 * 60
}

#[tokio::test]
async fn a_corridor_is_restored_over_nights_each_of_which_ends_with_an_open_floor() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, surface, plan) = corridor(&admin, json!({})).await;
    let body = with(
        asked(&site, &[&plan], "2026-06-05T12:00:00Z"),
        json!({"surfaces": [{"surface_id": surface, "deadline": "2026-06-05T06:00:00Z"}]}),
    );
    let answer = admin.record("/v1/schedules", &body).await.must(202);
    let path = format!("/v1/schedules/{}", answer.id());
    assert_eq!(answer.header("Location"), Some(path.as_str()));
    let told = new_schedule(&admin, &body).await;
    assert_eq!(told["status"], "succeeded", "{told:#}");
    assert_eq!(told["result"]["outcome"], "scheduled", "{told:#}");
    let choices = read::list(&told, "/result/choices");
    assert!((1..=3).contains(&choices.len()));
    for choice in choices {
        let reopening = &choice["reopenings"][0];
        assert_eq!(reopening["surface_id"], json!(surface));
        assert_eq!(
            moment(choice, "/all_open_at"),
            moment(reopening, "/walk_at")
        );
        assert!(moment(reopening, "/walk_at") <= moment(&body, "/surfaces/0/deadline"));
        assert!((0.0..=1.0).contains(&read::number(reopening, "/by_deadline")));
        for bound in read::list(choice, "/bounds") {
            assert!(read::number(bound, "/at_most_above_pct") >= 0.0, "{bound}");
        }
        assert!(!read::list(choice, "/critical_chain").is_empty());
    }
    let tasks = tasks(&admin, &told).await;
    assert_eq!(
        tasks.len(),
        usize::try_from(choices[0]["n_tasks"].as_u64().unwrap()).unwrap()
    );
    let mut before = moment(&body, "/from");
    for task in &tasks {
        let (from, to) = (moment(task, "/from"), moment(task, "/to"));
        assert!(before <= from && from < to, "{task}");
        let until = task.get("walk_at").map_or(to, |_| moment(task, "/walk_at"));
        assert!(in_a_night(from, until), "{task}");
        before = from;
    }
    // All of the work is there: every step with labour, in every bay.
    let plan = admin
        .get(&format!("/v1/plans/{plan}"))
        .await
        .must(200)
        .json();
    for step in read::list(&plan["work"], "/steps") {
        let number = &step["number"];
        let with_it = tasks
            .iter()
            .filter(|task| read::list(task, "/steps").contains(number));
        let of_bays: Vec<u64> = with_it
            .map(|task| task["of_bays"].as_u64().unwrap())
            .collect();
        if read::number(step, "/labour_h") > 0.0 {
            assert!(!of_bays.is_empty(), "{step}");
            assert_eq!(u64::try_from(of_bays.len()).unwrap(), of_bays[0], "{step}");
        }
    }
    // Each coat waits for the one before it, as long as the plan says.
    let steps = read::list(&plan["work"], "/steps").iter();
    let coats: Vec<&Value> = steps.filter(|step| step.get("coat").is_some()).collect();
    for pair in coats.windows(2) {
        let times = |step: &Value, end: &str| -> Vec<DateTime<Utc>> {
            let laid = |task: &&Value| read::list(task, "/steps").contains(&step["number"]);
            tasks
                .iter()
                .filter(laid)
                .map(|task| moment(task, end))
                .collect()
        };
        let done = times(pair[0], "/to").into_iter().max().unwrap();
        let next = times(pair[1], "/from").into_iter().min().unwrap();
        let wait = Duration::minutes(pair[0]["wait"]["used_min"].as_i64().unwrap());
        assert!(next - done >= wait, "{} {}", next - done, wait);
    }
}

#[tokio::test]
async fn the_same_request_gives_the_same_schedule() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _, plan) = corridor(&admin, json!({})).await;
    let body = asked(&site, &[&plan], "2026-06-12T12:00:00Z");
    let once = new_schedule(&admin, &body).await;
    let again = new_schedule(&admin, &body).await;
    assert_eq!(once["result"].to_string(), again["result"].to_string());
    assert_eq!(tasks(&admin, &once).await, tasks(&admin, &again).await);
}

#[tokio::test]
async fn what_cannot_be_done_is_told_with_its_window_and_the_minutes_it_is_short() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, surface, plan) = corridor(&admin, json!({})).await;
    let within = |to: &str| {
        let nights = json!([{"days": NIGHTS, "from": "20:00", "to": to}]);
        let own = json!({"surfaces": [{"surface_id": surface, "access_windows": nights}]});
        with(asked(&site, &[&plan], "2026-08-28T12:00:00Z"), own)
    };
    // A coat of a bay and two hours until it may be walked on fit no hour and a half.
    let told = new_schedule(&admin, &within("21:30")).await;
    assert_eq!(told["result"]["outcome"], "impossible", "{told:#}");
    let reasons = read::list(&told, "/result/reasons");
    let reason = reasons
        .iter()
        .find(|reason| reason["kind"] == "no_window")
        .unwrap();
    assert_eq!(reason["surface_id"], json!(surface));
    assert_eq!(
        moment(reason, "/window/to") - moment(reason, "/window/from"),
        Duration::minutes(90)
    );
    let short_by = reason["short_by_min"].as_i64().unwrap();
    assert!(short_by > 0);
    let remedy = format!("a window of {} min", 90 + short_by);
    let remedies = read::list(reason, "/remedies");
    assert!(
        remedies
            .iter()
            .any(|told| told.as_str().unwrap().starts_with(&remedy)),
        "{reason:#}"
    );
    // The longest of them is what it takes: with it there is a schedule, with a minute less there is none.
    let most = reasons
        .iter()
        .filter_map(|reason| reason["short_by_min"].as_i64())
        .max()
        .unwrap();
    for (minutes, outcome) in [(most, "scheduled"), (most - 1, "impossible")] {
        let to = 21 * 60 + 30 + minutes;
        let to = format!("{:02}:{:02}", to / 60, to % 60);
        let told = new_schedule(&admin, &within(&to)).await;
        assert_eq!(told["result"]["outcome"], outcome, "{minutes} {told:#}");
    }
    let alone = with(
        asked(&site, &[&plan], "2026-06-19T12:00:00Z"),
        json!({"crews": [crew(1)]}),
    );
    let told = new_schedule(&admin, &alone).await;
    let reasons = read::list(&told, "/result/reasons");
    assert_eq!(reasons[0]["kind"], "too_few", "{told:#}");
}

#[tokio::test]
async fn a_floor_that_is_the_only_way_is_not_worked_on_while_others_work_behind_it() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, hall, first) = corridor(&admin, json!({"area_m2": 60, "perimeter_m": 34})).await;
    let room = json!({"name": "Room 2.105", "space": "room", "area_m2": 50, "perimeter_m": 30});
    let (room, second) = floor(&admin, &site, room).await;
    let change = json!({
        "crews": [crew(4)],
        "surfaces": [{"surface_id": hall, "only_way_to": [room]}],
        "machines": [{"machine": "rotary_43", "count": 1}],
    });
    let body = with(
        asked(&site, &[&first, &second], "2026-06-12T12:00:00Z"),
        change,
    );
    let told = new_schedule(&admin, &body).await;
    assert_eq!(told["result"]["outcome"], "scheduled", "{told:#}");
    let tasks = tasks(&admin, &told).await;
    let of = |surface: &str| -> Vec<&Value> {
        let own = tasks.iter().filter(|task| task["surface_id"] == surface);
        own.collect()
    };
    for passed in of(&hall) {
        let until = passed.get("walk_at").map_or("/to", |_| "/walk_at");
        for behind in of(&room) {
            let apart = moment(behind, "/to") <= moment(passed, "/from")
                || moment(passed, until) <= moment(behind, "/from");
            assert!(apart, "{passed} {behind}");
        }
    }
    let busy: Vec<&Value> = tasks
        .iter()
        .filter(|task| task["machines"] != json!([]))
        .collect();
    assert!(!busy.is_empty());
    for pair in busy.windows(2) {
        assert!(moment(pair[0], "/to") <= moment(pair[1], "/from"));
    }
}

#[tokio::test]
async fn everything_that_is_wrong_with_a_request_is_told_at_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, surface, plan) = corridor(&admin, json!({})).await;
    let unknown = json!({"name": "Store", "built_year": null, "film": {"kind": "unknown"}});
    let (_, asks) = floor(&admin, &site, unknown).await;
    let (changed, stale) = floor(&admin, &site, json!({"name": "Lobby"})).await;
    let path = format!("/v1/surfaces/{changed}");
    let tag = admin
        .get(&path)
        .await
        .must(200)
        .header("ETag")
        .unwrap()
        .to_owned();
    let change = json!({"area_m2": 200, "perimeter_m": 70});
    let _changed = admin.patch(&path, &tag, &change).await.must(200);
    let south = app.admin_of(SOUTH);
    let (_, _, souths) = corridor(&south, json!({})).await;
    let change = json!({
        "to": "2026-12-05T12:00:00Z",
        "machines": [{"machine": "moon_buggy", "count": 1}],
        "surfaces": [{"surface_id": surface, "deadline": "2027-06-05T06:00:00Z"}, {"surface_id": "srf_0193e8a0-0000-7000-8000-00000000dead"}],
        "open": [{"from": "2026-06-03T12:00:00Z", "to": "2026-06-02T12:00:00Z"}],
    });
    let far = json!({"from": "2027-04-01T12:00:00Z", "to": "2027-04-15T12:00:00Z"});
    let far = with(asked(&site, &[&plan], ""), far);
    let refused = admin.record("/v1/schedules", &far).await;
    refused.problem(422, "invalid_body");
    let place = ("#/from".to_owned(), "out_of_range".to_owned());
    assert!(refused.faults().contains(&place), "{:?}", refused.faults());
    let mut body = with(
        asked(&site, &[&plan, &plan, &asks, &stale, &souths], ""),
        change,
    );
    body["plans"][0]["crew"] = json!("Nobody");
    body["crews"] = json!([crew(2), crew(2)]);
    let refused = admin.record("/v1/schedules", &body).await;
    refused.problem(422, "invalid_body");
    let mut faults = refused.faults();
    faults.sort();
    let fault = |place: &str, code: &str| (place.to_owned(), code.to_owned());
    assert_eq!(
        faults,
        [
            fault("#/crews/1/name", "duplicate"),
            fault("#/machines/0/machine", "unknown_machine"),
            fault("#/open/0/to", "out_of_range"),
            fault("#/plans/0/crew", "unknown_crew"),
            fault("#/plans/1/plan_id", "duplicate"),
            fault("#/plans/2/plan_id", "not_allowed"),
            fault("#/plans/3/plan_id", "stale_plan"),
            fault("#/plans/4/plan_id", "reference_not_found"),
            fault("#/surfaces/0/deadline", "out_of_range"),
            fault("#/surfaces/1/surface_id", "reference_not_found"),
            fault("#/to", "out_of_range"),
        ]
    );
    assert_eq!(admin.get("/v1/schedules").await.json()["items"], json!([]));
}

#[tokio::test]
async fn a_schedule_is_chosen_from_and_is_nobody_elses() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _, plan) = corridor(&admin, json!({})).await;
    let told = new_schedule(&admin, &asked(&site, &[&plan], "2026-06-12T12:00:00Z")).await;
    let path = format!("/v1/schedules/{}", read::text(&told, "/id"));
    let n = read::list(&told, "/result/choices").len();
    let choose = format!("{path}/choose");
    let chosen = admin
        .record(&choose, &json!({"choice": n}))
        .await
        .must(200)
        .json();
    assert_eq!(chosen["chosen"], json!(n));
    assert_eq!(
        chosen["version"].as_i64().unwrap(),
        told["version"].as_i64().unwrap() + 1
    );
    if n < 3 {
        let refused = admin.record(&choose, &json!({"choice": n + 1})).await;
        refused.problem(422, "invalid_body");
    }
    let listed = admin
        .get("/v1/schedules?status=succeeded")
        .await
        .must(200)
        .json();
    assert_eq!(read::list(&listed, "/items").len(), 1);
    assert_eq!(listed["items"][0].get("result"), None);
    let south = app.admin_of(SOUTH);
    for read in ["", "/tasks"] {
        south
            .get(&format!("{path}{read}"))
            .await
            .problem(404, "not_found");
    }
    let cancel = async || {
        let call = admin.call(Method::POST, &format!("{path}/cancel"));
        call.answer().await.must(200).json()
    };
    // What has come to its end stays as it is; what has not is cancelled.
    assert_eq!(cancel().await["status"], "succeeded");
    let held =
        "UPDATE schedules SET status = 'running', finished_at = NULL, lease_owner = 'another'";
    app.execute(held).await.unwrap();
    assert_eq!(cancel().await["status"], "cancelled");
    let refused = admin.record(&choose, &json!({"choice": 1})).await;
    refused.problem(409, "state_conflict");
}
