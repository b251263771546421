//! Sheets on paper: what the page says stands in the PDF too, as text with a structure, whatever people call their floors.

use serde_json::json;
use tests::{
    app::TestApp,
    build::{self, with},
    client::{Answer, Caller},
    pdf::{Pdf, squeezed, texts},
    read,
};

use crate::sheet::planned;

async fn sheet(admin: &Caller, plan: &Answer, query: &str) -> Answer {
    let path = format!("/v1/plans/{}/sheet{query}", plan.id());
    admin.get(&path).await.must(200)
}

/// The text of all pages without their feet, which hold the title and the number of the page.
fn body(pdf: &Pdf, title: &str) -> String {
    let pages = pdf.pages();
    let n = pages.len();
    let feet = (1..).map(|number| format!("{}{number}/{n}", squeezed(title)));
    let bodies = pages.iter().zip(feet).map(|(page, foot)| {
        assert!(page.contains(&foot), "{foot}");
        page.replacen(&foot, "", 1)
    });
    bodies.collect()
}

fn title(html: &str) -> String {
    let (_, title) = html.split_once("<title>").unwrap();
    let (title, _) = title.split_once("</title>").unwrap();
    title
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&")
}

/// Ends the test unless each text of the page stands in the PDF, and each of its elements among the tags.
#[track_caller]
pub(crate) fn says_the_same(html: &str, content: &[u8]) {
    let pdf = Pdf::of(content);
    let printed = body(&pdf, &title(html));
    let told = texts(html);
    assert!(told.len() > 10, "{told:?}");
    for text in told {
        assert!(printed.contains(&squeezed(&text)), "not printed: {text}");
    }
    let tags = pdf.tags();
    let n = |kind: &str| tags.iter().filter(|tag| tag.kind == kind).count();
    for (element, kind) in [
        ("h1", "H1"),
        ("h2", "H2"),
        ("h3", "H3"),
        ("table", "Table"),
        ("tr", "TR"),
        ("th", "TH"),
        ("td", "TD"),
        ("svg", "Figure"),
    ] {
        let shown = html.matches(&format!("<{element} ")).count()
            + html.matches(&format!("<{element}>")).count();
        assert_eq!(n(kind), shown, "{element}");
    }
    let drawn: Vec<&str> = html
        .split("<svg")
        .skip(1)
        .map(|svg| {
            svg.split("aria-label=\"")
                .nth(1)
                .unwrap()
                .split('"')
                .next()
                .unwrap()
        })
        .collect();
    let alts: Vec<&str> = tags.iter().filter_map(|tag| tag.alt.as_deref()).collect();
    assert_eq!(alts, drawn);
    let fonts = pdf.fonts();
    assert!(
        fonts.len() == 2
            && fonts
                .iter()
                .all(|(name, embedded)| name.contains("DejaVuSans") && *embedded),
        "{fonts:?}"
    );
}

#[tokio::test]
async fn what_stands_on_the_page_stands_on_paper() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, "Hall").await;
    let link = format!("/v1/plans/{}/completion-links", plan.id());
    let link = admin.post(&link, &json!({})).await.must(201).json();
    let address = read::text(&link, "/address");
    let form = format!(
        "https://floors.example{}",
        &address[address.find("/c/").unwrap()..]
    );
    for (query, language) in [
        (format!("?closed_at=2026-07-01T19:00:00Z&form={form}"), "en"),
        (
            "?closed_at=2026-07-01T19:00:00Z&language=de&units=us".to_owned(),
            "de",
        ),
    ] {
        let page = sheet(&admin, &plan, &query).await.text();
        let printed = sheet(&admin, &plan, &format!("{query}&format=pdf")).await;
        says_the_same(&page, &printed.body);
        let pdf = Pdf::of(&printed.body);
        assert_eq!(pdf.language().as_deref(), Some(language));
        assert!(pdf.claims_universal_access());
    }
    // The figures of the plan itself, in words.
    let printed = sheet(&admin, &plan, "?format=pdf").await;
    let text = body(&Pdf::of(&printed.body), "Job sheet – Hall, North clinic");
    let plan_told = plan.json();
    for step in read::list(&plan_told["work"], "/steps") {
        assert!(text.contains(&squeezed(read::text(step, "/action"))));
    }
    assert!(
        text.contains("Area120m²") && text.contains("2500mL+10L"),
        "{text}"
    );
    // The same request prints the same bytes.
    let again = sheet(&admin, &plan, "?format=pdf").await;
    assert_eq!(printed.body, again.body);
}

#[tokio::test]
async fn a_sheet_is_printed_where_that_is_asked_for() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, "Halle 3: \"Süd\"").await;
    let path = format!("/v1/plans/{}/sheet", plan.id());
    let accepting = async |accept: &str, query: &str| {
        let call = admin.call(reqwest::Method::GET, &format!("{path}{query}"));
        call.header("Accept", accept).answer().await
    };
    for (accept, query, expected) in [
        ("*/*", "", "text/html; charset=utf-8"),
        ("application/pdf", "", "application/pdf"),
        ("text/html;q=0.5, application/pdf", "", "application/pdf"),
        ("text/html, application/pdf", "", "text/html; charset=utf-8"),
        ("application/json", "?format=pdf", "application/pdf"),
        (
            "application/pdf",
            "?format=html",
            "text/html; charset=utf-8",
        ),
    ] {
        let answer = accepting(accept, query).await.must(200);
        assert_eq!(
            answer.header("Content-Type"),
            Some(expected),
            "{accept} {query}"
        );
    }
    accepting("application/json", "")
        .await
        .problem(406, "not_acceptable");
    accepting("*/*", "?format=docx")
        .await
        .problem(422, "parameter_out_of_range");
    let printed = accepting("application/pdf", "").await;
    assert!(printed.body.starts_with(b"%PDF-"));
    let named = printed.header("Content-Disposition").unwrap().to_owned();
    assert_eq!(
        named,
        format!(
            "inline; filename=\"{}.pdf\"; filename*=UTF-8''Job%20sheet%20%E2%80%93%20Halle%203%2D%20%2DS%C3%BCd%2D%2C%20North%20clinic.pdf",
            plan.id()
        )
    );
}

#[tokio::test]
async fn no_name_breaks_a_sheet_or_is_read_as_markup() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let marks = r#"#panic("x") $x^2$ *b* _i_ [c] @ref <lab> // c \ `r` = h #read("page.typ") </p>&amp; ~ -- ..."#;
    for (name, n_lacking) in [
        (marks.to_owned(), 0),
        (
            format!("ÄÖÜäöüß m² µ − ≥ ☐ Ελλάδα Житомир שלום {}", "W".repeat(155)),
            0,
        ),
        ("Ш".repeat(200), 0),
        (format!("北京 {}", "x-".repeat(90)), 2),
    ] {
        let plan = planned(&admin, &name).await;
        let printed = sheet(&admin, &plan, "?format=pdf").await;
        let pdf = Pdf::of(&printed.body);
        assert!(pdf.pages().len() < 12);
        assert!(pdf.claims_universal_access(), "{name}");
        let text = pdf.pages().concat();
        // The name stands once in the body and once in the foot of the first page.
        let note = "letterscouldnotbeprinted(\u{fffd}).Readthepageat/v1/plans/";
        assert_eq!(text.contains(note), n_lacking > 0, "{text}");
        assert_eq!(text.contains('\u{fffd}'), n_lacking > 0, "{text}");
        assert!(pdf.tags().iter().any(|tag| tag.kind == "H1"));
        if name == marks {
            let page = sheet(&admin, &plan, "").await.text();
            says_the_same(&page, &printed.body);
        }
    }
}

/// `two-letters.ttf` is ours: two made-up shapes for U+5317 and U+4EAC.
#[tokio::test]
async fn letters_that_the_fonts_lack_come_from_a_folder_of_fonts() {
    let folder = tempfile::tempdir().unwrap();
    let font = include_bytes!("../fixtures/two-letters.ttf");
    std::fs::write(folder.path().join("two-letters.ttf"), font).unwrap();
    let fonts = folder.path().to_str().unwrap();
    let app = TestApp::start_as(&[("WEARCOURSE_FONTS", fonts)], |_| {}).await;
    let admin = app.admin();
    let plan = planned(&admin, "北京 西 Süd").await;
    let printed = sheet(&admin, &plan, "?format=pdf&language=de").await;
    let pdf = Pdf::of(&printed.body);
    let text = pdf.pages().concat();
    assert!(text.contains("北京\u{fffd}Süd"), "{text}");
    assert!(text.contains("Zeichenkonntennichtgedrucktwerden"), "{text}");
    let address = format!("/v1/plans/{}/sheet?language=de&format=html", plan.id());
    assert!(text.contains(&squeezed(&address)), "{text}");
    let fonts = pdf.fonts();
    assert!(
        fonts
            .iter()
            .any(|(name, embedded)| name.contains("TwoLetters") && *embedded)
    );
    assert!(pdf.claims_universal_access());
}

#[tokio::test]
async fn a_plan_without_work_is_printed_too() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let wish = json!({"wish": {"goal": "restore", "process": "sand_wood"}});
    let plan = build::new_plan(&admin, &with(build::plan(&surface), wish)).await;
    let page = sheet(&admin, &plan, "").await.text();
    let printed = sheet(&admin, &plan, "?format=pdf").await;
    assert!(page.contains("No work is planned on this floor."));
    says_the_same(&page, &printed.body);
}
