//! The floor under the dependencies (promise V-11): no version in `Cargo.lock` is older than the one that fixed a known
//! flaw, and some crates are not there at all. No feed of current advisories is read here; the list is kept by hand.

use std::error::Error;

use toml::{Table, Value};

/// Crates that may be present from this version on, and what was wrong before.
const FLOORS: [(&str, &str, &str); 11] = [
    (
        "actix-http",
        "3.12.1",
        "flaws of the HTTP/1 parser were fixed up to here",
    ),
    (
        "aws-lc-sys",
        "0.39.0",
        "RUSTSEC-2026-0044 to -0048: five flaws of the bundled C library",
    ),
    (
        "bytes",
        "1.11.1",
        "RUSTSEC-2026-0007: overflow when a buffer is reserved",
    ),
    (
        "crossbeam-epoch",
        "0.9.20",
        "RUSTSEC-2026-0204: formatting a pointer followed it",
    ),
    (
        "jsonwebtoken",
        "10.3.0",
        "CVE-2026-25537: a claim of the wrong type counted as absent",
    ),
    (
        "libsqlite3-sys",
        "0.37.0",
        "brings SQLite 3.51.3, which fixes a corruption when the write-ahead log restarts",
    ),
    (
        "quick-xml",
        "0.41.0",
        "RUSTSEC-2026-0194 and -0195: documents that take time or memory without bound",
    ),
    (
        "rustls",
        "0.23.45",
        "RUSTSEC-2026-0285: handshake messages taken at the wrong encryption level",
    ),
    (
        "rustls-webpki",
        "0.103.13",
        "RUSTSEC-2026-0049, -0098, -0099 and -0104: certificate checks",
    ),
    (
        "sqlx",
        "0.8.1",
        "RUSTSEC-2024-0363: lengths cut to 32 bits in the wire protocol",
    ),
    (
        "time",
        "0.3.47",
        "RUSTSEC-2026-0009: stack exhausted by nested input",
    ),
];

/// Versions that may be older, if nothing but the crate that is named asks for them, and why the flaw cannot be met there.
const SPARED: [(&str, &str, &str, &str); 1] = [(
    "quick-xml",
    "0.38.4",
    "citationberg",
    "it reads citation styles for the layout library; the one layout cites nothing and can name no file \
     (`the_layout_reaches_nothing_but_its_page` in `api/src/paper/press.rs`)",
)];

/// Crates that must not come in, not even through another crate.
const ABSENT: [(&str, &str); 5] = [
    ("actix-governor", "its licence is GPL-3.0-or-later"),
    ("native-tls", "one TLS stack: rustls"),
    ("openssl", "one TLS stack: rustls"),
    ("openssl-sys", "one TLS stack: rustls"),
    (
        "rsa",
        "RUSTSEC-2023-0071, a timing side channel without a fix",
    ),
];

#[test]
fn v_11_no_dependency_is_older_than_its_fix() -> Result<(), Box<dyn Error>> {
    let found = faults(include_str!("../../Cargo.lock"))?;
    assert!(found.is_empty(), "{}", found.join("\n"));
    Ok(())
}

/// The control: without it, a parser that reads nothing would pass for ever.
#[test]
fn v_11_an_old_a_banned_and_a_foreign_package_are_seen() -> Result<(), Box<dyn Error>> {
    let registry = "source = \"registry+https://example.org/index\"";
    let lock = format!(
        "[[package]]\nname = \"rustls\"\nversion = \"0.23.9\"\n{registry}\n\
         [[package]]\nname = \"rustls\"\nversion = \"0.23.45\"\n{registry}\n\
         [[package]]\nname = \"sqlx\"\nversion = \"0.8.1-alpha.1\"\n{registry}\n\
         [[package]]\nname = \"openssl\"\nversion = \"9.0.0\"\n{registry}\n\
         [[package]]\nname = \"serde\"\nversion = \"1.0.0\"\nsource = \"git+https://example.org/serde\"\n"
    );
    let found = faults(&lock)?;
    let starts: Vec<String> = found
        .iter()
        .map(|fault| fault.split(':').next().unwrap_or_default().to_owned())
        .collect();
    assert_eq!(
        starts,
        [
            "rustls 0.23.9",
            "sqlx 0.8.1-alpha.1",
            "openssl 9.0.0",
            "serde 1.0.0"
        ]
    );
    Ok(())
}

/// What is spared for one crate is spared for no other.
#[test]
fn v_11_an_old_version_that_another_crate_asks_for_too_is_seen() -> Result<(), Box<dyn Error>> {
    let old = "[[package]]\nname = \"quick-xml\"\nversion = \"0.38.4\"\n";
    let asks = |name: &str| {
        format!(
            "[[package]]\nname = \"{name}\"\nversion = \"1.0.0\"\ndependencies = [\"quick-xml 0.38.4\"]\n"
        )
    };
    let spared = format!("{old}{}", asks("citationberg"));
    assert_eq!(faults(&spared)?, Vec::<String>::new());
    for lock in [
        format!("{spared}{}", asks("infra")),
        format!("{old}{}", asks("infra")),
        old.to_owned(),
    ] {
        assert_eq!(faults(&lock)?.len(), 1, "{lock}");
    }
    Ok(())
}

fn faults(lock: &str) -> Result<Vec<String>, Box<dyn Error>> {
    let lock: Table = lock.parse()?;
    let packages = lock
        .get("package")
        .and_then(Value::as_array)
        .ok_or("the lock file names no package")?;
    let mut found = Vec::new();
    for package in packages {
        let text = |key: &str| package.get(key).and_then(Value::as_str);
        let name = text("name").ok_or("a package without a name")?;
        let version = text("version").ok_or("a package without a version")?;
        for (_, floor, why) in FLOORS.iter().filter(|(of, ..)| *of == name) {
            if parts(version)? < parts(floor)? && !is_spared(name, version, packages) {
                found.push(format!("{name} {version}: at least {floor} ({why})"));
            }
        }
        for (_, why) in ABSENT.iter().filter(|(of, _)| *of == name) {
            found.push(format!("{name} {version}: must not be used ({why})"));
        }
        if text("source").is_some_and(|source| !source.starts_with("registry+")) {
            found.push(format!(
                "{name} {version}: does not come from the public registry"
            ));
        }
    }
    Ok(found)
}

/// Whether an old version is one that may stay, asked for by nothing but the crate for which it may.
fn is_spared(name: &str, version: &str, packages: &[Value]) -> bool {
    let wanted = format!("{name} {version}");
    let asks = |package: &&Value| {
        let dependencies = package.get("dependencies").and_then(Value::as_array);
        let mut dependencies = dependencies.into_iter().flatten().filter_map(Value::as_str);
        // Where there is only one version, its number is left out.
        dependencies.any(|of| of == wanted || of == name)
    };
    let asking: Vec<&str> = packages
        .iter()
        .filter(asks)
        .filter_map(|package| package.get("name").and_then(Value::as_str))
        .collect();
    SPARED
        .iter()
        .any(|(of, old, by, _)| (*of, *old) == (name, version) && asking == [*by])
}

/// Major, minor, patch, and last whether it is a release: a pre-release is older than the release of its number.
fn parts(version: &str) -> Result<(u64, u64, u64, bool), Box<dyn Error>> {
    let without_build = version.split('+').next().unwrap_or(version);
    let (numbers, release) = match without_build.split_once('-') {
        Some((numbers, _)) => (numbers, false),
        None => (without_build, true),
    };
    let mut numbers = numbers.split('.').map(str::parse::<u64>);
    let mut next = || {
        numbers
            .next()
            .ok_or_else(|| format!("{version} has too few numbers"))
    };
    Ok((next()??, next()??, next()??, release))
}
