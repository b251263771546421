//! What secrets are sealed with before they go into the database.

use std::collections::BTreeSet;

use base64::{Engine, engine::general_purpose::STANDARD};

use super::{Secret, source::Source};
use crate::seal::{KEY_LENGTH, SealKeys};

/// The most keys that are configured at a time: the one of now and those before.
const MAX_KEYS: usize = 8;
/// The longest name of a key, in bytes.
const MAX_NAME: usize = 32;
/// The least number of different bytes in a key: fewer is a word repeated.
const MIN_DISTINCT: usize = 8;

/// A key that seals, with the name under which sealed secrets know it.
#[derive(Debug, Clone)]
pub struct SealKeyConfig {
    /// Its name: letters, digits, `-` and `_`.
    pub name: String,
    /// The base64 of its 32 bytes.
    pub material: Secret,
}

/// The keys that seal secrets.
#[derive(Debug, Clone, Default)]
pub struct SealConfig {
    /// `WEARCOURSE_SEAL_KEYS` or `WEARCOURSE_SEAL_KEYS_FILE`: the first seals, all open; none: no secret can be kept.
    pub keys: Vec<SealKeyConfig>,
}

impl SealConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let name = "WEARCOURSE_SEAL_KEYS";
        let Some(text) = source.secret(name) else {
            return Self::default();
        };
        let keys: Vec<_> = text.expose().split_whitespace().map(read).collect();
        let names: BTreeSet<_> = keys.iter().flatten().map(|key| &key.name).collect();
        let form = "must be `name:` and the base64 of 32 random bytes, 1 to 8 of them, separated by spaces, each with a name \
                    of its own";
        if keys.is_empty() || keys.len() > MAX_KEYS || names.len() != keys.len() {
            source.fault(name, form);
            return Self::default();
        }
        Self {
            keys: keys.into_iter().flatten().collect(),
        }
    }

    /// A key of this process alone, for what is thrown away with it.
    ///
    /// # Errors
    /// [`SealError`](crate::seal::SealError) if the machine has no random bytes.
    pub(crate) fn made_up() -> Result<Self, crate::seal::SealError> {
        let key = SealKeyConfig {
            name: "made-up".to_owned(),
            material: Secret::new(SealKeys::random_key()?),
        };
        Ok(Self { keys: vec![key] })
    }
}

/// A key, if it has the form and is not easy to guess.
fn read(text: &str) -> Option<SealKeyConfig> {
    let (name, material) = text.split_once(':')?;
    let is_name = (1..=MAX_NAME).contains(&name.len())
        && name
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || b"-_".contains(&byte));
    let bytes = STANDARD.decode(material).ok()?;
    let distinct = bytes.iter().collect::<BTreeSet<_>>().len();
    (is_name && bytes.len() == KEY_LENGTH && distinct >= MIN_DISTINCT).then(|| SealKeyConfig {
        name: name.to_owned(),
        material: Secret::new(material),
    })
}
