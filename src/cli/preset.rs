//! `bellwire preset`: the proved way to where a cue starts, planned (`--from`) or asked of a running daemon.

use std::path::Path;

use clap::Args as ClapArgs;

use super::client::{self, Daemon};
use super::exit::Exit;
use super::{output, plan};
use crate::proof::{PresetPlanner, Progress, prove};
use crate::report;
use crate::show::{self, CueNumber, Finding, Severity};

/// Where a running daemon listens, unless told otherwise.
const DAEMON: &str = "127.0.0.1:7117";

/// The way to where a cue starts: put on standby in a running daemon, or with --from planned
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The cue that a running daemon shall preset; with --from the folder of the show
    #[arg(value_name = "CUE|SHOW")]
    target: String,
    /// Cue that has ended
    #[arg(long, value_name = "CUE", requires = "to")]
    from: Option<CueNumber>,
    /// Address of the daemon; with --from the cue to start next
    #[arg(long, value_name = "ADDR|CUE")]
    to: Option<String>,
    /// Print the planned way as one JSON document and nothing else
    #[arg(long, requires = "from")]
    json: bool,
    /// Token that `bellwire access` gave, for a daemon that asks for one
    #[arg(long, value_name = "TOKEN", env = "BELLWIRE_TOKEN", hide_env_values = true)]
    token: Option<String>,
}

pub fn run(args: &Args) -> Exit {
    match (&args.from, &args.to) {
        (Some(from), Some(to)) => match to.parse::<CueNumber>() {
            Ok(to) => planned(Path::new(&args.target), [from, &to], args.json),
            Err(_) => no_number(to, "--to"),
        },
        (None, _) | (_, None) => match args.target.parse::<CueNumber>() {
            Ok(cue) => {
                let address = args.to.clone().unwrap_or_else(|| DAEMON.to_owned());
                let daemon = Daemon { address, token: args.token.clone() };
                client::ask_of_daemon(async { client::preset(&cue, &daemon).await })
            }
            Err(_) => no_number(&args.target, "the cue to preset"),
        },
    }
}

fn no_number(found: &str, what: &str) -> Exit {
    output::message(&format!(
        "error: {what}: expected a cue number such as 12.5, found '{found}'\n  = help: `preset CUE` asks a running \
         daemon, `preset SHOW --from CUE --to CUE` plans\n"
    ));
    Exit::Usage
}

/// From where one cue of a show leaves the rigs to where another starts.
fn planned(folder: &Path, numbers: [&CueNumber; 2], json: bool) -> Exit {
    let reading = show::read(folder);
    let refuse = |findings: &[Finding]| {
        if json {
            output::result(&format!("{:#}\n", report::preset_json(&reading, None, findings)));
            Exit::Refused
        } else {
            plan::refuse(&reading, findings)
        }
    };
    let Some(show) = &reading.show else { return refuse(&reading.findings) };
    let mut cues = Vec::new();
    for number in numbers {
        match show.find_cue(number) {
            Some(cue) => cues.push(cue),
            None => return plan::refuse_unknown(show, number),
        }
    }
    let proof = prove(show);
    let errors: Vec<Finding> =
        proof.findings.iter().filter(|finding| finding.severity == Severity::Error).cloned().collect();
    if !errors.is_empty() {
        return refuse(&errors);
    }
    let cues = [cues[0], cues[1]];
    let mut planner = PresetPlanner::new(show);
    planner.begin_between(show, &proof.plan, cues[0], cues[1]);
    let found = planner.finish(show) == Progress::Found;
    let written = if json {
        output::result(&format!("{:#}\n", report::preset_json(&reading, Some((cues, &planner)), &[])))
    } else if found {
        output::result(&report::preset_text(show, cues, &planner))
    } else {
        output::message(&report::preset_text(show, cues, &planner));
        Exit::Refused
    };
    if found { written } else { Exit::Refused }
}
