//! The table of access, replaced while clients are there: who loses what, at once.

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use bellwire::daemon::{Addresses, Asked, Daemon, Sockets};
use bellwire::engine::{Engine, Verb};
use bellwire::proof::prove;
use bellwire::rig::{self, Cycle};
use bellwire::show::access::{Access, Role, Secret, Sender, Token};
use bellwire::show::read;
use futures_util::{SinkExt, StreamExt};
use serde_json::{Value, json};
use tokio::io::AsyncWriteExt;
use tokio::net::{TcpStream, UdpSocket};
use tokio::time::timeout;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream, connect_async};

const PATIENCE: Duration = Duration::from_secs(10);

fn secret(seed: u8) -> Secret {
    Secret::new([seed; 32])
}

/// This machine is not trusted; a tablet and a desk are let in.
fn access(tablet: Option<Role>, desk: Option<Role>) -> Access {
    let tablet = tablet.map(|role| Token { name: "tablet".into(), role, hash: secret(1).hash() });
    let network = "127.0.0.0/8".parse().expect("a network");
    let desk = desk.map(|role| Sender { name: "desk".into(), role, network });
    Access {
        written: true,
        trust_loopback: false,
        tokens: tablet.into_iter().collect(),
        senders: desk.into_iter().collect(),
        ..Access::default()
    }
}

fn start(access: Access) -> Daemon {
    let reading = read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/bench"));
    let show = Arc::new(reading.show.expect("the bench reads well"));
    let plan = Arc::new(prove(&show).plan);
    let (drivers, faults) = rig::open(&show, 7);
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan.clone()), drivers, faults);
    let any = "127.0.0.1:0".parse().expect("an address");
    let sockets = Sockets::bind(Addresses { http: any, osc: any, stop_port: any }, access).expect("bound");
    Daemon::start(show, plan, cycle, sockets, None).expect("the daemon starts")
}

type Socket = WebSocketStream<MaybeTlsStream<TcpStream>>;

async fn open(daemon: &Daemon) -> Socket {
    let mut request = format!("ws://{}/rpc", daemon.bound().http).into_client_request().expect("a request");
    let bearer = format!("Bearer {}", secret(1).text()).parse().expect("a header");
    request.headers_mut().insert("authorization", bearer);
    connect_async(request).await.expect("the WebSocket opens").0
}

/// The next text; `None` once the connection is closed.
async fn hear(socket: &mut Socket) -> Option<Value> {
    loop {
        match timeout(PATIENCE, socket.next()).await.expect("something comes") {
            Some(Ok(Message::Text(text))) => return Some(serde_json::from_str(text.as_str()).expect("JSON")),
            Some(Ok(Message::Close(_)) | Err(_)) | None => return None,
            Some(Ok(_)) => {}
        }
    }
}

async fn ask(socket: &mut Socket, method: &str) -> Option<Value> {
    let call = json!({ "jsonrpc": "2.0", "id": 1, "method": method });
    socket.send(Message::text(call.to_string())).await.expect("sent");
    loop {
        let heard = hear(socket).await?;
        if heard["id"] == 1 {
            return Some(heard);
        }
    }
}

fn block_on<T>(work: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime").block_on(work)
}

fn stopped(daemon: &Daemon) -> bool {
    let deadline = Instant::now() + PATIENCE;
    while daemon.house().board.status().stopped.is_none() {
        if Instant::now() > deadline {
            return false;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    true
}

#[test]
fn a_token_that_is_removed_closes_what_it_opened_and_leaves_the_stop() {
    let daemon = start(access(Some(Role::Operator), None));
    block_on(async {
        let mut socket = open(&daemon).await;
        assert!(ask(&mut socket, "status").await.expect("answered").get("result").is_some());
        daemon.house().gate.replace(access(None, None));
        assert_eq!(hear(&mut socket).await, None, "still open");
        let mut again = open(&daemon).await;
        let said = ask(&mut again, "status").await.expect("answered");
        assert!(
            said["error"]["data"]["reasons"][0].as_str().expect("a reason").contains("lets nobody in"),
            "{said}"
        );
        assert_eq!(ask(&mut again, "stop").await.expect("answered")["result"]["taken"], true);
    });
    assert!(stopped(&daemon));
}

#[test]
fn a_role_that_is_lowered_holds_from_the_next_word_on() {
    let daemon = start(access(Some(Role::Operator), None));
    block_on(async {
        let mut socket = open(&daemon).await;
        daemon.house().gate.replace(access(Some(Role::Observer), None));
        assert_eq!(hear(&mut socket).await, None, "it keeps the role that it had");
        let mut again = open(&daemon).await;
        let said = ask(&mut again, "disarm").await.expect("answered");
        assert!(said.to_string().contains("the sender is an observer"), "{said}");
    });
}

#[test]
fn a_table_that_changes_elsewhere_disturbs_nobody() {
    let daemon = start(access(Some(Role::Caller), None));
    block_on(async {
        let mut socket = open(&daemon).await;
        for _ in 0..20 {
            daemon.house().gate.replace(access(Some(Role::Caller), Some(Role::Observer)));
            daemon.house().gate.replace(access(Some(Role::Caller), None));
        }
        assert!(ask(&mut socket, "status").await.expect("answered").get("result").is_some());
    });
}

#[test]
fn a_sender_that_is_removed_is_turned_away_at_its_next_packet() {
    const STANDBY: &[u8] = b"/bellwire/standby\0\0\0,s\0\x001\0\0\0";
    let daemon = start(access(None, Some(Role::Caller)));
    let said = |access: Access| {
        let daemon = &daemon;
        async move {
            daemon.house().gate.replace(access);
            let socket = UdpSocket::bind("127.0.0.1:0").await.expect("a socket");
            socket.send_to(STANDBY, daemon.bound().osc_udp).await.expect("sent");
            let mut answer = [0; 1024];
            let length = timeout(PATIENCE, socket.recv(&mut answer)).await.expect("answered").expect("received");
            String::from_utf8_lossy(&answer[..length]).into_owned()
        }
    };
    block_on(async {
        assert!(said(access(None, Some(Role::Caller))).await.contains("accepted"));
        assert!(said(access(None, Some(Role::Observer))).await.contains("the sender is an observer"));
        assert!(said(access(None, None)).await.contains("is not let in"));
        let socket = UdpSocket::bind("127.0.0.1:0").await.expect("a socket");
        socket.send_to(b"/bellwire/stop\0\0,\0\0\0", daemon.bound().osc_udp).await.expect("sent");
    });
    assert!(stopped(&daemon));
}

/// A stop that had come when its sender was shut out is taken, though the link is closed. Many times, since it is a
/// race.
#[test]
fn a_stop_that_crosses_with_being_shut_out_is_taken() {
    const STOP: &[u8] = b"\xc0/bellwire/stop\0\0,\0\0\0\xc0";
    let daemon = start(access(Some(Role::Operator), Some(Role::Caller)));
    let operator = daemon.house().hub.link("tests", Role::Operator);
    let rid = || {
        while daemon.house().board.status().stopped.is_some() {
            daemon.house().hub.ask(&operator, Asked::now(Verb::Reset), Box::new(|_| {}));
            std::thread::sleep(Duration::from_millis(5));
        }
    };
    std::thread::sleep(Duration::from_millis(500));
    block_on(async {
        for round in 0..50 {
            daemon.house().gate.replace(access(Some(Role::Operator), Some(Role::Caller)));
            let mut osc = TcpStream::connect(daemon.bound().osc_tcp).await.expect("connected");
            let mut socket = open(&daemon).await;
            assert!(ask(&mut socket, "status").await.is_some());
            if round % 2 == 0 {
                osc.write_all(STOP).await.expect("sent");
            } else {
                let call = json!({ "jsonrpc": "2.0", "id": 1, "method": "stop" });
                socket.send(Message::text(call.to_string())).await.expect("sent");
            }
            daemon.house().gate.replace(access(None, None));
            assert!(stopped(&daemon), "round {round}");
            rid();
        }
    });
}

/// One sender, one socket: what was judged once is judged again under another table.
#[test]
fn a_known_sender_is_judged_again_under_another_table() {
    const GO: &[u8] = b"/bellwire/go\0\0\0\0,\0\0\0";
    let daemon = start(access(None, Some(Role::Caller)));
    block_on(async {
        let socket = UdpSocket::bind("127.0.0.1:0").await.expect("a socket");
        for (desk, expected) in
            [(Some(Role::Caller), "standby"), (None, "is not let in"), (Some(Role::Caller), "standby")]
        {
            daemon.house().gate.replace(access(None, desk));
            socket.send_to(GO, daemon.bound().osc_udp).await.expect("sent");
            let mut answer = [0; 1024];
            let length = timeout(PATIENCE, socket.recv(&mut answer)).await.expect("answered").expect("received");
            let said = String::from_utf8_lossy(&answer[..length]).into_owned();
            assert!(said.contains(expected), "{desk:?}: {said}");
        }
    });
}
