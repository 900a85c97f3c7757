//! How long a stop takes while the network is at its worst, against a quiet one in the same run: `cargo bench --bench stop`.
//!
//! At its worst: 50,000 datagrams of rubbish a second at the OSC port, and 100 observers over WebSocket who ask for the
//! whole status with the stage twenty times a second, of whom a third read nothing of it, and come again as soon as they are cut off.
//! Taken are, from the moment that a
//! stop is sent: its answer, and the tick that has latched it, which is looked for every 0.1 ms.

use std::net::{SocketAddr, UdpSocket};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use bellwire::daemon::{Addresses, Asked, Daemon, Sockets};
use bellwire::engine::{Engine, Role, Verb};
use bellwire::proof::prove;
use bellwire::rig::{self, Cycle};
use bellwire::show::access::Access;
use bellwire::show::read;
use futures_util::{SinkExt, StreamExt};
use tokio::net::TcpStream;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream, connect_async};

const STOPS: usize = 200;
const OBSERVERS: usize = 100;
const RUBBISH_A_SECOND: u32 = 50_000;
const STOP: &[u8] = b"/bellwire/stop\0\0,\0\0\0";
const CALL: &str = r#"{"jsonrpc":"2.0","id":1,"method":"stop"}"#;
const SUBSCRIBE: &str = r#"{"jsonrpc":"2.0","id":1,"method":"subscribe","params":{"hz":20,"stage":true}}"#;

type Socket = WebSocketStream<MaybeTlsStream<TcpStream>>;

fn main() {
    let daemon = start();
    let ours = runtime();
    let mut socket = ours.block_on(open(daemon.bound().http));
    println!("A stop, median and 99th percentile of {STOPS}, ms\n");
    let quiet = both_roads(&daemon, &ours, &mut socket);
    print("unloaded", &quiet);

    let osc = daemon.bound().osc_udp;
    let over = AtomicBool::new(false);
    let sent = AtomicU64::new(0);
    let theirs = runtime();
    let observers = theirs.block_on(observe(daemon.bound().http));
    std::thread::scope(|scope| {
        scope.spawn(|| flood(osc, &over, &sent));
        std::thread::sleep(Duration::from_secs(2));
        let (began, before, seen) = (Instant::now(), sent.load(Ordering::Relaxed), rejected(&daemon));
        let loaded = both_roads(&daemon, &ours, &mut socket);
        let time = began.elapsed().as_secs_f64();
        print("loaded", &loaded);
        println!(
            "\nrubbish: {:.0} datagrams a second sent, {:.0} counted; {observers} observers, {} there at the end",
            (sent.load(Ordering::Relaxed) - before) as f64 / time,
            (rejected(&daemon) - seen) as f64 / time,
            daemon.house().gate.clients.count() - 1,
        );
        println!("\nloaded against unloaded, median");
        for (road, (loaded, quiet)) in ROADS.iter().zip(loaded.iter().zip(&quiet)) {
            println!("  {road:<28} {:>6.1}", quantile(loaded, 0.5) / quantile(quiet, 0.5));
        }
        over.store(true, Ordering::Relaxed);
    });
    // The observers end with their runtime.
    theirs.shutdown_background();
}

const ROADS: [&str; 4] = ["stop port, answered", "stop port, latched", "WebSocket, answered", "WebSocket, latched"];

fn start() -> Daemon {
    let reading = read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show"));
    let show = Arc::new(reading.show.expect("the demo show reads well"));
    let plan = Arc::new(prove(&show).plan);
    let (drivers, faults) = rig::open(&show, 7);
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan.clone()), drivers, faults);
    let any = "127.0.0.1:0".parse().expect("an address");
    let sockets =
        Sockets::bind(Addresses { http: any, osc: any, stop_port: any }, Access::default()).expect("bound");
    let daemon = Daemon::start(show, plan, cycle, sockets, None).expect("the daemon starts");
    std::thread::sleep(Duration::from_secs(1));
    daemon
}

fn runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().expect("a runtime")
}

async fn open(at: SocketAddr) -> Socket {
    connect_async(format!("ws://{at}/rpc")).await.expect("the WebSocket opens").0
}

/// Opens the observers' links and leaves them at it; gives how many came in.
async fn observe(at: SocketAddr) -> usize {
    for observer in 0..OBSERVERS {
        let mut socket = subscribe(at).await;
        tokio::spawn(async move {
            if observer % 3 == 0 {
                loop {
                    // It is there and reads nothing, and comes again before it is cut off for that.
                    tokio::time::sleep(Duration::from_secs(4)).await;
                    drop(std::mem::replace(&mut socket, subscribe(at).await));
                }
            }
            while let Some(Ok(_)) = socket.next().await {}
        });
    }
    OBSERVERS
}

async fn subscribe(at: SocketAddr) -> Socket {
    let mut socket = open(at).await;
    socket.send(Message::text(SUBSCRIBE)).await.expect("sent");
    socket
}

/// In slots of a millisecond, by absolute time, so that a late slot is made up for.
fn flood(at: SocketAddr, over: &AtomicBool, sent: &AtomicU64) {
    let socket = UdpSocket::bind("127.0.0.1:0").expect("a socket");
    let rubbish: Vec<u8> = (0..64u32).map(|index| (index.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let began = Instant::now();
    let mut due = 0u64;
    while !over.load(Ordering::Relaxed) {
        let owed = (began.elapsed().as_secs_f64() * f64::from(RUBBISH_A_SECOND)) as u64;
        for length in due..owed {
            if socket.send_to(&rubbish[..1 + (length % 64) as usize], at).is_ok() {
                sent.fetch_add(1, Ordering::Relaxed);
            }
        }
        due = owed;
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn rejected(daemon: &Daemon) -> u64 {
    daemon.house().counts().values().sum()
}

/// Times in the order of [`ROADS`], ms.
fn both_roads(daemon: &Daemon, ours: &tokio::runtime::Runtime, socket: &mut Socket) -> [Vec<f64>; 4] {
    let port = UdpSocket::bind("127.0.0.1:0").expect("a socket");
    port.connect(daemon.bound().stop_port).expect("connected");
    port.set_read_timeout(Some(Duration::from_secs(10))).expect("a time-out");
    let mut times = [const { Vec::new() }; 4];
    for _ in 0..STOPS {
        let began = Instant::now();
        port.send(STOP).expect("sent");
        port.recv(&mut [0; 100]).expect("answered");
        times[0].push(millis(began));
        times[1].push(latched(daemon, began));
        reset(daemon);

        let began = Instant::now();
        ours.block_on(async {
            socket.send(Message::text(CALL)).await.expect("sent");
            // What else comes is the standstill of the stop before.
            while !matches!(socket.next().await, Some(Ok(Message::Text(text))) if text.as_str().contains("taken")) {
            }
        });
        times[2].push(millis(began));
        times[3].push(latched(daemon, began));
        reset(daemon);
    }
    times
}

fn latched(daemon: &Daemon, began: Instant) -> f64 {
    while daemon.house().board.status().stopped.is_none() {
        assert!(began.elapsed() < Duration::from_secs(10), "no stop");
        std::thread::sleep(Duration::from_micros(100));
    }
    millis(began)
}

/// As an operator does once everything stands still.
fn reset(daemon: &Daemon) {
    let house = daemon.house();
    let operator = house.hub.link("bench", Role::Operator);
    let began = Instant::now();
    while house.board.status().stopped.is_some() {
        assert!(began.elapsed() < Duration::from_secs(10), "no reset");
        house.hub.ask(&operator, Asked::now(Verb::Reset), Box::new(|_| {}));
        std::thread::sleep(Duration::from_millis(7));
    }
}

fn millis(began: Instant) -> f64 {
    began.elapsed().as_secs_f64() * 1e3
}

fn quantile(times: &[f64], part: f64) -> f64 {
    let mut times = times.to_vec();
    times.sort_by(f64::total_cmp);
    times[((times.len() - 1) as f64 * part) as usize]
}

fn print(load: &str, times: &[Vec<f64>; 4]) {
    println!("{load}");
    for (road, times) in ROADS.iter().zip(times) {
        println!("  {road:<28} {:>8.3} {:>8.3}", quantile(times, 0.5), quantile(times, 0.99));
    }
}
