//! Rules about the documents: what they name must exist, or a newcomer is sent to rooms that were torn down.

use std::collections::BTreeSet;

use api::VARIABLES;

use super::rust::take_apart;
use super::{Outcome, files, has_extension, none, read, root, rust_files};

/// Longest DEVELOPERS.md: it is read in one go, or not at all.
const LINES: usize = 300;

#[test]
fn every_path_and_name_in_developers_exists() -> Outcome {
    let text = read("DEVELOPERS.md")?;
    let words = words_of_the_tree()?;
    let mut faults = Vec::new();
    for (number, span) in spans(&text) {
        for word in span.split_whitespace() {
            if let Some(path) = as_path(word) {
                if !exists(path) {
                    faults.push(format!("DEVELOPERS.md:{number}: `{path}` does not exist"));
                }
            } else if is_name(span) {
                for part in span.split("::").filter(|part| !words.contains(*part)) {
                    faults.push(format!(
                        "DEVELOPERS.md:{number}: nothing is called `{part}`"
                    ));
                }
            }
        }
    }
    if text.lines().count() > LINES {
        faults.push(format!(
            "DEVELOPERS.md: {} lines, {LINES} at most",
            text.lines().count()
        ));
    }
    none(&faults);
    Ok(())
}

/// An invariant that no test keeps is a wish.
#[test]
fn every_invariant_in_developers_names_its_test() -> Outcome {
    let tests = names_of_tests()?;
    let mut faults = Vec::new();
    let text = read("DEVELOPERS.md")?;
    for (paragraph, number) in paragraphs(&text) {
        let named = spans(&paragraph).iter().any(|(_, span)| {
            span.rsplit("::")
                .next()
                .is_some_and(|name| tests.contains(name))
        });
        if paragraph.contains("**Invariant") && !named {
            faults.push(format!(
                "DEVELOPERS.md:{number}: this invariant names no test"
            ));
        }
    }
    none(&faults);
    Ok(())
}

/// Blocks of lines that belong together, with the number of the first line: a paragraph or one item of a list.
fn paragraphs(text: &str) -> Vec<(String, usize)> {
    let mut found: Vec<(String, usize)> = Vec::new();
    let mut open = false;
    for (line, number) in text.lines().zip(1..) {
        let starts_item =
            line.trim_start().starts_with("- ") || line.trim_start().starts_with("**Invariant");
        if line.trim().is_empty() {
            open = false;
        } else if let Some((paragraph, _)) = found.last_mut().filter(|_| open && !starts_item) {
            paragraph.push('\n');
            paragraph.push_str(line);
        } else {
            found.push((line.to_owned(), number));
            open = true;
        }
    }
    found
}

/// What stands between single backticks outside of code blocks, with the number of its line.
fn spans(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut in_block = false;
    for (line, number) in text.lines().zip(1..) {
        if line.trim_start().starts_with("```") {
            in_block = !in_block;
        } else if !in_block {
            found.extend(
                line.split('`')
                    .skip(1)
                    .step_by(2)
                    .map(|span| (number, span)),
            );
        }
    }
    found
}

/// The word without a line number behind it, if it starts at an entry of the top level.
fn as_path(word: &str) -> Option<&str> {
    let path = word
        .split(':')
        .next()
        .unwrap_or(word)
        .trim_end_matches(['/', ',', ';']);
    let first = path.split('/').next()?;
    let is_file = path.contains('.') && !path.starts_with('.') && root().join(path).exists();
    let is_below_top = path.contains('/') && !first.is_empty() && root().join(first).exists();
    (is_file || is_below_top).then_some(path)
}

/// Whether the path is there. A last part with a star stands for any file that begins and ends like it.
fn exists(path: &str) -> bool {
    let Some((folder, pattern)) = path.rsplit_once('/').filter(|_| path.contains('*')) else {
        return root().join(path).exists();
    };
    let (start, end) = pattern.split_once('*').unwrap_or((pattern, ""));
    if folder.contains('*') {
        let above = folder.split('*').next().unwrap_or_default();
        return root().join(above).exists();
    }
    super::entries(&root().join(folder)).is_ok_and(|names| {
        names
            .iter()
            .any(|name| name.starts_with(start) && name.ends_with(end))
    })
}

/// Whether the span is a name in code: `snake_case`, or parts with `::` between them.
fn is_name(span: &str) -> bool {
    let of_code = |part: &str| {
        !part.is_empty() && part.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
    };
    span.split("::").all(of_code) && (span.contains("::") || span.contains('_'))
}

/// The table is copied from what this test prints, never written by hand.
#[test]
fn the_readme_lists_every_setting_as_the_service_reads_it() -> Outcome {
    let expected: Vec<String> = VARIABLES
        .iter()
        .map(|variable| {
            let file = if variable.secret {
                " Or a file that holds it: `_FILE`."
            } else {
                ""
            };
            format!(
                "| `{}` | {} | {}{file} |",
                variable.name, variable.default, variable.meaning
            )
        })
        .collect();
    let readme = read("README.md")?;
    let found: Vec<&str> = readme
        .lines()
        .filter(|line| line.starts_with("| `WEARCOURSE_"))
        .collect();
    assert!(
        found == expected,
        "the table in README.md must be:\n{}",
        expected.join("\n")
    );
    Ok(())
}

fn words_of_the_tree() -> Result<BTreeSet<String>, Box<dyn std::error::Error>> {
    let mut words = BTreeSet::new();
    for file in files()? {
        if has_extension(&file.path, "md") || file.path == "Cargo.lock" {
            continue;
        }
        let text = file.text.unwrap_or_default();
        words.extend(
            text.split(|c: char| !c.is_alphanumeric() && c != '_')
                .map(str::to_owned),
        );
        // A module is a name too, though its file may be the only place that bears it.
        words.extend(file.path.split(['/', '.']).map(str::to_owned));
    }
    Ok(words)
}

fn names_of_tests() -> Result<BTreeSet<String>, Box<dyn std::error::Error>> {
    let mut names = BTreeSet::new();
    for (_, text) in rust_files()? {
        let taken = take_apart(&text);
        let words: Vec<&str> = taken.words().map(|(_, word)| word).collect();
        for pair in words.windows(2) {
            if let ["fn", name] = pair {
                names.insert((*name).to_owned());
            }
        }
    }
    Ok(names)
}

#[test]
fn spans_paths_and_names_are_told_apart() {
    let text = "Run `bash tests/run heavy`.\n```\n`not_this`\n```\nSee `a::b` and `x`.";
    let found: Vec<&str> = spans(text).into_iter().map(|(_, span)| span).collect();
    assert_eq!(found, ["bash tests/run heavy", "a::b", "x"]);
    assert_eq!(as_path("tests/run"), Some("tests/run"));
    assert_eq!(as_path("application/json"), None);
    assert_eq!(as_path("domain/no/such.rs:12"), Some("domain/no/such.rs"));
    assert!(exists("tests/it/tid*.rs") && !exists("domain/no/such.rs"));
    assert!(is_name("draft_plan") && is_name("a::b") && !is_name("x") && !is_name("GET"));
}

#[test]
fn an_invariant_is_a_paragraph_or_an_item_of_its_own() {
    let text = "Intro.\n\n- **Invariant**: one\n  goes on `a`.\n- **Invariant**: two.\n";
    let found = paragraphs(text);
    assert_eq!(found.len(), 3);
    assert_eq!(
        found.iter().map(|(_, number)| *number).collect::<Vec<_>>(),
        [1, 3, 5]
    );
}
