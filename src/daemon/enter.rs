//! How a client over HTTP or WebSocket shows its token.
//!
//! A program sends `Authorization: Bearer TOKEN` (RFC 6750) with each request and with the opening of a WebSocket. A
//! browser cannot set a header on a WebSocket, so a panel comes in by another way: the address that `bellwire access`
//! prints carries the token behind a `#`, which a browser never sends and no server or proxy writes into a log. The page
//! shows it once, in `POST /enter`, and gets it back as a cookie that no script can read (HttpOnly) and that no page from
//! elsewhere can make the browser send (SameSite=Strict). From then on the browser shows it by itself, with the WebSocket
//! too, after a reload, and after a new start of the daemon, which keeps no sessions.

use axum::extract::{ConnectInfo, State};
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use serde_json::json;

use super::gate::Pass;
use super::http::{Port, failure, json_response};
use super::serve::Ends;
use crate::show::access::{Secret, SecretError};
use crate::wire::Barred;

/// A tablet is let in for a season, unless its entry goes first. s.
const COOKIE_AGE: u32 = 180 * 24 * 3600;

/// Who asks.
///
/// # Errors
/// It is not let in.
pub fn visitor(port: &Port, headers: &HeaderMap, ends: Ends) -> Result<Pass, Barred> {
    port.house.gate.visitor(ends.from.ip(), shown(headers, ends).as_ref())
}

/// The token that a request shows: in its header, or else in our cookie.
fn shown(headers: &HeaderMap, ends: Ends) -> Option<Result<Secret, SecretError>> {
    let text = |name: header::HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or_default());
    if let Some(authorization) = text(header::AUTHORIZATION) {
        let token = authorization.split_once(' ').filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"));
        return Some(Secret::parse(token.map_or("", |(_, token)| token)));
    }
    let cookies = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let mut pairs = cookies.flat_map(|cookies| cookies.split(';')).filter_map(|pair| pair.trim().split_once('='));
    let ours = cookie_name(ends);
    pairs.find(|(name, _)| *name == ours).map(|(_, token)| Secret::parse(token))
}

/// Browsers keep cookies by host alone, so two daemons on one machine would take each other's for their own.
fn cookie_name(ends: Ends) -> String {
    format!("bellwire-{}", ends.to.port())
}

/// `POST /enter` with the token in its header: lets a browser in from now on.
pub async fn enter(
    State(port): State<Port>,
    ConnectInfo(ends): ConnectInfo<Ends>,
    headers: HeaderMap,
    uri: Uri,
) -> Response {
    if let Some(refused) = port.foreign_origin(&headers, &uri, ends) {
        return refused;
    }
    let Some(Ok(secret)) = shown(&headers, ends) else {
        return turned_away(&port, ends, &Barred::WrongToken);
    };
    let known = port.house.gate.access().token(&secret).is_some();
    match visitor(&port, &headers, ends) {
        Ok(pass) if known => with_cookie(standing(Some(&pass), None), ends, &secret),
        Ok(_) | Err(_) => turned_away(&port, ends, &Barred::WrongToken),
    }
}

/// `GET /access`: whether the one who asks is let in, as what, and if not, what to do.
pub async fn access(
    State(port): State<Port>,
    ConnectInfo(ends): ConnectInfo<Ends>,
    headers: HeaderMap,
) -> Response {
    match visitor(&port, &headers, ends) {
        Ok(pass) => standing(Some(&pass), None),
        // No refusal: it was a question, and is answered.
        Err(why) => standing(None, Some(&why)),
    }
}

fn standing(pass: Option<&Pass>, why: Option<&Barred>) -> Response {
    json_response(&json!({
        "role": pass.map(|pass| pass.role.word()),
        "name": pass.and_then(Pass::entry),
        "why": why.map(Barred::to_string),
    }))
}

fn turned_away(port: &Port, ends: Ends, why: &Barred) -> Response {
    port.house.counters.reject(why.counter(), &format!("http {}", ends.from), why);
    let mut response = failure(StatusCode::UNAUTHORIZED, &why.to_string());
    response.headers_mut().insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
    response
}

/// What needs a role and was asked without.
pub fn not_let_in(port: &Port, ends: Ends, why: &Barred) -> Response {
    turned_away(port, ends, why)
}

fn with_cookie(response: Response, ends: Ends, secret: &Secret) -> Response {
    let name = cookie_name(ends);
    let cookie = format!("{name}={}; Path=/; Max-Age={COOKIE_AGE}; HttpOnly; SameSite=Strict", secret.text());
    ([(header::SET_COOKIE, cookie)], response).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ends() -> Ends {
        Ends {
            from: "10.0.0.9:5000".parse().expect("an address"),
            to: "10.0.0.5:7117".parse().expect("an address"),
        }
    }

    fn headers(pairs: &[(header::HeaderName, String)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (name.clone(), value.parse().expect("a value"))).collect()
    }

    fn found(pairs: &[(header::HeaderName, String)]) -> Option<bool> {
        let token = Secret::new([7; 32]);
        shown(&headers(pairs), ends()).map(|shown| shown.is_ok_and(|secret| secret.hash().fits(&token.hash())))
    }

    #[test]
    fn a_token_is_shown_in_the_header_or_in_our_cookie() {
        let token = Secret::new([7; 32]).text();
        let other = Secret::new([8; 32]).text();
        assert_eq!(found(&[]), None);
        assert_eq!(found(&[(header::AUTHORIZATION, format!("Bearer {token}"))]), Some(true));
        assert_eq!(found(&[(header::AUTHORIZATION, format!("bearer {token}"))]), Some(true));
        assert_eq!(found(&[(header::AUTHORIZATION, format!("Basic {token}"))]), Some(false));
        assert_eq!(found(&[(header::COOKIE, format!("a=b; bellwire-7117={token}; c=d"))]), Some(true));
        assert_eq!(found(&[(header::COOKIE, format!("bellwire-8117={token}"))]), None, "another daemon's");
        let both = [
            (header::AUTHORIZATION, format!("Bearer {other}")),
            (header::COOKIE, format!("bellwire-7117={token}")),
        ];
        assert_eq!(found(&both), Some(false), "the header is what was meant now");
    }

    #[test]
    fn the_cookie_is_out_of_reach_of_scripts_and_of_other_pages() {
        let secret = Secret::new([7; 32]);
        let response = with_cookie(json_response(&json!({})), ends(), &secret);
        let cookie = response.headers()[header::SET_COOKIE].to_str().expect("text").to_owned();
        assert!(cookie.starts_with(&format!("bellwire-7117={};", secret.text())), "{cookie}");
        assert!(cookie.ends_with("; HttpOnly; SameSite=Strict"), "{cookie}");
    }
}
