//! What each floor covering stands, held beside a table that was written apart from the knowledge base.

use domain::knowledge::Material;

use crate::common::base;

/// A row of the knowledge base as the table writes it.
fn written(row: &Material) -> String {
    let flags = [
        (row.resilient, "resilient"),
        (row.textured, "textured"),
        (row.factory_finished, "factory_finished"),
        (row.asbestos_era, "asbestos_era"),
        (row.concrete, "concrete"),
        (row.wood, "wood"),
        (row.stone, "stone"),
        (row.ceramic, "ceramic"),
        (row.calcareous, "calcareous"),
        (row.resin, "resin"),
        (row.veneer, "veneer"),
        (row.sports, "sports"),
        (!row.identified, "unidentified"),
    ];
    let mut is: Vec<String> = flags
        .iter()
        .filter(|(set, _)| *set)
        .map(|(_, word)| (*word).to_owned())
        .collect();
    is.extend(row.film.as_ref().map(|film| format!("film={film}")));
    let [ph_min, ph_max] = row.ph;
    let line = format!(
        "{} | {} {} {} {} {} | {} | {} {} {} | {}/{} | {ph_min}-{ph_max} {} | {} | {}",
        row.key,
        row.water,
        row.solvent,
        row.acid_weak,
        row.acid_strong,
        row.alkali,
        row.porosity,
        row.seal,
        row.polish,
        row.impregnator,
        row.pad_routine,
        row.pad_restorative,
        row.ph_restorative_max,
        row.mop,
        is.join(" "),
    );
    line.trim_end().to_owned()
}

#[test]
fn every_floor_covering_stands_what_the_table_says() {
    let table: Vec<&str> = include_str!("floor_coverings.txt")
        .lines()
        .filter(|line| !line.starts_with('#'))
        .collect();
    let known: Vec<String> = base().materials.iter().map(written).collect();
    assert_eq!(known, table);
    // 31 coverings, luxury vinyl both glued and clicked, and the stand-in for what nobody knows.
    assert_eq!(known.len(), 33);
}

#[test]
fn every_covering_can_be_told_apart_by_some_test_or_paper() {
    let shown = |key: &str| {
        let readings = base().identification.iter().flat_map(|test| &test.readings);
        readings
            .flat_map(|row| &row.points_to)
            .any(|name| name == key)
    };
    // What looks like its plain kin is told by its papers alone.
    let by_papers = [
        "vinyl_sheet_factory_finished",
        "sports_hardwood",
        "terrazzo_epoxy",
        "concrete_sealed",
        "unknown_hard",
    ];
    for row in &base().materials {
        assert_eq!(
            shown(&row.key),
            !by_papers.contains(&row.key.as_str()),
            "{}",
            row.key
        );
    }
}
