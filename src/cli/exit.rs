//! The exit codes that scripts depend on.

use std::process::ExitCode;

/// How a command ended. A wrong command line (2) ends the process before any command runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done, or accepted.
    Done,
    /// Refused, or something was found wrong; the reasons are on standard error.
    Refused,
    /// The command line was understood but does not make sense.
    Usage,
    /// No daemon answered.
    NotReached,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(match exit {
            Exit::Done => 0,
            Exit::Refused => 1,
            Exit::Usage => 2,
            Exit::NotReached => 3,
        })
    }
}
