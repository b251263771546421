//! Production rates that completed work tells: what is learnt, from which jobs, and which plans use it.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

/// A site with a floor on which jobs are done and one on which none is, and the plan that the jobs follow.
pub(crate) struct World {
    pub(crate) app: TestApp,
    pub(crate) admin: Caller,
    pub(crate) site: String,
    pub(crate) surface: String,
    pub(crate) beside: String,
    pub(crate) plan: Value,
}

const STRIP: &str = "strip_machine";

impl World {
    pub(crate) async fn new() -> Self {
        let app = TestApp::start().await;
        let admin = app.admin();
        let site = build::new_site(&admin).await;
        let surface = build::new_surface(&admin, &build::surface(&site)).await;
        let beside = with(build::surface(&site), json!({"name": "Corridor 2.105"}));
        let beside = build::new_surface(&admin, &beside).await;
        let plan = build::new_plan(&admin, &wish(&surface)).await.json();
        Self {
            app,
            admin,
            site,
            surface,
            beside,
            plan,
        }
    }

    /// The hours that the plan pays for preparing: those of its activities, stretched by what is paid for set-up, clean-down
    /// and allowance beside all activities.
    fn paid_h(&self) -> f64 {
        let lines = read::list(&self.plan["work"], "/labour").iter();
        let prepare = lines.filter(|line| line["stage"] == "prepare");
        let prepare: f64 = prepare.map(|line| number(line, "hours")).sum();
        let (mut worked, mut paid) = (0, 0);
        for line in read::list(&self.plan["work"], "/cost/lines") {
            let amount = read::cents(line, "/amount");
            let is_labour = line["kind"] == "labour";
            if is_labour && line["stage"].is_string() {
                worked += amount;
            }
            if is_labour || line["kind"] == "allowance" {
                paid += amount;
            }
        }
        let cents = |amount: i64| f64::from(i32::try_from(amount).unwrap_or(i32::MAX));
        prepare * cents(paid) / cents(worked)
    }

    /// Reports a job whose preparing took so many times the hours that the plan pays.
    async fn job(&self, times: f64, change: Value) -> String {
        let reported = json!({
            "plan_id": self.plan["id"], "polish_coats": null, "products": null,
            "labour": [{"stage": "prepare", "hours": self.paid_h() * times}],
        });
        let body = with(with(build::completion(&self.surface), reported), change);
        self.admin
            .record("/v1/completions", &body)
            .await
            .must(201)
            .id()
    }

    async fn jobs(&self, n: usize, times: f64) -> Vec<String> {
        let mut ids = Vec::new();
        for _ in 0..n {
            ids.push(self.job(times, json!({})).await);
        }
        ids
    }

    pub(crate) async fn learnt_by(&self, caller: &Caller, query: &str) -> Vec<Value> {
        let path = format!("/v1/rates/learnt?site_id={}{query}", self.site);
        let told = caller.get(&path).await.must(200).json();
        read::list(&told, "/items").to_vec()
    }

    /// What is learnt of stripping.
    async fn strip(&self) -> Value {
        let query = format!("&kind=rate&subject={STRIP}");
        let mut found = self.learnt_by(&self.admin, &query).await;
        assert_eq!(found.len(), 1, "{found:?}");
        found.remove(0)
    }

    /// A plan of the floor on which nothing was done: its line of stripping, and why.
    async fn planned(&self) -> (Value, Value) {
        let path = "/v1/plans/preview";
        let told = self
            .admin
            .post(path, &wish(&self.beside))
            .await
            .must(200)
            .json();
        let lines = read::list(&told["work"], "/labour").iter();
        let line = lines.clone().find(|line| line["activity"]["key"] == STRIP);
        let line = line.cloned().unwrap_or_default();
        let basis = read::text(&line, "/basis").to_owned();
        let basis = read::find(&told["work"], "/basis", "/id", &basis).clone();
        (line, basis)
    }
}

pub(crate) fn wish(surface: &str) -> Value {
    with(
        build::plan(surface),
        json!({"wish": {"process": "machine_strip_and_refinish"}}),
    )
}

pub(crate) fn number(value: &Value, name: &str) -> f64 {
    value[name]
        .as_f64()
        .unwrap_or_else(|| panic!("no {name} in {value:#}"))
}

#[tokio::test]
async fn five_jobs_tell_a_rate_and_plans_use_it_and_say_so() {
    let world = World::new().await;
    let (before, _why) = world.planned().await;
    let _four = world.jobs(4, 1.25).await;
    assert_eq!(world.planned().await.0, before);
    assert_eq!(world.strip().await["standing"], "too_few_jobs");
    let _fifth = world.jobs(1, 1.25).await;
    let learnt = world.strip().await;
    assert_eq!(
        (&learnt["standing"], &learnt["n_jobs"]),
        (&json!("used"), &json!(5))
    );
    // Jobs that took five quarters of their hours went at 0.8 of the rate; what is learnt lies between that and what is usual,
    // nearer to the jobs.
    let factor = number(&learnt, "learnt") / number(&learnt, "usual");
    assert!((0.8..0.9).contains(&factor), "{factor}");
    let [low, high] = [0, 1].map(|at| learnt["interval_80"][at].as_f64().expect("a number"));
    assert!(low < number(&learnt, "learnt") && number(&learnt, "learnt") < high);
    assert!(number(&learnt, "from_prior") < 0.5);
    let (after, why) = world.planned().await;
    let slower = number(&after, "per_h") / number(&before, "per_h");
    assert!((slower - factor).abs() < 1e-6, "{slower} is not {factor}");
    assert!(
        read::text(&why, "/source").starts_with("learnt from 5 jobs at the site"),
        "{why:#}"
    );
    let input = |name: &str| number(read::find(&why, "/inputs", "/name", name), "value");
    assert!((input("learnt_from") - 5.0).abs() < 1e-9);
    assert!((input("usual_rate") - number(&learnt, "usual")).abs() < 1e-9);
    assert!((input("learnt_low") - low).abs() < 1e-6 && (input("learnt_high") - high).abs() < 1e-6);
    // The same again, byte for byte; and an estimate reckons with it as a plan does.
    assert_eq!(world.planned().await, (after.clone(), why));
    let asked = json!({"site_id": world.site, "surface_ids": [world.beside], "wish": wish(&world.beside)["wish"]});
    let estimate = world
        .admin
        .post("/v1/estimates", &asked)
        .await
        .must(201)
        .json();
    let lines = read::list(&estimate, "/labour").iter();
    let pooled = lines
        .clone()
        .find(|line| line["activity"]["key"] == STRIP)
        .expect("it strips");
    assert!((number(pooled, "per_h") - number(&after, "per_h")).abs() < 1e-6);
}

#[tokio::test]
async fn a_told_rate_wins_and_a_site_may_want_none_learnt() {
    let world = World::new().await;
    let (before, _why) = world.planned().await;
    let _jobs = world.jobs(5, 1.25).await;
    let path = format!("/v1/sites/{}", world.site);
    let change = async |change: Value| world.admin.patch(&path, "*", &change).await;
    let refused = change(json!({"not_learnt": ["juggle"]})).await;
    refused.problem(422, "invalid_body");
    assert_eq!(
        refused.faults(),
        [("#/not_learnt/0".to_owned(), "unknown_activity".to_owned())]
    );
    let site = change(json!({"not_learnt": [STRIP]}))
        .await
        .must(200)
        .json();
    assert_eq!(site["not_learnt"], json!([STRIP]));
    assert_eq!(world.strip().await["standing"], "not_wanted");
    assert_eq!(world.planned().await.0, before);
    let _wanted = change(json!({"not_learnt": null})).await.must(200);
    assert_ne!(world.planned().await.0, before);
    let card = with(
        build::site()["rate_card"].clone(),
        json!({"rates": [{"activity": STRIP, "per_h": 20}]}),
    );
    let _told = change(json!({"rate_card": card})).await.must(200);
    assert_eq!(world.strip().await["standing"], "told_by_rate_card");
    let (_line, why) = world.planned().await;
    assert_eq!(why["source"], "the site's rate card");
}

#[tokio::test]
async fn a_slip_of_the_pen_is_left_out_and_what_is_voided_is_forgotten() {
    let world = World::new().await;
    let jobs = world.jobs(5, 1.0).await;
    let slip = world.job(0.1, json!({})).await;
    let odd = world.job(4.0, json!({})).await;
    let learnt = world.strip().await;
    assert_eq!(
        (&learnt["n_jobs"], &learnt["n_set_aside"]),
        (&json!(6), &json!(2))
    );
    let told: Vec<_> = read::list(&learnt, "/set_aside").iter().collect();
    assert_eq!(
        (&told[0]["completion_id"], &told[0]["reason"]),
        (&json!(odd), &json!("unusual"))
    );
    assert_eq!(
        (&told[1]["completion_id"], &told[1]["reason"]),
        (&json!(slip), &json!("out_of_range"))
    );
    assert_eq!(told[1]["weight"], 0.0);
    assert!(number(told[0], "weight") < 0.25);
    let factor = number(&learnt, "learnt") / number(&learnt, "usual");
    assert!((0.85..1.1).contains(&factor), "{factor}");
    for id in jobs.iter().chain([&slip, &odd]).skip(2) {
        let path = format!("/v1/completions/{id}/void");
        let _void = world
            .admin
            .record(&path, &json!({"reason": "A test."}))
            .await
            .must(200);
    }
    let left = world.strip().await;
    assert_eq!(
        (&left["n_jobs"], &left["n_set_aside"]),
        (&json!(2), &json!(0))
    );
}

#[tokio::test]
async fn who_is_bound_to_a_contractor_sees_what_that_ones_work_tells_and_no_other() {
    let world = World::new().await;
    let own = build::new_contractor(&world.admin).await;
    let other = build::new_contractor(&world.admin).await;
    for (times, by) in [
        (1.5, &own),
        (1.5, &own),
        (0.8, &other),
        (0.8, &other),
        (0.8, &other),
    ] {
        let _job = world.job(times, json!({"contractor_id": by})).await;
    }
    let of = async |caller: &Caller, query: &str| {
        let found = world
            .learnt_by(caller, &format!("&kind=rate&subject={STRIP}{query}"))
            .await;
        found.first().map(|row| {
            (
                number(row, "learnt"),
                row["n_jobs"].clone(),
                row["n_jobs_anywhere"].clone(),
            )
        })
    };
    let by = |id: &str| format!("&contractor_id={id}");
    let (slow, n, _anywhere) = of(&world.admin, &by(&own)).await.expect("learnt");
    let (fast, m, _anywhere) = of(&world.admin, &by(&other)).await.expect("learnt");
    assert_eq!((n, m), (json!(2), json!(3)));
    let (both, all, _anywhere) = of(&world.admin, "").await.expect("learnt");
    assert_eq!(all, json!(5));
    assert!(slow < both && both < fast, "{slow} {both} {fast}");
    let bound = world.app.bound_to(&own, &["reports:read"]);
    let (_rate, n, anywhere) = of(&bound, "").await.expect("learnt");
    assert_eq!((n, anywhere), (json!(2), json!(2)));
    assert_eq!(of(&bound, &by(&other)).await, None);
}

#[tokio::test]
async fn what_is_asked_is_checked_and_told_page_by_page() {
    let world = World::new().await;
    let refused = world.admin.get("/v1/rates/learnt").await;
    refused.problem(400, "invalid_parameter");
    let nobodys = "/v1/rates/learnt?site_id=sit_0193e8a0-0000-7000-8000-00000000dead";
    let none = world.admin.get(nobodys).await.must(200).json();
    assert_eq!(none["items"], json!([]));
    assert!(world.learnt_by(&world.admin, "").await.is_empty());
    let _job = world.job(1.0, json!({})).await;
    let all = world.learnt_by(&world.admin, "").await;
    assert!(all.len() > 1, "{all:?}");
    let mut path = format!("/v1/rates/learnt?site_id={}&limit=1", world.site);
    let first = path.clone();
    let mut seen = Vec::new();
    loop {
        let page = world.admin.get(&path).await.must(200).json();
        seen.extend(read::list(&page, "/items").to_vec());
        match page["next_cursor"].as_str() {
            Some(cursor) => path = format!("{first}&cursor={cursor}"),
            None => break,
        }
    }
    assert_eq!(seen, all);
}

#[tokio::test]
async fn a_picture_shows_what_jobs_have_told_beside_what_is_usual() {
    let world = World::new().await;
    let path = format!("/v1/rates/learnt/chart?site_id={}", world.site);
    let nothing = world.admin.get(&path).await.must(200).text();
    assert!(nothing.contains("No job has told a figure yet."));
    world.jobs(6, 1.3).await;
    let strip = world.strip().await;
    let chart = world.admin.get(&path).await.must(200);
    assert_eq!(chart.header("Content-Type"), Some("image/svg+xml"));
    let svg = chart.text();
    let told = format!(
        "{}: usual {:.0}, learnt {:.0} m2/h",
        read::text(&strip, "/name"),
        number(&strip, "usual"),
        number(&strip, "learnt")
    );
    assert!(
        svg.contains(&told) && svg.contains("from 6 jobs"),
        "{told}\n{svg}"
    );
    world
        .admin
        .get("/v1/rates/learnt/chart")
        .await
        .problem(400, "invalid_parameter");
}
