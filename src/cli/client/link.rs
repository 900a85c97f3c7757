//! One conversation with a running daemon: JSON-RPC 2.0 over a WebSocket.

use std::time::Duration;

use futures_util::{Sink, SinkExt, Stream, StreamExt};
use serde_json::{Value, json};
use tokio::net::TcpStream;
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::tungstenite::handshake::client::Request;
use tokio_tungstenite::tungstenite::http::header::{AUTHORIZATION, HeaderValue};
use tokio_tungstenite::tungstenite::{self, Message};
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream, connect_async};

use super::Daemon;
use crate::show::access::Secret;

const PORT: u16 = 7117;
const CONNECT_WITHIN: Duration = Duration::from_secs(2);
const ANSWER_WITHIN: Duration = Duration::from_secs(3);

pub type Socket = WebSocketStream<MaybeTlsStream<TcpStream>>;

pub struct Link {
    socket: Socket,
    last_id: u64,
}

/// Why a request came to nothing.
#[derive(Debug)]
pub enum Failure {
    /// The daemon understood and refused, or did not understand; each reason a sentence.
    Refused(Vec<String>),
    /// Nobody answered; what was tried and what came of it.
    NotReached(String),
}

impl Link {
    /// All runs of the command line are one client, so that one may release what another holds.
    pub async fn open(daemon: &Daemon) -> Result<Link, Failure> {
        Link::open_as(daemon, "command-line").await
    }

    /// As a client of another name.
    pub async fn open_as(daemon: &Daemon, name: &str) -> Result<Link, Failure> {
        let url = format!("ws://{}/rpc?name={name}", with_port(&daemon.address));
        let request = opening(&url, daemon.token.as_deref())?;
        let opened = tokio::time::timeout(CONNECT_WITHIN, connect_async(request)).await;
        let why = match opened {
            Ok(Ok((socket, _))) => return Ok(Link { socket, last_id: 0 }),
            Ok(Err(error)) => unopened(&error),
            Err(_) => format!("no answer within {} s", CONNECT_WITHIN.as_secs()),
        };
        Err(Failure::NotReached(format!("tried {url}: {why}")))
    }

    /// For who speaks without waiting for answers.
    pub fn into_socket(self) -> Socket {
        self.socket
    }

    /// Asks, and waits for the answer.
    pub async fn call(&mut self, method: &str, params: Value) -> Result<Value, Failure> {
        self.call_within(method, params, ANSWER_WITHIN).await
    }

    /// Says what nobody answers.
    pub async fn tell(&mut self, method: &str, params: Value) -> Result<(), Failure> {
        speak(&mut self.socket, json!({ "jsonrpc": "2.0", "method": method, "params": params })).await
    }

    /// Asks for what may take longer.
    pub async fn call_within(&mut self, method: &str, params: Value, within: Duration) -> Result<Value, Failure> {
        self.last_id += 1;
        let request = json!({ "jsonrpc": "2.0", "id": self.last_id, "method": method, "params": params });
        match tokio::time::timeout(within, self.exchange(request)).await {
            Ok(answer) => answer,
            Err(_) => Err(Failure::lost(&format!("no answer to {method} within {} s", within.as_secs()))),
        }
    }

    async fn exchange(&mut self, request: Value) -> Result<Value, Failure> {
        let id = request["id"].clone();
        speak(&mut self.socket, request).await?;
        loop {
            // Anything else is a notification.
            let answer = hear(&mut self.socket).await?;
            if answer["id"] == id {
                return read(answer);
            }
        }
    }
}

/// Says one thing to the daemon.
pub async fn speak(
    socket: &mut (impl Sink<Message, Error = tungstenite::Error> + Unpin),
    message: Value,
) -> Result<(), Failure> {
    socket.send(Message::text(message.to_string())).await.map_err(|error| Failure::lost(&error.to_string()))
}

/// The next thing that the daemon says.
pub async fn hear(
    socket: &mut (impl Stream<Item = tungstenite::Result<Message>> + Unpin),
) -> Result<Value, Failure> {
    loop {
        let message = match socket.next().await {
            Some(message) => message.map_err(|error| Failure::lost(&error.to_string()))?,
            None => return Err(Failure::lost("it closed the connection")),
        };
        if let Message::Text(text) = message {
            return serde_json::from_str(text.as_str()).map_err(|error| Failure::lost(&error.to_string()));
        }
    }
}

fn opening(url: &str, token: Option<&str>) -> Result<Request, Failure> {
    let unusable = |why: String| Failure::NotReached(format!("tried {url}: {why}"));
    let mut request = url.into_client_request().map_err(|error| unusable(error.to_string()))?;
    if let Some(token) = token.filter(|token| !token.is_empty()) {
        let secret = Secret::parse(token).map_err(|why| Failure::Refused(vec![format!("--token: {why}")]))?;
        let bearer = HeaderValue::from_str(&format!("Bearer {}", secret.text()));
        request.headers_mut().insert(AUTHORIZATION, bearer.map_err(|error| unusable(error.to_string()))?);
    }
    Ok(request)
}

fn unopened(error: &tungstenite::Error) -> String {
    match error {
        tungstenite::Error::Io(error) if error.kind() == std::io::ErrorKind::ConnectionRefused => {
            "nothing listens there (connection refused)".to_owned()
        }
        tungstenite::Error::Http(answer) => {
            format!("something listens there, but it answered {} instead of opening a WebSocket", answer.status())
        }
        other => other.to_string(),
    }
}

impl Failure {
    pub fn lost(why: &str) -> Failure {
        Failure::NotReached(format!(
            "the daemon was reached, but then: {why}. Whether it did what was asked is not known"
        ))
    }
}

/// What an answer of the daemon holds.
pub fn read(mut answer: Value) -> Result<Value, Failure> {
    if let Some(result) = answer.get_mut("result") {
        return Ok(result.take());
    }
    let error = &answer["error"];
    let reasons: Vec<String> = error["data"]["reasons"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .map(str::to_owned)
        .collect();
    if reasons.is_empty() {
        return Err(Failure::Refused(vec![error["message"].as_str().unwrap_or("no reason was given").to_owned()]));
    }
    Err(Failure::Refused(reasons))
}

/// `127.0.0.1` is `127.0.0.1:7117`, and `::1` is `[::1]:7117`.
pub fn with_port(address: &str) -> String {
    if let Ok(address) = address.parse::<std::net::Ipv6Addr>() {
        return format!("[{address}]:{PORT}");
    }
    match address.rsplit_once(':') {
        Some((_, port)) if port.parse::<u16>().is_ok() => address.to_owned(),
        Some(_) | None => format!("{address}:{PORT}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_without_a_port_gets_ours() {
        for (given, expected) in [
            ("127.0.0.1", "127.0.0.1:7117"),
            ("127.0.0.1:80", "127.0.0.1:80"),
            ("localhost", "localhost:7117"),
            ("::1", "[::1]:7117"),
            ("[::1]:90", "[::1]:90"),
            ("[::1]", "[::1]:7117"),
        ] {
            assert_eq!(with_port(given), expected);
        }
    }

    #[test]
    fn every_answer_is_a_result_or_reasons() {
        assert!(
            matches!(read(json!({ "id": 1, "result": { "accepted": true } })), Ok(result) if result["accepted"] == true)
        );
        let refused = json!({ "id": 1, "error": { "code": -32000, "message": "refused", "data": { "reasons": ["a", "b"] } } });
        assert!(matches!(read(refused), Err(Failure::Refused(reasons)) if reasons == ["a", "b"]));
        let misheard = json!({ "id": 1, "error": { "code": -32602, "message": "value: expected a number" } });
        assert!(
            matches!(read(misheard), Err(Failure::Refused(reasons)) if reasons == ["value: expected a number"])
        );
    }
}
