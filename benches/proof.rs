//! What the proof costs, and what it sees that samples do not: `cargo bench --bench proof`.
//!
//! 1. The demo show and shows made by chance, of 50, 200 and 1,000 cues with 6, 12 and 24 rigs: from nothing on one
//!    processor and on all, with everything remembered, and after an edit of one cue.
//! 2. The parts of the work, as shares of the time on one processor.
//! 3. Pairs of rigs with thin, fast bodies, proved and sampled at every millisecond: time, and collisions missed.

use std::fmt::Write as _;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use bellwire::proof::{Alone, Crew, Memory, Proof, prove_from};
use bellwire::rig::Chance;
use bellwire::show::{self, Code, Show};
use bellwire::stage::{Stage, Strays, gap};

fn main() {
    println!("Proofs, ms (median of some; the edit once)\n");
    println!("  show                   pairs  one processor     all   remembered  one cue edited   findings");
    let demo =
        show::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show")).show.expect("the demo show reads");
    let mut edited = demo.clone();
    edited.cues[12].moves[0].time = edited.cues[12].moves[0].time.map(|time| time + 1.0);
    line("Salt Lantern, 34, 6", &demo, &edited, 9);
    let mut parts = vec![shares("Salt Lantern, 34, 6", &demo)];
    for (cues, rigs, times) in [(50, 6, 5), (200, 12, 3), (1000, 24, 1), (1000, 6, 1), (200, 24, 3)] {
        let show = made(cues, rigs, None);
        let name = format!("{cues} cues, {rigs} rigs");
        line(&name, &show, &made(cues, rigs, Some(cues / 2)), times);
        parts.push(shares(&name, &show));
    }
    println!("\nWhere the time goes, % of that on one processor\n");
    parts.iter().for_each(|line| println!("  {line}"));
    println!("\nThin, fast bodies: proved, and sampled every millisecond\n");
    against_samples();
}

/// As the command line does it.
struct Threads;

impl Crew for Threads {
    fn each(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        let next = AtomicUsize::new(0);
        let work = || {
            while let Some(index) = Some(next.fetch_add(1, Ordering::Relaxed)).filter(|&index| index < count) {
                job(index);
            }
        };
        let others = std::thread::available_parallelism().map_or(1, usize::from).min(count).saturating_sub(1);
        std::thread::scope(|scope| {
            (0..others).for_each(|_| _ = scope.spawn(work));
            work();
        });
    }
}

/// One job after the other, with when each part of the work begins.
#[derive(Default)]
struct Clocked(Mutex<Vec<(&'static str, Instant)>>);

impl Crew for Clocked {
    fn each(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        Alone.each(count, job);
    }

    fn begin(&self, what: &'static str) {
        self.0.lock().expect("no job panics").push((what, Instant::now()));
    }
}

/// The parts of a proof from nothing, each with its share of the time.
fn shares(name: &str, show: &Show) -> String {
    let crew = Clocked::default();
    let begin = Instant::now();
    prove_from(show, &crew, &Memory::default());
    let end = Instant::now();
    let mut parts = crew.0.into_inner().expect("no job panics");
    // A fix is tried by proofs of its own, with parts of theirs.
    let whole = parts.iter().position(|(what, _)| *what == "fixes").map_or(parts.len(), |fixes| fixes + 1);
    parts.truncate(whole);
    let mut line = format!("{name:<22}");
    for (at, (what, from)) in parts.iter().enumerate() {
        let to = parts.get(at + 1).map_or(end, |(_, to)| *to);
        let share = (to - *from).as_secs_f64() / (end - begin).as_secs_f64();
        write!(line, "  {what} {:.0}", 100.0 * share).expect("text");
    }
    line
}

fn line(name: &str, show: &Show, edited: &Show, times: usize) {
    let alone = timed(times, || prove_from(show, &Alone, &Memory::default())).0;
    let (all, proof) = timed(times, || prove_from(show, &Threads, &Memory::default()));
    let memory = Memory::default();
    prove_from(show, &Threads, &memory);
    let warm = timed(times, || prove_from(show, &Threads, &memory)).0;
    let edit = timed(1, || prove_from(edited, &Threads, &memory)).0;
    let (pairs, findings) = (proof.plan.maps.list.len(), proof.findings.len());
    println!("  {name:<22} {pairs:5}  {alone:13.1} {all:7.1}  {warm:10.2}  {edit:14.1}   {findings:8}");
}

fn timed(times: usize, mut prove: impl FnMut() -> Proof) -> (f64, Proof) {
    let mut taken = Vec::new();
    let mut last = None;
    for _ in 0..times.max(1) {
        let begin = Instant::now();
        last = Some(prove());
        taken.push(begin.elapsed().as_secs_f64() * 1e3);
    }
    taken.sort_by(f64::total_cmp);
    (taken[taken.len() / 2], last.expect("once at least"))
}

/// Jibs, wagons, flown pieces and revolves in rows, and cues that move one of them each; every fourth follows the one
/// before. `edited` takes a little longer than in the show without.
fn made(cues: usize, rigs: usize, edited: Option<usize>) -> Show {
    let mut chance = Chance::new(7);
    let folder = tempfile::tempdir().expect("a folder for a show");
    let write = |path: String, text: &str| {
        let path = folder.path().join(path);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        std::fs::write(path, text).expect("a file");
    };
    write("show.toml".into(), "[show]\nname = \"Made by chance\"\nmargin = 0.3\nreact = 0.15\n");
    let side = (rigs as f64).sqrt().ceil() as usize;
    for rig in 0..rigs {
        let (x, y) = (5.0 * (rig % side) as f64 - 2.5 * side as f64, 5.0 * (rig / side) as f64);
        write(
            format!("rigs/rig{rig}.toml"),
            &format!("kind = \"machine\"\nat = [{x:?}, {y:?}, 0.0]\n{}", KINDS[rig % 4].0),
        );
    }
    let mut text = String::new();
    for cue in 0..cues {
        let rig = (chance.uniform() * rigs as f64) as usize;
        let (_, axis, low, high, least) = KINDS[rig % 4];
        let (to, time) = (chance.between(low, high), chance.between(least, 2.0 * least));
        let time = if edited == Some(cue) { time + 1.3 } else { time };
        let (follows, wait) = (cue > 0 && chance.uniform() < 0.25, chance.between(0.0, 5.0));
        writeln!(text, "[[cue]]\nnumber = \"{}\"\nname = \"Cue {}\"", cue + 1, cue + 1).expect("text");
        if follows {
            writeln!(text, "after = {{ cue = \"{cue}\", from = \"end\", wait = {wait:.1} }}").expect("text");
        }
        writeln!(text, "move = [{{ rig = \"rig{rig}\", to = {{ {axis} = {to:.2} }}, time = {time:.1} }}]")
            .expect("text");
    }
    write("cues/all.toml".into(), &text);
    let reading = show::read(folder.path());
    reading.show.unwrap_or_else(|| panic!("{:?}", reading.findings.first()))
}

/// The axes of a kind, the one that cues move, where to, and a time that does.
const KINDS: [(&str, &str, f64, f64, f64); 4] = [
    (
        "[[axis]]\nname = \"swing\"\nunit = \"deg\"\ntravel = [-170.0, 170.0]\nstart = 0.0\nspeed = 20.0\nacceleration = 20.0\n\
         jerk = 60.0\njoint = { turn = \"z\", at = [0.0, 0.0, 1.4] }\n[[axis]]\nname = \"boom\"\nunit = \"deg\"\n\
         travel = [-5.0, 40.0]\nstart = 0.0\nspeed = 10.0\nacceleration = 10.0\njerk = 40.0\n\
         joint = { turn = [0.0, -1.0, 0.0], at = [0.0, 0.0, 0.0], level = true }\n\
         bodies = [{ capsule = { from = [-1.5, 0.0, 0.0], to = [3.5, 0.0, 0.0], radius = 0.15 } }, { sphere = { at = \
         [-1.5, 0.0, 0.0], radius = 0.35 } }]\n",
        "swing",
        -150.0,
        150.0,
        20.0,
    ),
    (
        "[[axis]]\nname = \"travel\"\nunit = \"m\"\ntravel = [-3.0, 3.0]\nstart = 0.0\nspeed = 0.5\nacceleration = 0.5\njerk = \
         1.0\njoint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\nbodies = [{ box = { min = [-0.8, -0.5, 0.05], max = [0.8, \
         0.5, 1.1] } }]\n",
        "travel",
        -2.7,
        2.7,
        20.0,
    ),
    (
        "[[axis]]\nname = \"traverse\"\nunit = \"m\"\ntravel = [-3.0, 3.0]\nstart = 0.0\nspeed = 0.6\nacceleration = 0.3\njerk = \
         0.6\njoint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\n[[axis]]\nname = \"height\"\nunit = \"m\"\ntravel = [1.5, \
         7.0]\nstart = 6.0\nspeed = 0.8\nacceleration = 0.5\njerk = 1.0\njoint = { slide = \"z\", at = [0.0, 0.0, 0.0] }\n\
         bodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.35 } }, { capsule = { from = [0.0, 0.0, 0.0], to = [0.0, \
         0.0, 8.0], radius = 0.05 } }]\n",
        "height",
        1.7,
        6.5,
        20.0,
    ),
    (
        "[[axis]]\nname = \"turn\"\nunit = \"deg\"\ntravel = [-360.0, 360.0]\nstart = 0.0\nspeed = 10.0\nacceleration = 4.0\njerk \
         = 6.0\njoint = { turn = \"z\", at = [0.0, 0.0, 0.0] }\nbodies = [{ box = { min = [-1.5, -1.5, 0.0], max = [1.5, \
         1.5, 0.2] } }, { box = { min = [-0.8, 0.5, 0.2], max = [0.8, 1.2, 2.5] } }]\n",
        "turn",
        -324.0,
        324.0,
        80.0,
    ),
];

/// m
const MARGIN: f64 = 0.002;
const COLLISIONS: usize = 500;
/// m, that the proof takes for none.
const ROUNDING: f64 = 1e-6;

/// A bead of 6 mm at the end of an arm, at 19 m/s, and a wire of 6 mm near its way, at a distance drawn by chance.
fn thin_and_fast(chance: &mut Chance) -> Show {
    let off = (0.006 + MARGIN) * chance.between(-1.2, 1.2);
    let (at, end) = (chance.between(60.0, 120.0_f64).to_radians(), chance.between(175.0, 185.0));
    let (x, y) = ((3.0 + off) * at.cos(), (3.0 + off) * at.sin());
    let folder = tempfile::tempdir().expect("a folder for a show");
    for (path, text) in [
        ("show.toml", format!("[show]\nname = \"Thin and fast\"\nmargin = {MARGIN:?}\nreact = 0.1\n")),
        (
            "rigs/bead.toml",
            "kind = \"arm\"\nat = [0.0, 0.0, 1.0]\n[[axis]]\nname = \"turn\"\nunit = \"deg\"\ntravel = [-1.0, 200.0]\nstart = \
             0.0\nspeed = 360.0\nacceleration = 4000.0\njerk = 80000.0\ntolerance = 0.00001\njoint = { turn = \"z\", at = [0.0, \
             0.0, 0.0] }\nbodies = [{ sphere = { at = [3.0, 0.0, 0.0], radius = 0.003 } }]\n"
                .into(),
        ),
        (
            "rigs/wire.toml",
            format!(
                "kind = \"wire\"\nat = [{x:?}, {y:?}, 0.0]\nbodies = [{{ capsule = {{ from = [0.0, 0.0, 0.0], to = [0.0, 0.0, \
                 2.0], radius = 0.003 }} }}]\n[[axis]]\nname = \"tension\"\nunit = \"percent\"\ntravel = [0.0, 100.0]\nstart = \
                 0.0\nspeed = 1.0\nacceleration = 1.0\njerk = 1.0\n"
            ),
        ),
        (
            "cues/all.toml",
            format!(
                "[[cue]]\nnumber = \"1\"\nname = \"Past the wire\"\nmove = [{{ rig = \"bead\", to = {{ turn = {end:?} }} }}]\n"
            ),
        ),
    ] {
        let path = folder.path().join(path);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        std::fs::write(path, text).expect("a file");
    }
    let reading = show::read(folder.path());
    reading.show.unwrap_or_else(|| panic!("{:?}", reading.findings.first()))
}

fn against_samples() {
    let mut chance = Chance::new(11);
    let (mut real, mut tried, mut missed, mut falsely) = (0, 0, 0, 0);
    let (mut proving, mut sampling) = (0.0, 0.0);
    while real < COLLISIONS && tried < 20_000 {
        let show = thin_and_fast(&mut chance);
        tried += 1;
        let begin = Instant::now();
        let proof = prove_from(&show, &Alone, &Memory::default());
        proving += begin.elapsed().as_secs_f64();
        let found = proof.findings.iter().find(|finding| finding.code == Code::Clearance);
        let begin = Instant::now();
        let sampled = sampled(&show, &proof);
        sampling += begin.elapsed().as_secs_f64();
        // What the proof names is looked at where it says: a collision that is none would be its own fault.
        let seen =
            found.and_then(|finding| finding.time).is_some_and(|time| least_at(&show, &proof, time) < MARGIN);
        real += usize::from(seen || sampled < MARGIN);
        missed += usize::from(seen && sampled >= MARGIN);
        falsely += usize::from(found.is_none() && sampled < MARGIN - ROUNDING);
    }
    println!("  {tried} pairs, {real} of them too near: samples missed {missed}, the proof {falsely}");
    println!(
        "  time for a pair: proved {:.0} us (plan and stops too), sampled {:.0} us",
        proving / tried as f64 * 1e6,
        sampling / tried as f64 * 1e6
    );
}

fn sampled(show: &Show, proof: &Proof) -> f64 {
    let duration = proof.plan.cues[0].duration;
    let steps = (duration / 1e-3).ceil() as usize;
    let mut look = Look::new(show);
    (0..=steps)
        .map(|step| look.least(show, proof, (step as f64 * 1e-3).min(duration)))
        .fold(f64::INFINITY, f64::min)
}

fn least_at(show: &Show, proof: &Proof, time: f64) -> f64 {
    Look::new(show).least(show, proof, time)
}

/// The naive way: both placed at an instant, and their distance.
struct Look {
    stage: Stage,
    pose: Vec<f64>,
    none: Vec<f64>,
    frames: Vec<bellwire::stage::Frame>,
}

impl Look {
    fn new(show: &Show) -> Look {
        let none = vec![0.0; show.axes.len()];
        Look { stage: Stage::new(show), pose: none.clone(), none, frames: Vec::new() }
    }

    fn least(&mut self, _: &Show, proof: &Proof, time: f64) -> f64 {
        proof.plan.cues[0].pose_at(time, &mut self.pose);
        self.stage.frames(&self.pose, &mut self.frames);
        let strays = Strays { motion: &self.none, tolerance: &self.none };
        let [bead, wire] = [0, 1].map(|at| self.stage.sweep(&self.stage.bodies()[at], &self.frames, strays));
        gap(&bead.solid, &wire.solid).distance
    }
}
