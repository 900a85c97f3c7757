//! `bellwire run`: the daemon.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::threads::Threads;
use super::{journal_file, output};
use crate::daemon::{Addresses, Bound, Daemon, Ending, Log, LogFormat, LogLevel, Sockets};
use crate::engine::{Engine, StopLane};
use crate::proof::{Plan, all_findings, prove_with};
use crate::report;
use crate::rig::{self, Cycle, FaultScript, ScriptReading};
use crate::show::access::{Access, read_access};
use crate::show::{self, Severity, Show, Sources};

/// Of the simulated rigs' noise. Any will do; the same each time, so that a rehearsal can be repeated.
const SEED: u64 = 1;

const CAUTIONS: &str = "\
caution The stop here is an operational stop. Emergency stop, enabling devices, limits and brakes are independent hardware.
caution No one rides on or stands under a rig on the word of this program; the competent person on site decides.
";

/// Run the daemon on a show; prints every bound address when ready
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    pub show: PathBuf,
    /// Address of HTTP and WebSocket; port 0 takes any free one
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:7117")]
    pub http: SocketAddr,
    /// Address of OSC, over UDP and TCP
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:7118")]
    pub osc: SocketAddr,
    /// Address of the stop port, over UDP
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:7119")]
    pub stop_port: SocketAddr,
    /// Folder for the journal of the run; by default under the state folder of the service or the user
    #[arg(long, value_name = "DIR", conflicts_with = "no_journal")]
    pub journal: Option<PathBuf>,
    /// Keep no journal
    #[arg(long)]
    pub no_journal: bool,
    /// Faults of simulated rigs (machines), to happen as this file says
    #[arg(long, value_name = "FILE")]
    pub faults: Option<PathBuf>,
    /// Offer every edit of the show's files by itself; an operator accepts it
    #[arg(long)]
    pub watch: bool,
    /// Arm at once; only if all rigs are simulated
    #[arg(long)]
    pub arm: bool,
    /// How the lines of the log look, on standard error, once the show has been read
    #[arg(long, value_name = "FORMAT", value_enum, default_value = "text")]
    pub log_format: LogFormat,
    /// The least level that is logged: an error is a bug of bellwire, a refusal is an info
    #[arg(long, value_name = "LEVEL", value_enum, default_value = "info")]
    pub log_level: LogLevel,
}

pub fn run(args: &Args) -> Exit {
    let log = Log::start(args.log_format, args.log_level);
    let exit = match start(args) {
        Ok(daemon) => watch_over(daemon),
        Err(exit) => exit,
    };
    log.flush();
    exit
}

fn start(args: &Args) -> Result<Daemon, Exit> {
    let refused = |why: &str| {
        output::message(&format!("error: {why}\n"));
        Exit::Refused
    };
    let (show, plan, files) = read(args)?;
    let script = args.faults.as_deref().map(|path| read_faults(path, &show)).transpose()?;
    let (drivers, faults) = rig::open(&show, SEED);
    let simulated = drivers.iter().filter(|driver| driver.simulated()).count();
    if args.arm && simulated < drivers.len() {
        return Err(refused(
            "--arm is for shows of which every rig is simulated: arm from the panel, with eyes on the rigs",
        ));
    }
    let addresses = Addresses { http: args.http, osc: args.osc, stop_port: args.stop_port };
    let access = who_is_let_in(args)?;
    let cautions = of_the_network(addresses, &access);
    let sockets = Sockets::bind(addresses, access).map_err(|error| refused(&error.to_string()))?;
    let journal = journal_file::begin(args.journal.as_deref(), args.no_journal, &show, &files, SEED)
        .map_err(|why| refused(&why))?;
    let kept = journal_file::announcement(journal.as_ref());
    let engine = Engine::new(show.clone(), plan.clone());
    let mut cycle = Cycle::new(&show, engine, drivers, faults);
    if let Some(script) = script {
        cycle.follow_script(script);
    }
    let mut daemon = Daemon::start(show.clone(), plan, cycle, sockets, journal)
        .map_err(|error| refused(&format!("the daemon could not start: {error}")))?;
    daemon
        .take_edits(&args.show, args.watch)
        .map_err(|error| refused(&format!("the show's files cannot be watched: {error}; leave out --watch")))?;
    if args.arm
        && let Err(reasons) = daemon.arm_by_itself()
    {
        return Err(refused(&format!("it could not be armed: {}", reasons.join("; "))));
    }
    daemon.tell_service_manager().map_err(|error| refused(&format!("the daemon could not start: {error}")))?;
    output::message(&cautions);
    output::result(&announcement(&show, simulated, daemon.bound(), &kept, args.arm));
    Ok(daemon)
}

/// Reads and proves the show. Its findings are printed; an error among them ends the run.
fn read(args: &Args) -> Result<(Arc<Show>, Arc<Plan>, Sources), Exit> {
    let reading = show::read(&args.show);
    let proof = reading.show.as_ref().map(|show| prove_with(show, &Threads));
    let findings = all_findings(&reading, proof.as_ref());
    output::message(&report::render_findings(&findings, &reading.sources, output::message_colour()));
    let sound = findings.iter().all(|finding| finding.severity != Severity::Error);
    match (reading.show, proof) {
        (Some(show), Some(proof)) if sound => Ok((Arc::new(show), Arc::new(proof.plan), reading.sources)),
        (Some(_) | None, _) => {
            output::message(&format!(
                "{}\nerror: the show is not run with errors in it\n",
                report::summary(&findings)
            ));
            Err(Exit::Refused)
        }
    }
}

/// Reads a file of faults for this show. Its findings are printed; an error among them ends the run.
pub fn read_faults(path: &Path, show: &Show) -> Result<FaultScript, Exit> {
    let ScriptReading { script, findings, sources } = rig::read_faults(path, show);
    output::message(&report::render_findings(&findings, &sources, output::message_colour()));
    script.ok_or_else(|| {
        output::message(&format!(
            "{}\nerror: a file of faults with errors in it is not used\n",
            report::summary(&findings)
        ));
        Exit::Refused
    })
}

/// Reads access.toml. Its findings are printed; an error among them ends the run, since whom it was to let in is a guess.
fn who_is_let_in(args: &Args) -> Result<Access, Exit> {
    let reading = read_access(&args.show);
    output::message(&report::render_findings(&reading.findings, &reading.sources, output::message_colour()));
    reading.access.ok_or_else(|| {
        output::message("error: the show is not run while access.toml has errors: it says who is let in\n");
        Exit::Refused
    })
}

/// What has to be known where other machines can reach us.
fn of_the_network(addresses: Addresses, access: &Access) -> String {
    let Addresses { http, osc, stop_port } = addresses;
    if [http, osc, stop_port].iter().all(|address| address.ip().is_loopback()) {
        return String::new();
    }
    let mut cautions = String::from(
        "caution Other machines can reach this daemon, and tokens cross the network in the clear: whoever can listen \
         there can use them. Keep it on a closed show network, or behind a proxy that adds TLS.\n",
    );
    if !access.lets_somebody_in() {
        cautions.push_str(
            "warning: access.toml lets nobody in yet, other than to stop: `bellwire access SHOW add NAME --role ROLE`\n",
        );
    }
    cautions
}

fn announcement(show: &Show, simulated: usize, bound: Bound, journal: &str, armed: bool) -> String {
    let Bound { http, osc_udp, osc_tcp, stop_port } = bound;
    let rigs = show.rigs.len();
    let simulated = match simulated {
        0 => String::new(),
        all if all == rigs => format!("SIMULATED all {rigs} rigs (machines): nothing moves but in the computer\n"),
        some => format!("SIMULATED {some} of {rigs} rigs (machines); the others MOVE\n"),
    };
    let armed = if armed { "armed, as asked" } else { "disarmed: nothing moves before it is armed" };
    format!(
        "show {}: {rigs} rigs, {} axes, {} cues\n{simulated}{CAUTIONS}\
         panel http://{http}/\nwebsocket ws://{http}/rpc\nosc udp {osc_udp}\nosc tcp {osc_tcp}\n\
         stop port udp {stop_port}\n{journal}\n{armed}\nready\n",
        show.name,
        show.axes.len(),
        show.cues.len(),
    )
}

fn watch_over(daemon: Daemon) -> Exit {
    match daemon.wait() {
        Ending::Signal(name) => {
            tracing::info!("{name}: stopping the show");
            if daemon.end(StopLane::Signal) {
                tracing::info!("everything stands still; ended");
                return Exit::Done;
            }
            tracing::warn!("ended, but not every axis was measured at rest: look at the machines");
            Exit::Refused
        }
        Ending::Panic { thread } => {
            tracing::error!(
                "the {thread} thread has failed, which is an error of bellwire itself: the stop is pressed and the \
                 rigs' heartbeat withheld; look at the machines before anything is started again"
            );
            daemon.end(StopLane::Watch);
            Exit::Refused
        }
    }
}
