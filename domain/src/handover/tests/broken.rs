//! Models and tables that are broken or made to do harm.

use std::fmt::Write as _;

use crate::{
    handover::{Concern, Handover, Place, Refusal, RefusalKind, read_csv, read_ifc},
    quantity::Area,
};

const HEAD: &str = "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n\
    #1=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);\n#2=IFCSIUNIT(*,.AREAUNIT.,$,.SQUARE_METRE.);\n\
    #3=IFCUNITASSIGNMENT((#1,#2));\n#4=IFCPROJECT('p',$,$,$,$,$,$,$,#3);\n\
    #5=IFCSPACE('s',$,'101',$,$,$,#50,'Hall',.ELEMENT.,$,$);\n";
const TAIL: &str = "ENDSEC;\nEND-ISO-10303-21;\n";

pub(super) fn model(entities: &str) -> Result<Handover, Refusal> {
    read_ifc(format!("{HEAD}{entities}{TAIL}").as_bytes())
}

pub(super) fn kind(entities: &str) -> RefusalKind {
    model(entities).unwrap_err().kind
}

#[test]
fn what_is_no_model_is_refused_with_its_line_or_entity() {
    assert_eq!(read_ifc(b"").unwrap_err().kind, RefusalKind::NotTheFormat);
    assert_eq!(
        read_ifc(b"PK\x03\x04").unwrap_err().kind,
        RefusalKind::NotTheFormat
    );
    assert_eq!(
        read_ifc(&vec![b' '; 65 * 1024 * 1024]).unwrap_err().kind,
        RefusalKind::TooLarge
    );
    let other = format!("{HEAD}{TAIL}").replace("IFC4", "AP214");
    assert_eq!(
        read_ifc(other.as_bytes()).unwrap_err().kind,
        RefusalKind::Unsupported
    );
    let refusal = model("#6=IFCWALL('an open string);\n").unwrap_err();
    assert_eq!(
        (refusal.kind, refusal.place),
        (RefusalKind::Malformed, Place::Line(11))
    );
    let refusal = model("#5=IFCSPACE();\n").unwrap_err();
    assert_eq!(
        (refusal.kind, refusal.place),
        (RefusalKind::Malformed, Place::Entity(5))
    );
    for entities in [
        "#=IFCWALL();\n",
        "#6 IFCWALL();\n",
        "IFCWALL();\n",
        "#99999999999999999999=A();\n",
        "/* open",
    ] {
        assert_eq!(kind(entities), RefusalKind::Malformed, "{entities}");
    }
    assert_eq!(
        kind("#6=IFCRELAGGREGATES('a',$,$,$,(#5,#;\n"),
        RefusalKind::Malformed
    );
}

#[test]
fn deep_and_endless_entities_are_refused() {
    let deep = format!(
        "#6=IFCRELAGGREGATES('a',$,$,$,{}{});\n",
        "(".repeat(50_000),
        ")".repeat(50_000)
    );
    assert_eq!(kind(&deep), RefusalKind::TooLarge);
    let typed = format!(
        "#6=IFCRELAGGREGATES({}1{});\n",
        "A(".repeat(10_000),
        ")".repeat(10_000)
    );
    assert_eq!(kind(&typed), RefusalKind::TooLarge);
    let wide = format!(
        "#6=IFCRELAGGREGATES('a',$,$,$,#4,({}#5));\n",
        "#5,".repeat(300_000)
    );
    assert_eq!(kind(&wide), RefusalKind::TooLarge);
}

#[test]
fn entities_that_refer_to_one_another_in_a_ring_come_to_an_end() {
    let ring = "#6=IFCRELAGGREGATES('a',$,$,$,#5,(#5));\n\
        #50=IFCPRODUCTDEFINITIONSHAPE($,$,(#51));\n#51=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#52));\n\
        #52=IFCEXTRUDEDAREASOLID(#53,$,#54,1.);\n#54=IFCDIRECTION((0.,0.,1.));\n\
        #53=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#55);\n#55=IFCCOMPOSITECURVE((#56,#56),.F.);\n\
        #56=IFCCOMPOSITECURVESEGMENT(.C.,.T.,#55);\n#7=IFCRELDEFINESBYPROPERTIES('b',$,$,$,(#5),#7);\n";
    let found = model(ring).unwrap();
    let concerns: Vec<Concern> = found.spaces[0]
        .remarks
        .iter()
        .map(|one| one.concern)
        .collect();
    assert_eq!(
        concerns,
        [
            Concern::ShapeUnread,
            Concern::AreaMissing,
            Concern::StoreyUnknown
        ]
    );
}

/// A machine made this up: a foot of 3,048 m, after which a room of 750 square feet measures hundreds of square kilometres.
#[test]
fn a_footprint_beyond_what_a_floor_can_be_is_no_area() {
    let drawn = |side: &str| {
        let text = format!(
            "#50=IFCPRODUCTDEFINITIONSHAPE($,$,(#51));\n#51=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#52));\n\
            #52=IFCEXTRUDEDAREASOLID(#53,$,#54,1.);\n#54=IFCDIRECTION((0.,0.,1.));\n\
            #53=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,{side},10.);\n"
        );
        let mut found = model(&text).unwrap();
        let space = found.spaces.remove(0);
        let concerns = space.remarks.iter().map(|one| one.concern);
        (space.area.map(Area::m2), concerns.collect::<Vec<_>>())
    };
    let (area, concerns) = drawn("100000.");
    assert_eq!(area, Some(1_000_000.0));
    assert!(!concerns.contains(&Concern::NumberUnreadable));
    for side in ["100001.", "3.048E300", "-10."] {
        let (area, concerns) = drawn(side);
        assert_eq!((area, concerns[0]), (None, Concern::NumberUnreadable));
    }
}

#[test]
fn one_large_set_for_thousands_of_spaces_is_refused_in_time() {
    // 2,000 spaces that all have one set of 1,000 properties, a hundred times: 2·10⁸ properties to read.
    let mut text = String::new();
    let mut spaces = String::new();
    for id in 1_000..3_000 {
        let _ = writeln!(
            text,
            "#{id}=IFCSPACE('s{id}',$,'{id}',$,$,$,$,$,.ELEMENT.,$,$);"
        );
        let _ = write!(spaces, "#{id},");
    }
    let mut rows = String::new();
    for id in 20_000..21_000 {
        let _ = writeln!(
            text,
            "#{id}=IFCPROPERTYSINGLEVALUE('FloorCovering',$,IFCLABEL('x{id}'),$);"
        );
        let _ = write!(rows, "#{id},");
    }
    let _ = writeln!(
        text,
        "#30000=IFCPROPERTYSET('q',$,'Q',$,({}));",
        rows.trim_end_matches(',')
    );
    for id in 40_000..40_100 {
        let _ = writeln!(
            text,
            "#{id}=IFCRELDEFINESBYPROPERTIES('r',$,$,$,({}),#30000);",
            spaces.trim_end_matches(',')
        );
    }
    assert_eq!(kind(&text), RefusalKind::Hostile);
}

#[test]
fn a_space_without_units_or_with_absurd_figures_waits_for_somebody() {
    let quantity = "#6=IFCQUANTITYAREA('NetFloorArea',$,$,1.E300,$);\n#7=IFCELEMENTQUANTITY('q',$,'BaseQuantities',$,$,(#6));\n\
        #8=IFCRELDEFINESBYPROPERTIES('r',$,$,$,(#5),#7);\n";
    let found = model(quantity).unwrap();
    assert_eq!(found.spaces[0].area, None);
    assert_eq!(
        found.spaces[0].remarks[0].concern,
        Concern::NumberUnreadable
    );
    let text = format!("{HEAD}{quantity}{TAIL}")
        .replace("1.E300", "32.")
        .replace("(#1,#2)", "()");
    let found = read_ifc(text.as_bytes()).unwrap();
    assert_eq!(found.remarks.len(), 2);
    assert_eq!(found.spaces[0].remarks[0].concern, Concern::UnitUnknown);
    let bytes = format!("{HEAD}{quantity}{TAIL}").replace("'Hall'", "'Ha\u{0}ll'");
    let found = read_ifc(bytes.as_bytes()).unwrap();
    assert!(
        found.spaces[0]
            .remarks
            .iter()
            .any(|one| one.concern == Concern::TextUnfit)
    );
}

const HEADER: &str = "external_id,name,storey,area_m2,finish\n";

fn table(rows: &str) -> Result<Handover, Refusal> {
    read_csv(format!("{HEADER}{rows}").as_bytes())
}

#[test]
fn s_092_a_table_that_is_none_is_refused_with_its_line() {
    let refused = |bytes: &[u8]| {
        let refusal = read_csv(bytes).unwrap_err();
        (refusal.kind, refusal.place)
    };
    let of = |rows: &str| refused(format!("{HEADER}{rows}").as_bytes());
    let open = format!("a,b,1,2,VCT\na,\"{}", "x".repeat(5_000_000));
    assert_eq!(of(&open), (RefusalKind::Malformed, Place::Line(3)));
    assert_eq!(
        refused(&vec![b'a'; 6_000_000]),
        (RefusalKind::TooLarge, Place::Line(1))
    );
    assert_eq!(
        refused(",".repeat(10_000).as_bytes()),
        (RefusalKind::Malformed, Place::Line(1))
    );
    assert_eq!(
        of(&format!("a,{},1,2,VCT\n", "x".repeat(1_000_000))),
        (RefusalKind::Malformed, Place::Line(2))
    );
    assert_eq!(
        refused(b"\xFF\xFEe\0x\0"),
        (RefusalKind::Unsupported, Place::Line(1))
    );
    assert_eq!(
        of("a,b\0,1,2,VCT\n"),
        (RefusalKind::Malformed, Place::Line(2))
    );
    assert_eq!(
        refused(&[HEADER.as_bytes(), b"a,b,1,2,VCT\n\xFF"].concat()),
        (RefusalKind::Malformed, Place::Line(3))
    );
    let many = "a,b,1,2,VCT\n".repeat(20_001);
    assert_eq!(of(&many), (RefusalKind::TooLarge, Place::Line(20_002)));
    let last = "a,b,1,2,VCT\n"
        .repeat(20_000)
        .replacen("a,b", "\"a\n\",b", 1)
        + "a,b,1";
    assert_eq!(of(&last), (RefusalKind::TooLarge, Place::Line(20_003)));
    assert_eq!(
        of("a,b,1,2,VCT\na,b,1"),
        (RefusalKind::Malformed, Place::Line(3))
    );
    assert_eq!(
        of("a,b \"c\",1,2,VCT"),
        (RefusalKind::Malformed, Place::Line(2))
    );
    assert_eq!(
        of("a,\"b\"c,1,2,VCT"),
        (RefusalKind::Malformed, Place::Line(2))
    );
    for header in [
        "",
        "external_id,name,storey",
        "external_id,name,storey,area_m2,area_m2",
        "a;b;c",
        "external_id,name,storey,area_m2,perimter_m",
    ] {
        assert_eq!(refused(header.as_bytes()).1, Place::Line(1), "{header}");
    }
}

#[test]
fn what_a_cell_cannot_hold_is_a_remark_of_its_space() {
    let found =
        table("a,=1+1,1,\"32,5\",VCT\r\nb,Store,,8,finish\r\n\r\nb,\"Li\u{202E}ne\",2,1e9,\n")
            .unwrap();
    let told: Vec<Vec<&str>> = found
        .spaces
        .iter()
        .map(|space| space.remarks.iter().map(|one| one.concern.word()).collect())
        .collect();
    assert_eq!(
        told,
        [
            vec!["number_unreadable", "formula_text"],
            vec!["perimeter_missing", "storey_unknown"],
            vec!["number_unreadable", "text_unfit", "external_duplicate"],
        ]
    );
    assert_eq!(found.spaces[2].place, Place::Line(5));
    assert_eq!(found.spaces[1].finish, None);
    assert_eq!(found.spaces[0].name, "=1+1");
    let bom = format!("\u{FEFF}{HEADER}a,b,1,2,VCT");
    assert_eq!(read_csv(bom.as_bytes()).unwrap().spaces.len(), 1);
}
