//! A question says where its answer goes, so that a program can give it.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    read,
};

#[tokio::test]
async fn an_answer_that_goes_where_the_question_says_answers_it() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let silent = json!({"built_year": null, "film": null, "traffic": null});
    let surface = build::new_surface(&admin, &with(build::surface(&site), silent)).await;
    let path = format!("/v1/surfaces/{surface}");
    let told = [
        ("survey.built_year", json!(2012)),
        ("survey.asbestos", json!("tested_absent")),
        ("film.kind", json!("polish")),
        ("film.coats", json!(6)),
        ("film.condition", json!("worn")),
        ("survey.traffic", json!("heavy")),
    ];
    let mut n_answered = 0;
    for _ in 0..8 {
        let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
        let asked = read::list(&plan, "/questions");
        if asked.is_empty() {
            assert_ne!(plan["verdict"], "needs_information");
            break;
        }
        let question = &asked[0];
        let fact = read::text(question, "/fact").to_owned();
        assert_eq!(
            read::text(question, "/answer_at/operation"),
            "changeSurface"
        );
        let pointer = read::text(question, "/answer_at/pointer");
        let (_, answer) = told.iter().find(|(about, _)| *about == fact).unwrap();
        // The patch that has the answer at that pointer.
        let names = pointer.split('/').skip(1).collect::<Vec<_>>();
        let said = names
            .iter()
            .rev()
            .fold(answer.clone(), |inner: Value, name| json!({*name: inner}));
        let _told = admin.patch(&path, "*", &said).await.must(200);
        n_answered += 1;
        let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
        let again = read::list(&plan, "/questions").iter();
        assert!(again.clone().all(|one| one["fact"] != *fact), "{fact}");
    }
    assert!(n_answered > 0);
}
