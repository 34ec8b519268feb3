//! Which addresses a webhook may lead to: those that everybody can reach, and none inside.
//!
//! A webhook is an address that somebody with a key gives and that this service then calls. Without this check it could be made
//! to call what only this machine or its network can reach. The check stands where a connection is made, on the address that is
//! connected to: a name is resolved once, its addresses are checked, and one of those is connected to. A name that leads outside
//! when the webhook is made and inside afterwards gains nothing.
//!
//! Ranges: IANA's registries of special-purpose addresses (RFC 6890, RFC 8190), as of memory.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

use reqwest::dns::{Addrs, Name, Resolve, Resolving};
use url::{Host, Url};

/// Whether everybody can reach this address.
pub fn is_outside(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(address) => is_outside_v4(address),
        IpAddr::V6(address) => is_outside_v6(address),
    }
}

fn is_outside_v4(address: Ipv4Addr) -> bool {
    let [a, b, c, _] = address.octets();
    let inside = a == 0 // this network
        || a == 127 // loopback
        || a == 10 || (a == 172 && (16..32).contains(&b)) || (a == 192 && b == 168) // private, RFC 1918
        || (a == 100 && (64..128).contains(&b)) // shared, behind carriers' translators, RFC 6598
        || (a == 169 && b == 254) // link-local; cloud metadata answers here
        || (a == 192 && b == 0 && (c == 0 || c == 2)) // protocol assignments, documentation
        || (a == 192 && b == 88 && c == 99) // 6to4 relays, withdrawn
        || (a == 198 && (b == 18 || b == 19)) // benchmarking
        || (a == 198 && b == 51 && c == 100) || (a == 203 && b == 0 && c == 113) // documentation
        || a >= 224; // multicast, reserved, broadcast
    !inside
}

fn is_outside_v6(address: Ipv6Addr) -> bool {
    let s = address.segments();
    let v4 = |high: u16, low: u16| Ipv4Addr::from((u32::from(high) << 16) | u32::from(low));
    match s {
        // An address of version 4 in other clothes is what it is without them: mapped, and translated by RFC 6052.
        [0, 0, 0, 0, 0, 0xffff, high, low] | [0x64, 0xff9b, 0, 0, 0, 0, high, low] => is_outside_v4(v4(high, low)),
        // 6to4 carries one as well, RFC 3056.
        [0x2002, high, low, ..] => is_outside_v4(v4(high, low)),
        // Protocol assignments (Teredo among them), documentation.
        [0x2001, second, ..] if second < 0x200 || second == 0xdb8 => false,
        [0x3fff, second, ..] if second < 0x1000 => false,
        // Global unicast is 2000::/3; loopback, link-local, unique local, multicast and the rest lie outside it.
        [first, ..] => (0x2000..0x4000).contains(&first),
    }
}

/// The address that stands in a URL in place of a name.
pub fn literal(url: &Url) -> Option<IpAddr> {
    match url.host()? {
        Host::Ipv4(address) => Some(address.into()),
        Host::Ipv6(address) => Some(address.into()),
        Host::Domain(_) => None,
    }
}

/// Resolves names, and lets only addresses through that may be called.
#[derive(Debug, Clone, Copy)]
pub struct Outside {
    /// Whether addresses inside are let through as well.
    pub allow_private: bool,
}

impl Resolve for Outside {
    fn resolve(&self, name: Name) -> Resolving {
        let Self { allow_private } = *self;
        Box::pin(async move {
            let found: Vec<SocketAddr> = tokio::net::lookup_host((name.as_str(), 0)).await?.collect();
            let inside = found.iter().find(|address| !allow_private && !is_outside(address.ip()));
            if let Some(inside) = inside {
                return Err(refusal(inside.ip()).into());
            }
            Ok(Box::new(found.into_iter()) as Addrs)
        })
    }
}

/// What is said of an address that may not be called.
pub fn refusal(address: IpAddr) -> String {
    format!("{address} is a private, local or reserved address; --allow-private-webhooks would allow it")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_inside_are_told_from_those_outside() {
        let inside = [
            "0.0.0.0",
            "127.0.0.1",
            "127.255.255.254",
            "10.0.0.1",
            "172.16.0.1",
            "172.31.255.255",
            "192.168.1.1",
            "100.64.0.1",
            "100.127.255.255",
            "169.254.169.254",
            "192.0.0.1",
            "192.0.2.1",
            "198.18.0.1",
            "198.19.255.255",
            "198.51.100.7",
            "203.0.113.9",
            "224.0.0.1",
            "240.0.0.1",
            "255.255.255.255",
            "::",
            "::1",
            "fe80::1",
            "febf::1",
            "fec0::1",
            "fc00::1",
            "fd12:3456::1",
            "ff02::1",
            "::ffff:127.0.0.1",
            "::ffff:10.1.2.3",
            "::ffff:169.254.169.254",
            "::127.0.0.1",
            "64:ff9b::7f00:1",
            "64:ff9b::a9fe:a9fe",
            "64:ff9b:1::1",
            "2002:7f00:1::",
            "2002:c0a8:101::1",
            "2001:0:4136:e378::1",
            "2001:db8::1",
            "3fff::1",
            "100::1",
            "5f00::1",
            "4000::1",
        ];
        for text in inside {
            assert!(!is_outside(text.parse().expect("an address")), "{text}");
        }
        let outside = [
            "1.1.1.1",
            "9.9.9.9",
            "172.15.255.255",
            "172.32.0.1",
            "100.63.255.255",
            "100.128.0.1",
            "169.253.255.255",
            "192.167.255.255",
            "198.17.255.255",
            "198.20.0.1",
            "223.255.255.255",
            "2606:4700::1",
            "2a00::1",
            "2001:4860::1",
            "::ffff:1.1.1.1",
            "64:ff9b::101:101",
            "2002:101:101::1",
            "2400:cb00::1",
        ];
        for text in outside {
            assert!(is_outside(text.parse().expect("an address")), "{text}");
        }
    }

    #[test]
    fn an_address_in_disguise_is_seen() {
        // The ways that a URL may spell 127.0.0.1 (WHATWG URL, "IPv4 parser"); all of them lead to this machine.
        for url in ["http://2130706433/", "http://0x7f.1/", "http://0177.0.0.01/", "http://127.1/", "http://１２７.0.0.1/"] {
            let url = Url::parse(url).expect("a URL");
            assert_eq!(literal(&url), Some(IpAddr::V4(Ipv4Addr::LOCALHOST)), "{url}");
        }
        let mapped = Url::parse("http://[::ffff:7f00:1]/").expect("a URL");
        assert!(literal(&mapped).is_some_and(|address| !is_outside(address)));
        assert_eq!(literal(&Url::parse("https://example.org/").expect("a URL")), None);
    }
}
