//! `bellwire access`: who is let in, beside this machine.

use std::fs;
use std::io::{self, IsTerminal};
use std::net::IpAddr;
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, Subcommand, ValueEnum};

use super::exit::Exit;
use super::{output, qr};
use crate::daemon::whole_file;
use crate::report;
use crate::show::access::{
    self, ACCESS_FILE, AccessReading, EditError, Network, Role, Secret, add_sender, add_token, read_access,
};

/// The daemon's own port, where `--at` names none.
const PORT: u16 = 7117;

/// Say who is let in, beside this machine; the stop is taken from anyone
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    #[command(subcommand)]
    change: Change,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Make a token for a client over HTTP or WebSocket, such as a tablet, and show it once
    Add {
        /// Whose it is, for the log and the panel
        name: String,
        /// What it may do
        #[arg(long)]
        role: Words,
        /// Where the tablet reaches the daemon; by default at an address of this machine, on port 7117
        #[arg(long, value_name = "HOST[:PORT]")]
        at: Option<String>,
        /// Write the QR code of the panel's address to a file, too
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
    },
    /// Let in a sender of OSC, or a network of them, by address
    Allow {
        /// Such as 10.0.0.7 or 10.0.0.0/24
        address: Network,
        /// What it may do; arm, reset, master and reload are never taken over OSC
        #[arg(long)]
        role: OscWords,
        /// Whose it is, for the log and the panel
        #[arg(long)]
        name: String,
    },
    /// Print who is let in
    List,
    /// Shut out again whoever has this name
    Remove { name: String },
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Words {
    /// Watches
    Observer,
    /// Standby, GO, hold, resume, return, inputs as well
    Caller,
    /// Arm, disarm, reset, master, reload as well
    Operator,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum OscWords {
    /// Watches
    Observer,
    /// Standby, GO, hold, resume, return, inputs as well
    Caller,
}

impl From<Words> for Role {
    fn from(word: Words) -> Role {
        match word {
            Words::Observer => Role::Observer,
            Words::Caller => Role::Caller,
            Words::Operator => Role::Operator,
        }
    }
}

impl From<OscWords> for Role {
    fn from(word: OscWords) -> Role {
        match word {
            OscWords::Observer => Role::Observer,
            OscWords::Caller => Role::Caller,
        }
    }
}

pub fn run(args: &Args) -> Exit {
    match carry_out(args) {
        Ok(exit) => exit,
        Err(why) => {
            output::message(&format!("error: {why}\n"));
            Exit::Refused
        }
    }
}

fn carry_out(args: &Args) -> Result<Exit, String> {
    if !args.show.join("show.toml").is_file() {
        return Err(format!("{} is no show folder: expected show.toml in it", args.show.display()));
    }
    let reading = read_access(&args.show);
    output::message(&report::render_findings(&reading.findings, &reading.sources, output::message_colour()));
    let Some(access) = &reading.access else {
        return Err(format!("{ACCESS_FILE} has errors: mend it first, it was not changed"));
    };
    match &args.change {
        Change::Add { name, role, at, svg } => {
            add(&args.show, &reading, name, (*role).into(), at.as_deref(), svg.as_deref())
        }
        Change::Allow { address, role, name } => {
            change(&args.show, &reading, |text| add_sender(text, name, (*role).into(), address))?;
            Ok(output::result(&format!("{address} is let in over OSC as {name}\n{TAKEN_IN}")))
        }
        Change::List => Ok(output::result(&report::access_table(access))),
        Change::Remove { name } => {
            change(&args.show, &reading, |text| access::remove(text, name))?;
            Ok(output::result(&format!("{name} is no longer let in\n{TAKEN_IN}")))
        }
    }
}

const TAKEN_IN: &str = "a running daemon takes it in on `bellwire reload`\n";

fn add(
    show: &Path,
    reading: &AccessReading,
    name: &str,
    role: Role,
    at: Option<&str>,
    svg: Option<&Path>,
) -> Result<Exit, String> {
    let mut random = [0; 32];
    getrandom::fill(&mut random).map_err(|error| format!("this machine gives no random numbers: {error}"))?;
    let secret = Secret::new(random);
    let address = format!("http://{}/#token={}", host(at), secret.text());
    let code = qr::code(&address).ok_or("the address is too long for a QR code: give a shorter --at")?;
    change(show, reading, |text| add_token(text, name, role, &secret.hash()))?;
    if let Some(path) = svg {
        fs::write(path, qr::svg(&code)).map_err(|error| {
            format!(
                "{name} has its entry, but {} could not be written: {error}. Remove {name} and add it again",
                path.display()
            )
        })?;
    }
    let drawn = if io::stdout().is_terminal() { qr::drawn(&code, output::result_colour()) } else { String::new() };
    Ok(output::result(&format!(
        "{drawn}{name} is let in as {}\ntoken {}\npanel {address}\n\
         shown this once: scan the code with the tablet, or open the address there; whoever has it is let in\n{TAKEN_IN}",
        role.word(),
        secret.text(),
    )))
}

/// Writes the changed file in one step, so that nobody ever reads half of it.
fn change(
    show: &Path,
    reading: &AccessReading,
    edit: impl FnOnce(&str) -> Result<String, EditError>,
) -> Result<(), String> {
    let text = edit(reading.text()).map_err(|error| error.to_string())?;
    // Such as a name of two lines: what is written has to read well again.
    let again = access::read_text(text.clone());
    if let Some(finding) = again.findings.first() {
        return Err(format!("{}; nothing was changed", finding.message));
    }
    let path = show.join(ACCESS_FILE);
    whole_file::replace(&path, &text)
        .map_err(|error| format!("{} could not be written: {error}; nothing was changed", path.display()))
}

/// The host and port that a tablet asks for.
fn host(at: Option<&str>) -> String {
    match at {
        Some(at) => super::client::with_port(at),
        None => match own_address() {
            Some(address @ IpAddr::V6(_)) => format!("[{address}]:{PORT}"),
            Some(address) => format!("{address}:{PORT}"),
            None => format!("127.0.0.1:{PORT}"),
        },
    }
}

/// The address from which this machine would speak to others. Nothing is sent: choosing a route is enough. The
/// destinations are for documentation (RFC 5737, RFC 3849) and are nobody's.
fn own_address() -> Option<IpAddr> {
    let towards = |own: &str, other: &str| {
        let socket = std::net::UdpSocket::bind(own).ok()?;
        socket.connect(other).ok()?;
        socket.local_addr().ok().map(|address| address.ip())
    };
    towards("0.0.0.0:0", "198.51.100.1:9").or_else(|| towards("[::]:0", "[2001:db8::1]:9"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tablet_asks_where_it_is_told() {
        assert_eq!(host(Some("10.0.0.5")), "10.0.0.5:7117");
        assert_eq!(host(Some("bellwire.local:80")), "bellwire.local:80");
        assert!(host(None).ends_with(":7117"));
    }
}
