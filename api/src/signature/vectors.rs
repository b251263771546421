//! The code beneath signatures against published ones.

use base64::{Engine, engine::general_purpose::STANDARD};

use super::WebhookSecret;

/// Keys, data and codes of RFC 4231, sections 4.2 to 4.4, 4.7 and 4.8: short, longer and repeated keys and data, keys longer than a
/// block. Written down from memory, and each recomputed with Python's `hmac`, which has no code in common with ours.
const RFC_4231: [(&[u8], &[u8], &str); 5] = [
    (
        &[0x0b; 20],
        b"Hi There",
        "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7",
    ),
    (
        b"Jefe",
        b"what do ya want for nothing?",
        "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
    ),
    (
        &[0xaa; 20],
        &[0xdd; 50],
        "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe",
    ),
    (
        &[0xaa; 131],
        b"Test Using Larger Than Block-Size Key - Hash Key First",
        "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54",
    ),
    (
        &[0xaa; 131],
        b"This is a test using a larger than block-size key and a larger than block-size data. The key needs to be hashed before \
          being used by the HMAC algorithm.",
        "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2",
    ),
];

/// The published keys are shorter or longer than secrets may be and their data have no dots, so the code beneath is held to
/// them, and what is signed here to that code.
#[test]
fn s_055_codes_are_those_of_rfc_4231() {
    use aws_lc_rs::hmac::{HMAC_SHA256, Key, sign};
    let code = |key: &[u8], data: &[u8]| {
        let tag = sign(&Key::new(HMAC_SHA256, key), data);
        tag.as_ref()
            .iter()
            .fold(String::new(), |hex, byte| format!("{hex}{byte:02x}"))
    };
    for (key, data, wanted) in RFC_4231 {
        assert_eq!(code(key, data), wanted);
        let mut other = data.to_vec();
        other[0] ^= 1;
        assert_ne!(
            code(key, &other),
            wanted,
            "the control: one bit of it changed"
        );
    }
    let key: Vec<u8> = (1..=25).collect();
    // Section 4.5, the one key that may be a secret here.
    let wanted = "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b";
    assert_eq!(code(&key, &[0xcd; 50]), wanted);
    let secret = WebhookSecret::from_bytes(key.clone()).unwrap();
    let signed = sign(&Key::new(HMAC_SHA256, &key), b"evt-1.7.body");
    let text = format!("v1,{}", STANDARD.encode(signed.as_ref()));
    assert_eq!(secret.sign("evt-1", 7, b"body"), text);
}
