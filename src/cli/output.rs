//! Writing to people and to scripts.

use std::io::{self, IsTerminal, Write};

use super::exit::Exit;

/// Writes a result to standard output. A reader that went away (`| head`) is no failure of ours.
pub fn result(text: &str) -> Exit {
    let mut output = io::stdout().lock();
    match output.write_all(text.as_bytes()).and_then(|()| output.flush()) {
        Ok(()) => Exit::Done,
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Exit::Done,
        Err(error) => {
            message(&format!("error: the result could not be written: {error}\n"));
            Exit::Refused
        }
    }
}

/// Writes a message to standard error; if that is closed there is nobody left to tell.
pub fn message(text: &str) {
    let _ = io::stderr().lock().write_all(text.as_bytes());
}

/// Whether messages may be coloured: on a terminal, and nobody asked for none (`NO_COLOR`, `TERM=dumb`).
pub fn message_colour() -> bool {
    io::stderr().is_terminal() && colour_is_wanted()
}

/// The same of results.
pub fn result_colour() -> bool {
    io::stdout().is_terminal() && colour_is_wanted()
}

fn colour_is_wanted() -> bool {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    !refused && !dumb
}
