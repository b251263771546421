//! Rules about the knowledge base: each row says where it comes from, and the planner names no material and no process.

use std::error::Error;

use toml::{Table, Value};

use super::rust::take_apart;
use super::{Outcome, files, has_extension, none, read, rust_files};

const GRADES: [&str; 4] = ["published", "as_quoted", "common_practice", "from_memory"];

/// Tables whose rows assert nothing themselves: a word for a material, a list of steps that sourced processes share.
const NO_CLAIM: [&str; 2] = ["chain", "finish"];

#[test]
fn every_row_of_knowledge_has_a_source_and_a_grade() -> Outcome {
    let mut faults = Vec::new();
    let mut n_rows = 0;
    for file in files()? {
        if !file.path.starts_with("domain/knowledge/") || !has_extension(&file.path, "toml") {
            continue;
        }
        for (table, row) in rows(&file.text.unwrap_or_default().parse()?) {
            n_rows += 1;
            if let Some(fault) = fault(&table, &row) {
                faults.push(format!("{}: {fault}", file.path));
            }
        }
    }
    if n_rows < 100 {
        faults.push(format!(
            "only {n_rows} rows were found: this test no longer reads the files"
        ));
    }
    none(&faults);
    Ok(())
}

/// The rows of a data file: what stands below `[name]` and `[[name]]`.
fn rows(file: &Table) -> Vec<(String, Table)> {
    let mut found = Vec::new();
    for (name, value) in file {
        match value {
            Value::Table(row) => found.push((name.clone(), row.clone())),
            Value::Array(rows) => {
                found.extend(
                    rows.iter()
                        .filter_map(Value::as_table)
                        .map(|row| (name.clone(), row.clone())),
                );
            }
            Value::String(_)
            | Value::Integer(_)
            | Value::Float(_)
            | Value::Boolean(_)
            | Value::Datetime(_) => {}
        }
    }
    found
}

fn fault(table: &str, row: &Table) -> Option<String> {
    let text = |name: &str| row.get(name).and_then(Value::as_str).unwrap_or_default();
    let subject = ["key", "id", "activity", "country", "name"]
        .iter()
        .map(|name| text(name))
        .find(|text| !text.is_empty())
        .unwrap_or("a row without a key");
    if NO_CLAIM.contains(&table) {
        None
    } else if text("source").trim().is_empty() {
        Some(format!("[{table}] {subject} has no source"))
    } else if !GRADES.contains(&text("grade")) {
        Some(format!(
            "[{table}] {subject} has grade {:?}, not one of {GRADES:?}",
            text("grade")
        ))
    } else {
        None
    }
}

#[test]
fn a_row_without_a_source_or_with_a_strange_grade_is_seen() -> Outcome {
    let file: Table = "version = '1'\n[[pad]]\nkey = 'a'\ngrade = 'published'\n\
                       [[pad]]\nkey = 'b'\nsource = 'x'\ngrade = 'guess'\n\
                       [climate]\nsource = 'x'\ngrade = 'from_memory'\n"
        .parse()?;
    let faults: Vec<String> = rows(&file)
        .iter()
        .filter_map(|(table, row)| fault(table, row))
        .collect();
    assert_eq!(faults.len(), 2, "{faults:?}");
    Ok(())
}

/// Rules are data: a planner that asks for one material by name has a rule that nobody can edit or look up. A process that
/// is called like a class of product (`seal`) is left out, for the planner does speak of the class.
#[test]
fn the_planner_names_no_material_and_no_process() -> Outcome {
    let mut keys = keys_of("material", "materials.toml")?;
    keys.extend(keys_of("process", "processes.toml")?);
    let products: Table = read("domain/knowledge/products.toml")?.parse()?;
    for (_, product) in rows(&products) {
        keys.retain(|key| product.get("class").and_then(Value::as_str) != Some(key));
    }
    let mut faults = Vec::new();
    for (path, text) in rust_files()? {
        if path.starts_with("domain/src/plan/")
            && !path.ends_with("/tests.rs")
            && !path.contains("/tests/")
        {
            faults.extend(
                named(&keys, &text)
                    .into_iter()
                    .map(|key| format!("{path}: names `{key}`")),
            );
        }
    }
    none(&faults);
    Ok(())
}

fn keys_of(kind: &str, file: &str) -> Result<Vec<String>, Box<dyn Error>> {
    let table: Table = read(&format!("domain/knowledge/{file}"))?.parse()?;
    let keys = rows(&table)
        .into_iter()
        .filter(|(table, _)| table == kind)
        .filter_map(|(_, row)| row.get("key")?.as_str().map(str::to_owned));
    let keys: Vec<String> = keys.collect();
    if keys.is_empty() {
        return Err(format!("{file} has no [[{kind}]]: this test no longer reads the file").into());
    }
    Ok(keys)
}

/// Keys that the code before the inline tests names, as a string or as an identifier.
fn named<'a>(keys: &'a [String], text: &str) -> Vec<&'a str> {
    let code = text.split("#[cfg(test)]").next().unwrap_or_default();
    let taken = take_apart(code);
    keys.iter()
        .map(String::as_str)
        .filter(|key| {
            let camel: String = key.split('_').map(capitalised).collect();
            taken.strings.iter().any(|string| string == key)
                || taken
                    .words()
                    .any(|(_, word)| word.eq_ignore_ascii_case(key) || word == camel)
        })
        .collect()
}

fn capitalised(word: &str) -> String {
    let mut characters = word.chars();
    let first = characters.next().map(|c| c.to_ascii_uppercase());
    first.into_iter().chain(characters).collect()
}

#[test]
fn a_key_is_seen_as_a_string_a_name_and_a_variant() {
    let keys = ["wet_stone".to_owned(), "dry_stone".to_owned()];
    assert_eq!(named(&keys, "if key == \"wet_stone\" {}"), ["wet_stone"]);
    assert_eq!(named(&keys, "Material::DryStone => 1"), ["dry_stone"]);
    assert_eq!(named(&keys, "const WET_STONE: u8 = 1;"), ["wet_stone"]);
    assert!(
        named(
            &keys,
            "// wet_stone\n#[cfg(test)]\nmod tests { f(\"dry_stone\") }"
        )
        .is_empty()
    );
}
