//! What schedules are handed out as: a table, a calendar, a chart, and a page for a night.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, new_schedule, with},
    read,
};

/// The value of a property of a calendar, for each of its events; lines unfolded (RFC 5545, 3.1).
fn values(calendar: &str, name: &str) -> Vec<String> {
    let whole = calendar.replace("\r\n ", "");
    let lines = whole.split("\r\n").filter_map(|line| line.split_once(':'));
    let own = lines.filter(|(property, _)| *property == name);
    own.map(|(_, value)| value.to_owned()).collect()
}

/// A schedule of two floors in one school, one of which has a name that is unkind to tables.
struct World {
    app: TestApp,
    path: String,
    surfaces: Vec<String>,
    told: Value,
}

impl World {
    async fn text(&self, rest: &str) -> String {
        let path = format!("{}{rest}", self.path);
        self.app.admin().get(&path).await.must(200).text()
    }

    /// The rows of its table.
    async fn rows(&self) -> Vec<csv::StringRecord> {
        let table = self.text("/table").await;
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        reader.records().map(Result::unwrap).collect()
    }
}

async fn world() -> World {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = admin.post("/v1/sites", &build::site()).await.must(201).id();
    let (mut plans, mut surfaces) = (Vec::new(), Vec::new());
    for name in ["=Hall; east, \"A\"", "Corridor"] {
        let nights = json!([{"days": ["monday", "tuesday", "wednesday", "thursday", "friday"], "from": "18:00", "to": "06:00"}]);
        let change =
            json!({"name": name, "access_windows": nights, "area_m2": 80, "perimeter_m": 40});
        let surface = build::new_surface(&admin, &with(build::surface(&site), change)).await;
        plans.push(json!({"plan_id": build::new_plan(&admin, &build::plan(&surface)).await.id()}));
        surfaces.push(surface);
    }
    let change = json!({"plans": plans, "schedules": 60});
    let told = new_schedule(&admin, &with(build::schedule(&site, ""), change)).await;
    assert_eq!(told["result"]["outcome"], "scheduled", "{told:#}");
    World {
        path: format!("/v1/schedules/{}", read::text(&told, "/id")),
        app,
        surfaces,
        told,
    }
}

#[tokio::test]
async fn a_choice_is_a_table_with_a_row_for_each_task() {
    let world = world().await;
    let rows = world.rows().await;
    let n_tasks = world.told["result"]["choices"][0]["n_tasks"].as_u64();
    assert_eq!(u64::try_from(rows.len()).ok(), n_tasks);
    // A name that looks like a formula is led by an apostrophe (OWASP, CSV injection).
    assert!(rows.iter().any(|row| &row[2] == "'=Hall; east, \"A\""));
    assert!(rows[0][13].ends_with("+01:00"), "{}", &rows[0][13]);
    let Value::Array(choices) = &world.told["result"]["choices"] else {
        panic!("{}", world.told)
    };
    let admin = world.app.admin();
    let beyond = format!("{}/table?choice=3", world.path);
    if choices.len() < 3 {
        admin.get(&beyond).await.problem(409, "state_conflict");
    }
    admin
        .get(&format!("{}/table?choice=4", world.path))
        .await
        .problem(422, "parameter_out_of_range");
}

#[tokio::test]
async fn a_choice_is_a_calendar_for_all_for_a_floor_and_for_a_crew() {
    let world = world().await;
    let (admin, surfaces) = (world.app.admin(), &world.surfaces);
    let calendar = format!("{}/calendar", world.path);
    let all = admin.get(&calendar).await.must(200);
    assert_eq!(
        all.header("Content-Type"),
        Some("text/calendar; charset=utf-8")
    );
    let all = all.text();
    assert!(all.split("\r\n").all(|line| line.len() <= 75));
    let uids = values(&all, "UID");
    let mut distinct = uids.clone();
    distinct.sort();
    distinct.dedup();
    assert_eq!(distinct.len(), uids.len());
    assert!(
        values(&all, "STATUS")
            .iter()
            .all(|status| status == "TENTATIVE")
    );
    assert!(
        values(&all, "SUMMARY")
            .iter()
            .any(|text| text.starts_with("=Hall\\; east\\, \"A\": "))
    );
    let of_one = admin
        .get(&format!("{calendar}?surface_id={}", surfaces[1]))
        .await
        .must(200)
        .text();
    let own: Vec<&String> = uids
        .iter()
        .filter(|uid| uid.contains(&surfaces[1]))
        .collect();
    assert_eq!(values(&of_one, "UID").iter().collect::<Vec<_>>(), own);
    let nobodys = admin
        .get(&format!("{calendar}?crew=Nobody"))
        .await
        .must(200)
        .text();
    assert_eq!(values(&nobodys, "UID"), Vec::<String>::new());
}

#[tokio::test]
async fn what_is_chosen_is_confirmed_in_the_calendar() {
    let world = world().await;
    let all = world.text("/calendar").await;
    let uids = values(&all, "UID");
    let choose = format!("{}/choose", world.path);
    let admin = world.app.admin();
    let chosen = admin.record(&choose, &json!({"choice": 1})).await;
    let chosen = chosen.must(200).json();
    let then = world.text("/calendar").await;
    let kept = values(&then, "UID")
        .into_iter()
        .zip(values(&then, "STATUS"));
    let kept: Vec<String> = kept
        .filter(|(_, status)| status == "CONFIRMED")
        .map(|(uid, _)| uid)
        .collect();
    assert_eq!(kept, uids);
    let version = chosen["version"].to_string();
    assert!(
        values(&then, "SEQUENCE")
            .iter()
            .all(|sequence| *sequence == version)
    );
    // Each start is the first of a visit in the table, to the second.
    let starts: Vec<String> = world
        .rows()
        .await
        .iter()
        .map(|row| row[11].replace(['-', ':'], "").replace(".000", ""))
        .collect();
    assert!(
        values(&all, "DTSTART")
            .iter()
            .all(|start| starts.contains(start))
    );
}

#[tokio::test]
async fn a_choice_is_a_chart_and_a_page_for_a_night() {
    let world = world().await;
    let rows = world.rows().await;
    let chart = world.text("/chart").await;
    for part in [
        "<title id=\"t\">",
        "<desc id=\"d\">",
        "Europe/London",
        "=Hall; east, &quot;A&quot;",
    ] {
        assert!(chart.contains(part), "{part} is missing");
    }
    let page = world.text("/sheet").await;
    assert!(page.contains("Floors on Monday, 1 June 2026"), "{page}");
    assert!(!page.contains("<script"));
    let none = world.text("/sheet?date=2026-07-01").await;
    assert!(none.contains("Nothing is done on this day."));
    let shown = page.matches("<span class=\"tick\">").count();
    let first_night = rows
        .iter()
        .filter(|row| row[11] < *"2026-06-02T05:00:00.000Z");
    assert_eq!(shown, first_night.count());
    let path = format!("{}/sheet?format=pdf", world.path);
    let printed = world.app.admin().get(&path).await.must(200);
    crate::paper::says_the_same(&page, &printed.body);
}
