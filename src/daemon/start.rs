//! A daemon from its parts: threads, rings, sockets; and its end.

use std::io;
use std::net::SocketAddr;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{Builder, JoinHandle};
use std::time::Duration;

use tokio::runtime::Runtime;

use super::bind::Sockets;
use super::board::Board;
use super::gate::Gate;
use super::house::{Ends, House};
use super::hub::{Asked, Client, Hub, Outcome};
use super::journal::{Journal, Keeping, pen};
use super::recording::{self, Recordings};
use super::reload::{self, Reload};
use super::service::Teller;
use super::sticks::sticks;
use super::tick_loop::{
    IN_FLIGHT_MAX, STOP_PORT_PRIORITY, Shell, TICK_PRIORITY, TickLoop, Turn, lock_memory, take_real_time_priority,
    word_ring,
};
use super::{clock, osc, post, serve, signals, stop_port, watch};
use crate::engine::{Engine, Reason, Refusal, Request, Role, Status, StopCalls, StopLane, Verb};
use crate::proof::Plan;
use crate::rig::{Cycle, Exchange, SimFaults};
use crate::show::{Nanos, Show};

/// Beyond the time that the check promised for the stop, for measuring and for a loaded machine.
const STANDSTILL_GRACE: Nanos = Nanos(1_000_000_000);
/// For the poses to be read before `--arm` gives up.
const ARM_WITHIN: Nanos = Nanos(5_000_000_000);
/// For the end of the journal to reach its disk.
const JOURNAL_WITHIN: Nanos = Nanos(3_000_000_000);
/// Of a thread that the daemon cannot do without, in bytes; what is not used takes no memory. The engine keeps everything of a
/// fixed size, which a tick has on its stack while it turns: without optimisation 3 MB of it, as measured.
const STACK: usize = 16 << 20;
const SETTLE: Duration = Duration::from_millis(500);
const WALL_CLOCK_EVERY: Duration = Duration::from_secs(1);

/// Where the daemon listens.
#[derive(Clone, Copy, Debug)]
pub struct Bound {
    pub http: SocketAddr,
    pub osc_udp: SocketAddr,
    pub osc_tcp: SocketAddr,
    pub stop_port: SocketAddr,
}

/// Why a running daemon comes to its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ending {
    /// It was asked to.
    Signal(&'static str),
    /// A thread that it cannot do without has panicked: our bug.
    Panic { thread: &'static str },
}

/// A running daemon.
pub struct Daemon {
    house: Arc<House>,
    bound: Bound,
    endings: Receiver<Ending>,
    tick_thread: JoinHandle<()>,
    post_thread: JoinHandle<()>,
    scribe: Option<JoinHandle<()>>,
    /// Of the service manager, once it was told.
    teller: Option<Teller>,
    /// Kept for its threads.
    runtime: Runtime,
}

impl Turn for Cycle {
    fn turn<'a>(
        &'a mut self,
        stop: StopCalls,
        requests: &'a [Request],
        late: Nanos,
        shell: Shell<'_>,
    ) -> Exchange<'a> {
        self.withhold_heartbeat(shell.cut);
        self.set_unrecorded(shell.unrecorded);
        self.hear(shell.sticks);
        self.exchange(stop, requests, late)
    }

    fn replace(&mut self, next: Box<Engine>) -> (Box<Engine>, Result<u32, Refusal>) {
        Cycle::replace(self, next)
    }

    fn faults(&self) -> Option<SimFaults> {
        Some(Cycle::faults(self).clone())
    }
}

impl Daemon {
    /// Starts everything. The show is disarmed, whatever it was before.
    ///
    /// # Errors
    /// No thread, or no socket that the runtime takes.
    pub fn start(
        show: Arc<Show>,
        plan: Arc<Plan>,
        cycle: impl Turn + 'static,
        sockets: Sockets,
        journal: Option<Journal>,
    ) -> io::Result<Daemon> {
        let (requests_in, requests) = rtrb::RingBuffer::new(IN_FLIGHT_MAX);
        let (engines_in, engines) = rtrb::RingBuffer::new(1);
        let (words, words_out) = word_ring();
        let (status, status_out) = triple_buffer::triple_buffer(&Status::at_rest(&show));
        let tick = show.settings.tick;
        let bound = bound(&sockets)?;
        let keeping =
            Arc::new(journal.as_ref().map_or_else(Keeping::default, |journal| Keeping::of(journal.path())));
        let (mut pen, pages) = pen(&show, keeping.clone());
        let Sockets { http, osc_udp, osc_tcp, stop_port, access } = sockets;
        let (hub, reload, board) = (Hub::new(requests_in), Reload::new(engines_in), Board::new(status_out));
        let (sticks, stick_reader) = sticks();
        let (recordings, reel) = Recordings::begin(&show);
        let house = Arc::new(House::new(
            show,
            plan,
            Ends { hub, sticks, reload, board, recordings, faults: cycle.faults() },
            Gate::new(access),
            keeping.clone(),
        ));
        let scribe = journal.map(|journal| journal.write(pages, &house)).transpose()?;
        if let Some(scribe) = &scribe {
            pen.set_scribe(scribe.thread().clone());
        }
        let (ending, endings) = channel();

        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
        listen(&runtime, &house, http, osc_udp, osc_tcp, &ending)?;

        let of_port = house.clone();
        vital("stop port", &house, &ending, move || {
            // So that it drains its socket faster than others fill it; the tick thread says if it is not permitted.
            let _ = take_real_time_priority(STOP_PORT_PRIORITY);
            stop_port::run(&stop_port, &of_port.stop, &of_port.stop_port_rubbish);
        })?;
        let of_post = house.clone();
        let post_thread = vital("post", &house, &ending, move || post::run(words_out, &of_post))?;
        keeping.set_post(post_thread.thread().clone());
        recording::write(&house)?;
        let of_watch = house.clone();
        vital("watch", &house, &ending, move || watch::run(tick, &of_watch.pulse, &of_watch.stop))?;

        let this = TickLoop {
            cycle,
            tick,
            stop: house.stop.clone(),
            pulse: house.pulse.clone(),
            requests,
            sticks: stick_reader,
            engines,
            words,
            status,
            pen: scribe.is_some().then_some(pen),
            reel: Some(reel),
            keeping,
            post: post_thread.thread().clone(),
        };
        let of_tick = house.clone();
        let tick_thread = vital("tick", &house, &ending, move || {
            prepare_tick_thread(&of_tick);
            this.run();
        })?;
        Ok(Daemon { house, bound, endings, tick_thread, post_thread, scribe, teller: None, runtime })
    }

    pub fn bound(&self) -> Bound {
        self.bound
    }

    pub fn house(&self) -> &Arc<House> {
        &self.house
    }

    /// Takes edits of this folder, when they are asked for, and records takes into it; with `watch`, offers each edit by itself.
    ///
    /// # Errors
    /// The folder cannot be watched.
    pub fn take_edits(&self, folder: &Path, watch: bool) -> Result<(), String> {
        self.house.reload.set_folder(folder.to_owned());
        self.house.recordings.set_folder(folder);
        if watch {
            reload::watch(&self.house, self.runtime.handle(), folder).map_err(|error| error.to_string())?;
        }
        Ok(())
    }

    /// From now on the service manager, if one started us, is told how it goes; first that everything is ready.
    ///
    /// # Errors
    /// No thread.
    pub fn tell_service_manager(&mut self) -> io::Result<()> {
        self.teller = Teller::start(&self.house)?;
        Ok(())
    }

    /// Waits until the daemon has a reason to end.
    pub fn wait(&self) -> Ending {
        // The senders live as long as the threads do; none left is a panic that had no time to say so.
        self.endings.recv().unwrap_or(Ending::Panic { thread: "every" })
    }

    /// Like [`Daemon::wait`], but not for ever.
    pub fn wait_at_most(&self, time: Duration) -> Option<Ending> {
        match self.endings.recv_timeout(time) {
            Ok(ending) => Some(ending),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => Some(Ending::Panic { thread: "every" }),
        }
    }

    /// Presses the stop, waits for the standstill as long as was promised and a little more, and ends the threads.
    /// Returns whether everything was measured at rest.
    pub fn end(self, lane: StopLane) -> bool {
        let bound = Nanos::from_seconds(self.house.board.status().stop_bound);
        self.house.stop.press(lane, None);
        if let Some(teller) = &self.teller {
            teller.begin_end();
        }
        let deadline = clock::now().saturating_add(bound).saturating_add(STANDSTILL_GRACE);
        let at_rest =
            self.until(deadline, |status| status.stopped.as_ref().is_some_and(|stopped| stopped.standstill));
        self.house.pulse.ask_to_end();
        if let Some(teller) = &self.teller {
            teller.finish();
        }
        if self.tick_thread.join().is_ok() {
            let _ = self.post_thread.join();
            end_journal(self.scribe.as_ref());
        }
        self.runtime.shutdown_timeout(Duration::from_millis(200));
        at_rest
    }

    /// Arms by itself, once every pose has been read and every axis has been seen at rest. For shows of which every
    /// rig is simulated.
    ///
    /// # Errors
    /// The engine's reasons, or those that still stood in its way when the time was over.
    pub fn arm_by_itself(&self) -> Result<(), Vec<String>> {
        let deadline = clock::now().saturating_add(ARM_WITHIN);
        let read = self.until(deadline, |status| status.axes.iter().all(|axis| axis.position.is_some()));
        if !read {
            return Err(vec!["not every axis has told its position".to_owned()]);
        }
        let client = self.house.hub.link("command line", Role::Operator);
        loop {
            // The rigs' first reports show where they stand; that they stand, only a number of them.
            std::thread::sleep(SETTLE);
            let Some(outcome) = self.ask_to_arm(&client) else {
                return Err(vec!["the engine gave no answer".to_owned()]);
            };
            let Err(refusal) = outcome else { return Ok(()) };
            let settling = refusal.reasons.iter().all(|reason| matches!(reason, Reason::NotStandingStill { .. }));
            if !settling || clock::now() >= deadline {
                return Err(self.house.reasons(&refusal));
            }
        }
    }

    fn ask_to_arm(&self, client: &Client) -> Option<Outcome> {
        let (told, answered) = channel();
        let reply = Box::new(move |outcome| drop(told.send(outcome)));
        self.house.hub.ask(client, Asked::now(Verb::Arm), reply);
        answered.recv_timeout(Duration::from_secs(2)).ok()
    }

    fn until(&self, deadline: Nanos, mut done: impl FnMut(&Status) -> bool) -> bool {
        loop {
            if done(&self.house.board.status()) {
                return true;
            }
            if clock::now() >= deadline || self.tick_thread.is_finished() {
                return false;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// A disk that does not answer keeps nobody.
fn end_journal(scribe: Option<&JoinHandle<()>>) {
    let deadline = clock::now().saturating_add(JOURNAL_WITHIN);
    while scribe.is_some_and(|scribe| !scribe.is_finished()) {
        if clock::now() >= deadline {
            tracing::warn!("the journal's disk does not answer: its end may be missing");
            return;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

fn bound(sockets: &Sockets) -> io::Result<Bound> {
    Ok(Bound {
        http: sockets.http.local_addr()?,
        osc_udp: sockets.osc_udp.local_addr()?,
        osc_tcp: sockets.osc_tcp.local_addr()?,
        stop_port: sockets.stop_port.local_addr()?,
    })
}

fn listen(
    runtime: &Runtime,
    house: &Arc<House>,
    http_listener: std::net::TcpListener,
    osc_udp: std::net::UdpSocket,
    osc_tcp: std::net::TcpListener,
    ending: &Sender<Ending>,
) -> io::Result<()> {
    let _inside = runtime.enter();
    http_listener.set_nonblocking(true)?;
    osc_udp.set_nonblocking(true)?;
    osc_tcp.set_nonblocking(true)?;
    let http_listener = tokio::net::TcpListener::from_std(http_listener)?;
    let osc_udp = tokio::net::UdpSocket::from_std(osc_udp)?;
    let osc_tcp = tokio::net::TcpListener::from_std(osc_tcp)?;
    runtime.spawn(serve::run(http_listener, house.clone()));
    runtime.spawn(watch_the_wall_clock(house.clone()));
    runtime.spawn(osc::run_udp(osc_udp, house.clone()));
    runtime.spawn(osc::run_tcp(osc_tcp, house.clone()));
    signals::listen(runtime, house.stop.clone(), ending.clone())
}

/// So that a step is told when it happens, not only when a request comes that it concerns.
async fn watch_the_wall_clock(house: Arc<House>) {
    let mut looks = tokio::time::interval(WALL_CLOCK_EVERY);
    loop {
        looks.tick().await;
        house.wall.look();
    }
}

/// A thread without which the daemon must not go on: if it panics, the rigs' heartbeat is withheld, the stop pressed
/// and the process ended.
fn vital(
    name: &'static str,
    house: &Arc<House>,
    ending: &Sender<Ending>,
    work: impl FnOnce() + Send + 'static,
) -> io::Result<JoinHandle<()>> {
    let (house, ending) = (house.clone(), ending.clone());
    Builder::new().name(name.to_owned()).stack_size(STACK).spawn(move || {
        if catch_unwind(AssertUnwindSafe(work)).is_err() {
            house.stop.press(StopLane::Watch, None);
            house.pulse.set_cut(true);
            tracing::error!("the {name} thread has panicked: stop pressed, the rigs' heartbeat withheld");
            let _ = ending.send(Ending::Panic { thread: name });
        }
    })
}

/// Better timing where it is permitted; without it the show runs too, and the lateness tells how well.
fn prepare_tick_thread(house: &House) {
    match take_real_time_priority(TICK_PRIORITY) {
        Ok(()) => house.pulse.set_real_time(),
        Err(why) => tracing::info!(
            "the tick loop has no real-time priority ({why}): ticks may come late on a busy machine; \
             grant it CAP_SYS_NICE or an rtprio limit"
        ),
    }
    if let Err(why) = lock_memory() {
        tracing::info!("memory is not locked ({why}): ticks may come late while the machine swaps");
    }
}
