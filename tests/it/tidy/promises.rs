//! The table of promises in the README of the tests says what the tests say.

use std::collections::BTreeSet;

use super::rust::take_apart;
use super::{Outcome, none, read, rust_files};

/// The numbers at the head of a test's name: `s_110_s_111_text_is_kept` keeps S-110 and S-111.
fn numbers(name: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut parts = name.split('_').peekable();
    while let Some(letter) = parts.next() {
        match (letter, parts.peek()) {
            ("to", Some(_)) if !found.is_empty() => {}
            ("s" | "f" | "o", Some(number)) if is_number(number) => {
                found.push(format!("{}-{number}", letter.to_uppercase()));
                parts.next();
            }
            _ => break,
        }
    }
    found
}

fn is_number(text: &str) -> bool {
    text.len() >= 2 && text.bytes().all(|byte| byte.is_ascii_digit())
}

#[test]
fn the_table_of_promises_is_that_of_the_tests() -> Outcome {
    let readme = read("tests/README.md")?;
    let rows: Vec<(&str, &str)> = readme
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split_once(" | "))
        .filter(|(number, _)| number.split_once('-').is_some_and(|(_, n)| is_number(n)))
        .collect();
    let mut faults = Vec::new();
    let mut names = BTreeSet::new();
    for (path, text) in rust_files()? {
        let taken = take_apart(&text);
        let words: Vec<&str> = taken.words().map(|(_, word)| word).collect();
        for pair in words.windows(2) {
            let ["fn", name] = pair else { continue };
            names.insert((*name).to_owned());
            for number in numbers(name) {
                let row = rows.iter().find(|(listed, _)| **listed == number);
                if row.is_none_or(|(_, row)| !row.contains(&format!("`{name}`"))) {
                    faults.push(format!("{path}: the row {number} does not name `{name}`"));
                }
            }
        }
    }
    for (number, row) in &rows {
        let quoted = row.split('`').skip(1).step_by(2);
        let tests = quoted.filter(|name| !numbers(name).is_empty());
        for name in tests.filter(|name| !names.contains(*name)) {
            faults.push(format!(
                "tests/README.md: {number} names `{name}`, which is no test"
            ));
        }
    }
    let promised = read("README.md")?;
    let promised = promised.split('`').skip(1).step_by(2);
    for name in promised.filter(|name| !numbers(name).is_empty() && !names.contains(*name)) {
        faults.push(format!("README.md names `{name}`, which is no test"));
    }
    assert!(rows.len() > 100, "only {} rows were read", rows.len());
    none(&faults);
    Ok(())
}

#[test]
fn the_numbers_of_a_test_are_at_the_head_of_its_name() {
    assert_eq!(numbers("s_110_s_111_text_is_kept"), ["S-110", "S-111"]);
    assert_eq!(numbers("s_041_to_s_051_every_reason"), ["S-041", "S-051"]);
    assert_eq!(numbers("o_10_a_byte"), ["O-10"]);
    assert_eq!(numbers("what_s_009_is"), [""; 0]);
}
