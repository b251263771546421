//! Outlines in metres, and what is no such file.

use domain::{
    handover::{Concern, Format, Handover, Refusal, RefusalKind},
    quantity::Area,
};

use crate::handover::read;

fn file(features: &str) -> Result<Handover, Refusal> {
    let text = format!(r#"{{"type":"FeatureCollection","features":[{features}]}}"#);
    read(Format::Geojson, text.as_bytes())
}

fn room(ring: &str, more: &str) -> String {
    format!(
        r#"{{"type":"Feature","id":7,"geometry":{{"type":"Polygon","coordinates":[[{ring}]]}},
        "properties":{{"name":"Hall","storey":"1","finish":"VCT","nobody":{{"asks":["for"]}}{more}}}}}"#
    )
}

#[test]
fn an_outline_in_metres_tells_area_and_edge() {
    // A rectangle of 30 m by 8 m.
    let found = file(&room(
        "[0,0],[30,0],[30,8],[0,8],[0,0]",
        r#","area_m2":"239""#,
    ))
    .unwrap();
    let space = &found.spaces[0];
    assert_eq!(space.area, Area::from_m2(240.0));
    assert_eq!(space.perimeter.unwrap().m(), 76.0);
    assert_eq!(
        space
            .external
            .as_ref()
            .map(|name| (name.system.as_str(), name.id.as_str())),
        Some(("geojson", "7"))
    );
    assert!(space.remarks.is_empty(), "{:?}", space.remarks);
    let found = file(&room("[0,0],[30,0],[30,8],[0,8]", r#","area_m2":200"#)).unwrap();
    assert_eq!(found.spaces[0].remarks[0].concern, Concern::AreasDiffer);
}

#[test]
fn degrees_are_refused() {
    let degrees = room(
        "[13.37770,52.51620],[13.37800,52.51620],[13.37800,52.51640],[13.37770,52.51640]",
        "",
    );
    assert_eq!(file(&degrees).unwrap_err().kind, RefusalKind::Degrees);
    // Grids of national surveys are metres, whatever their size.
    assert!(
        file(&room(
            "[394812,5820310],[394830,5820310],[394830,5820320],[394812,5820320]",
            ""
        ))
        .is_ok()
    );
    let says = r#"{"type":"FeatureCollection","features":[],"crs":{"properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}}}"#;
    assert_eq!(
        read(Format::Geojson, says.as_bytes()).unwrap_err().kind,
        RefusalKind::Degrees
    );
}

#[test]
fn an_outline_that_is_none_is_told_with_its_point() {
    let found = file(&room("[0,0],[10,10],[10,0],[0,10]", "")).unwrap();
    let concerns: Vec<Concern> = found.spaces[0]
        .remarks
        .iter()
        .map(|one| one.concern)
        .collect();
    assert_eq!(concerns, [Concern::OutlineFaulty, Concern::AreaMissing]);
    assert!(
        found.spaces[0].remarks[0]
            .detail
            .starts_with("ring 0, point")
    );
}

#[test]
fn an_outline_beyond_what_a_floor_can_be_is_none() {
    // Two kilometres by one, as a plan in millimetres that says metres may have it.
    let found = file(&room("[0,0],[2000,0],[2000,1000],[0,1000]", "")).unwrap();
    let space = &found.spaces[0];
    assert!(space.outline.is_none() && space.area.is_none());
    assert_eq!(space.remarks[0].concern, Concern::OutlineFaulty);
    let found = file(&room("[0,0],[1000,0],[1000,1000],[0,1000]", "")).unwrap();
    assert_eq!(found.spaces[0].area, Area::from_m2(1_000_000.0));
}

#[test]
fn what_is_no_such_file_is_refused_with_its_line() {
    let kind = |text: &str| read(Format::Geojson, text.as_bytes()).unwrap_err().kind;
    assert_eq!(kind("[]"), RefusalKind::Malformed);
    assert_eq!(
        kind(r#"{"type":"Feature","features":[]}"#),
        RefusalKind::NotTheFormat
    );
    let deep = format!(
        r#"{{"type":"FeatureCollection","features":[{{"properties":{{"x":{}"#,
        "[".repeat(100_000)
    );
    assert_eq!(kind(&deep), RefusalKind::Malformed);
    let many = format!(
        r#"{{"type":"FeatureCollection","features":[{}{{}}]}}"#,
        "{},".repeat(20_000)
    );
    let refusal = read(Format::Geojson, many.as_bytes()).unwrap_err();
    assert_eq!(refusal.kind, RefusalKind::TooLarge, "{refusal}");
    assert!(refusal.detail.contains("longer than 20000"), "{refusal}");
    let ring = "[0,0],".repeat(5_000) + "[0,0]";
    assert_eq!(
        file(&room(&ring, "")).unwrap_err().kind,
        RefusalKind::TooLarge
    );
    assert_eq!(
        file(&room("[1e999,0],[1,0],[1,1]", "")).unwrap_err().kind,
        RefusalKind::Malformed
    );
}
