//! The daemon under load and in trouble, with its real threads, sockets and clock.

use std::collections::HashMap;
use std::net::UdpSocket;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::atomic::{AtomicBool, AtomicU64};
use std::time::{Duration, Instant};

use bellwire::daemon::{Addresses, Asked, Daemon, Ending, Shell, Sockets, Turn};
use bellwire::engine::{Accepted, Engine, Reason, Refusal, Request, Role, Status, StopCalls, StopLane, Verb};
use bellwire::proof::{Plan, prove};
use bellwire::rig::{self, Cycle, Exchange, SimFaults};
use bellwire::show::access::Access;
use bellwire::show::{Nanos, Show, read};
use futures_util::{SinkExt, StreamExt};
use serde_json::{Value, json};
use tokio::net::TcpStream;
use tokio::time::timeout;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream, connect_async};

/// For anything that must happen, on a machine that does much else.
const PATIENCE: Duration = Duration::from_secs(20);

fn demo_show() -> (Arc<Show>, Arc<Plan>) {
    let reading = read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show"));
    let show = reading.show.expect("the demo show reads well");
    let plan = prove(&show).plan;
    (Arc::new(show), Arc::new(plan))
}

fn any_sockets() -> Sockets {
    let any = "127.0.0.1:0".parse().expect("an address");
    Sockets::bind(Addresses { http: any, osc: any, stop_port: any }, Access::default())
        .expect("loopback has free ports")
}

fn start() -> Daemon {
    let (show, plan) = demo_show();
    let (drivers, faults) = rig::open(&show, 7);
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan.clone()), drivers, faults);
    Daemon::start(show, plan, cycle, any_sockets(), None).expect("the daemon starts")
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let deadline = Instant::now() + PATIENCE;
    while !holds() {
        assert!(Instant::now() < deadline, "waited in vain until {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn status(daemon: &Daemon) -> Status {
    daemon.house().board.status()
}

fn press_stop_port(daemon: &Daemon) {
    let socket = UdpSocket::bind("127.0.0.1:0").expect("a socket");
    socket.send_to(b"/bellwire/stop\0\0,\0\0\0", daemon.bound().stop_port).expect("sent");
}

type Socket = WebSocketStream<MaybeTlsStream<TcpStream>>;

async fn open(daemon: &Daemon) -> Socket {
    connect_async(format!("ws://{}/rpc", daemon.bound().http)).await.expect("the WebSocket opens").0
}

async fn tell(socket: &mut Socket, id: u64, method: &str, params: Value) {
    let call = json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params });
    socket.send(Message::text(call.to_string())).await.expect("sent");
}

/// The next message that is text.
async fn hear(socket: &mut Socket) -> Value {
    loop {
        let message =
            timeout(PATIENCE, socket.next()).await.expect("something comes").expect("open").expect("a frame");
        if let Message::Text(text) = message {
            return serde_json::from_str(text.as_str()).expect("JSON");
        }
    }
}

async fn call(socket: &mut Socket, method: &str, params: Value) -> Value {
    tell(socket, 1, method, params).await;
    loop {
        let message = hear(socket).await;
        if message["id"] == 1 {
            return message;
        }
    }
}

fn block_on<T>(work: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime").block_on(work)
}

#[test]
fn a_stop_is_heard_while_the_request_queue_is_full() {
    let daemon = start();
    let over = AtomicBool::new(false);
    let full = Arc::new(AtomicU64::new(0));
    let house = daemon.house();
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let clients: Vec<_> = (0..64).map(|client| house.hub.link(&client.to_string(), Role::Caller)).collect();
            while !over.load(Relaxed) {
                for client in &clients {
                    let full = full.clone();
                    let reply = Box::new(move |outcome: Result<Accepted, Refusal>| {
                        let without_room = |reason: &Reason| matches!(reason, Reason::TooMany { .. });
                        let refused = outcome.is_err_and(|refusal| refusal.reasons.iter().any(without_room));
                        full.fetch_add(u64::from(refused), Relaxed);
                    });
                    house.hub.ask(client, Asked::now(Verb::Go { cue: None }), reply);
                }
            }
        });
        until("the queue is full", || full.load(Relaxed) > 1000);
        let (pressed, before) = (Instant::now(), full.load(Relaxed));
        press_stop_port(&daemon);
        until("the stop is latched", || status(&daemon).stopped.is_some());
        let taken = pressed.elapsed();
        until("the queue is still full", || full.load(Relaxed) > before + 1000);
        over.store(true, Relaxed);
        // A tick is 2 ms; the rest is this test's own machine.
        assert!(taken < Duration::from_millis(250), "{taken:?}");
    });
    daemon.end(StopLane::Signal);
}

#[test]
fn every_request_gets_one_answer_under_load() {
    const CLIENTS: usize = 8;
    const REQUESTS: u64 = 400;
    let daemon = start();
    block_on(async {
        let mut work = Vec::new();
        for _ in 0..CLIENTS {
            let mut socket = open(&daemon).await;
            work.push(async move {
                let mut answers: HashMap<u64, u32> = HashMap::new();
                let (mut accepted, mut refused) = (0, 0);
                for first in (0..REQUESTS).step_by(100) {
                    for id in first..first + 100 {
                        tell(&mut socket, id, "input", json!({ "name": "deck clear", "value": true })).await;
                    }
                    for _ in 0..100 {
                        let answer = hear(&mut socket).await;
                        *answers.entry(answer["id"].as_u64().expect("an id of ours")).or_default() += 1;
                        *(if answer["result"]["accepted"] == true { &mut accepted } else { &mut refused }) += 1;
                    }
                }
                // Nothing more comes: an answer to the last call is the next message.
                tell(&mut socket, REQUESTS, "status", json!({})).await;
                assert_eq!(hear(&mut socket).await["id"], REQUESTS);
                assert!(
                    answers.len() as u64 == REQUESTS && answers.values().all(|&times| times == 1),
                    "{answers:?}"
                );
                (accepted, refused)
            });
        }
        let tallies = futures_util::future::join_all(work).await;
        assert!(tallies.iter().all(|(accepted, _)| *accepted > 0), "{tallies:?}");
        // A link may have only so many under way: this load must have met that bound, or the test shows nothing.
        assert!(tallies.iter().any(|(_, refused)| *refused > 0), "{tallies:?}");
    });
    until("nothing is under way", || daemon.house().hub.in_flight() == 0);
    daemon.end(StopLane::Signal);
}

#[test]
fn a_client_that_does_not_read_delays_no_other() {
    let daemon = start();
    block_on(async {
        let mut deaf = Vec::new();
        for _ in 0..8 {
            let mut socket = open(&daemon).await;
            tell(&mut socket, 1, "subscribe", json!({ "hz": 30, "stage": true })).await;
            for id in 0..300 {
                // It may be cut off in the middle of this, which is as it should be.
                let status = json!({ "jsonrpc": "2.0", "id": id, "method": "status" });
                let sent = socket.send(Message::text(status.to_string()));
                if !matches!(timeout(Duration::from_millis(50), sent).await, Ok(Ok(()))) {
                    break;
                }
            }
            deaf.push(socket);
        }
        let mut socket = open(&daemon).await;
        let mut waits: Vec<Duration> = Vec::new();
        for _ in 0..50 {
            let asked = Instant::now();
            call(&mut socket, "input", json!({ "name": "deck clear", "value": true })).await;
            waits.push(asked.elapsed());
        }
        waits.sort();
        assert!(waits[waits.len() / 2] < Duration::from_millis(50), "{waits:?}");
        drop(deaf);
    });
    daemon.end(StopLane::Signal);
}

#[test]
fn a_daemon_starts_disarmed_whatever_it_was_before() {
    let daemon = start();
    daemon.arm_by_itself().expect("simulated rigs come to rest");
    until("armed", || status(&daemon).armed);
    assert!(daemon.end(StopLane::Signal), "at rest at the end");

    let daemon = start();
    until("it ticks", || status(&daemon).tick > 50);
    assert!(!status(&daemon).armed);
    assert_eq!(status(&daemon).stopped, None);
    daemon.end(StopLane::Signal);
}

#[test]
fn a_lease_that_runs_out_is_told_once() {
    let daemon = start();
    block_on(async {
        let mut witness = open(&daemon).await;
        call(&mut witness, "subscribe", json!({ "hz": 1 })).await;
        let mut leased = open(&daemon).await;
        call(&mut leased, "subscribe", json!({ "hz": 1, "lease": 0.3 })).await;
        let silent = Instant::now();
        let mut lost = 0;
        while silent.elapsed() < Duration::from_secs(2) {
            let Ok(message) = timeout(Duration::from_millis(100), hear(&mut witness)).await else { continue };
            if message["method"] == "event" && message["params"]["kind"] == "client" {
                assert!(silent.elapsed() >= Duration::from_millis(250), "{:?}", silent.elapsed());
                lost += 1;
            }
        }
        assert_eq!(lost, 1);
        drop(leased);
    });
    daemon.end(StopLane::Signal);
}

/// A cycle that misbehaves at one tick.
struct Trouble {
    cycle: Cycle,
    ticks: u32,
    at: u32,
    what: What,
    cut: Arc<AtomicBool>,
}

enum What {
    Panics,
    Hangs(Duration),
}

impl Turn for Trouble {
    fn turn<'a>(&'a mut self, stop: StopCalls, requests: &'a [Request], late: Nanos, shell: Shell) -> Exchange<'a> {
        self.ticks += 1;
        self.cut.fetch_or(shell.cut, Relaxed);
        if self.ticks == self.at {
            match self.what {
                What::Panics => panic!("planted in a test"),
                What::Hangs(time) => std::thread::sleep(time),
            }
        }
        Turn::turn(&mut self.cycle, stop, requests, late, shell)
    }

    fn replace(&mut self, next: Box<Engine>) -> (Box<Engine>, Result<u32, Refusal>) {
        Turn::replace(&mut self.cycle, next)
    }

    fn faults(&self) -> Option<SimFaults> {
        Turn::faults(&self.cycle)
    }
}

fn start_in_trouble(what: What) -> (Daemon, Arc<AtomicBool>) {
    let (show, plan) = demo_show();
    let (drivers, faults) = rig::open(&show, 7);
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan.clone()), drivers, faults);
    let cut = Arc::default();
    let trouble = Trouble { cycle, ticks: 0, at: 200, what, cut: Arc::clone(&cut) };
    (Daemon::start(show, plan, trouble, any_sockets(), None).expect("the daemon starts"), cut)
}

#[test]
fn a_tick_thread_that_panics_ends_the_daemon_with_the_heartbeat_withheld() {
    let (daemon, _) = start_in_trouble(What::Panics);
    assert_eq!(daemon.wait_at_most(PATIENCE), Some(Ending::Panic { thread: "tick" }));
    assert!(daemon.house().pulse.cut());
    assert!(!daemon.end(StopLane::Watch), "nobody measured a standstill");
}

#[test]
fn a_loop_that_hangs_is_stopped_by_the_watch_without_it() {
    let (daemon, cut) = start_in_trouble(What::Hangs(Duration::from_millis(600)));
    until("the heartbeat is withheld while the loop hangs", || daemon.house().pulse.cut());
    until("the loop finds the stop when it comes back", || status(&daemon).stopped.is_some());
    until("the loop withholds the heartbeat", || cut.load(Relaxed));
    until("the heartbeat is given back", || !daemon.house().pulse.cut());
    assert!(status(&daemon).stopped.is_some(), "the stop stays latched");
    daemon.end(StopLane::Signal);
}
