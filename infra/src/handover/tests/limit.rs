//! As many spaces as a file may have, and one more: each format is read up to its limit, and refused beyond it with the place.

use std::fmt::Write as _;

use domain::handover::{Format, MAX_SPACES, Place, RefusalKind};

use super::book::raw_book;
use crate::handover::read;

fn workbook(n: usize) -> Vec<u8> {
    let cell = |text: &str| format!("<c t=\"inlineStr\"><is><t>{text}</t></is></c>");
    let row = |cells: &[String]| format!("<row>{}</row>", cells.concat());
    let sheet = |rows: &str| format!("<worksheet><sheetData>{rows}</sheetData></worksheet>");
    let facility = row(&["Name", "LinearUnits", "AreaUnits"].map(cell))
        + &row(&["Demo", "meters", "square meters"].map(cell));
    let columns = [
        "Name",
        "FloorName",
        "Description",
        "ExtSystem",
        "ExtIdentifier",
        "NetArea",
    ];
    let mut spaces = row(&columns.map(cell));
    for room in 1..=n {
        let name = format!("{room:05}");
        let id = format!("id-{}", room * 7_919 % 1_000_003);
        let told = [&*name, "L1", "Room", "fm", &id].map(cell);
        let area = format!("<c><v>{}</v></c>", 9 + room % 37);
        spaces += &row(&[&told[..], &[area]].concat());
    }
    let (facility, spaces) = (sheet(&facility), sheet(&spaces));
    raw_book(&[("Facility", &facility), ("Space", &spaces)], "<sst/>")
}

fn table(n: usize) -> Vec<u8> {
    let mut text = "external_id,name,storey,area_m2\n".to_owned();
    for room in 1..=n {
        let _ = writeln!(text, "R-{room},Room {room},1,12.5");
    }
    text.into_bytes()
}

fn outlines(n: usize) -> Vec<u8> {
    let room = |room: usize| {
        format!(
            "{{\"type\":\"Feature\",\"id\":\"R-{room}\",\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":\
             [[[0,0],[4,0],[4,3],[0,3],[0,0]]]}},\"properties\":{{\"name\":\"{room}\",\"storey\":\"1\"}}}}"
        )
    };
    let rooms: Vec<String> = (1..=n).map(room).collect();
    let list = rooms.join(",");
    format!("{{\"type\":\"FeatureCollection\",\"features\":[{list}]}}").into_bytes()
}

fn model(n: usize) -> Vec<u8> {
    let mut text = "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n\
        #1=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);\n#2=IFCSIUNIT(*,.AREAUNIT.,$,.SQUARE_METRE.);\n\
        #3=IFCUNITASSIGNMENT((#1,#2));\n#4=IFCPROJECT('p',$,$,$,$,$,$,$,#3);\n"
        .to_owned();
    for room in 1..=n {
        let id = room + 10;
        let _ = writeln!(
            text,
            "#{id}=IFCSPACE('s{room}',$,'{room}',$,$,$,$,$,.ELEMENT.,$,$);"
        );
    }
    (text + "ENDSEC;\nEND-ISO-10303-21;\n").into_bytes()
}

#[test]
fn s_094_every_format_is_read_up_to_its_limit_and_refused_one_beyond_it() {
    type Made = fn(usize) -> Vec<u8>;
    let beyond = u32::try_from(MAX_SPACES + 2).unwrap();
    let files: [(Format, Made, Place); 4] = [
        (
            Format::Cobie,
            workbook,
            Place::Row {
                sheet: "Space",
                row: beyond,
            },
        ),
        (Format::Csv, table, Place::Line(beyond.into())),
        // That list stands on one line.
        (Format::Geojson, outlines, Place::Line(1)),
        (Format::Ifc, model, Place::File),
    ];
    for (format, made, place) in files {
        let word = format.word();
        let found = read(format, &made(MAX_SPACES));
        let found = found.unwrap_or_else(|refusal| panic!("{word}: {refusal}"));
        assert_eq!(found.spaces.len(), MAX_SPACES, "{word}");
        let refusal = read(format, &made(MAX_SPACES + 1)).unwrap_err();
        assert_eq!(refusal.kind, RefusalKind::TooLarge, "{word}: {refusal}");
        assert_eq!(refusal.place, place, "{word}: {refusal}");
    }
}
