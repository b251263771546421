//! Rules about the Rust sources: how a file opens, how long it may be, and what each folder may not know.

use super::rust::take_apart;
use super::{Outcome, none, read, rust_files};

/// Longest file, inline tests included.
const LINES: usize = 400;

/// What the files below a folder may not name, except below some of its folders.
struct Ban {
    folder: &'static str,
    except: &'static [&'static str],
    words: &'static [&'static str],
    why: &'static str,
}

const BANS: [Ban; 5] = [
    Ban {
        folder: "",
        except: &["infra/", "migrations/"],
        words: &["sea_orm"],
        why: "only the store knows how rows are kept",
    },
    Ban {
        folder: "domain/",
        except: &["domain/src/knowledge/"],
        words: &["serde"],
        why: "only the knowledge base is read from text; everything else is told by values",
    },
    Ban {
        folder: "api/src/app/",
        except: &[],
        words: &["actix_web", "serde", "utoipa"],
        why: "a use case knows neither HTTP nor JSON",
    },
    Ban {
        folder: "api/src/http/",
        except: &[],
        words: &["infra"],
        why: "a handler reaches the store through a use case",
    },
    Ban {
        folder: "api/",
        except: &[],
        words: &["migrations", "sqlx"],
        why: "the schema is the store's business",
    },
];

#[test]
fn every_file_opens_with_its_purpose_and_stays_short() -> Outcome {
    let mut faults = Vec::new();
    for (path, text) in rust_files()? {
        if !text.starts_with("//! ") {
            faults.push(format!(
                "{path}: must open with `//!` and say why it exists"
            ));
        }
        let lines = text.lines().count();
        if lines > LINES {
            faults.push(format!("{path}: {lines} lines, {LINES} at most"));
        }
    }
    none(&faults);
    Ok(())
}

#[test]
fn no_folder_names_what_it_may_not_know() -> Outcome {
    let mut faults = Vec::new();
    for (path, text) in rust_files()? {
        faults.extend(banned(&path, &text));
    }
    none(&faults);
    Ok(())
}

fn banned(path: &str, text: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let taken = take_apart(text);
    for ban in &BANS {
        let exempt = ban.except.iter().any(|folder| path.starts_with(folder));
        if exempt || !path.starts_with(ban.folder) {
            continue;
        }
        for (line, word) in taken.words().filter(|(_, word)| ban.words.contains(word)) {
            faults.push(format!("{path}:{line}: names {word}, but {}", ban.why));
        }
    }
    faults
}

#[test]
fn a_banned_name_is_seen_in_code_and_not_in_a_comment() {
    let text = "//! Why sea_orm stays out.\nuse infra::Store;\nlet note = \"utoipa\";\n";
    assert_eq!(banned("api/src/http/sites.rs", text).len(), 1);
    assert_eq!(banned("api/src/app/sites.rs", text).len(), 0);
    assert_eq!(
        banned("api/src/app/sites.rs", "use serde::Serialize;").len(),
        1
    );
    assert_eq!(
        banned("domain/src/knowledge/row.rs", "use serde::Deserialize;").len(),
        0
    );
}

/// A new variant of an error must be given its answer by somebody, not by a wildcard. Only the framework's own errors are
/// open enums that cannot be matched whole.
#[test]
fn errors_become_problems_variant_by_variant() -> Outcome {
    let mut faults = Vec::new();
    for (path, text) in rust_files()? {
        if !path.starts_with("api/src/problem/from_") || path.ends_with("/from_request.rs") {
            continue;
        }
        for (line, number) in take_apart(&text).code.lines().zip(1..) {
            if has_wildcard_arm(line) {
                faults.push(format!("{path}:{number}: `_ =>` hides a variant"));
            }
        }
    }
    none(&faults);
    Ok(())
}

fn has_wildcard_arm(line: &str) -> bool {
    let pattern = line.split("=>").next().unwrap_or_default();
    let alternatives = pattern.split(['|', ',', '{']).map(str::trim);
    line.contains("=>")
        && alternatives
            .into_iter()
            .any(|pattern| pattern == "_" || pattern.starts_with("_ if "))
}

#[test]
fn a_wildcard_arm_is_told_from_a_hole_in_a_pattern() {
    assert!(has_wildcard_arm("        _ => Problem::internal(error),"));
    assert!(has_wildcard_arm("A | _ => x"));
    assert!(has_wildcard_arm("match e { _ if late => x }"));
    assert!(!has_wildcard_arm("StoreError::Driver(_) => x"));
}

/// A test that is switched off is a promise that nobody keeps.
#[test]
fn no_test_is_switched_off() -> Outcome {
    let mut faults = Vec::new();
    for (path, text) in rust_files()? {
        for (line, number) in take_apart(&text).code.lines().zip(1..) {
            if line.trim_start().starts_with("#[ignore")
                || line.trim_start().starts_with("#[should_panic")
            {
                faults.push(format!("{path}:{number}: {}", line.trim()));
            }
        }
    }
    none(&faults);
    Ok(())
}

#[test]
fn every_code_of_a_fault_that_is_published_is_given() -> Outcome {
    let table = "api/src/body/fault/code.rs";
    let meanings = read(table)?;
    let codes: Vec<&str> = meanings
        .lines()
        .take_while(|line| *line != "];")
        .filter_map(|line| {
            let line = line.trim().trim_start_matches('(');
            line.strip_prefix('"')?.split('"').next()
        })
        .filter(|text| text.chars().all(|c| c.is_ascii_lowercase() || c == '_'))
        .collect();
    assert!(codes.len() > 80, "{}", codes.len());
    let sources: Vec<(String, String)> = rust_files()?
        .into_iter()
        .filter(|(path, _)| {
            let gives = ["api/src/", "domain/src/handover/"];
            gives.iter().any(|start| path.starts_with(start)) && path != table
        })
        .collect();
    let is_given = |code: &str| {
        let quoted = format!("\"{code}\"");
        sources.iter().any(|(_, text)| text.contains(&quoted))
    };
    let idle = codes.iter().filter(|code| !is_given(code));
    let idle: Vec<String> = idle.map(|code| format!("{table}: `{code}`")).collect();
    none(&idle);
    Ok(())
}
