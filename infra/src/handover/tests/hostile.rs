//! Files that were made to do harm, or that are broken.

use std::time::{Duration, Instant};

use domain::handover::{Concern, Format, Place, RefusalKind};

use super::book::{archive, raw_book, sheet, small, small_book};
use crate::handover::read;

fn kind(bytes: &[u8]) -> RefusalKind {
    let begun = Instant::now();
    let refusal = read(Format::Cobie, bytes).unwrap_err();
    // The bound that callers are promised is a second; a build without optimisation gets more.
    assert!(begun.elapsed() < Duration::from_secs(8), "{refusal}");
    refusal.kind
}

/// The small workbook with another text for one of its sheets.
fn with(sheet: &str, text: &str) -> Vec<u8> {
    let sheets = small();
    let pick = |(name, own): &(&'static str, String)| {
        (
            *name,
            if *name == sheet {
                text.to_owned()
            } else {
                own.clone()
            },
        )
    };
    let sheets: Vec<(&str, String)> = sheets.iter().map(pick).collect();
    let sheets: Vec<(&str, &str)> = sheets
        .iter()
        .map(|(name, text)| (*name, text.as_str()))
        .collect();
    raw_book(&sheets, "<sst/>")
}

#[test]
fn a_small_workbook_is_read_with_all_that_is_odd_about_it() {
    let found = read(Format::Cobie, &small_book()).unwrap();
    let told: Vec<(String, Vec<&str>)> = found
        .spaces
        .iter()
        .map(|space| {
            (
                space.title(),
                space.remarks.iter().map(|one| one.concern.word()).collect(),
            )
        })
        .collect();
    let row = |title: &str, concerns: &[&'static str]| (title.to_owned(), concerns.to_vec());
    assert_eq!(
        told,
        [
            row("101 Kitchen & store", &[]),
            row(
                "102 =HYPERLINK(1)",
                &["area_stand_in", "finish_placeholder"]
            ),
            row("R1 Roof", &["perimeter_missing"]),
            row(
                "103 Office",
                &["number_unreadable", "storey_unknown", "external_duplicate"]
            ),
        ]
    );
    let first = &found.spaces[0];
    // 200 ft² and 8 ft; the row of the edge is in metres whatever the facility says.
    assert_eq!(first.area.unwrap().mm2(), 18_580_608);
    assert_eq!(first.height.unwrap().mm(), 2_438);
    assert_eq!(first.perimeter.unwrap().mm(), 18_288);
    assert_eq!(
        first.finish.as_ref().unwrap().place,
        Place::Row {
            sheet: "Attribute",
            row: 4
        }
    );
    let second = &found.spaces[1];
    assert_eq!(second.perimeter.unwrap().mm(), 12_192);
    let name = second.external.as_ref().unwrap();
    assert_eq!((name.system.as_str(), name.id.as_str()), ("Demo", "102"));
    let concerns: Vec<Concern> = found.remarks.iter().map(|one| one.concern).collect();
    assert_eq!(concerns, [Concern::SpaceUnknown, Concern::UnitDiffers]);
}

#[test]
fn s_094_what_is_no_workbook_is_refused() {
    assert_eq!(kind(b""), RefusalKind::NotTheFormat);
    assert_eq!(kind(b"%PDF-1.7"), RefusalKind::NotTheFormat);
    assert_eq!(
        kind(&archive(&[("lib/0.zip", b"PK")])),
        RefusalKind::NotTheFormat
    );
    assert_eq!(
        kind(&raw_book(&[("Other", "<worksheet/>")], "<sst/>")),
        RefusalKind::NotTheFormat
    );
    assert_eq!(
        kind(&with("Space", &sheet(&[&["No", "Names"]]))),
        RefusalKind::NotTheFormat
    );
}

#[test]
fn s_094_bombs_are_refused_before_they_go_off() {
    // 64 MiB of nothing in 64 KiB: a thousand times its size.
    let zeros = vec![b' '; 64 * 1024 * 1024];
    assert_eq!(
        kind(&archive(&[("xl/workbook.xml", &zeros)])),
        RefusalKind::Hostile
    );
    // A directory that lies of the size: what comes out is counted.
    let mut liar = archive(&[("xl/workbook.xml", &zeros)]);
    let size = 67_108_864_u32.to_le_bytes();
    let places: Vec<usize> = liar
        .windows(4)
        .enumerate()
        .filter(|(_, four)| *four == size)
        .map(|(at, _)| at)
        .collect();
    assert!(!places.is_empty());
    for at in places {
        liar[at..at + 4].copy_from_slice(&1_000_u32.to_le_bytes());
    }
    assert!(matches!(
        kind(&liar),
        RefusalKind::Hostile | RefusalKind::Malformed
    ));
    let names: Vec<String> = (0..1_001).map(|n| format!("xl/{n}")).collect();
    let parts: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
    assert_eq!(kind(&archive(&parts)), RefusalKind::TooLarge);
}

#[test]
fn s_094_names_that_lead_out_are_refused() {
    for name in ["../../etc/x", "/etc/x", "xl/../../x", "C:\\x", "xl\\..\\x"] {
        assert_eq!(
            kind(&archive(&[(name, b"x")])),
            RefusalKind::Hostile,
            "{name}"
        );
    }
}

#[test]
fn s_094_document_types_and_entities_are_refused() {
    let bomb = "<?xml version=\"1.0\"?><!DOCTYPE x [<!ENTITY a \"aaaaaaaa\"><!ENTITY b \"&a;&a;\">]><worksheet>&b;</worksheet>";
    let outside = "<!DOCTYPE x SYSTEM \"file:///etc/passwd\"><worksheet/>";
    let unknown = "<worksheet><sheetData><row><c><v>&b;</v></c></row></sheetData></worksheet>";
    for text in [bomb, outside, unknown] {
        assert_eq!(kind(&with("Space", text)), RefusalKind::Hostile, "{text}");
    }
}

/// So many attributes of a tag, each with a name of its own.
fn attributes(n: u32) -> String {
    let all: Vec<String> = (0..n).map(|n| format!(" a{n}=\"\"")).collect();
    all.concat()
}

#[test]
fn s_094_tags_and_trees_without_end_are_refused() {
    let many = attributes(80_000);
    let fat = format!("<worksheet><sheetData><row{many}></row></sheetData></worksheet>");
    assert_eq!(kind(&with("Space", &fat)), RefusalKind::TooLarge);
    let few = attributes(20_000);
    let slow = format!(
        "<worksheet><sheetData>{}</sheetData>",
        format!("<row{few}></row>").repeat(3)
    );
    assert_eq!(kind(&with("Space", &slow)), RefusalKind::NotTheFormat);
    assert_eq!(
        kind(&with("Space", &"<a>".repeat(100_000))),
        RefusalKind::Hostile
    );
    let text = "x".repeat(300_000);
    let long =
        format!("<worksheet><sheetData><row><c><v>{text}</v></c></row></sheetData></worksheet>");
    assert_eq!(kind(&with("Space", &long)), RefusalKind::TooLarge);
    let cut = "<worksheet><sheetData><row><c><v>Name";
    assert_eq!(kind(&with("Space", cut)), RefusalKind::Malformed);
}

#[test]
fn rows_and_cells_far_away_take_no_memory() {
    let far = r#"<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>Name</t></is></c></row>
        <row r="4294967295"><c r="ZZZZ9"><v>1</v></c></row></sheetData></worksheet>"#;
    assert_eq!(kind(&with("Space", far)), RefusalKind::TooLarge);
    let wide = far.replace("4294967295", "3");
    assert!(
        read(Format::Cobie, &with("Space", &wide))
            .unwrap()
            .spaces
            .is_empty()
    );
}

#[test]
fn every_cut_of_a_file_is_refused() {
    let model: &[u8] = include_bytes!("../../../../tests/handover/spaces.ifc");
    for size in (0..model.len() - 20).step_by(7) {
        assert!(read(Format::Ifc, &model[..size]).is_err(), "{size}");
    }
    let book = small_book();
    for size in (0..book.len() - 1).step_by(11) {
        assert!(read(Format::Cobie, &book[..size]).is_err(), "{size}");
    }
    let large: &[u8] = include_bytes!("../../../../tests/handover/duplex-handover-cobie.xlsx");
    for share in 0..20 {
        assert!(read(Format::Cobie, &large[..large.len() * share / 20]).is_err());
    }
}
