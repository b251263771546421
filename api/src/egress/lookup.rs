//! What a name stands for, and whether all of it may be called.
//!
//! The connection is made to the addresses that are looked at here, so a name that answers otherwise the next moment
//! changes nothing. One address that may not be called refuses the whole name: which of several is tried first is not ours
//! to say. (Addresses written as such never come here; [`target`](super::target) has looked at them.)

use std::{io, net::SocketAddr};

use reqwest::dns::{Addrs, Name, Resolve, Resolving};

use super::address::is_public;

/// Looks names up.
pub(super) trait Lookup: Clone + Send + Sync + 'static {
    /// The addresses of a name.
    fn lookup(&self, name: String) -> impl Future<Output = io::Result<Vec<SocketAddr>>> + Send;
}

/// The resolver of the machine.
#[derive(Debug, Clone, Copy)]
pub(super) struct System;

impl Lookup for System {
    async fn lookup(&self, name: String) -> io::Result<Vec<SocketAddr>> {
        // Port 0 stands for the port of the address that is called.
        Ok(tokio::net::lookup_host((name, 0)).await?.collect())
    }
}

/// A name stands for what may not be called, or for nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the name stands for an address that may not be called")]
pub(super) struct NotPublic;

/// A resolver that answers with public addresses or not at all.
#[derive(Debug, Clone)]
pub(super) struct Guarded<L> {
    names: L,
    /// Whether private addresses may be called too.
    is_insecure: bool,
}

impl<L> Guarded<L> {
    pub(super) const fn new(names: L, is_insecure: bool) -> Self {
        Self { names, is_insecure }
    }
}

impl<L: Lookup> Resolve for Guarded<L> {
    fn resolve(&self, name: Name) -> Resolving {
        let (names, is_insecure) = (self.names.clone(), self.is_insecure);
        Box::pin(async move {
            let found = names.lookup(name.as_str().to_owned()).await?;
            let is_allowed = is_insecure || found.iter().all(|found| is_public(found.ip()));
            if found.is_empty() || !is_allowed {
                return Err(NotPublic.into());
            }
            let found: Addrs = Box::new(found.into_iter());
            Ok(found)
        })
    }
}
