//! `bellwire man`: the manual pages, made from the command line itself.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, Command, CommandFactory};
use clap_mangen::Man;

use super::exit::Exit;
use super::{CommandLine, output};

/// Write the manual pages into a folder: bellwire.1, and one for each command
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder for the pages; it is made if it is missing
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

/// What `--help` does not say, as man(7) has it; at the end of every page.
const EXIT_STATUS: &str = r#".SH "EXIT STATUS"
.TP
0
Done, or accepted.
.TP
1
Refused, or something was found wrong; the reasons are on standard error.
.TP
2
The command line is wrong.
.TP
3
No daemon was reached.
"#;

/// On the first page alone.
const PLACES: &str = r#".SH FILES
.TP
.I /etc/bellwire/show
The show that the service runs: a folder with show.toml, rigs/ and cues/.
.TP
.I /etc/default/bellwire
Options of
.BR bellwire-run (1)
for the service.
.TP
.I /var/lib/bellwire
The service's journals.
.TP
.I /usr/share/doc/bellwire
README.md, the demo show, and the cue book: one small show for each technique.
.SH ENVIRONMENT
.TP
.B NO_COLOR
If it is set, nothing is coloured.
.TP
.BR NOTIFY_SOCKET ", " WATCHDOG_USEC ", " JOURNAL_STREAM
Set by the service manager, which is then told how the daemon goes; see
.BR sd_notify (3).
.TP
.B XDG_CACHE_HOME
Where a check keeps what it proved, for the next.
.TP
.BR STATE_DIRECTORY ", " XDG_STATE_HOME
Where journals are kept unless
.B --journal
names another folder.
"#;

pub fn run(args: &Args) -> Exit {
    match write_all(&args.folder) {
        Ok(()) => output::result(&format!("read them with: man -l {}/bellwire.1\n", args.folder.display())),
        Err(error) => {
            output::message(&format!(
                "error: the manual pages could not be written into {}: {error}; name a folder that you may write\n",
                args.folder.display()
            ));
            Exit::Refused
        }
    }
}

fn write_all(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    let mut whole = CommandLine::command().disable_help_subcommand(true);
    whole.build();
    write_page(folder, &whole, "bellwire", PLACES)
}

/// The page of a command, and those of its own commands.
fn write_page(folder: &Path, command: &Command, name: &str, places: &str) -> io::Result<()> {
    let mut page = Vec::new();
    Man::new(command.clone()).render(&mut page)?;
    page.extend(EXIT_STATUS.bytes().chain(places.bytes()));
    page.extend(see_also(command, name).bytes());
    fs::write(folder.join(format!("{name}.1")), page)?;
    let commands = command.get_subcommands().filter(|command| !command.is_hide_set());
    commands.into_iter().try_for_each(|command| {
        let name = format!("{name}-{}", command.get_name());
        write_page(folder, command, &name, "")
    })
}

/// The pages of its commands stand in a list of their own; here are those that a reader may want next.
fn see_also(command: &Command, name: &str) -> String {
    let others = match (name, command.get_name()) {
        ("bellwire", _) => ".BR systemctl (1),\n.BR journalctl (1)\n",
        (_, "run") => ".BR bellwire (1),\n.BR bellwire-check (1),\n.BR bellwire-access (1)\n",
        (_, _) => ".BR bellwire (1),\n.BR bellwire-run (1)\n",
    };
    format!(".SH \"SEE ALSO\"\n{others}")
}
