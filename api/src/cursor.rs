//! Cursors of lists: where the last page ended, signed so that nobody can make one.
//!
//! A cursor names the list and its filters, the tenant and the last id. It is refused (400 `bad_cursor`) if it was
//! edited or cut, or is used for another list, with other filters or by another tenant. It is not a secret: it
//! holds nothing that its reader has not seen.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::id::TenantId;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, crypto};
use sha2::{Digest, Sha256};

use crate::{
    config::Secret,
    problem::{Code, Problem},
};

/// The longest cursor that is looked at, in bytes.
const MAX_CURSOR: usize = 512;
/// The form of a cursor; another form gets another number.
const VERSION: u8 = 1;
/// Version, list and filters, tenant.
const HEAD: usize = 1 + 16 + 16;
/// The signature as it is written, in base64url without padding.
const SIGNATURE: usize = 43;

/// Signs and checks cursors.
pub(crate) struct CursorKey {
    sign: EncodingKey,
    /// The key of now, then those before.
    verify: Vec<DecodingKey>,
}

impl CursorKey {
    /// A key made from a secret; every replica must have the same one.
    pub(crate) fn new(secret: &Secret) -> Self {
        let bytes = secret.expose().as_bytes();
        Self {
            sign: EncodingKey::from_secret(bytes),
            verify: vec![DecodingKey::from_secret(bytes)],
        }
    }

    /// The same key, which also opens what was sealed with a secret that was rotated.
    #[must_use]
    pub(crate) fn or(mut self, before: &Secret) -> Self {
        let before = DecodingKey::from_secret(before.expose().as_bytes());
        self.verify.push(before);
        self
    }

    /// Writes a cursor for what comes after `end` in this list of this tenant.
    ///
    /// # Errors
    /// `internal` if the signature cannot be made.
    pub(crate) fn seal(&self, list: &List, tenant: TenantId, end: &str) -> Result<String, Problem> {
        let mut payload = head(list, tenant);
        payload.extend_from_slice(end.as_bytes());
        let signature = crypto::sign(&payload, &self.sign, Algorithm::HS256)
            .map_err(|error| Problem::internal(&error))?;
        Ok(format!("{}{signature}", URL_SAFE_NO_PAD.encode(&payload)))
    }

    /// What the page before ended with.
    ///
    /// # Errors
    /// `bad_cursor` if the cursor is not one that we wrote for this list, these filters and this tenant.
    pub(crate) fn open(
        &self,
        list: &List,
        tenant: TenantId,
        cursor: &str,
    ) -> Result<String, Problem> {
        let end = self.payload(cursor).and_then(|payload| {
            let end = payload.strip_prefix(head(list, tenant).as_slice())?;
            String::from_utf8(end.to_vec()).ok()
        });
        end.ok_or_else(|| {
            Problem::new(
                Code::BadCursor,
                "The cursor does not belong to this list with these filters.",
            )
        })
    }

    fn payload(&self, cursor: &str) -> Option<Vec<u8>> {
        if cursor.len() > MAX_CURSOR || !cursor.is_ascii() {
            return None;
        }
        let (payload, signature) = cursor.split_at_checked(cursor.len().checked_sub(SIGNATURE)?)?;
        let payload = URL_SAFE_NO_PAD.decode(payload).ok()?;
        let genuine = self
            .verify
            .iter()
            .any(|key| crypto::verify(signature, &payload, key, Algorithm::HS256).unwrap_or(false));
        (genuine && payload.len() > HEAD).then_some(payload)
    }
}

impl std::fmt::Debug for CursorKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("CursorKey([redacted])")
    }
}

/// One list: the operation and the filters that make it what it is.
#[derive(Debug)]
pub(crate) struct List(Sha256);

impl List {
    /// The list that an operation answers without filters.
    pub(crate) fn new(operation: &str) -> Self {
        Self(Sha256::new()).filter("operation", Some(operation))
    }

    /// Adds a filter; one that is not set makes another list than one that is.
    #[must_use]
    pub(crate) fn filter(mut self, name: &str, value: Option<&str>) -> Self {
        for part in [name, value.map_or("-", |_| "="), value.unwrap_or_default()] {
            // The length keeps `a=bc` from being `ab=c`.
            self.0.update(part.len().to_be_bytes());
            self.0.update(part.as_bytes());
        }
        self
    }

    fn digest(&self) -> Vec<u8> {
        self.0.clone().finalize().iter().copied().take(16).collect()
    }
}

fn head(list: &List, tenant: TenantId) -> Vec<u8> {
    let mut head = vec![VERSION];
    head.extend_from_slice(&list.digest());
    head.extend_from_slice(tenant.uuid().as_bytes());
    head
}

#[cfg(test)]
mod tests {
    use domain::id::TenantId;
    use uuid::Uuid;

    use super::{CursorKey, List};
    use crate::config::Secret;

    fn key() -> CursorKey {
        CursorKey::new(&Secret::new("0123456789abcdef0123456789abcdef"))
    }

    fn tenant(n: u128) -> TenantId {
        TenantId::from_uuid(Uuid::from_u128(n))
    }

    #[test]
    fn a_cursor_comes_back_as_what_it_was() {
        let list = List::new("listSurfaces").filter("storey", Some("2"));
        let cursor = key().seal(&list, tenant(1), "srf_x").unwrap();
        assert!(cursor.len() <= 512);
        assert_eq!(key().open(&list, tenant(1), &cursor).unwrap(), "srf_x");
    }

    #[test]
    fn s_007_a_cursor_serves_one_tenant_one_list_and_one_set_of_filters() {
        let list = || List::new("listSurfaces");
        let cursor = key()
            .seal(&list().filter("storey", Some("2")), tenant(1), "srf_x")
            .unwrap();
        for (list, tenant) in [
            (list().filter("storey", Some("2")), tenant(2)),
            (list().filter("storey", Some("3")), tenant(1)),
            (list().filter("storey", None), tenant(1)),
            (list(), tenant(1)),
            (
                List::new("listPlans").filter("storey", Some("2")),
                tenant(1),
            ),
        ] {
            assert!(key().open(&list, tenant, &cursor).is_err());
        }
        let other = CursorKey::new(&Secret::new("another-secret-of-32-bytes-length"));
        assert!(
            other
                .open(&list().filter("storey", Some("2")), tenant(1), &cursor)
                .is_err()
        );
    }

    #[test]
    fn s_029_a_cursor_outlives_the_rotation_of_its_secret() {
        let (old, new) = (
            "0123456789abcdef0123456789abcdef",
            "another-secret-of-32-bytes-length",
        );
        let list = List::new("listSurfaces");
        let cursor = key().seal(&list, tenant(1), "srf_x").unwrap();
        let rotated = CursorKey::new(&Secret::new(new));
        assert!(rotated.open(&list, tenant(1), &cursor).is_err());
        let rotated = rotated.or(&Secret::new(old));
        assert_eq!(rotated.open(&list, tenant(1), &cursor).unwrap(), "srf_x");
        let later = rotated.seal(&list, tenant(1), "srf_y").unwrap();
        assert!(key().open(&list, tenant(1), &later).is_err());
    }

    #[test]
    fn s_007_an_edited_or_cut_cursor_is_refused() {
        let list = List::new("listSurfaces");
        let cursor = key().seal(&list, tenant(1), "srf_x").unwrap();
        for cut in 0..cursor.len() {
            assert!(
                key().open(&list, tenant(1), &cursor[..cut]).is_err(),
                "cut at {cut}"
            );
        }
        for at in 0..cursor.len() {
            let mut edited = cursor.clone().into_bytes();
            edited[at] = if edited[at] == b'A' { b'B' } else { b'A' };
            let edited = String::from_utf8(edited).unwrap();
            assert!(
                key().open(&list, tenant(1), &edited).is_err(),
                "edited at {at}"
            );
        }
        for hostile in ["é".repeat(60), "A".repeat(1_000_000), "=".repeat(80)] {
            assert!(key().open(&list, tenant(1), &hostile).is_err());
        }
    }

    /// RFC 4231, test cases 1, 2, 6 and 7: the primitive is the one that the cursor format names.
    #[test]
    fn the_signature_is_hmac_sha_256() {
        use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
        use jsonwebtoken::{Algorithm, EncodingKey, crypto};
        let cases: [(Vec<u8>, &[u8], &str); 4] = [
            (
                vec![0x0b; 20],
                b"Hi There",
                "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7",
            ),
            (
                b"Jefe".to_vec(),
                b"what do ya want for nothing?",
                "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
            ),
            (
                vec![0xaa; 131],
                b"Test Using Larger Than Block-Size Key - Hash Key First",
                "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54",
            ),
            (
                vec![0xaa; 131],
                b"This is a test using a larger than block-size key and a larger than block-size data. \
                  The key needs to be hashed before being used by the HMAC algorithm.",
                "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2",
            ),
        ];
        for (key, data, expected) in cases {
            let signature =
                crypto::sign(data, &EncodingKey::from_secret(&key), Algorithm::HS256).unwrap();
            let bytes = URL_SAFE_NO_PAD.decode(signature).unwrap();
            let expected: Vec<u8> = (0..32)
                .map(|n| u8::from_str_radix(&expected[2 * n..2 * n + 2], 16).unwrap())
                .collect();
            assert_eq!(bytes, expected);
        }
    }
}
