//! Addresses that open one thing without a token, for whoever has them.
//!
//! An address holds the tenant, the link and a secret of 256 bits. Of the secret only a hash is kept, so that who reads the
//! database opens nothing.

use aws_lc_rs::constant_time::verify_slices_are_equal;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::id::TenantId;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::{hex::hex, problem::Problem, seal};

/// How many bytes a secret has.
const SECRET: usize = 32;

/// What the last part of an address holds.
#[derive(Clone)]
pub(crate) struct Capability {
    /// Whose link it is.
    pub(crate) tenant: TenantId,
    /// The link.
    pub(crate) link: Uuid,
    secret: Vec<u8>,
}

impl Capability {
    /// A new secret for a link.
    ///
    /// # Errors
    /// `internal` without random numbers.
    pub(crate) fn make(tenant: TenantId, link: Uuid) -> Result<Self, Problem> {
        let secret = seal::random::<SECRET>()?.to_vec();
        Ok(Self {
            tenant,
            link,
            secret,
        })
    }

    /// What an address names; nobody's where it has not the form of one, so that the same is done for it.
    pub(crate) fn named(address: &str) -> Self {
        read(address).unwrap_or(Self {
            tenant: TenantId::from_uuid(Uuid::nil()),
            link: Uuid::nil(),
            secret: Vec::new(),
        })
    }

    /// The last part of the address.
    pub(crate) fn address(&self) -> String {
        let (tenant, link) = (self.tenant.uuid(), self.link);
        let all = [tenant.as_bytes(), link.as_bytes(), self.secret.as_slice()].concat();
        URL_SAFE_NO_PAD.encode(all)
    }

    /// What is kept of the secret.
    pub(crate) fn hash(&self) -> String {
        hex(&Sha256::digest(&self.secret))
    }

    /// Whether its secret is the one of which `kept` is the hash.
    pub(crate) fn is_proven(&self, kept: &str) -> bool {
        verify_slices_are_equal(self.hash().as_bytes(), kept.as_bytes()).is_ok()
    }
}

fn read(address: &str) -> Option<Capability> {
    let all = URL_SAFE_NO_PAD.decode(address).ok()?;
    let (tenant, rest) = all.split_at_checked(16)?;
    let (link, secret) = rest.split_at_checked(16)?;
    let tenant = TenantId::from_uuid(Uuid::from_slice(tenant).ok()?);
    let link = Uuid::from_slice(link).ok()?;
    (secret.len() == SECRET).then(|| Capability {
        tenant,
        link,
        secret: secret.to_vec(),
    })
}

#[cfg(test)]
mod tests {
    use super::{Capability, TenantId, Uuid};

    #[test]
    fn an_address_names_its_link_and_proves_only_its_own_secret() {
        let (tenant, link) = (TenantId::from_uuid(Uuid::from_u128(7)), Uuid::from_u128(8));
        let made = Capability::make(tenant, link).unwrap();
        let address = made.address();
        assert_eq!(address.len(), 86);
        let read = Capability::named(&address);
        assert_eq!((read.tenant, read.link), (tenant, link));
        assert!(read.is_proven(&made.hash()));
        let other = Capability::make(tenant, link).unwrap();
        assert!(!other.is_proven(&made.hash()) && !read.is_proven(""));
        for bad in ["", "A", &address[1..], &format!("{address}A")] {
            assert_eq!(Capability::named(bad).link, Uuid::nil(), "{bad}");
        }
    }
}
