//! How much of the service one caller may take, and which proxies are believed.

use std::{net::IpAddr, str::FromStr, time::Duration};

use super::source::Source;

/// So many requests in a time, and so many at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rate {
    /// After how long one more is allowed.
    pub every: Duration,
    /// How many may come at once.
    pub burst: u32,
}

/// Addresses that begin alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Network {
    address: IpAddr,
    n_bits: u8,
}

impl Network {
    /// Whether an address is one of these.
    pub fn contains(&self, address: IpAddr) -> bool {
        let shift = |width: u8| u32::from(width.saturating_sub(self.n_bits));
        match (self.address, address) {
            (IpAddr::V4(ours), IpAddr::V4(other)) => {
                let cut = |bits: u32| bits.checked_shr(shift(32)).unwrap_or(0);
                cut(ours.to_bits()) == cut(other.to_bits())
            }
            (IpAddr::V6(ours), IpAddr::V6(other)) => {
                let cut = |bits: u128| bits.checked_shr(shift(128)).unwrap_or(0);
                cut(ours.to_bits()) == cut(other.to_bits())
            }
            (IpAddr::V4(_), IpAddr::V6(_)) | (IpAddr::V6(_), IpAddr::V4(_)) => false,
        }
    }
}

/// The text is no address and no network.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not an address, and not a network in the form address/bits")]
pub struct NoNetwork;

impl FromStr for Network {
    type Err = NoNetwork;

    fn from_str(text: &str) -> Result<Self, NoNetwork> {
        let (address, n_bits) = match text.split_once('/') {
            Some((address, n_bits)) => (address, Some(n_bits)),
            None => (text, None),
        };
        let address: IpAddr = address.parse().ok().ok_or(NoNetwork)?;
        let width = if address.is_ipv4() { 32 } else { 128 };
        let n_bits = n_bits.map_or(Ok(width), str::parse);
        let n_bits = n_bits.ok().ok_or(NoNetwork)?;
        if n_bits > width {
            return Err(NoNetwork);
        }
        Ok(Self { address, n_bits })
    }
}

/// The limits of callers.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LimitConfig {
    /// `WEARCOURSE_RATE_PER_S`, default 50, and `WEARCOURSE_RATE_BURST`, default 100: of one tenant; none if 0.
    pub per_tenant: Option<Rate>,
    /// `WEARCOURSE_FAILED_AUTH_PER_MIN`, default 10: tokens and signatures of one source that prove nothing; none if 0.
    pub failures: Option<Rate>,
    /// `WEARCOURSE_TRUSTED_PROXIES`: who is believed in `X-Forwarded-For`; default nobody.
    pub proxies: Vec<Network>,
}

impl LimitConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let per_s = source.number("WEARCOURSE_RATE_PER_S", 50, 0..=100_000);
        let burst = source.number("WEARCOURSE_RATE_BURST", 100, 1..=1_000_000);
        let per_min = source.number("WEARCOURSE_FAILED_AUTH_PER_MIN", 10, 0..=100_000);
        Self {
            per_tenant: rate(Duration::from_secs(1), per_s, burst),
            failures: rate(Duration::from_mins(1), per_min, per_min),
            proxies: proxies(source),
        }
    }
}

fn rate(time: Duration, n: u32, burst: u32) -> Option<Rate> {
    let every = time.checked_div(n)?;
    Some(Rate { every, burst })
}

fn proxies(source: &mut Source) -> Vec<Network> {
    let name = "WEARCOURSE_TRUSTED_PROXIES";
    let text = source.text(name).unwrap_or_default();
    let read: Result<Vec<Network>, NoNetwork> =
        text.split_whitespace().map(Network::from_str).collect();
    read.unwrap_or_else(|_| {
        let form = "must be addresses or networks such as `10.0.0.0/8`, separated by spaces";
        source.fault(name, form);
        Vec::new()
    })
}

#[cfg(test)]
mod tests {
    use super::Network;

    #[test]
    fn a_network_holds_what_begins_like_it() {
        for (network, inside, outside) in [
            ("10.0.0.0/8", "10.255.0.1", "11.0.0.1"),
            ("192.0.2.7", "192.0.2.7", "192.0.2.6"),
            ("2001:db8::/32", "2001:db8:ffff::1", "2001:db9::1"),
            ("0.0.0.0/0", "203.0.113.9", "::1"),
            ("::/0", "::1", "127.0.0.1"),
        ] {
            let held: Network = network.parse().unwrap();
            assert!(held.contains(inside.parse().unwrap()), "{network} {inside}");
            assert!(
                !held.contains(outside.parse().unwrap()),
                "{network} {outside}"
            );
        }
        for bad in [
            "",
            "10.0.0.0/33",
            "::1/129",
            "10.0.0/8",
            "proxy",
            "10.0.0.1/",
            "10.0.0.1/-1",
        ] {
            assert!(bad.parse::<Network>().is_err(), "{bad}");
        }
    }
}
