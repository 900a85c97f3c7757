//! Whom the HTTP port lets in: checks on the headers of a request, before anything else is looked at.
//!
//! A web page from elsewhere must not reach us through the visitor's browser: neither by a name of its own that it lets
//! point to us (the Host header would carry that name), nor by opening a WebSocket from its own origin (RFC 6455, 10.2).
//! So a browser is served under the names that are ours: those of loopback, the address at which it reached us, and the
//! `hosts` of access.toml. A stop is taken under any.

use std::net::IpAddr;

/// Whether a Host header names this machine: loopback, the address `to` that the connection came in at, or a name that
/// is listed, with or without its port.
pub fn is_own_host(host: &str, to: IpAddr, listed: &[String]) -> bool {
    let name = without_port(host);
    let bare = name.strip_prefix('[').and_then(|name| name.strip_suffix(']')).unwrap_or(name);
    name.eq_ignore_ascii_case("localhost")
        || bare.parse::<IpAddr>().is_ok_and(|address| address.is_loopback() || address == to.to_canonical())
        || is_listed(host, listed)
}

/// Whether a WebSocket from this origin belongs to a page that we served ourselves. No origin is no browser. A proxy that
/// adds TLS serves our pages under https, and under a name that is listed.
pub fn is_own_origin(origin: Option<&str>, host: &str, listed: &[String]) -> bool {
    let Some(origin) = origin else { return true };
    let of_page =
        |scheme: &str| origin.strip_prefix(scheme).is_some_and(|of_page| of_page.eq_ignore_ascii_case(host));
    of_page("http://") || of_page("https://") && is_listed(host, listed)
}

fn is_listed(host: &str, listed: &[String]) -> bool {
    listed.iter().any(|name| name.eq_ignore_ascii_case(host) || name.eq_ignore_ascii_case(without_port(host)))
}

fn without_port(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if !port.is_empty() && port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        Some(_) | None => host,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(10, 0, 0, 5));

    fn listed() -> Vec<String> {
        vec!["bellwire.local".into(), "stage.example:8443".into()]
    }

    #[test]
    fn our_own_names_are_let_in() {
        for host in [
            "localhost",
            "localhost:7117",
            "LocalHost:1",
            "127.0.0.1:7117",
            "127.8.8.8",
            "[::1]:7117",
            "[::1]",
            "10.0.0.5",
            "10.0.0.5:7117",
            "Bellwire.local",
            "bellwire.local:7117",
            "stage.example:8443",
        ] {
            assert!(is_own_host(host, AT, &listed()), "{host}");
        }
    }

    #[test]
    fn every_other_name_is_not() {
        for host in [
            "",
            "example.org",
            "localhost.example.org:7117",
            "10.0.0.7:7117",
            "10.0.0.50",
            "127.0.0.1.example.org",
            "10.0.0.5.example.org",
            "[::2]:7117",
            ":7117",
            "stage.example",
            "stage.example:7117",
            "bellwire.local.example.org",
        ] {
            assert!(!is_own_host(host, AT, &listed()), "{host}");
        }
    }

    #[test]
    fn an_address_of_ipv4_is_the_same_through_a_socket_of_ipv6() {
        assert!(is_own_host("10.0.0.5:7117", "::ffff:10.0.0.5".parse().expect("an address"), &[]));
    }

    #[test]
    fn only_our_own_pages_and_programs_open_a_websocket() {
        let host = "127.0.0.1:7117";
        assert!(is_own_origin(None, host, &[]));
        assert!(is_own_origin(Some("http://127.0.0.1:7117"), host, &[]));
        for origin in
            ["null", "", "http://example.org", "https://127.0.0.1:7117", "http://127.0.0.1:80", "127.0.0.1:7117"]
        {
            assert!(!is_own_origin(Some(origin), host, &listed()), "{origin}");
        }
    }

    #[test]
    fn a_proxy_serves_our_pages_under_a_listed_name() {
        assert!(is_own_origin(Some("https://bellwire.local"), "bellwire.local", &listed()));
        assert!(!is_own_origin(Some("https://bellwire.local"), "bellwire.local", &[]));
        assert!(!is_own_origin(Some("https://example.org"), "bellwire.local", &listed()));
    }
}
