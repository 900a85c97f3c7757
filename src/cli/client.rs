//! The commands that ask something of a running daemon.

mod link;
mod stop;
mod summary;

use std::time::Duration;

use clap::{ArgAction, Args, Subcommand};
use serde_json::{Value, json};
use tokio::runtime::Builder;

use super::exit::Exit;
use super::output;
use crate::show::CueNumber;
pub use link::{Failure, Link, Socket, hear, read, speak, with_port};
pub use stop::stop as stop_everything;

/// Where the daemon is.
#[derive(Debug, Args)]
pub struct Daemon {
    /// Address of the daemon
    #[arg(long = "to", value_name = "ADDR", default_value = "127.0.0.1:7117")]
    pub address: String,
    /// Token that `bellwire access` gave; others on this machine may read it from the command line, not from the
    /// environment
    #[arg(long, value_name = "TOKEN", env = "BELLWIRE_TOKEN", hide_env_values = true)]
    pub token: Option<String>,
}

#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Put cues on standby, in order; each GO fires the first
    Standby {
        #[arg(required = true, value_name = "CUE")]
        cues: Vec<CueNumber>,
        /// Acknowledge passing over cues
        #[arg(long)]
        skip: bool,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Fire the standby cue
    Go {
        /// Refused unless this is the standby cue
        cue: Option<CueNumber>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Slow a cue, or all that run, to rest on its path
    Hold {
        cue: Option<CueNumber>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Carry on a cue, or all that are held
    Resume {
        cue: Option<CueNumber>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Go back along the path to the cue's start
    Return {
        cue: CueNumber,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Stop everything; this is not an emergency stop
    Stop {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Clear the stop once no cause remains; starts nothing
    Reset {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Allow motion of the whole show
    Arm {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Forbid motion of the whole show
    Disarm {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Set the factor on the show's clock
    Master {
        /// Above 0, to 1
        #[arg(value_name = "FACTOR")]
        value: f64,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Set the list as if every cue before this one were done, after a restart; moves nothing
    Place {
        cue: CueNumber,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Read the edited show files and say what they change; with --accept they come into force
    Reload {
        /// The hash of the edit that was offered, or its beginning
        #[arg(long, value_name = "HASH")]
        accept: Option<String>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Tell the daemon the value of an input
    Input {
        name: String,
        #[arg(action = ArgAction::Set)]
        value: bool,
        /// Tell it again every so many seconds, until interrupted
        #[arg(long, value_name = "SECONDS", value_parser = period)]
        every: Option<Duration>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Make a simulated rig fail, or end that; see `bellwire faults` for what is then done
    Fault {
        rig: String,
        /// link-lost, mute, late, drive, ignores-stop, stuck, reversed, drift, brake-slip, jump, not-a-number,
        /// wrong-end or crossed
        kind: String,
        /// Of a rig with several axes
        #[arg(long)]
        axis: Option<String>,
        /// How much: seconds late, or a way or a speed in the axis's unit
        #[arg(long, allow_negative_numbers = true, conflicts_with = "off")]
        size: Option<f64>,
        /// End it
        #[arg(long)]
        off: bool,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Make ready to record a take of some rigs (machines); it begins with their first motion
    Prime {
        #[arg(required = true, value_name = "RIG")]
        rigs: Vec<String>,
        /// Name of the take
        #[arg(long = "as", value_name = "NAME")]
        name: Option<String>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Begin to record though nothing moves yet; with --off, end
    Record {
        #[arg(long)]
        off: bool,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Put what was recorded among the takes of the show
    Keep {
        /// By default the name that it was primed with
        name: Option<String>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Throw away what was recorded
    Discard {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Put a take on standby to be played back, by no cue; a GO plays it
    Play {
        take: String,
        /// Factor on its time
        #[arg(long, value_name = "FACTOR")]
        stretch: Option<f64>,
        /// Rig (machine) that plays the columns that name none, if several could
        #[arg(long)]
        rig: Option<String>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Say how the show stands
    Status {
        /// Print one JSON document and nothing else
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        daemon: Daemon,
    },
}

fn period(text: &str) -> Result<Duration, String> {
    let seconds = text.parse().ok().filter(|seconds| (0.01..=3600.0).contains(seconds));
    seconds.map(Duration::from_secs_f64).ok_or_else(|| "expected seconds, 0.01 to 3600".to_owned())
}

pub fn run(verb: &Verb) -> Exit {
    ask_of_daemon(carry_out(verb))
}

/// Runs one conversation with the daemon to its end.
pub fn ask_of_daemon(conversation: impl Future<Output = Result<(), Failure>>) -> Exit {
    let runtime = match Builder::new_current_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => {
            output::message(&format!("error: nothing was asked: {error}\n"));
            return Exit::NotReached;
        }
    };
    match runtime.block_on(conversation) {
        Ok(()) => Exit::Done,
        Err(Failure::Refused(reasons)) => {
            let reasons: String = reasons.iter().map(|reason| format!("refused: {reason}\n")).collect();
            output::message(&reasons);
            Exit::Refused
        }
        Err(Failure::NotReached(why)) => {
            output::message(&format!(
                "error: no daemon: {why}\n  = help: start one with `bellwire run SHOW`, or say with --to ADDR where it \
                 listens\n"
            ));
            Exit::NotReached
        }
    }
}

async fn carry_out(verb: &Verb) -> Result<(), Failure> {
    match verb {
        Verb::Standby { cues, skip, daemon } => standby(cues, *skip, daemon).await,
        Verb::Go { cue, daemon } => ask(daemon, "go", of_cue(cue.as_ref())).await,
        Verb::Hold { cue, daemon } => ask(daemon, "hold", of_cue(cue.as_ref())).await,
        Verb::Resume { cue, daemon } => ask(daemon, "resume", of_cue(cue.as_ref())).await,
        Verb::Return { cue, daemon } => {
            ask(daemon, "return", of_cue(Some(cue))).await?;
            output::result("the way back is on standby: GO takes it\n");
            Ok(())
        }
        Verb::Stop { daemon } => stop::stop(daemon).await,
        Verb::Reset { daemon } => ask(daemon, "reset", json!({})).await,
        Verb::Arm { daemon } => ask(daemon, "arm", json!({})).await,
        Verb::Disarm { daemon } => ask(daemon, "disarm", json!({})).await,
        Verb::Master { value, daemon } => ask(daemon, "master", json!({ "value": value })).await,
        Verb::Place { cue, daemon } => ask(daemon, "place", of_cue(Some(cue))).await,
        Verb::Reload { accept: None, daemon } => reload(daemon).await,
        Verb::Reload { accept: Some(hash), daemon } => ask(daemon, "reload", json!({ "accept": hash })).await,
        Verb::Input { name, value, every, daemon } => input(daemon, name, *value, *every).await,
        Verb::Fault { rig, kind, axis, size, off, daemon } => {
            let params = json!({ "rig": rig, "axis": axis, "kind": kind, "on": !off, "size": size });
            ask(daemon, "fault", params).await
        }
        Verb::Prime { rigs, name, daemon } => ask(daemon, "prime", json!({ "rigs": rigs, "name": name })).await,
        Verb::Record { off, daemon } => ask(daemon, "record", json!({ "on": !off })).await,
        Verb::Keep { name, daemon } => {
            let kept = Link::open(daemon).await?.call("keep", json!({ "name": name })).await?;
            let take = kept["take"].as_str().unwrap_or_default();
            let lines = kept["lines"].as_str().unwrap_or_default();
            output::result(&format!("take {take} is kept; a cue plays it with\n{lines}"));
            Ok(())
        }
        Verb::Play { take, stretch, rig, daemon } => {
            let mut params = json!({ "take": take });
            stretch.iter().for_each(|&stretch| params["stretch"] = stretch.into());
            rig.iter().for_each(|rig| params["rig"] = rig.as_str().into());
            let answer = Link::open(daemon).await?.call("play", params).await?;
            output::result(&readiness(&answer));
            Ok(())
        }
        Verb::Discard { daemon } => ask(daemon, "discard", json!({})).await,
        Verb::Status { json, daemon } => status(daemon, *json).await,
    }
}

async fn ask(daemon: &Daemon, method: &str, params: Value) -> Result<(), Failure> {
    Link::open(daemon).await?.call(method, params).await?;
    output::result(&format!("{method} accepted\n"));
    Ok(())
}

fn of_cue(cue: Option<&CueNumber>) -> Value {
    cue.map_or_else(|| json!({}), |cue| json!({ "cue": cue }))
}

/// A standby that is not ready is accepted, and says why.
async fn standby(cues: &[CueNumber], skip: bool, daemon: &Daemon) -> Result<(), Failure> {
    let mut params = json!({ "cues": cues });
    if skip {
        params["skip"] = true.into();
    }
    let answer = Link::open(daemon).await?.call("standby", params).await?;
    output::result(&readiness(&answer));
    Ok(())
}

/// "ready", or what it is not ready for.
fn readiness(answer: &Value) -> String {
    let ready = if answer["ready"] == true { "ready" } else { "not ready" };
    let reasons = answer["reasons"].as_array().into_iter().flatten().filter_map(Value::as_str);
    let reasons: String = reasons.map(|reason| format!("  {reason}\n")).collect();
    format!("{ready}\n{reasons}")
}

/// What an edit changes, and how to accept it.
async fn reload(daemon: &Daemon) -> Result<(), Failure> {
    let answer = Link::open(daemon).await?.call("reload", json!({})).await?;
    if answer["access"] == true {
        output::result("access.toml is in force as it is now\n");
    }
    output::result(&summary::edit(&answer["edit"]));
    Ok(())
}

/// Asks for the preset to a cue.
pub async fn preset(cue: &CueNumber, daemon: &Daemon) -> Result<(), Failure> {
    let mut link = Link::open(daemon).await?;
    let answer = link.call("preset", of_cue(Some(cue))).await?;
    let status = link.call("status", json!({})).await?;
    output::result(&format!("{}{}", readiness(&answer), summary::way(&status["preset"])));
    Ok(())
}

async fn input(daemon: &Daemon, name: &str, value: bool, every: Option<Duration>) -> Result<(), Failure> {
    let mut link = Link::open(daemon).await?;
    let params = json!({ "name": name, "value": value });
    link.call("input", params.clone()).await?;
    let Some(every) = every else { return Ok(()) };
    output::message(&format!("told, and told again every {} s until interrupted\n", every.as_secs_f64()));
    let mut times = tokio::time::interval(every);
    loop {
        times.tick().await;
        link.call("input", params.clone()).await?;
    }
}

async fn status(daemon: &Daemon, json: bool) -> Result<(), Failure> {
    let status = Link::open(daemon).await?.call("status", json!({})).await?;
    output::result(&if json { format!("{status:#}\n") } else { summary::summary(&status) });
    Ok(())
}
