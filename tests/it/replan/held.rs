//! What counts once although it is told twice, and what is kept of a plan that counts no more, over HTTP.

use chrono::Duration;
use serde_json::{Value, json};
use tests::read;

use super::{NIGHTS, World, moment};

/// Four operatives, of whom each task takes two.
fn crew_of_four() -> Value {
    let shifts = json!([{"days": NIGHTS, "from": "18:00", "to": "06:00"}]);
    json!([{"name": "Night crew", "operatives": 4, "shifts": shifts}])
}

#[tokio::test]
async fn absences_that_are_told_twice_count_once() {
    let world = World::of(|_surfaces| json!({"crews": crew_of_four()})).await;
    let away = |from: &str| json!({"crew": "Night crew", "from": from, "to": "2026-06-14T12:00:00Z", "operatives": 1});
    // One is away from the first evening on, and another as well: two are left, and two are enough for all of it.
    let body = json!({"crews_away": [away("2026-06-01T12:00:00Z"), away("2026-06-01T13:00:00Z")]});
    let told = world.replan(&body).await;
    assert_eq!(told["outcome"], "revised", "{told:#}");
    let tasks = world.tasks().await;
    let again = world.replan(&body).await;
    assert_eq!(
        (&again["outcome"], &again["n_moved"]),
        (&json!("revised"), &json!(0)),
        "{again:#}"
    );
    assert_eq!(world.tasks().await, tasks);
    // A third one is one more: nobody can do what takes two.
    let third = json!({"crews_away": [away("2026-06-01T14:00:00Z")]});
    let told = world.replan(&third).await;
    let outcome = read::text(&told, "/outcome");
    assert!(["impossible", "not_found"].contains(&outcome), "{told:#}");
    assert_eq!(world.tasks().await, tasks);
}

#[tokio::test]
async fn who_works_for_a_plan_that_is_withdrawn_ends_first_and_nobody_crosses_the_wet_coat() {
    let mut world = World::of(|surfaces| {
        let way = json!([{"surface_id": surfaces[0], "only_way_to": [surfaces[1]]}]);
        json!({"crews": crew_of_four(), "surfaces": way})
    })
    .await;
    let before = world.tasks().await;
    let (hall, corridor) = (world.surfaces[0].clone(), world.surfaces[1].clone());
    // A coat on the way, and the first task behind it that was to begin after the coat had dried.
    let after = |coat: &Value| {
        let behind = before.values().filter(|task| {
            task["surface_id"] == json!(corridor) && moment(task, "/from") >= moment(coat, "/to")
        });
        behind.min_by_key(|task| moment(task, "/from"))
    };
    let dries = |coat: &Value| moment(coat, "/walk_at") - moment(coat, "/to");
    let coats = before.values().filter(|task| {
        task["surface_id"] == json!(hall) && task.get("walk_at").is_some() && after(task).is_some()
    });
    let coat = coats.max_by_key(|task| dries(task)).unwrap();
    let next = after(coat).unwrap();
    assert!(dries(coat) > Duration::zero(), "{coat}");
    let as_of = moment(coat, "/from") + Duration::minutes(1);
    world.app.clock().set(as_of);
    world.admin = world.app.admin();
    let path = format!("/v1/plans/{}", world.plans[0]);
    let tag = world.admin.get(&path).await.must(200).etag();
    let call = world
        .admin
        .call(reqwest::Method::POST, &format!("{path}/withdraw"));
    let _gone = call.header("If-Match", &tag).answer().await.must(200);
    // The coat takes until the other task was to begin.
    let ends = moment(next, "/from") + Duration::minutes(10);
    let progress = json!([{"task": coat["number"], "finished_at": ends}]);
    let told = world.replan(&json!({"progress": progress})).await;
    assert_eq!(told["outcome"], "revised", "{told:#}");
    let walk_at = ends + dries(coat);
    let tasks = world.tasks().await;
    let open = tasks
        .values()
        .filter(|task| task["surface_id"] == json!(corridor) && moment(task, "/from") > as_of);
    let earliest = open.map(|task| moment(task, "/from")).min().unwrap();
    assert!(earliest >= walk_at, "{earliest} {walk_at}");
    let moves = world.moves("?limit=200").await;
    let own = moves.iter().find(|moved| moved["task"] == next["number"]);
    assert_eq!(own.unwrap()["why"], "window", "{moves:#?}");
    // It is history now, at the times that are told; and the next revision knows them.
    let number = coat["number"].as_u64().unwrap();
    assert_eq!(moment(&tasks[&number], "/to"), ends);
    assert_eq!(moment(&tasks[&number], "/walk_at"), walk_at);
    let said = read::list(&told, "/assumptions").iter();
    let said: Vec<&str> = said.filter_map(Value::as_str).collect();
    let kept = said.iter().find(|said| said.contains("counts no more"));
    assert!(
        kept.unwrap().contains("Nobody is sent across it"),
        "{said:?}"
    );
    let again = world.replan(&json!({})).await;
    assert_eq!(again["n_moved"], json!(0), "{again:#}");
}
