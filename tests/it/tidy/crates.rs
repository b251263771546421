//! The arrows between the crates, read from their manifests: `api -> infra -> domain`, `infra -> migrations`.

use toml::{Table, Value};

use super::{Outcome, none, read};

/// A crate, the crates of the workspace that it may use, and outside crates that belong to another layer.
struct Layer {
    name: &'static str,
    may_use: &'static [&'static str],
    foreign: &'static [&'static str],
}

const DATABASE: &[&str] = &["sea-orm", "sea-orm-migration", "sqlx", "postgres"];
const WEB: &[&str] = &[
    "actix-web",
    "jsonschema",
    "jsonwebtoken",
    "utoipa",
    "utoipa-swagger-ui",
];

const LAYERS: [Layer; 5] = [
    Layer {
        name: "domain",
        may_use: &[],
        foreign: &[
            "actix-web",
            "async-trait",
            "futures-util",
            "jsonschema",
            "jsonwebtoken",
            "postgres",
            "reqwest",
            "sea-orm",
            "sea-orm-migration",
            "serde_json",
            "sqlx",
            "tokio",
            "tracing",
            "utoipa",
        ],
    },
    Layer {
        name: "migrations",
        may_use: &[],
        foreign: WEB,
    },
    Layer {
        name: "infra",
        may_use: &["domain", "migrations"],
        foreign: WEB,
    },
    Layer {
        name: "api",
        may_use: &["domain", "infra"],
        foreign: DATABASE,
    },
    Layer {
        name: "tests",
        may_use: &["api", "domain", "infra"],
        // The driver alone is what the bare servers of `load/` are made of.
        foreign: &["sea-orm", "sea-orm-migration"],
    },
];

#[test]
fn crates_depend_in_one_direction() -> Outcome {
    let mut faults = Vec::new();
    for layer in &LAYERS {
        for (used, _) in dependencies(&manifest(layer.name)?) {
            let is_ours = LAYERS.iter().any(|other| other.name == used);
            if is_ours && !layer.may_use.contains(&used.as_str()) {
                faults.push(format!("{} may not use {used}", layer.name));
            }
            if layer.foreign.contains(&used.as_str()) {
                faults.push(format!(
                    "{} may not use {used}: it belongs to another layer",
                    layer.name
                ));
            }
        }
    }
    none(&faults);
    Ok(())
}

#[test]
fn every_version_is_chosen_once_for_the_whole_workspace() -> Outcome {
    let mut faults = Vec::new();
    for layer in &LAYERS {
        for (used, value) in dependencies(&manifest(layer.name)?) {
            if value.get("workspace").and_then(Value::as_bool) != Some(true) {
                faults.push(format!("{}: {used} must say workspace = true", layer.name));
            }
        }
    }
    none(&faults);
    Ok(())
}

/// Unsafe code is forbidden once, in the lints of the workspace, and every crate takes them.
#[test]
fn every_crate_takes_the_lints_of_the_workspace() -> Outcome {
    let mut faults = Vec::new();
    let whole: Table = read("Cargo.toml")?.parse()?;
    let unsafe_code = whole
        .get("workspace")
        .and_then(|workspace| workspace.get("lints")?.get("rust")?.get("unsafe_code"));
    if unsafe_code.and_then(Value::as_str) != Some("forbid") {
        faults.push("Cargo.toml: unsafe_code must be forbidden".to_owned());
    }
    let members = whole
        .get("workspace")
        .and_then(|workspace| workspace.get("members")?.as_array());
    if members.map(Vec::len) != Some(LAYERS.len()) {
        faults.push("Cargo.toml: the members are not the crates that this test knows".to_owned());
    }
    for layer in &LAYERS {
        let lints = manifest(layer.name)?;
        let taken = lints
            .get("lints")
            .and_then(|lints| lints.get("workspace")?.as_bool());
        if taken != Some(true) {
            faults.push(format!(
                "{}/Cargo.toml: [lints] workspace = true is missing",
                layer.name
            ));
        }
    }
    none(&faults);
    Ok(())
}

fn manifest(name: &str) -> Result<Table, Box<dyn std::error::Error>> {
    Ok(read(&format!("{name}/Cargo.toml"))?.parse()?)
}

/// Names (the real ones, not the local ones) and settings of everything that a manifest depends on, tests included.
fn dependencies(manifest: &Table) -> Vec<(String, Value)> {
    let own = std::iter::once(manifest);
    let by_target = manifest
        .get("target")
        .and_then(Value::as_table)
        .into_iter()
        .flat_map(|targets| targets.values().filter_map(Value::as_table));
    let mut found = Vec::new();
    for section in own.chain(by_target) {
        for kind in ["dependencies", "dev-dependencies", "build-dependencies"] {
            for (name, value) in section
                .get(kind)
                .and_then(Value::as_table)
                .into_iter()
                .flatten()
            {
                let real = value.get("package").and_then(Value::as_str).unwrap_or(name);
                found.push((real.to_owned(), value.clone()));
            }
        }
    }
    found
}

#[test]
fn a_dependency_is_seen_in_every_kind_and_under_its_real_name() -> Outcome {
    let manifest: Table = "[dependencies]\na = '1'\n[dev-dependencies]\nb = { package = 'sqlx' }\n\
                           [target.'cfg(unix)'.build-dependencies]\nc = '1'\n"
        .parse()?;
    let names: Vec<String> = dependencies(&manifest)
        .into_iter()
        .map(|(name, _)| name)
        .collect();
    assert_eq!(names, ["a", "sqlx", "c"]);
    Ok(())
}
