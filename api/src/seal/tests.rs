//! What opens, and what does not.

use domain::id::TenantId;
use uuid::Uuid;

use super::{Place, SealError, SealKeys};
use crate::config::{SealConfig, SealKeyConfig, Secret};

/// A key, and what `AESGCM` of the Python package `cryptography` 48.0.0 made with it of [`PLAIN`], the nonce being the
/// bytes 100 to 111 and the associated data put together as the module says.
const KEY: &str = "AQIDBAUGBwgJCgsMDQ4PEBESExQVFhcYGRobHB0eHyA=";
const SEALED_ELSEWHERE: &str =
    "s1.k1.ZGVmZ2hpamtsbW5vFzcSOLHs0xuXM9a4fUCLWdTyebLflJJgxEY9mqYqFXeZ_HDGlUFGrko";
const PLAIN: &[u8] = b"what nobody else may read";

fn keys(named: &[(&str, &str)]) -> SealKeys {
    let keys = named.iter().map(|(name, material)| SealKeyConfig {
        name: (*name).to_owned(),
        material: Secret::new(*material),
    });
    let config = SealConfig {
        keys: keys.collect(),
    };
    SealKeys::new(&config).unwrap()
}

fn place() -> Place {
    let id = |text| Uuid::try_parse(text).unwrap();
    Place {
        tenant: TenantId::from_uuid(id("01890a5d-ac96-774b-bcce-b302099a8057")),
        purpose: "contractor_source",
        row: id("01890a5d-ac96-774b-bcce-b302099a8058"),
    }
}

#[test]
fn what_another_library_sealed_is_opened() {
    let opened = keys(&[("k1", KEY)]).open(&place(), SEALED_ELSEWHERE);
    assert_eq!(opened.unwrap(), PLAIN);
}

#[test]
fn s_054_what_was_sealed_opens_at_its_place_alone() {
    let keys = keys(&[("k1", KEY)]);
    let sealed = keys.seal(&place(), PLAIN).unwrap();
    assert_eq!(keys.open(&place(), &sealed).unwrap(), PLAIN);
    assert_ne!(
        keys.seal(&place(), PLAIN).unwrap(),
        sealed,
        "each has a nonce of its own"
    );
    let elsewhere = [
        Place {
            tenant: TenantId::from_uuid(Uuid::nil()),
            ..place()
        },
        Place {
            purpose: "webhook_endpoint",
            ..place()
        },
        Place {
            row: Uuid::nil(),
            ..place()
        },
    ];
    for other in elsewhere {
        assert_eq!(
            keys.open(&other, &sealed),
            Err(SealError::Forged),
            "{other:?}"
        );
    }
}

#[test]
fn a_changed_text_is_not_opened() {
    let keys = keys(&[("k1", KEY), ("k2", KEY)]);
    let characters = SEALED_ELSEWHERE.chars().count();
    for at in 0..characters {
        let flip = |(index, found): (usize, char)| match found {
            found if index != at => found,
            'A' => 'B',
            _ => 'A',
        };
        let changed: String = SEALED_ELSEWHERE.chars().enumerate().map(flip).collect();
        assert!(keys.open(&place(), &changed).is_err(), "{changed}");
    }
    let renamed = SEALED_ELSEWHERE.replace(".k1.", ".k2.");
    assert_eq!(keys.open(&place(), &renamed), Err(SealError::Forged));
    for cut in ["", "s1", "s1.k1", "s1.k1.", "s1.k1.ZGVm", "k1.ZGVm"] {
        assert!(keys.open(&place(), cut).is_err(), "{cut}");
    }
}

#[test]
fn after_a_rotation_the_new_key_seals_and_the_old_one_still_opens() {
    let other = SealKeys::random_key().unwrap();
    let rotated = keys(&[("k2", &other), ("k1", KEY)]);
    assert_eq!(rotated.open(&place(), SEALED_ELSEWHERE).unwrap(), PLAIN);
    let sealed = rotated.seal(&place(), PLAIN).unwrap();
    assert!(sealed.starts_with("s1.k2."));
    let gone = keys(&[("k2", &other)]);
    assert_eq!(gone.open(&place(), &sealed).unwrap(), PLAIN);
    assert_eq!(
        gone.open(&place(), SEALED_ELSEWHERE),
        Err(SealError::UnknownKey)
    );
    assert_eq!(keys(&[]).seal(&place(), PLAIN), Err(SealError::NoKey));
}

#[test]
fn keys_show_nothing_of_themselves() {
    assert_eq!(
        format!("{:?}", keys(&[("k1", KEY)])),
        "SealKeys([redacted])"
    );
}
