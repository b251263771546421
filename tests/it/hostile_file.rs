//! Files that were made to do harm, over HTTP: each is refused with its reason, and nothing of it is kept.

use std::{
    fmt::Write as _,
    io::{Cursor, Write as _},
};

use serde_json::json;
use tests::{app::TestApp, build, client::Caller, read};
use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
const MODEL: &str = "application/x-step";
const OUTLINES: &str = "application/geo+json";

fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    for (name, bytes) in parts {
        zip.start_file(*name, options).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// A workbook whose one sheet is this XML.
fn book(sheet: &str) -> Vec<u8> {
    archive(&[
        (
            "xl/workbook.xml",
            br#"<workbook><sheets><sheet name="Space" sheetId="1" r:id="rId1"/></sheets></workbook>"#,
        ),
        (
            "xl/_rels/workbook.xml.rels",
            br#"<Relationships><Relationship Id="rId1" Target="worksheets/sheet1.xml"/></Relationships>"#,
        ),
        ("xl/worksheets/sheet1.xml", sheet.as_bytes()),
    ])
}

fn model(entities: &str) -> Vec<u8> {
    let text = format!(
        "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n\
         #1=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);\n#2=IFCSIUNIT(*,.AREAUNIT.,$,.SQUARE_METRE.);\n\
         #3=IFCUNITASSIGNMENT((#1,#2));\n#4=IFCPROJECT('p',$,$,$,$,$,$,$,#3);\n{entities}ENDSEC;\nEND-ISO-10303-21;\n"
    );
    text.into_bytes()
}

/// Two thousand spaces that all have one set of a thousand properties, a hundred times over.
fn reference_bomb() -> Vec<u8> {
    let list = |ids: std::ops::Range<u32>| {
        let ids: Vec<String> = ids.map(|id| format!("#{id}")).collect();
        ids.join(",")
    };
    let mut text = String::new();
    for id in 1_000..3_000 {
        let _ = writeln!(
            text,
            "#{id}=IFCSPACE('s{id}',$,'{id}',$,$,$,$,$,.ELEMENT.,$,$);"
        );
    }
    for id in 20_000..21_000 {
        let _ = writeln!(
            text,
            "#{id}=IFCPROPERTYSINGLEVALUE('FloorCovering',$,IFCLABEL('x{id}'),$);"
        );
    }
    let _ = writeln!(
        text,
        "#30000=IFCPROPERTYSET('q',$,'Q',$,({}));",
        list(20_000..21_000)
    );
    for id in 40_000..40_100 {
        let spaces = list(1_000..3_000);
        let _ = writeln!(
            text,
            "#{id}=IFCRELDEFINESBYPROPERTIES('r',$,$,$,({spaces}),#30000);"
        );
    }
    model(&text)
}

/// Refused, with a place in the file.
async fn refused(admin: &Caller, site: &str, (what, kind): (&str, &str), content: Vec<u8>) {
    let query = format!("?site_id={site}&apply=true");
    let answer = build::send_file(admin, &query, kind, content).await;
    let problem = answer.problem(422, "invalid_body");
    let fault = &problem["errors"][0];
    let code = read::text(fault, "/code");
    assert!(
        ["malformed", "too_large", "hostile", "not_the_format"].contains(&code),
        "{what}: {fault}"
    );
    let detail = read::text(fault, "/detail");
    let place = detail.split_once(": ").map_or("", |(place, _)| place);
    let starts = ["the file", "part ", "line ", "feature ", "#", "sheet "];
    assert!(
        starts.iter().any(|start| place.starts_with(start)),
        "{what}: {detail}"
    );
}

#[tokio::test]
async fn s_094_files_that_were_made_to_do_harm_are_refused_and_nothing_of_them_is_kept() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let zeros = vec![b' '; 64 * 1024 * 1024];
    let names: Vec<String> = (0..1_001).map(|n| format!("xl/{n}")).collect();
    let many: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
    let bomb =
        "<!DOCTYPE x [<!ENTITY a \"aaaaaaaa\"><!ENTITY b \"&a;&a;\">]><worksheet>&b;</worksheet>";
    let outside = "<!DOCTYPE x SYSTEM \"file:///etc/hostname\"><worksheet/>";
    let attributes: Vec<String> = (0..80_000).map(|n| format!(" a{n}=\"\"")).collect();
    let wide = format!(
        "<worksheet><sheetData><row{}/></sheetData></worksheet>",
        attributes.concat()
    );
    let whole: &[u8] = include_bytes!("../handover/duplex-handover-cobie.xlsx");
    let drawn: &[u8] = include_bytes!("../handover/duplex-architecture.ifc");
    for (what, content) in [
        (
            "an archive that unpacks a thousandfold",
            archive(&[("xl/workbook.xml", &zeros)]),
        ),
        ("too many entries", archive(&many)),
        ("a name that leads out", archive(&[("../../x", b"x")])),
        ("entities", book(bomb)),
        ("a file of the machine", book(outside)),
        ("attributes", book(&wide)),
        ("a tree", book(&"<a>".repeat(100_000))),
        ("half a workbook", whole[..whole.len() / 2].to_vec()),
        ("no archive", b"%PDF-1.7".to_vec()),
    ] {
        refused(&admin, &site, (what, WORKBOOK), content).await;
    }
    for (what, content) in [
        ("references", reference_bomb()),
        ("half a model", drawn[..drawn.len() / 2].to_vec()),
        (
            "brackets",
            model(&format!(
                "#9=IFCRELAGGREGATES({}{});\n",
                "(".repeat(50_000),
                ")".repeat(50_000)
            )),
        ),
        ("an open string", model("#9=IFCWALL('x);\n")),
    ] {
        refused(&admin, &site, (what, MODEL), content).await;
    }
    let deep = "[".repeat(200_000);
    for (what, content) in [
        ("depth", deep.clone()),
        (
            "a deep property",
            format!(
                "{{\"type\":\"FeatureCollection\",\"features\":[{{\"properties\":{{\"name\":{deep}"
            ),
        ),
        (
            "deep coordinates",
            format!(
                "{{\"type\":\"FeatureCollection\",\"features\":[{{\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":{deep}"
            ),
        ),
        (
            "half of it",
            "{\"type\":\"FeatureCollection\",\"features\":[".to_owned(),
        ),
    ] {
        refused(&admin, &site, (what, OUTLINES), content.into_bytes()).await;
    }
    let surfaces = admin.get(&format!("/v1/surfaces?site_id={site}")).await;
    assert_eq!(surfaces.must(200).json()["items"], json!([]));
    let imports = admin.get("/v1/imports").await.must(200).json();
    assert_eq!(imports["items"], json!([]));
}

#[tokio::test]
async fn a_file_that_is_too_large_is_refused_before_it_is_read() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let content = vec![b' '; 32 * 1024 * 1024 + 1];
    let sent = build::send_file(&admin, &format!("?site_id={site}"), MODEL, content).await;
    sent.problem(413, "body_too_large");
}

#[tokio::test]
async fn spaces_in_a_ring_and_spaces_of_one_huge_drawing_end_in_one_outcome_each() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let edge = |x: f64, y: usize| {
        let x = if y.is_multiple_of(2) { x } else { x + 0.5 };
        format!("({x:?},{y}.25)")
    };
    let left = (0..500).map(|y| edge(0.0, y));
    let right = (0..500).rev().map(|y| edge(100.0, y));
    let points: Vec<String> = left.chain(right).collect();
    let mut text = format!(
        "#50=IFCPRODUCTDEFINITIONSHAPE($,$,(#51));\n#51=IFCSHAPEREPRESENTATION($,'FootPrint','Curve',(#52));\n\
         #52=IFCGEOMETRICCURVESET((#53));\n#53=IFCINDEXEDPOLYCURVE(#54,$,.F.);\n#54=IFCCARTESIANPOINTLIST2D(({}));\n\
         #60=IFCRELAGGREGATES('a',$,$,$,#1000,(#1001));\n#61=IFCRELAGGREGATES('b',$,$,$,#1001,(#1000));\n",
        points.join(",")
    );
    for id in 1_000..1_100 {
        let _ = writeln!(
            text,
            "#{id}=IFCSPACE('s{id}',$,'{id}',$,$,$,#50,$,.ELEMENT.,$,$);"
        );
    }
    let query = format!("?site_id={site}");
    let import = build::import(&admin, &query, MODEL, model(&text)).await;
    assert_eq!(import["status"], "succeeded", "{import:#}");
    assert_eq!(
        import["result"]["counts"]["needs_attention"], 100,
        "{import:#}"
    );
}
