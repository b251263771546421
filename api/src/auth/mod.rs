//! Who calls, for which tenant, and what they may do.
//!
//! A route is guarded before any of its extractors run: the token is checked, the tenant looked up, the scope
//! compared. What a handler gets is an [`Actor`], whose type names the scope once more; without one it has no
//! tenant, and without a tenant there is no way into the store.

mod accepted;
mod actor;
mod jwks;
mod key;
mod mint;
mod published;
pub(crate) mod revoked;
pub(crate) mod scope;
mod tenant;
mod token;

pub(crate) use accepted::Accepted;
pub(crate) use actor::{Actor, Door, Scope, guard};
pub(crate) use key::VerifyKey;
pub use mint::{Grant, MintError, mint};
pub(crate) use published::Published;
pub(crate) use revoked::Revoked;
pub use scope::{BUNDLES, SCOPES, ScopeInfo};
pub(crate) use tenant::Tenants;
pub(crate) use token::Verifier;
