//! `bellwire lend`: rigs in hand here, for somebody else's sticks to drive.
//!
//! Who has a rig in hand answers for it, so this lasts as long as it runs: once it ends, is killed or is not heard any more, the
//! rigs brake and are nobody's.

use std::process;
use std::time::Duration;

use clap::Args as ClapArgs;
use serde_json::{Value, json};
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::time::{MissedTickBehavior, interval};

use super::client::{Daemon, Failure, Link, ask_of_daemon};
use super::exit::Exit;
use super::output;

/// The status is asked for so often, which also says that we are here.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// s; not heard for so long, we are taken for gone.
const LEASE: f64 = 2.0;

/// Take rigs (machines) in hand for another client's sticks to drive, and give them back when this ends
#[derive(Debug, ClapArgs)]
pub struct Args {
    #[arg(required = true, value_name = "RIG")]
    rigs: Vec<String>,
    /// Whose sticks drive them, by the name that status shows, such as "osc 10.0.0.7"
    #[arg(long, value_name = "CLIENT")]
    sticks: String,
    /// How much of a stick's way around its middle counts for nothing, 0 to below 1
    #[arg(long, value_name = "SHARE")]
    dead_band: Option<f64>,
    /// How far a stick is bent from linear, 0, to logarithmic, 1
    #[arg(long, value_name = "SHARE")]
    taper: Option<f64>,
    #[command(flatten)]
    daemon: Daemon,
}

pub fn run(args: &Args) -> Exit {
    ask_of_daemon(lend(args))
}

async fn lend(args: &Args) -> Result<(), Failure> {
    let unheard = |error: std::io::Error| Failure::Refused(vec![format!("signals cannot be heard: {error}")]);
    let mut ends = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()]
        .map(signal)
        .into_iter()
        .collect::<Result<Vec<Signal>, _>>()
        .map_err(unheard)?;
    // A name of its own: whatever else ends on this machine, this client stays.
    let mut link = Link::open_as(&args.daemon, &format!("lend-{}", process::id())).await?;
    link.call("subscribe", json!({ "hz": 0, "lease": LEASE })).await?;
    for rig in &args.rigs {
        link.call("hand", asked(args, rig)).await?;
    }
    let mut lent = Lent { owner: String::new(), rigs: args.rigs.clone() };
    lent.look(&link.call("status", json!({})).await?);
    let (rigs, sticks) = (args.rigs.join(", "), &args.sticks);
    output::result(&format!(
        "{rigs} in hand, driven by the sticks of {sticks}; given back when this ends (Ctrl-C)\n"
    ));
    let mut times = interval(LOOK_EVERY);
    times.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        tokio::select! {
            () = any(&mut ends) => return lent.give_back(&mut link).await,
            _ = times.tick() => {}
        }
        let status = link.call("status", json!({})).await?;
        for lost in lent.look(&status) {
            output::message(&format!("{lost} is no longer in hand here: {}\n", whose(&status["rigs"][&lost])));
        }
        if lent.rigs.is_empty() {
            return Err(Failure::Refused(vec!["nothing is lent any more".to_owned()]));
        }
    }
}

fn asked(args: &Args, rig: &str) -> Value {
    let mut params = json!({ "rig": rig, "sticks": args.sticks });
    for (name, share) in [("dead_band", args.dead_band), ("taper", args.taper)] {
        share.iter().for_each(|&share| params[name] = share.into());
    }
    params
}

/// The first of several signals.
async fn any(signals: &mut [Signal]) {
    let each = signals.iter_mut().map(|signal| Box::pin(signal.recv()));
    futures_util::future::select_all(each).await;
}

fn whose(rig: &Value) -> String {
    match rig["owner"].as_str() {
        Some(owner) => format!("{owner} has it"),
        None => "it was given back, as by a disarm".to_owned(),
    }
}

struct Lent {
    /// What the daemon calls us, once it has said so.
    owner: String,
    rigs: Vec<String>,
}

impl Lent {
    /// Those that are no longer ours, which are left out from now on.
    fn look(&mut self, status: &Value) -> Vec<String> {
        let has = |rig: &String| {
            let hand = &status["rigs"][rig]["hand"];
            hand["client"].as_str().filter(|_| hand["let_go"] != true)
        };
        if self.owner.is_empty() {
            self.rigs.iter().find_map(has).unwrap_or_default().clone_into(&mut self.owner);
        }
        let (ours, lost) = self.rigs.drain(..).partition(|rig| has(rig) == Some(&*self.owner));
        self.rigs = ours;
        lost
    }

    async fn give_back(&self, link: &mut Link) -> Result<(), Failure> {
        for rig in &self.rigs {
            link.call("give_back", json!({ "rig": rig })).await?;
        }
        output::result(&format!("{} given back\n", self.rigs.join(", ")));
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_longer_ours_is_told_once_and_whose_it_is() {
        let mut lent = Lent { owner: String::new(), rigs: vec!["heron".into(), "gull".into(), "minnow".into()] };
        let hand =
            |client: &str, let_go: bool| json!({ "owner": client, "hand": { "client": client, "let_go": let_go } });
        let ours = json!({ "rigs": { "heron": hand("desk (lend 7)", false), "gull": hand("desk (lend 7)", false),
                                     "minnow": hand("desk (lend 7)", false) } });
        assert!(lent.look(&ours).is_empty());
        let later = json!({ "rigs": { "heron": hand("desk (lend 7)", true), "gull": hand("Ada", false),
                                      "minnow": hand("desk (lend 7)", false) } });
        assert_eq!(lent.look(&later), ["heron", "gull"]);
        assert_eq!(lent.rigs, ["minnow"]);
        assert_eq!(whose(&later["rigs"]["gull"]), "Ada has it");
        assert_eq!(lent.look(&json!({ "rigs": { "minnow": { "owner": null, "hand": null } } })), ["minnow"]);
        assert_eq!(whose(&json!({ "owner": null })), "it was given back, as by a disarm");
    }
}
