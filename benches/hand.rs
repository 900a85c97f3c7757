//! What rigs in hand cost, as ratios within one run: `cargo bench --bench hand`.
//!
//! 1. A tick with 24 axes in hand, all of them pushed, among bodies, against the same show with nothing in hand; and the same
//!    beside a cue that moves another four.
//! 2. A stick over UDP, from the datagram to the first setpoint that differs, against a bare UDP echo and a tick.

use std::net::UdpSocket;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use bellwire::daemon::{Addresses, Daemon, Shell, Sockets, Turn};
use bellwire::engine::*;
use bellwire::proof;
use bellwire::rig::{self, Cycle, Exchange, SimFaults};
use bellwire::show::access::Access;
use bellwire::show::{self, CueId, Nanos, RigId, Show};
use futures_util::{SinkExt, StreamExt};
use serde_json::{Value, json};
use tokio_tungstenite::tungstenite::Message;

const OPERATOR: ClientId = ClientId(1);
/// In hand; another is driven by the cue.
const RIGS: usize = 6;
const AXES: usize = 4;

fn main() {
    println!("A tick with {} axes in hand, median and 99th percentile\n", RIGS * AXES);
    tick_cost();
    println!("\nA stick over UDP\n");
    stick_over_udp();
}

fn read(folder: &Path) -> Show {
    let reading = show::read(folder);
    reading.show.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

fn show_of(settings: &str, rigs: &[(String, String)], cues: &str) -> Show {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("rigs")).unwrap();
    std::fs::create_dir(folder.path().join("cues")).unwrap();
    std::fs::write(folder.path().join("cues/all.toml"), cues).unwrap();
    std::fs::write(folder.path().join("show.toml"), format!("[show]\nname = \"In hand\"\n{settings}")).unwrap();
    for (name, text) in rigs {
        std::fs::write(folder.path().join(format!("rigs/{name}.toml")), text).unwrap();
    }
    read(folder.path())
}

/// Arms in a row that reach into each other's way; the last of them has a cue, which turns it away from the others.
fn arms() -> Show {
    let rig = |rig: usize| {
        let mut text = format!("kind = \"arm\"\nat = [{}.0, 0.0, 0.0]\n", 3 * rig);
        for (axis, direction) in ["z", "y", "z", "y"].into_iter().enumerate() {
            text += &format!(
                "[[axis]]\nname = \"a{axis}\"\nunit = \"deg\"\ntravel = [-170.0, 170.0]\nstart = 0.0\nspeed = 20.0\n\
                 acceleration = 40.0\njerk = 200.0\njoint = {{ turn = \"{direction}\", at = [0.0, 0.5, 0.5] }}\n\
                 bodies = [ {{ capsule = {{ from = [0.0, 0.0, 0.0], to = [0.0, 0.5, 0.5], radius = 0.1 }} }} ]\n"
            );
        }
        (format!("arm{rig}"), text)
    };
    let cue = format!(
        "[[cue]]\nnumber = \"1\"\nname = \"Away\"\n[[cue.move]]\nrig = \"arm{RIGS}\"\n\
         to = {{ a0 = -40.0, a1 = 20.0, a2 = -30.0, a3 = 20.0 }}\ntime = {CUE_LASTS:?}\n"
    );
    show_of("margin = 0.1\nreact = 0.1\n", &(0..=RIGS).map(rig).collect::<Vec<_>>(), &cue)
}

/// s
const CUE_LASTS: f64 = 60.0;

struct Bench {
    cycle: Cycle,
    next: u64,
}

impl Bench {
    fn new(show: &Arc<Show>, plan: &Arc<proof::Plan>) -> Bench {
        let (drivers, faults) = rig::open(show, 1);
        Bench { cycle: Cycle::new(show, Engine::new(show.clone(), plan.clone()), drivers, faults), next: 0 }
    }

    fn ask(&mut self, verb: Verb) -> Accepted {
        self.next += 1;
        let (client, role) = (OPERATOR, Role::Operator);
        let requests = [Request { id: RequestId(self.next), client, role, edition: 0, key: None, age: None, verb }];
        let output = self.cycle.turn(StopCalls::default(), &requests, Nanos::ZERO);
        let outcome = output.answers[0].outcome.clone();
        outcome.unwrap_or_else(|refusal| panic!("{refusal:?}"))
    }

    fn fire(&mut self) {
        let standby = self.ask(Verb::Standby { cues: [CueId(0)].into_iter().collect(), skip: false });
        assert!(matches!(standby, Accepted::Standby { ready: true, .. }), "{standby:?}");
        self.ask(Verb::Go { cue: Some(CueId(0)) });
    }

    /// Whether the cue is under way.
    fn runs(&self) -> bool {
        !self.cycle.engine().status().running.is_empty()
    }

    /// µs a tick, with every stick at a value that is told every 20 ms, as hands do; and how many axes in hand moved in each.
    fn ticks(&mut self, count: usize, show: &Show, value: impl Fn(usize) -> Option<f64>) -> (Vec<f64>, Vec<usize>) {
        let (mut times, mut moved) = (Vec::new(), Vec::new());
        for tick in 0..count {
            if let Some(value) = value(tick).filter(|_| tick % 10 == 0) {
                let said = |axis| StickSample { client: OPERATOR, axis, kind: StickKind::Stick, value };
                self.cycle.hear(&show.axis_ids().take(RIGS * AXES).map(said).collect::<Vec<_>>());
            }
            let begin = Instant::now();
            let output = self.cycle.turn(StopCalls::default(), &[], Nanos::ZERO);
            times.push(begin.elapsed().as_secs_f64() * 1e6);
            moved.push(output.setpoints.iter().take(RIGS * AXES).filter(|setpoint| setpoint.speed != 0.0).count());
        }
        (times, moved)
    }

    /// To and fro, with a rest between: the stick counts after it has been at zero. What is timed is worth something only if
    /// the axes really go: most of them in most of the ticks in which they are pushed.
    fn driven(&mut self, show: &Show) -> Row {
        let pushed = |tick: usize| [1.0, 0.0, -1.0, 0.0][tick / 500 % 4];
        let (times, moved) = self.ticks(8000, show, |tick| Some(pushed(tick)));
        let of_pushed =
            || moved.iter().enumerate().filter(|&(tick, _)| pushed(tick) != 0.0).map(|(_, &moved)| moved);
        let most = of_pushed().filter(|&moved| moved > RIGS * AXES / 2).count();
        let (ticks, moving) = (of_pushed().count(), of_pushed().sum::<usize>() as f64);
        assert!(most > ticks / 2, "in {most} of {ticks} ticks most axes moved");
        Row { times: quantiles(times), moving: Some(moving / ticks as f64) }
    }
}

fn tick_cost() {
    let show = Arc::new(arms());
    let plan = Arc::new(proof::prove(&show).plan);
    let mut bench = Bench::new(&show, &plan);
    bench.ticks(300, &show, |_| None);
    bench.ask(Verb::Arm);
    let still =
        |bench: &mut Bench, value| Row { times: quantiles(bench.ticks(3000, &show, |_| value).0), moving: None };
    let bare = still(&mut bench, None);
    let shape = StickShape { dead_band: 0.0, taper: 0.0 };
    for rig in 0..RIGS {
        bench.ask(Verb::Hand { rig: RigId::new(rig), sticks: None, shape });
    }
    let in_hand = still(&mut bench, Some(0.0));
    let driven = bench.driven(&show);
    bench.ticks(500, &show, |_| Some(0.0));
    bench.fire();
    let beside = bench.driven(&show);
    assert!(bench.runs(), "the cue ended before the hands did");
    let period = show.settings.tick.seconds() * 1e6;
    let rows = [
        ("nothing in hand", bare),
        ("in hand, at rest", in_hand),
        ("driven", driven),
        ("driven beside a cue", beside),
    ];
    for (what, Row { times: (median, late), moving }) in rows {
        let moving = moving.map_or_else(String::new, |axes| format!("; {axes:.1} axes move while pushed"));
        println!(
            "  {what:<19} {median:8.2} {late:8.2} µs   {:5.2} and {:5.2} % of the tick, {:5.1} and {:5.1} times{moving}",
            100.0 * median / period,
            100.0 * late / period,
            median / bare.times.0,
            late / bare.times.1
        );
    }
}

/// µs, median and 99th percentile of a tick, and how many axes moved on average while they were pushed.
#[derive(Clone, Copy)]
struct Row {
    times: (f64, f64),
    moving: Option<f64>,
}

/// Notes when a setpoint first differs from the one before.
struct Watched {
    cycle: Cycle,
    before: f64,
    zero: Instant,
    /// Of the last tick in which it began to move, ns since `zero`.
    began: Arc<AtomicU64>,
    moving: bool,
}

impl Turn for Watched {
    fn turn<'a>(
        &'a mut self,
        stop: StopCalls,
        requests: &'a [Request],
        late: Nanos,
        shell: Shell<'_>,
    ) -> Exchange<'a> {
        let exchange = Turn::turn(&mut self.cycle, stop, requests, late, shell);
        let now = exchange.output.setpoints[0].position;
        if now != self.before && !self.moving {
            self.began.store(self.zero.elapsed().as_nanos() as u64, Ordering::Release);
        }
        (self.moving, self.before) = (now != self.before, now);
        exchange
    }

    fn replace(&mut self, next: Box<Engine>) -> (Box<Engine>, Result<u32, Refusal>) {
        Turn::replace(&mut self.cycle, next)
    }

    fn faults(&self) -> Option<SimFaults> {
        Turn::faults(&self.cycle)
    }
}

const PUSHES: usize = 100;

fn stick_over_udp() {
    let shuttle = "kind = \"slider\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"percent\"\n\
                   travel = [0.0, 100.0]\nstart = 50.0\nspeed = 10.0\nacceleration = 1000.0\njerk = 20000.0\n";
    let show = Arc::new(show_of("margin = 0.1\nreact = 0.1\n", &[("shuttle".into(), shuttle.into())], ""));
    let plan = Arc::new(proof::prove(&show).plan);
    let (drivers, faults) = rig::open(&show, 1);
    let (zero, began) = (Instant::now(), Arc::new(AtomicU64::new(0)));
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan.clone()), drivers, faults);
    let watched = Watched { cycle, before: f64::NAN, zero, began: began.clone(), moving: true };
    let any = "127.0.0.1:0".parse().unwrap();
    let sockets = Sockets::bind(Addresses { http: any, osc: any, stop_port: any }, Access::default()).unwrap();
    let tick = show.settings.tick.seconds() * 1e6;
    let daemon = Daemon::start(show, plan, watched, sockets, None).unwrap();
    daemon.arm_by_itself().unwrap();
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
    // The rig is this connection's as long as it is open.
    let _hand = runtime.block_on(take_in_hand(&format!("ws://{}/rpc?name=rail", daemon.bound().http)));

    let client = UdpSocket::bind("127.0.0.1:0").unwrap();
    client.connect(daemon.bound().osc_udp).unwrap();
    let mut pushes = Vec::new();
    for push in 0..PUSHES {
        client.send(&stick(0.0)).unwrap();
        std::thread::sleep(Duration::from_millis(150));
        // Not in step with the ticks.
        std::thread::sleep(Duration::from_micros(1000 + 137 * push as u64));
        let sent = zero.elapsed().as_nanos() as u64;
        client.send(&stick(if push % 2 == 0 { 1.0 } else { -1.0 })).unwrap();
        while began.load(Ordering::Acquire) <= sent {
            assert!(zero.elapsed().as_nanos() as u64 - sent < 2_000_000_000, "nothing moves");
            std::thread::sleep(Duration::from_micros(100));
        }
        pushes.push((began.load(Ordering::Acquire) - sent) as f64 / 1e3);
        std::thread::sleep(Duration::from_millis(100));
    }
    let (echo, _) = quantiles(bare_echo());
    daemon.end(StopLane::Signal);
    let bare = echo + tick;
    let (median, late) = quantiles(pushes);
    println!("a bare UDP echo takes {echo:.0} µs, a tick {tick:.0} µs: together {bare:.0} µs");
    println!(
        "  stick to the first changed setpoint {median:6.0} {late:6.0} µs   {:.2} and {:.2} times",
        median / bare,
        late / bare
    );
}

/// Takes the rig, to be driven by OSC from this machine.
async fn take_in_hand(url: &str) -> impl Sized + use<> {
    let (mut socket, _) = tokio_tungstenite::connect_async(url).await.unwrap();
    let params = json!({ "rig": "shuttle", "sticks": "osc 127.0.0.1", "dead_band": 0.0, "taper": 0.0 });
    let request = json!({ "jsonrpc": "2.0", "id": 1, "method": "hand", "params": params });
    socket.send(Message::text(request.to_string())).await.unwrap();
    loop {
        let message = socket.next().await.unwrap().unwrap();
        let answer: Value = serde_json::from_str(message.to_text().unwrap()).unwrap();
        if answer["id"] == 1 {
            assert!(answer["error"].is_null(), "{answer}");
            return socket;
        }
    }
}

fn stick(value: f32) -> Vec<u8> {
    let text = |text: &str| rosc::OscType::String(text.into());
    let args = vec![text("shuttle"), text("travel"), rosc::OscType::Float(value)];
    let message = rosc::OscMessage { addr: "/bellwire/stick".into(), args };
    rosc::encoder::encode(&rosc::OscPacket::Message(message)).unwrap()
}

fn bare_echo() -> Vec<f64> {
    let server = UdpSocket::bind("127.0.0.1:0").unwrap();
    let address = server.local_addr().unwrap();
    let echo = std::thread::spawn(move || {
        let mut buffer = [0_u8; 2048];
        for _ in 0..PUSHES {
            let (length, from) = server.recv_from(&mut buffer).unwrap();
            server.send_to(&buffer[..length], from).unwrap();
        }
    });
    let client = UdpSocket::bind("127.0.0.1:0").unwrap();
    client.connect(address).unwrap();
    let mut buffer = [0_u8; 2048];
    let once = |_| {
        std::thread::sleep(Duration::from_millis(5));
        let begin = Instant::now();
        client.send(&stick(0.5)).unwrap();
        client.recv(&mut buffer).unwrap();
        begin.elapsed().as_secs_f64() * 1e6
    };
    let times = (0..PUSHES).map(once).collect();
    echo.join().unwrap();
    times
}

fn quantiles(mut times: Vec<f64>) -> (f64, f64) {
    times.sort_by(f64::total_cmp);
    (times[times.len() / 2], times[times.len() * 99 / 100])
}
