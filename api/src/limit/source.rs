//! From where a request comes: the peer, or whom a proxy names that the configuration trusts.

use std::net::{IpAddr, Ipv6Addr, SocketAddr};

use actix_web::http::header::{HeaderMap, HeaderName};

use crate::config::Network;

const FORWARDED_FOR: HeaderName = HeaderName::from_static("x-forwarded-for");
/// What whoever has one address of IPv6 usually has of them: 64 bits of a network.
const SITE: u128 = u128::MAX << 64;

/// Whom failures are counted for: an address, of IPv6 its network.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Source(IpAddr);

/// The source of a request from `peer`. `X-Forwarded-For` is read from its end for as long as the one who added to it is
/// a trusted proxy; what stands before that, anybody can have written.
pub(crate) fn source_of(
    peer: Option<SocketAddr>,
    headers: &HeaderMap,
    proxies: &[Network],
) -> Source {
    let unknown = IpAddr::V6(Ipv6Addr::UNSPECIFIED);
    let mut source = peer.map_or(unknown, |peer| peer.ip()).to_canonical();
    let is_proxy = |address: IpAddr| proxies.iter().any(|network| network.contains(address));
    if is_proxy(source) {
        let lines = headers.get_all(FORWARDED_FOR);
        let lines: Vec<&str> = lines
            .map(|line| line.to_str().unwrap_or_default())
            .collect();
        let hops = lines.iter().flat_map(|line| line.split(','));
        let hops: Vec<&str> = hops.collect();
        for hop in hops.iter().rev() {
            let Some(address) = address(hop.trim()) else {
                break;
            };
            source = address;
            if !is_proxy(source) {
                break;
            }
        }
    }
    Source(match source {
        IpAddr::V4(_) => source,
        IpAddr::V6(address) => IpAddr::V6(Ipv6Addr::from_bits(address.to_bits() & SITE)),
    })
}

/// An address as proxies write it, with or without a port.
fn address(text: &str) -> Option<IpAddr> {
    let with_port = || text.parse::<SocketAddr>().map(|address| address.ip());
    let bare = text.trim_start_matches('[').trim_end_matches(']');
    let address = bare.parse().or_else(|_| with_port()).ok()?;
    Some(IpAddr::to_canonical(&address))
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::{HeaderMap, HeaderValue};

    use super::{FORWARDED_FOR, source_of};

    #[test]
    fn s_089_only_a_trusted_proxy_says_for_whom_it_asks() {
        let proxies = ["10.0.0.0/8", "2001:db8:1::/48"].map(|text| text.parse().unwrap());
        let source = |peer: &str, told: &[&'static str]| {
            let mut headers = HeaderMap::new();
            for line in told {
                headers.append(FORWARDED_FOR, HeaderValue::from_static(line));
            }
            let peer = peer.parse().unwrap();
            source_of(Some(peer), &headers, &proxies).0.to_string()
        };
        for (peer, told, expected) in [
            ("192.0.2.1:9", &["203.0.113.5"][..], "192.0.2.1"),
            ("10.0.0.1:9", &[], "10.0.0.1"),
            ("10.0.0.1:9", &["203.0.113.5"], "203.0.113.5"),
            ("10.0.0.1:9", &["198.51.100.1, 203.0.113.5"], "203.0.113.5"),
            (
                "10.0.0.1:9",
                &["198.51.100.1, 203.0.113.5, 10.9.9.9"],
                "203.0.113.5",
            ),
            (
                "10.0.0.1:9",
                &["198.51.100.1", "203.0.113.5:4711"],
                "203.0.113.5",
            ),
            ("10.0.0.1:9", &["198.51.100.1, nonsense"], "10.0.0.1"),
            ("10.0.0.1:9", &["::ffff:203.0.113.5"], "203.0.113.5"),
            ("[::ffff:10.0.0.1]:9", &["203.0.113.5"], "203.0.113.5"),
            ("[2001:db8:1::1]:9", &["[2001:db8:2::7]:80"], "2001:db8:2::"),
            (
                "[2001:db8:2:3:4:5:6:7]:9",
                &["203.0.113.5"],
                "2001:db8:2:3::",
            ),
        ] {
            assert_eq!(source(peer, told), expected, "{peer} {told:?}");
        }
    }
}
