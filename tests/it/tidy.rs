//! The house keeps itself: the rules about crates, sources and documents that no compiler and no lint checks. A rule
//! that a person must remember is a rule that is broken by spring.

mod crates;
mod documents;
mod knowledge;
mod promises;
mod rust;
mod source;

use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};

type Outcome = Result<(), Box<dyn Error>>;

/// What neither the walk nor the list of top-level entries looks at: made by tools, or not under version control.
const IGNORED: [&str; 4] = [".git", ".tmp", "node_modules", "target"];

/// One file of the tree.
struct File {
    /// From the root of the repository, with forward slashes.
    path: String,
    /// `None` if the file is not text.
    text: Option<String>,
}

fn root() -> &'static Path {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    tests.parent().unwrap_or(tests)
}

fn read(path: &str) -> Result<String, String> {
    fs::read_to_string(root().join(path)).map_err(|error| format!("{path}: {error}"))
}

fn is_ignored(name: &str) -> bool {
    IGNORED.contains(&name) || name.contains(".sqlite")
}

/// Names of the entries of a directory, in order.
fn entries(directory: &Path) -> Result<Vec<String>, Box<dyn Error>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(directory)? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        if !is_ignored(&name) {
            names.push(name);
        }
    }
    names.sort();
    Ok(names)
}

/// Every file of the tree in the order of its path.
fn files() -> Result<Vec<File>, Box<dyn Error>> {
    let mut found = Vec::new();
    let mut waiting: Vec<PathBuf> = vec![root().to_owned()];
    while let Some(directory) = waiting.pop() {
        for name in entries(&directory)? {
            let path = directory.join(name);
            if path.is_dir() {
                waiting.push(path);
            } else {
                let relative = path.strip_prefix(root())?.to_string_lossy();
                found.push(File {
                    path: relative.replace('\\', "/"),
                    text: String::from_utf8(fs::read(&path)?).ok(),
                });
            }
        }
    }
    found.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(found)
}

/// Path and text of every Rust file.
fn rust_files() -> Result<Vec<(String, String)>, Box<dyn Error>> {
    let rust = files()?
        .into_iter()
        .filter(|file| has_extension(&file.path, "rs"))
        .filter_map(|file| Some((file.path, file.text?)));
    Ok(rust.collect())
}

fn has_extension(path: &str, extension: &str) -> bool {
    Path::new(path)
        .extension()
        .is_some_and(|found| found == extension)
}

/// Ends a test: every fault is shown, not only the first.
#[track_caller]
fn none(faults: &[String]) {
    let n_faults = faults.len();
    assert!(
        faults.is_empty(),
        "{n_faults} faults:\n{}",
        faults.join("\n")
    );
}

#[test]
fn the_top_level_holds_what_was_agreed_and_nothing_else() -> Outcome {
    const FIXED: [&str; 11] = [
        "Cargo.toml",
        "DEVELOPERS.md",
        "README.md",
        "api",
        "docker-compose.yml",
        "domain",
        "infra",
        "migrations",
        "openapi",
        "tests",
        ".ci",
    ];
    const DEMANDED_BY_TOOLS: [&str; 2] = ["Cargo.lock", "LICENSE"];
    let found = entries(root())?;
    let mut faults = Vec::new();
    for name in &found {
        let agreed = FIXED.contains(&name.as_str()) || DEMANDED_BY_TOOLS.contains(&name.as_str());
        if !agreed && !name.starts_with('.') {
            faults.push(format!("{name}: does not belong at the top level"));
        }
    }
    for name in FIXED.iter().chain(&DEMANDED_BY_TOOLS) {
        if !found.iter().any(|entry| entry == name) {
            faults.push(format!("{name}: is missing at the top level"));
        }
    }
    none(&faults);
    Ok(())
}

#[test]
fn no_file_names_a_path_of_one_machine() -> Outcome {
    // Put together here, so that this file does not name them itself.
    let foreign: Vec<String> = ["work", "root", "farm"]
        .map(|folder| format!("/{folder}/"))
        .into();
    let mut faults = Vec::new();
    for file in files()? {
        for (line, number) in file.text.iter().flat_map(|text| text.lines()).zip(1..) {
            for path in &foreign {
                if line
                    .match_indices(path.as_str())
                    .any(|(at, _)| starts_a_path(line, at))
                {
                    faults.push(format!("{}:{number}: names {path}", file.path));
                }
            }
        }
    }
    none(&faults);
    Ok(())
}

/// Whether the slash at `at` begins a path, as against `src/work/` or `https://host/work/`.
fn starts_a_path(line: &str, at: usize) -> bool {
    let before = line.get(..at).and_then(|text| text.chars().next_back());
    before.is_none_or(|c| !c.is_alphanumeric() && !"_-.~/*}]>)$".contains(c))
}

#[test]
fn a_path_is_told_from_the_middle_of_one() {
    assert!(starts_a_path("cd /etc/x", 3));
    assert!(starts_a_path("\"/etc/x\"", 1));
    assert!(!starts_a_path("src/etc/x", 3));
}
