//! Which addresses belong to the public internet.
//!
//! After the special-purpose registries of IANA for IPv4 (RFC 6890) and IPv6, and the blocks that carry an IPv4 address
//! inside: what they carry is looked at, or the block is refused whole.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};

/// Blocks of IPv4 that are not public: the first address and the length of the prefix.
const CLOSED_V4: &[(Ipv4Addr, u32)] = &[
    (Ipv4Addr::UNSPECIFIED, 8),
    (Ipv4Addr::new(10, 0, 0, 0), 8),
    (Ipv4Addr::new(100, 64, 0, 0), 10),
    (Ipv4Addr::new(127, 0, 0, 0), 8),
    (Ipv4Addr::new(169, 254, 0, 0), 16),
    (Ipv4Addr::new(172, 16, 0, 0), 12),
    (Ipv4Addr::new(192, 0, 0, 0), 24),
    (Ipv4Addr::new(192, 0, 2, 0), 24),
    (Ipv4Addr::new(192, 88, 99, 0), 24),
    (Ipv4Addr::new(192, 168, 0, 0), 16),
    (Ipv4Addr::new(198, 18, 0, 0), 15),
    (Ipv4Addr::new(198, 51, 100, 0), 24),
    (Ipv4Addr::new(203, 0, 113, 0), 24),
    (Ipv4Addr::new(224, 0, 0, 0), 4),
    (Ipv4Addr::new(240, 0, 0, 0), 4),
];

/// Blocks of IPv6 inside what is handed out (2000::/3) that are not public: documentation, tunnels and what holds an IPv4
/// address.
const CLOSED_V6: &[(Ipv6Addr, u32)] = &[
    // IETF protocol assignments, Teredo among them.
    (Ipv6Addr::new(0x2001, 0, 0, 0, 0, 0, 0, 0), 23),
    (Ipv6Addr::new(0x2001, 0xdb8, 0, 0, 0, 0, 0, 0), 32),
    // 6to4.
    (Ipv6Addr::new(0x2002, 0, 0, 0, 0, 0, 0, 0), 16),
    (Ipv6Addr::new(0x3fff, 0, 0, 0, 0, 0, 0, 0), 20),
];

/// Whether an address belongs to the public internet.
pub(super) fn is_public(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(address) => is_public_v4(address),
        IpAddr::V6(address) => is_public_v6(address),
    }
}

fn is_public_v4(address: Ipv4Addr) -> bool {
    let bits = address.to_bits();
    !CLOSED_V4
        .iter()
        .any(|(first, length)| same_prefix(bits.into(), first.to_bits().into(), 32, *length))
}

fn is_public_v6(address: Ipv6Addr) -> bool {
    // Nothing outside of 2000::/3 is handed out: loopback, mapped, translated, local, multicast and what may come.
    let is_handed_out = same_prefix(address.to_bits(), 0x2000 << 112, 128, 3);
    is_handed_out
        && !CLOSED_V6
            .iter()
            .any(|(first, length)| same_prefix(address.to_bits(), first.to_bits(), 128, *length))
}

/// Whether two addresses of `width` bits agree in their first `length` bits.
const fn same_prefix(one: u128, other: u128, width: u32, length: u32) -> bool {
    (one ^ other) >> width.saturating_sub(length) == 0
}

#[cfg(test)]
mod tests {
    use super::is_public;

    // The closed addresses are those of the test plan of this service, after the registries of IANA; read from memory.
    #[test]
    fn s_060_to_s_064_no_address_of_a_private_network_is_public() {
        for closed in [
            // This machine, and what routes nowhere.
            "127.0.0.1",
            "127.255.255.254",
            "0.0.0.0",
            "0.255.255.255",
            "::1",
            "::",
            // Metadata services and links.
            "169.254.169.254",
            "169.254.170.2",
            "fd00:ec2::254",
            "fe80::1",
            "febf:ffff::1",
            // Private networks, shared space, documentation, benchmarks, multicast, reserved.
            "10.0.0.0",
            "10.255.255.255",
            "172.16.0.0",
            "172.31.255.255",
            "192.168.0.0",
            "192.168.255.255",
            "100.64.0.0",
            "100.127.255.255",
            "192.0.0.8",
            "192.0.2.1",
            "192.88.99.1",
            "198.18.0.1",
            "198.19.255.255",
            "198.51.100.1",
            "203.0.113.1",
            "224.0.0.1",
            "239.255.255.255",
            "240.0.0.1",
            "255.255.255.255",
            // IPv4 inside IPv6, tunnels, and blocks that nobody is given.
            "::ffff:127.0.0.1",
            "::ffff:169.254.169.254",
            "::ffff:8.8.8.8",
            "::127.0.0.1",
            "64:ff9b::7f00:1",
            "64:ff9b:1::1",
            "2002:7f00:1::",
            "2002:808:808::1",
            "2001::1",
            "2001:0:4136:e378::1",
            "2001:10::1",
            "fc00::1",
            "fdff:ffff::1",
            "ff02::1",
            "100::1",
            "2001:db8::1",
            "3fff::1",
            "3fff:0fff:ffff::1",
            "5f00::1",
            "4000::1",
            "1fff::1",
        ] {
            assert!(!is_public(closed.parse().unwrap()), "{closed}");
        }
    }

    #[test]
    fn s_062_the_neighbours_of_closed_blocks_are_public() {
        for open in [
            "1.1.1.1",
            "9.255.255.255",
            "11.0.0.0",
            "100.63.255.254",
            "100.128.0.1",
            "126.255.255.255",
            "128.0.0.1",
            "169.253.255.255",
            "169.255.0.0",
            "172.15.255.255",
            "172.32.0.0",
            "191.255.255.255",
            "192.0.1.0",
            "192.0.3.0",
            "192.167.255.255",
            "192.169.0.0",
            "198.17.255.255",
            "198.20.0.0",
            "203.0.112.255",
            "203.0.114.0",
            "223.255.255.255",
            "2001:200::1",
            "2001:db7:ffff::1",
            "2001:db9::1",
            "2003::1",
            "2606:4700::1111",
            "3ffe::1",
            "3fff:1000::1",
        ] {
            assert!(is_public(open.parse().unwrap()), "{open}");
        }
    }
}
