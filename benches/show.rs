//! What the promises on time cost, as ratios within one run: `cargo bench`.
//!
//! 1. A tick, for 6 rigs and for 64 rigs of 6 axes, against a bare pass over as many axes.
//! 2. A running tick that is written into the journal's rings, against the same without.
//! 3. A GO over UDP, from the datagram to the first setpoint that differs, against a bare UDP echo and a tick.
//! 4. A rehearsal of the demo show, against the time that the show takes.
//!
//! That a tick takes no memory is a matter of yes or no: `tests/allocation.rs`.

use std::hint::black_box;
use std::net::UdpSocket;
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use bellwire::daemon::{Addresses, Daemon, Keeping, Page, Pages, Pen, Shell, Sockets, Turn, pen};
use bellwire::engine::*;
use bellwire::proof;
use bellwire::rehearsal::{self, Options};
use bellwire::rig::{self, Cycle, Exchange, SimFaults};
use bellwire::show::access::Access;
use bellwire::show::{self, Nanos, Show};

fn main() {
    println!("A tick, median, 99th percentile and longest\n");
    let demo = read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show"));
    let small = tick_cost("6 rigs, 17 axes", &demo, "1");
    let large = tick_cost("64 rigs of 6 axes", &sixty_four_rigs(), "1");
    println!("\n64 rigs against 6, running: {:.1} times for {:.1} times the axes", large / small, 384.0 / 17.0);
    println!("\nThe journal in a running tick, median\n");
    journal_cost("6 rigs, 17 axes", &demo);
    journal_cost("64 rigs of 6 axes", &sixty_four_rigs());
    println!("\nA GO over UDP\n");
    go_over_udp();
    println!("\nA rehearsal\n");
    rehearsal_speed(demo);
}

/// How many times faster than life, and what a tick of it takes against a bare tick of a show that stands.
fn rehearsal_speed(show: Show) {
    let show = Arc::new(show);
    let plan = Arc::new(proof::prove(&show).plan);
    for (name, seed) in [("as the list has it", None), ("with random operators", Some(1))] {
        let options = Options { seed, ..Options::default() };
        let begin = Instant::now();
        let rehearsal = rehearsal::rehearse(&show, &plan, &options, &mut |_| ControlFlow::Continue(()));
        let taken = begin.elapsed().as_secs_f64();
        let bare = bare_ticks(&show, &plan, rehearsal.ticks);
        println!(
            "  {name:<22} {:6.1} s of show, {:5.0} times as fast as life, {:.2} bare ticks a tick",
            rehearsal.length,
            rehearsal.length / taken,
            taken / bare
        );
    }
}

/// s, of as many ticks of the same engine and rigs in which nothing is asked for.
fn bare_ticks(show: &Arc<Show>, plan: &Arc<proof::Plan>, ticks: u64) -> f64 {
    let (drivers, faults) = rig::open(show, 1);
    let mut cycle = Cycle::new(show, Engine::new(show.clone(), plan.clone()), drivers, faults);
    let begin = Instant::now();
    for _ in 0..ticks {
        black_box(cycle.turn(StopCalls::default(), &[], Nanos::ZERO).status.tick);
    }
    begin.elapsed().as_secs_f64()
}

fn read(folder: &Path) -> Show {
    let reading = show::read(folder);
    reading.show.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

/// 64 rigs of 6 axes, and a cue that moves all of them.
fn sixty_four_rigs() -> Show {
    let folder = tempfile::tempdir().unwrap();
    let write = |path: String, text: String| {
        let path = folder.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    };
    write("show.toml".into(), "[show]\nname = \"Sixty-four\"\nmargin = 0.1\nreact = 0.1\n".into());
    let mut moves = String::new();
    for rig in 0..64 {
        let mut text = format!("kind = \"rig\"\nat = [{rig}.0, 0.0, 0.0]\n");
        let mut to = Vec::new();
        for axis in 0..6 {
            text += &format!(
                "[[axis]]\nname = \"a{axis}\"\nunit = \"percent\"\ntravel = [0.0, 100.0]\nstart = 0.0\n\
                 speed = {}.0\nacceleration = 40.0\njerk = 100.0\n",
                20 + axis
            );
            to.push(format!("a{axis} = {}.0", 40 + (rig + axis) % 50));
        }
        write(format!("rigs/r{rig:02}.toml"), text);
        moves +=
            &format!("[[cue.move]]\nrig = \"r{rig:02}\"\nto = {{ {} }}\ntime = {}.0\n", to.join(", "), 6 + rig % 5);
    }
    write("cues/all.toml".into(), format!("[[cue]]\nnumber = \"1\"\nname = \"All\"\n{moves}"));
    read(folder.path())
}

/// Turns of a run from one stop on a copy to the next.
const STOP_EVERY: usize = 10;

struct Bench {
    cycle: Cycle,
    /// The pen that writes a tick down, and the other end of its rings, which is emptied outside the time taken.
    journal: Option<(Pen, Pages, Page)>,
    stop: StopCalls,
    next: u64,
}

impl Bench {
    fn turn(&mut self, verbs: &[Verb]) -> Duration {
        let requests: Vec<Request> = verbs
            .iter()
            .map(|verb| {
                self.next += 1;
                let (id, verb) = (RequestId(self.next), verb.clone());
                Request { id, client: ClientId(1), role: Role::Operator, edition: 0, key: None, age: None, verb }
            })
            .collect();
        let begin = Instant::now();
        let exchange = self.cycle.exchange(self.stop, &requests, Nanos::ZERO);
        if let Some((pen, ..)) = &mut self.journal {
            pen.write(Nanos::ZERO, &exchange);
        }
        let taken = begin.elapsed();
        let output = exchange.output;
        for answer in output.answers {
            assert!(answer.outcome.is_ok(), "{:?}", answer.outcome);
        }
        if let Some((_, pages, page)) = &mut self.journal {
            while pages.next(page) {}
        }
        taken
    }

    fn turns(&mut self, count: usize) -> Vec<Duration> {
        (0..count).map(|_| self.turn(&[])).collect()
    }
}

/// The share of a tick that each kind of tick takes; the median while running, µs.
fn tick_cost(name: &str, show: &Show, number: &str) -> f64 {
    let show = Arc::new(show.clone());
    let plan = Arc::new(proof::prove(&show).plan);
    let (drivers, faults) = rig::open(&show, 1);
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan.clone()), drivers, faults);
    let mut bench = Bench { cycle, journal: None, stop: StopCalls::default(), next: 0 };
    let cue = show.find_cue(&number.parse().unwrap()).unwrap();
    bench.turns(300);
    bench.turn(&[Verb::Arm]);
    let idle = bench.turns(2000);
    bench.turn(&[Verb::Standby { cues: [cue].into_iter().collect(), skip: false }]);
    let standby = bench.turns(1000);
    bench.turn(&[Verb::Go { cue: None }]);
    let (mut running, mut stops) = (Vec::new(), Vec::new());
    for turn in 0..1500 {
        running.push(bench.turn(&[]));
        if turn % STOP_EVERY == 0 {
            stops.push(stop_on_a_copy(&bench));
        }
    }
    let period = show.settings.tick.seconds() * 1e6;
    let bare = bare_pass(&show, &plan);
    println!("{name}, a tick of {period:.0} µs; a bare pass over the axes takes {bare:.2} µs");
    let row = |what: &str, mut times: Vec<Duration>| {
        times.sort();
        let micros = |at: usize| times[at].as_secs_f64() * 1e6;
        let (median, p99) = (micros(times.len() / 2), micros(times.len() * 99 / 100));
        println!(
            "  {what:<22} {median:8.2} {p99:8.2} {:8.2} µs   {:5.2} % of the tick, {:6.1} bare passes",
            micros(times.len() - 1),
            100.0 * median / period,
            median / bare
        );
        median
    };
    row("idle", idle);
    row("on standby", standby);
    let median = row("running", running);
    row("the tick of a stop", stops);
    median
}

/// The tick in which a stop is asked for, of an engine that is a copy, so that the run goes on.
fn stop_on_a_copy(bench: &Bench) -> Duration {
    let mut engine = bench.cycle.engine().clone();
    let axes: Vec<AxisReport> =
        engine.status().axes.iter().map(|axis| AxisReport { position: axis.setpoint, speed: 0.0 }).collect();
    let rig = RigReport { age: Nanos::ZERO, enabled: true, fault: false, simulated: true };
    let rigs = vec![rig; engine.status().rigs.len()];
    let mut stop = bench.stop;
    stop.generations[0] += 1;
    let input = TickInput {
        stop,
        requests: &[],
        sticks: &[],
        rigs: &rigs,
        axes: &axes,
        late: Nanos::ZERO,
        unrecorded: false,
    };
    let begin = Instant::now();
    let stopped = engine.tick(input).status.stopped.is_some();
    let taken = begin.elapsed();
    assert!(stopped);
    taken
}

/// A cue under way, with and without the pen turn by turn, so that both see the same machine.
fn journal_cost(name: &str, show: &Show) {
    let show = Arc::new(show.clone());
    let plan = Arc::new(proof::prove(&show).plan);
    let (drivers, faults) = rig::open(&show, 1);
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan), drivers, faults);
    let (pen, pages) = pen(&show, Arc::new(Keeping::of(Path::new("bench.journal"))));
    let mut at_hand = Some((pen, pages, Page::default()));
    let mut bench = Bench { cycle, journal: None, stop: StopCalls::default(), next: 0 };
    bench.turns(300);
    bench.turn(&[Verb::Arm]);
    bench.turn(&[Verb::Standby {
        cues: [show.find_cue(&"1".parse().unwrap()).unwrap()].into_iter().collect(),
        skip: false,
    }]);
    bench.turn(&[Verb::Go { cue: None }]);
    let (mut with, mut without) = (Vec::new(), Vec::new());
    for turn in 0..2400 {
        std::mem::swap(&mut bench.journal, &mut at_hand);
        let taken = bench.turn(&[]).as_secs_f64() * 1e6;
        if turn % 2 == 0 { with.push(taken) } else { without.push(taken) }
    }
    let (with, without) = (quantiles(with).0, quantiles(without).0);
    println!("  {name:<22} with {with:.2} µs, without {without:.2} µs: {:.3} times", with / without);
}

/// One profile looked up for every axis, and nothing else.
fn bare_pass(show: &Show, plan: &proof::Plan) -> f64 {
    let profile = plan.cues[0].moves[0].profile;
    let mut setpoints = vec![0.0; show.axes.len()];
    let rounds = 2000;
    let begin = Instant::now();
    for round in 0..rounds {
        for (index, setpoint) in setpoints.iter_mut().enumerate() {
            *setpoint = profile.at(f64::from(round) * 0.002 + index as f64 * 1e-4).position;
        }
        black_box(&setpoints);
    }
    begin.elapsed().as_secs_f64() * 1e6 / f64::from(rounds)
}

/// Notes when a setpoint first differs from the one before.
struct Watched {
    cycle: Cycle,
    before: Vec<f64>,
    zero: Instant,
    /// Of the last tick in which something began to move, ns since `zero`.
    began: Arc<AtomicU64>,
    moving: bool,
}

impl Turn for Watched {
    fn turn<'a>(&'a mut self, stop: StopCalls, requests: &'a [Request], late: Nanos, shell: Shell) -> Exchange<'a> {
        let exchange = Turn::turn(&mut self.cycle, stop, requests, late, shell);
        let output = &exchange.output;
        let moves = output.setpoints.iter().zip(&self.before).any(|(now, before)| now.position != *before);
        if moves && !self.moving {
            self.began.store(self.zero.elapsed().as_nanos() as u64, Ordering::Release);
        }
        self.moving = moves;
        for (before, now) in self.before.iter_mut().zip(output.setpoints) {
            *before = now.position;
        }
        exchange
    }

    fn replace(&mut self, next: Box<Engine>) -> (Box<Engine>, Result<u32, Refusal>) {
        Turn::replace(&mut self.cycle, next)
    }

    fn faults(&self) -> Option<SimFaults> {
        Turn::faults(&self.cycle)
    }
}

const GOES: usize = 100;

fn go_over_udp() {
    let folder = tempfile::tempdir().unwrap();
    let write = |path: &str, text: String| {
        std::fs::create_dir_all(folder.path().join(path).parent().unwrap()).unwrap();
        std::fs::write(folder.path().join(path), text).unwrap();
    };
    write("show.toml", "[show]\nname = \"To and fro\"\nmargin = 0.1\nreact = 0.1\nguard = 0.0\n".into());
    write(
        "rigs/shuttle.toml",
        "kind = \"slider\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"percent\"\n\
         travel = [0.0, 100.0]\nstart = 0.0\nspeed = 100.0\nacceleration = 1000.0\njerk = 20000.0\n"
            .into(),
    );
    let cues = (1..=GOES).map(|number| {
        let to = number % 2 * 10;
        format!("[[cue]]\nnumber = \"{number}\"\nname = \"{to}\"\nmove = [{{ rig = \"shuttle\", to = {{ travel = {to}.0 }} }}]\n")
    });
    write("cues/all.toml", cues.collect());
    let show = Arc::new(read(folder.path()));
    let plan = Arc::new(proof::prove(&show).plan);
    let (drivers, faults) = rig::open(&show, 1);
    let began = Arc::new(AtomicU64::new(0));
    let zero = Instant::now();
    let watched = Watched {
        cycle: Cycle::new(&show, Engine::new(show.clone(), plan.clone()), drivers, faults),
        before: vec![f64::NAN; show.axes.len()],
        zero,
        began: began.clone(),
        moving: true,
    };
    let any = "127.0.0.1:0".parse().unwrap();
    let sockets = Sockets::bind(Addresses { http: any, osc: any, stop_port: any }, Access::default()).unwrap();
    let tick = show.settings.tick.seconds() * 1e6;
    let daemon = Daemon::start(show, plan, watched, sockets, None).unwrap();
    daemon.arm_by_itself().unwrap();

    let client = UdpSocket::bind("127.0.0.1:0").unwrap();
    client.connect(daemon.bound().osc_udp).unwrap();
    client.set_read_timeout(Some(Duration::from_secs(2))).unwrap();
    let mut buffer = [0_u8; 2048];
    let mut goes = Vec::new();
    let mut answers = Vec::new();
    for number in 1..=GOES {
        // The rig must have arrived; a standby that is not ready is asked for again.
        loop {
            client.send(&osc("/bellwire/standby", &number.to_string())).unwrap();
            let length = client.recv(&mut buffer).unwrap();
            if contains(&buffer[..length], b"accepted") && !said_not_ready(&client, &mut buffer) {
                break;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        // Not in step with the ticks.
        std::thread::sleep(Duration::from_micros(1000 + 137 * number as u64));
        let sent = zero.elapsed().as_nanos() as u64;
        let begin = Instant::now();
        client.send(&osc("/bellwire/go", &number.to_string())).unwrap();
        let length = client.recv(&mut buffer).unwrap();
        answers.push(begin.elapsed().as_secs_f64() * 1e6);
        assert!(contains(&buffer[..length], b"accepted"), "{}", String::from_utf8_lossy(&buffer[..length]));
        while began.load(Ordering::Acquire) <= sent {
            std::thread::sleep(Duration::from_micros(200));
        }
        goes.push((began.load(Ordering::Acquire) - sent) as f64 / 1e3);
        std::thread::sleep(Duration::from_millis(300));
    }
    let echo = bare_echo();
    daemon.end(StopLane::Signal);
    let (echo_median, _) = quantiles(echo);
    let bare = echo_median + tick;
    println!("a bare UDP echo takes {echo_median:.0} µs, a tick {tick:.0} µs: together {bare:.0} µs");
    for (what, times) in [("GO to the first changed setpoint", goes), ("GO to its answer", answers)] {
        let (median, p99) = quantiles(times);
        println!("  {what:<34} {median:6.0} {p99:6.0} µs   {:.2} and {:.2} times", median / bare, p99 / bare);
    }
}

/// A standby that is not ready is told by a second message, `/bellwire/standby sF`.
fn said_not_ready(client: &UdpSocket, buffer: &mut [u8]) -> bool {
    client.set_read_timeout(Some(Duration::from_millis(5))).unwrap();
    let not_ready = client.recv(buffer).is_ok_and(|length| contains(&buffer[..length], b",sF"));
    client.set_read_timeout(Some(Duration::from_secs(2))).unwrap();
    not_ready
}

fn bare_echo() -> Vec<f64> {
    let server = UdpSocket::bind("127.0.0.1:0").unwrap();
    let address = server.local_addr().unwrap();
    let echo = std::thread::spawn(move || {
        let mut buffer = [0_u8; 2048];
        for _ in 0..GOES {
            let (length, from) = server.recv_from(&mut buffer).unwrap();
            server.send_to(&buffer[..length], from).unwrap();
        }
    });
    let client = UdpSocket::bind("127.0.0.1:0").unwrap();
    client.connect(address).unwrap();
    let mut buffer = [0_u8; 2048];
    let message = osc("/bellwire/go", "1");
    let once = |_| {
        std::thread::sleep(Duration::from_millis(5));
        let begin = Instant::now();
        client.send(&message).unwrap();
        client.recv(&mut buffer).unwrap();
        begin.elapsed().as_secs_f64() * 1e6
    };
    let times = (0..GOES).map(once).collect();
    echo.join().unwrap();
    times
}

fn quantiles(mut times: Vec<f64>) -> (f64, f64) {
    times.sort_by(f64::total_cmp);
    (times[times.len() / 2], times[times.len() * 99 / 100])
}

fn contains(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

fn osc(address: &str, argument: &str) -> Vec<u8> {
    let message = rosc::OscMessage { addr: address.into(), args: vec![rosc::OscType::String(argument.into())] };
    rosc::encoder::encode(&rosc::OscPacket::Message(message)).unwrap()
}
