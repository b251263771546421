//! Tokens that must not be accepted, and the few that must.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::{DateTime, Utc};
use jsonwebtoken::{Algorithm, EncodingKey, crypto};
use serde_json::{Value, json};

use super::{Claims, Verifier};
use crate::config::{AuthConfig, Config};

const SECRET: &str = "correct horse battery staple, 32 bytes";
const OLD: &str = "the secret before the rotation, still long";
const NOW: i64 = 1_780_315_200;

fn config(more: &[(&str, &str)]) -> AuthConfig {
    let base = [("WEARCOURSE_AUTH_SECRET", SECRET)];
    Config::from_vars(base.iter().chain(more).copied())
        .unwrap()
        .auth
}

fn verifier() -> Verifier {
    Verifier::new(&config(&[])).unwrap()
}

fn now() -> DateTime<Utc> {
    DateTime::from_timestamp(NOW, 0).unwrap()
}

fn header() -> Value {
    json!({"alg": "HS256", "typ": "at+jwt"})
}

fn claims() -> Value {
    json!({
        "iss": "wearcourse", "aud": "wearcourse", "sub": "ann", "client_id": "app", "tenant": "north",
        "scope": "sites:read plans:read", "iat": NOW, "exp": NOW + 600,
    })
}

fn with(mut object: Value, name: &str, value: Value) -> Value {
    object[name] = value;
    object
}

fn without(mut object: Value, name: &str) -> Value {
    object.as_object_mut().unwrap().remove(name);
    object
}

/// Signs any two texts, whatever they say.
fn sign_text(header: &str, claims: &str, secret: &str, algorithm: Algorithm) -> String {
    let message = format!(
        "{}.{}",
        URL_SAFE_NO_PAD.encode(header),
        URL_SAFE_NO_PAD.encode(claims)
    );
    let key = EncodingKey::from_secret(secret.as_bytes());
    let signature = crypto::sign(message.as_bytes(), &key, algorithm).unwrap();
    format!("{message}.{signature}")
}

fn sign(header: &Value, claims: &Value) -> String {
    sign_text(
        &header.to_string(),
        &claims.to_string(),
        SECRET,
        Algorithm::HS256,
    )
}

fn accepted(token: &str) -> bool {
    verifier().verify(token, now()).is_ok()
}

#[test]
fn a_good_token_says_who_calls() {
    let said = verifier()
        .verify(&sign(&header(), &claims()), now())
        .unwrap();
    let expected = Claims {
        tenant: "north".to_owned(),
        subject: "ann".to_owned(),
        client_id: "app".to_owned(),
        scopes: vec!["sites:read".to_owned(), "plans:read".to_owned()],
        contractor: None,
        issued_s: claims()["iat"].as_i64().unwrap(),
        expires_s: NOW + 600,
    };
    assert_eq!(said, expected);
    assert!(accepted(&sign(
        &with(header(), "typ", json!("application/AT+JWT")),
        &claims()
    )));
}

#[test]
fn what_mint_makes_is_accepted() {
    let grant = crate::Grant {
        tenant: "north",
        subject: "ann",
        client_id: "cli",
        scope: "sites:read",
        contractor: None,
        life_s: 86_400,
    };
    let said = |grant: &crate::Grant<'_>| {
        let token = crate::mint(&config(&[]), grant, now()).unwrap();
        verifier().verify(&token, now())
    };
    assert_eq!(said(&grant).unwrap().client_id, "cli");
    let id = "con_01890a5d-ac96-774b-bcce-b302099a8057";
    let bound = crate::Grant {
        contractor: Some(id),
        ..grant
    };
    let contractor = said(&bound).unwrap().contractor;
    assert_eq!(contractor.map(|id| id.to_string()).as_deref(), Some(id));
}

#[test]
fn a_token_that_is_bound_to_nobody_known_by_id_is_refused() {
    for claim in [
        json!("con_1"),
        json!("srf_01890a5d-ac96-774b-bcce-b302099a8057"),
        json!(""),
        json!(null),
        json!(7),
        json!(["con_01890a5d-ac96-774b-bcce-b302099a8057"]),
    ] {
        let claims = with(claims(), "contractor", claim.clone());
        assert!(!accepted(&sign(&header(), &claims)), "{claim}");
    }
}

#[test]
fn s_020_unsigned_and_misshapen_tokens_are_refused() {
    for alg in ["none", "None", "NONE", "nOnE", ""] {
        let header = with(header(), "alg", json!(alg));
        let signed = sign(&header, &claims());
        let (unsigned, _) = signed.rsplit_once('.').unwrap();
        assert!(
            !accepted(&signed) && !accepted(&format!("{unsigned}.")),
            "{alg}"
        );
    }
    assert!(!accepted(&sign(&without(header(), "alg"), &claims())));
    let good = sign(&header(), &claims());
    let (two, signature) = good.rsplit_once('.').unwrap();
    let serialised = json!({"payload": "e30", "signature": signature}).to_string();
    for bad in [
        "",
        ".",
        "..",
        two,
        &format!("{two}."),
        &format!("{good}.x"),
        &serialised,
    ] {
        assert!(!accepted(bad), "{bad}");
    }
}

#[test]
fn s_021_one_algorithm_is_accepted() {
    for (name, algorithm) in [("HS384", Algorithm::HS384), ("HS512", Algorithm::HS512)] {
        for claimed in [name, "HS256"] {
            let header = with(header(), "alg", json!(claimed)).to_string();
            assert!(!accepted(&sign_text(
                &header,
                &claims().to_string(),
                SECRET,
                algorithm
            )));
        }
    }
    for alg in ["RS256", "ES256", "EdDSA", "hs256"] {
        assert!(
            !accepted(&sign(&with(header(), "alg", json!(alg)), &claims())),
            "{alg}"
        );
    }
}

#[test]
fn s_022_an_unknown_key_id_is_refused() {
    let hostile = [
        json!("unknown"),
        json!("../../dev/null"),
        json!("' OR 1=1--"),
        json!("k".repeat(10_000)),
        json!("a\0b"),
        json!(["a"]),
        json!(null),
    ];
    let named = Verifier::new(&config(&[("WEARCOURSE_AUTH_KEY_ID", "new")])).unwrap();
    for kid in hostile {
        let token = sign(&with(header(), "kid", kid.clone()), &claims());
        assert!(
            !accepted(&token) && named.verify(&token, now()).is_err(),
            "{kid}"
        );
    }
    let token = sign(&with(header(), "kid", json!("new")), &claims());
    assert!(named.verify(&token, now()).is_ok() && !accepted(&token));
    assert!(
        named.verify(&sign(&header(), &claims()), now()).is_ok(),
        "no key id is no lie"
    );
}

#[test]
fn s_023_s_024_keys_in_the_header_and_critical_extensions_are_refused() {
    for name in ["jku", "jwk", "x5u", "x5c", "crit", "b64", "zip", "enc"] {
        let header = with(header(), name, json!(["x"]));
        assert!(!accepted(&sign(&header, &claims())), "{name}");
    }
}

#[test]
fn s_025_times_are_whole_seconds_and_hold() {
    let at = |name: &str, value: Value| accepted(&sign(&header(), &with(claims(), name, value)));
    let old = with(claims(), "iat", json!(NOW - 600));
    let expiring = |exp: i64| accepted(&sign(&header(), &with(old.clone(), "exp", json!(exp))));
    assert!(!expiring(NOW - 31) && expiring(NOW - 29));
    assert!(!at("nbf", json!(NOW + 31)) && at("nbf", json!(NOW + 29)));
    assert!(!accepted(&sign(&header(), &without(claims(), "exp"))));
    for bad in [
        json!("1780315800"),
        json!(1_780_315_800.5),
        json!(-1),
        json!(1e300),
        json!(u64::MAX),
        json!(null),
    ] {
        assert!(
            !at("exp", bad.clone()) && !at("nbf", bad.clone()) && !at("iat", bad.clone()),
            "{bad}"
        );
    }
}

#[test]
fn s_026_audience_and_issuer_are_ours_and_of_the_right_type() {
    let with_claim =
        |name: &str, value: Value| accepted(&sign(&header(), &with(claims(), name, value)));
    for bad in [
        json!("other"),
        json!(7),
        json!([]),
        json!(["other"]),
        json!(null),
        json!({}),
        json!(["wearcourse", 7]),
    ] {
        assert!(!with_claim("aud", bad.clone()), "{bad}");
    }
    assert!(with_claim("aud", json!(["other", "wearcourse"])));
    for bad in [
        json!("wearcourse/"),
        json!("WEARCOURSE"),
        json!({"a": 1}),
        json!(["wearcourse"]),
        json!(7),
    ] {
        assert!(!with_claim("iss", bad.clone()), "{bad}");
    }
    for name in ["aud", "iss", "sub", "tenant", "iat"] {
        assert!(
            !accepted(&sign(&header(), &without(claims(), name))),
            "{name}"
        );
    }
    for bad in [
        json!(""),
        json!(7),
        json!(["north"]),
        json!("a\nb"),
        json!("x".repeat(256)),
    ] {
        assert!(
            !with_claim("tenant", bad.clone()) && !with_claim("sub", bad.clone()),
            "{bad}"
        );
        assert!(!with_claim("client_id", bad.clone()), "{bad}");
    }
}

#[test]
fn s_027_life_is_bounded_and_other_tokens_are_not_access_tokens() {
    let life = |iat: i64, exp: i64| {
        let claims = with(with(claims(), "iat", json!(iat)), "exp", json!(exp));
        accepted(&sign(&header(), &claims))
    };
    assert!(life(NOW, NOW + 86_400) && !life(NOW, NOW + 86_401));
    assert!(life(NOW + 29, NOW + 60) && !life(NOW + 31, NOW + 60));
    for typ in [
        json!("JWT"),
        json!("id+jwt"),
        json!("rt+jwt"),
        json!(""),
        json!(7),
    ] {
        assert!(
            !accepted(&sign(&with(header(), "typ", typ.clone()), &claims())),
            "{typ}"
        );
    }
    assert!(!accepted(&sign(&without(header(), "typ"), &claims())));
    let plain = Verifier::new(&config(&[("WEARCOURSE_AUTH_TOKEN_TYPE", "JWT")])).unwrap();
    let token = sign(&with(header(), "typ", json!("JWT")), &claims());
    assert!(plain.verify(&token, now()).is_ok());
}

#[test]
fn s_028_no_bit_of_a_signature_may_differ() {
    let good = sign(&header(), &claims());
    let (message, signature) = good.rsplit_once('.').unwrap();
    let bytes = URL_SAFE_NO_PAD.decode(signature).unwrap();
    for bit in 0..bytes.len() * 8 {
        let mut flipped = bytes.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        assert!(
            !accepted(&format!("{message}.{}", URL_SAFE_NO_PAD.encode(flipped))),
            "{bit}"
        );
    }
    assert!(!accepted(&format!("{good}=")) && !accepted(&format!("{good} ")));
    let other = sign(&header(), &with(claims(), "tenant", json!("south")));
    let (other, _) = other.rsplit_once('.').unwrap();
    assert!(!accepted(&format!("{other}.{signature}")));
    // The last character holds four bits of the signature and two of nothing.
    let twin = signature.replace(signature.chars().last().unwrap(), "_");
    assert!(twin == signature || !accepted(&format!("{message}.{twin}")));
}

#[test]
fn s_029_the_key_before_is_accepted_while_it_is_configured() {
    let token = sign_text(
        &header().to_string(),
        &claims().to_string(),
        OLD,
        Algorithm::HS256,
    );
    let both = Verifier::new(&config(&[("WEARCOURSE_AUTH_PREVIOUS_SECRET", OLD)])).unwrap();
    assert!(both.verify(&token, now()).is_ok() && !accepted(&token));
    assert!(both.verify(&sign(&header(), &claims()), now()).is_ok());
}

#[test]
fn s_031_s_032_long_tokens_and_ambiguous_json_are_refused() {
    assert!(!accepted(&sign(
        &header(),
        &with(claims(), "x", json!("x".repeat(8_000)))
    )));
    let claims = claims().to_string();
    let twice = claims.replacen('{', r#"{"tenant":"south","#, 1);
    let deep = format!(
        r#"{{"x":{}{},{}"#,
        "[".repeat(100),
        "]".repeat(100),
        &claims[1..]
    );
    let hostile = [
        twice.as_str(),
        &deep,
        "[]",
        "null",
        "\"x\"",
        "",
        "{} {}",
        "\u{feff}{}",
    ];
    for bad in hostile {
        assert!(
            !accepted(&sign_text(
                &header().to_string(),
                bad,
                SECRET,
                Algorithm::HS256
            )),
            "{bad}"
        );
    }
    let invalid = format!(
        "{}.{}",
        URL_SAFE_NO_PAD.encode(header().to_string()),
        URL_SAFE_NO_PAD.encode(b"{\"sub\":\"\xff\"}")
    );
    let key = EncodingKey::from_secret(SECRET.as_bytes());
    let signature = crypto::sign(invalid.as_bytes(), &key, Algorithm::HS256).unwrap();
    assert!(!accepted(&format!("{invalid}.{signature}")));
}
