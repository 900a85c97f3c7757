//! Whom the HTTP port lets in: checks on the headers of a request, before anything else is looked at.
//!
//! While we listen on loopback alone, a web page from elsewhere must not reach us through the visitor's browser:
//! neither by a name of its own that it lets point to 127.0.0.1 (the Host header would carry that name), nor by
//! opening a WebSocket from its own origin (RFC 6455, 10.2).

use std::net::IpAddr;

/// Whether a Host header names this machine's loopback, with or without a port.
pub fn is_loopback_host(host: &str) -> bool {
    let name = without_port(host);
    let bare = name.strip_prefix('[').and_then(|name| name.strip_suffix(']')).unwrap_or(name);
    name.eq_ignore_ascii_case("localhost") || bare.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

/// Whether a WebSocket from this origin belongs to a page that we served ourselves. No origin is no browser.
pub fn is_own_origin(origin: Option<&str>, host: &str) -> bool {
    let Some(origin) = origin else { return true };
    origin.strip_prefix("http://").is_some_and(|of_page| of_page.eq_ignore_ascii_case(host))
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

    #[test]
    fn loopback_names_are_let_in() {
        for host in
            ["localhost", "localhost:7117", "LocalHost:1", "127.0.0.1:7117", "127.8.8.8", "[::1]:7117", "[::1]"]
        {
            assert!(is_loopback_host(host), "{host}");
        }
    }

    #[test]
    fn every_other_name_is_not() {
        for host in [
            "",
            "example.org",
            "localhost.example.org:7117",
            "10.0.0.7:7117",
            "127.0.0.1.example.org",
            "[::2]:7117",
            ":7117",
        ] {
            assert!(!is_loopback_host(host), "{host}");
        }
    }

    #[test]
    fn only_our_own_pages_and_programs_open_a_websocket() {
        let host = "127.0.0.1:7117";
        assert!(is_own_origin(None, host));
        assert!(is_own_origin(Some("http://127.0.0.1:7117"), host));
        for origin in
            ["null", "", "http://example.org", "https://127.0.0.1:7117", "http://127.0.0.1:80", "127.0.0.1:7117"]
        {
            assert!(!is_own_origin(Some(origin), host), "{origin}");
        }
    }
}
