//! Where variables come from, and the faults that they have.

use std::{collections::BTreeMap, fmt, ops::RangeInclusive, path::Path, str::FromStr};

use super::{Secret, VARIABLES};

/// What every variable of ours starts with.
const PREFIX: &str = "WEARCOURSE_";
/// What variables of the project's own tests start with; they mean nothing to the service.
const TESTS: &str = "WEARCOURSE_TEST_";
/// What is added to the name of a secret to read it from a file.
const FILE: &str = "_FILE";

/// One variable, as the README lists it.
#[derive(Debug, Clone, Copy)]
pub struct Variable {
    /// Its name.
    pub name: &'static str,
    /// What is assumed without it.
    pub default: &'static str,
    /// What it means, with its unit and range.
    pub meaning: &'static str,
    /// Whether it is a secret: `<name>_FILE` may name a file that holds it.
    pub secret: bool,
}

impl Variable {
    pub(super) const fn new(
        name: &'static str,
        default: &'static str,
        meaning: &'static str,
    ) -> Self {
        Self {
            name,
            default,
            meaning,
            secret: false,
        }
    }

    pub(super) const fn secret(
        name: &'static str,
        default: &'static str,
        meaning: &'static str,
    ) -> Self {
        Self {
            name,
            default,
            meaning,
            secret: true,
        }
    }
}

/// Everything that is wrong with the configuration; names variables and never shows their values.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfigFaults(Vec<String>);

impl ConfigFaults {
    /// One sentence for each fault.
    pub fn sentences(&self) -> &[String] {
        &self.0
    }

    /// A single fault, found after the variables were read.
    pub(crate) fn one(sentence: impl Into<String>) -> Self {
        Self(vec![sentence.into()])
    }

    /// Goes on if there is none.
    pub(super) fn finish(faults: Vec<String>) -> Result<(), Self> {
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Self(faults))
        }
    }
}

impl fmt::Display for ConfigFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the configuration has faults:")?;
        self.0.iter().try_for_each(|fault| write!(f, "\n- {fault}"))
    }
}

impl std::error::Error for ConfigFaults {}

/// The variables of one process.
pub(super) struct Source {
    variables: BTreeMap<String, String>,
    faults: Vec<String>,
}

impl Source {
    /// The variables of ours among these; the value is none where it is not UTF-8. One that is set to nothing is a fault:
    /// it is what a template leaves whose own variable was not set, and the default is not what was meant.
    pub(super) fn new(variables: impl Iterator<Item = (String, Option<String>)>) -> Self {
        let ours = |name: &str| name.starts_with(PREFIX) && !name.starts_with(TESTS);
        let mut source = Self {
            variables: BTreeMap::new(),
            faults: Vec::new(),
        };
        for (name, value) in variables.filter(|(name, _)| ours(name)) {
            match value.as_deref() {
                None => source.fault(&name, "is not UTF-8"),
                Some("") => source.fault(
                    &name,
                    "is set to nothing; set it, or unset it for its default",
                ),
                Some(_) => {}
            }
            source.variables.insert(name, value.unwrap_or_default());
        }
        source.refuse_unknown();
        source
    }

    fn refuse_unknown(&mut self) {
        let is_known = |name: &str| {
            VARIABLES.iter().any(|variable| {
                name == variable.name
                    || (variable.secret && name.strip_suffix(FILE) == Some(variable.name))
            })
        };
        let unknown = self.variables.keys().filter(|name| !is_known(name));
        self.faults
            .extend(unknown.map(|name| format!("{name} is not a variable of this service")));
    }

    /// Notes a fault.
    pub(super) fn fault(&mut self, name: &str, what: impl fmt::Display) {
        self.faults.push(format!("{name} {what}"));
    }

    /// The value, if it is set and not empty.
    pub(super) fn text(&self, name: &str) -> Option<String> {
        self.variables
            .get(name)
            .filter(|value| !value.is_empty())
            .cloned()
    }

    /// The value read as what it stands for; `form` says what that is.
    pub(super) fn parsed<T: FromStr>(&mut self, name: &str, default: T, form: &str) -> T {
        let Some(text) = self.text(name) else {
            return default;
        };
        text.parse().unwrap_or_else(|_| {
            self.fault(name, format_args!("must be {form}"));
            default
        })
    }

    /// A whole number in a range.
    pub(super) fn number(&mut self, name: &str, default: u32, range: RangeInclusive<u32>) -> u32 {
        let form = format!("a whole number from {} to {}", range.start(), range.end());
        let number = self.parsed(name, default, &form);
        if range.contains(&number) {
            return number;
        }
        self.fault(name, format_args!("must be {form}"));
        default
    }

    /// `on` or `off`.
    pub(super) fn switch(&mut self, name: &str) -> Option<bool> {
        match self.text(name)?.as_str() {
            "on" => Some(true),
            "off" => Some(false),
            _ => {
                self.fault(name, "must be `on` or `off`");
                None
            }
        }
    }

    /// The text of a file that a variable names, without a final line feed.
    pub(super) fn file(&mut self, name: &str) -> Option<Secret> {
        let path = self.text(name)?;
        match std::fs::read_to_string(Path::new(&path)) {
            Ok(text) => Some(Secret::new(text.trim_end_matches(['\r', '\n']))),
            Err(error) => {
                self.fault(
                    name,
                    format_args!("names a file that cannot be read: {}", error.kind()),
                );
                None
            }
        }
    }

    /// A secret, from its variable or from the file that `<name>_FILE` names.
    pub(super) fn secret(&mut self, name: &str) -> Option<Secret> {
        let file = format!("{name}{FILE}");
        match (self.text(name), self.text(&file)) {
            (Some(_), Some(_)) => {
                self.fault(name, format_args!("and {file} are both set; set one"));
                None
            }
            (Some(text), None) => Some(Secret::new(text)),
            (None, _) => self.file(&file),
        }
    }

    /// Goes on if there is no fault.
    pub(super) fn finish(self) -> Result<(), ConfigFaults> {
        if self.faults.is_empty() {
            Ok(())
        } else {
            Err(ConfigFaults(self.faults))
        }
    }
}
