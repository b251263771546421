//! Keys that are taken and keys that are refused; the pairs were made for these tests and thrown away.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::DateTime;
use jsonwebtoken::{Algorithm, EncodingKey, crypto};

use super::{KeyFault, VerifyKey};
use crate::{
    auth::token::Verifier,
    config::{AuthConfig, AuthKey, Config, Secret},
};

const RSA_2048: &str = "\
-----BEGIN PUBLIC KEY-----
MIIBIjANBgkqhkiG9w0BAQEFAAOCAQ8AMIIBCgKCAQEAuIONoLNGXObga4X4N99n
EEWkdHe2wbPQYlykvyWhxtIvuc+EXBHFzlssJkgs6U5ph2MNkr8NHlZWvdNOiweu
6yf8AZzrY6xf03mVEzZC/rEzUgcNpo+2gWswwzqAxdCwiDNs1EAPTI/FQsqZv2/y
OvILHmk7RFm35hX7MGgivTlr8OCdHSrg1E03ZstSj9WHXnQFBteb/opoj9cgLZ3O
e7C1c4uFefUZjXCGSt5OqTm7zV1JuM5fcw2fIGBVNwDfTC95wGnV0xkAiCZnOuP1
5JP6WxoXT1GCqD2NFMHYHqV4wpKqsFyPi/6G5YBbrjsKrCaaVDKF48KavxkrmM67
iwIDAQAB
-----END PUBLIC KEY-----";
const RSA_1024: &str = "\
-----BEGIN PUBLIC KEY-----
MIGfMA0GCSqGSIb3DQEBAQUAA4GNADCBiQKBgQDVAP+MG4JH33hwfTv9aMOO38VH
oJfBpP+x+DAf2Y/gxrV0jt9mBIxUGTe1J8RKWKTVTeuC3Yj3QZReA9xIyhPyJ1RG
Nh5AWqJ94PIRisspOsinHD0/kjuTaN0/O2NAlMcmBy74tle7ra3wPReRZHY5Tt8x
cA5g5zsqIedxCZ1P5wIDAQAB
-----END PUBLIC KEY-----";
const ED25519: &str = "\
-----BEGIN PUBLIC KEY-----
MCowBQYDK2VwAyEAfSnJgGJ7V2kHl4/PyTBwMR6FVYYrmu+Jw3nvEVYcXaw=
-----END PUBLIC KEY-----";
const P256: &str = "\
-----BEGIN PUBLIC KEY-----
MFkwEwYHKoZIzj0CAQYIKoZIzj0DAQcDQgAEFilLbp7TLFBRA5mOMegFAaB8cqSa
gBk/FaMVryBZaw0xEtw5Kvjyum7ZofaT95ep/TrOZHCQ8JVkgihvK8BGcg==
-----END PUBLIC KEY-----";
const P384: &str = "\
-----BEGIN PUBLIC KEY-----
MHYwEAYHKoZIzj0CAQYFK4EEACIDYgAEU7dPJTtN16ZCnkzdEvUdnUBHn2FgNqp+
aGd9/ieTy8B3i52uYieulNF8LE9ecDpylHwVl+/UXwLNWe5zgKmUJ6kZ470U/+5Y
ib29sDFhQHZ95MBYdn5rfKXUvJiTRvks
-----END PUBLIC KEY-----";

const CLAIMS: &str = r#"{"iss":"wearcourse","aud":"wearcourse","sub":"ann","tenant":"north","iat":1780315200,"exp":1780315800}"#;

fn taken(algorithm: Algorithm, material: &str) -> Result<(), KeyFault> {
    let key = AuthKey {
        id: None,
        material: Secret::new(material),
    };
    VerifyKey::new(algorithm, &key).map(|_| ())
}

fn verifier(algorithm: Algorithm, material: &str) -> Verifier {
    let config = Config::from_vars::<String, String>([]).unwrap();
    let key = AuthKey {
        id: None,
        material: Secret::new(material),
    };
    let auth = AuthConfig {
        algorithm,
        keys: vec![key],
        ..config.auth
    };
    Verifier::new(&auth).unwrap()
}

fn message(alg: &str) -> String {
    let header = format!(r#"{{"alg":"{alg}","typ":"at+jwt"}}"#);
    format!(
        "{}.{}",
        URL_SAFE_NO_PAD.encode(header),
        URL_SAFE_NO_PAD.encode(CLAIMS)
    )
}

#[test]
fn s_030_short_keys_private_keys_and_keys_of_another_kind_are_refused() {
    for (algorithm, good) in [
        (Algorithm::RS256, RSA_2048),
        (Algorithm::EdDSA, ED25519),
        (Algorithm::ES256, P256),
    ] {
        assert_eq!(taken(algorithm, good), Ok(()));
        for other in [RSA_2048, RSA_1024, ED25519, P256, P384]
            .iter()
            .filter(|key| **key != good)
        {
            assert!(taken(algorithm, other).is_err(), "{algorithm:?} {other}");
        }
        let private = good.replace("PUBLIC", "PRIVATE");
        for bad in [
            "",
            "secret",
            "0123456789abcdef0123456789abcdef",
            private.as_str(),
        ] {
            assert_eq!(taken(algorithm, bad), Err(KeyFault::NotPublicPem));
        }
    }
    assert_eq!(
        taken(Algorithm::RS256, RSA_1024),
        Err(KeyFault::ShortModulus)
    );
    assert_eq!(
        taken(Algorithm::HS512, "0123456789abcdef0123456789abcdef"),
        Err(KeyFault::Algorithm)
    );
}

#[test]
fn tokens_signed_by_another_program_are_accepted_under_their_own_algorithm_only() {
    let now = DateTime::from_timestamp(1_780_315_200, 0).unwrap();
    let cases = [
        (
            Algorithm::RS256,
            "RS256",
            RSA_2048,
            "qN-aDd2MhL6zdv27Jh0uBcyLLl_JwEDG6TFmc9qnTATPBS9EKMAhgTdepQ_8hzK4VGJG8GMhQag2TVE2n72FZdszy_AVqnqM5MULOp9Um0-KrkNb6JISEvPgBXMmH4jWHcx-w0vFTXSyPQ1gwO3wYaLU_GK45jv7kLMM2Y5lEk4dUNsq7b29NW9n0zf09dSGaZMmUsZU3HxaJXAi3ICBXKTGYsuYQ0AFVubl9xfUiFpQ90aaZ3QDxrXYYPgeCp21gaUGCHtaJ2OxNTNkdGCvh6HcVdyXMr3oYAV-vRpcc9y2IV7G1VWRrSr9SS8fCLcFcFiCZ6QtFQS3VPLW6hfX1Q",
        ),
        (
            Algorithm::EdDSA,
            "EdDSA",
            ED25519,
            "TjrgKyXsUNyKjkTDca5_0TenkLJIQjnMPz8zXadWsMC38qIIVQ_EZexQGFt4cix0faloT7BsA-3yBnc8pVIOAg",
        ),
        (
            Algorithm::ES256,
            "ES256",
            P256,
            "WpdP3Dyp1vVoxkIzWLhQOrpMRhdmesvaedDhj_AqzniES4-Hbhkd0gGyuXWdHKtUW7VvkTEcGat0EPy6fQcLjQ",
        ),
    ];
    for (algorithm, name, key, signature) in cases {
        let verifier = verifier(algorithm, key);
        let token = format!("{}.{signature}", message(name));
        assert!(verifier.verify(&token, now).is_ok(), "{name}");
        for other in ["HS256", "RS256", "ES256", "EdDSA", "PS256"]
            .iter()
            .filter(|alg| **alg != name)
        {
            let token = format!("{}.{signature}", message(other));
            assert!(verifier.verify(&token, now).is_err(), "{name} as {other}");
        }
    }
}

#[test]
fn s_021_a_public_key_is_no_secret() {
    let now = DateTime::from_timestamp(1_780_315_200, 0).unwrap();
    let verifier = verifier(Algorithm::RS256, RSA_2048);
    for alg in ["HS256", "RS256"] {
        let key = EncodingKey::from_secret(RSA_2048.as_bytes());
        let message = message(alg);
        let signature = crypto::sign(message.as_bytes(), &key, Algorithm::HS256).unwrap();
        assert!(
            verifier
                .verify(&format!("{message}.{signature}"), now)
                .is_err()
        );
    }
}
