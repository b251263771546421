//! Files of which bytes were changed, dropped or doubled: they are read or refused, and nothing else.

use domain::handover::{Format, Handover, MAX_SPACES};
use proptest::{collection::vec, prelude::*};

use super::book::small_book;
use crate::handover::read;

const MODEL: &[u8] = include_bytes!("../../../../tests/handover/spaces.ifc");
const TABLE: &str = "external_id,name,number,storey,area_m2,perimeter_m,height_m,finish\r\n\
                     a,\"Hall, \"\"west\"\"\",1,1,32,24,2.5,VCT\r\nb,Store,2,1,8,12,,\"sheet\nvinyl\"\r\n";
const OUTLINES: &str = r#"{"type":"FeatureCollection","features":[{"type":"Feature","id":"a","geometry":{"type":"Polygon",
    "coordinates":[[[0,0],[30,0],[30,8],[0,8],[0,0]]]},"properties":{"name":"Hall","storey":"1","area_m2":240}}]}"#;

/// A change at a share of the file's length.
type Change = (u16, u8, u8);

fn changed(bytes: &[u8], changes: &[Change]) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for (place, how, byte) in changes {
        let at = bytes.len() * usize::from(*place) / 65_536;
        match how % 4 {
            0 => bytes.insert(at, *byte),
            1 if !bytes.is_empty() => {
                bytes.remove(at);
            }
            2 => {
                let tail = bytes[at..]
                    .iter()
                    .take(usize::from(*byte))
                    .copied()
                    .collect::<Vec<u8>>();
                bytes.splice(at..at, tail);
            }
            _ => {
                if let Some(one) = bytes.get_mut(at) {
                    *one = *byte;
                }
            }
        }
    }
    bytes
}

/// What is true of whatever was read.
fn sound(found: &Handover) {
    assert!(found.spaces.len() <= MAX_SPACES);
    for space in &found.spaces {
        assert!(
            space
                .area
                .is_none_or(|area| (0..=1_000_000_000_000).contains(&area.mm2()))
        );
        if let (Some(area), Some(edge)) = (space.area, space.perimeter) {
            assert!(domain::survey::possible(area, edge));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    #[test]
    fn no_change_of_a_file_makes_a_reader_panic(changes in vec(any::<Change>(), 1..12)) {
        let book = small_book();
        let files: [(Format, &[u8]); 4] = [
            (Format::Cobie, &book),
            (Format::Ifc, MODEL),
            (Format::Csv, TABLE.as_bytes()),
            (Format::Geojson, OUTLINES.as_bytes()),
        ];
        for (format, bytes) in files {
            // Every reader is given every file: callers may name the wrong format.
            let bytes = changed(bytes, &changes);
            for other in Format::ALL {
                if let Ok(found) = read(*other, &bytes) {
                    sound(&found);
                    prop_assert_eq!(*other, format);
                }
            }
        }
    }
}
