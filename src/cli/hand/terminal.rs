//! The operator's terminal: single keys, and whether its window has the focus.

use std::io::{self, IsTerminal, Read, Write};
use std::thread;

use rustix::termios::{OptionalActions, Termios, tcgetattr, tcsetattr};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// Asks for word of the focus, and hides the cursor; the other way round.
const ENTER: &str = "\x1b[?1004h\x1b[?25l";
const LEAVE: &str = "\x1b[?1004l\x1b[?25h";

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    Stop,
    Quit,
    FocusLost,
    FocusFound,
}

/// Keys one by one, until this is dropped. On what is no terminal everything stays as it is.
pub struct Terminal {
    before: Option<Termios>,
}

impl Terminal {
    pub fn open() -> Terminal {
        let input = io::stdin();
        let before = if input.is_terminal() && io::stdout().is_terminal() { tcgetattr(&input).ok() } else { None };
        if let Some(before) = &before {
            let mut raw = before.clone();
            raw.make_raw();
            // What is written still ends its lines as it did.
            raw.output_modes = before.output_modes;
            let _ = tcsetattr(&input, OptionalActions::Now, &raw);
            write(ENTER);
        }
        Terminal { before }
    }

    /// Whether there is anybody to draw for.
    pub fn is_seen(&self) -> bool {
        self.before.is_some()
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        if let Some(before) = &self.before {
            let _ = tcsetattr(io::stdin(), OptionalActions::Now, before);
            write(LEAVE);
        }
    }
}

fn write(text: &str) {
    let mut output = io::stdout().lock();
    let _ = output.write_all(text.as_bytes()).and_then(|()| output.flush());
}

/// Keys as they are pressed; the end of the input, where it was a terminal, is the wish to end.
pub fn keys() -> UnboundedReceiver<Key> {
    let (sender, receiver) = unbounded_channel();
    thread::spawn(move || read_keys(&sender));
    receiver
}

fn read_keys(keys: &UnboundedSender<Key>) {
    let mut input = io::stdin();
    let mut bytes = [0; 64];
    loop {
        match input.read(&mut bytes) {
            Ok(0) | Err(_) => {
                if input.is_terminal() {
                    let _ = keys.send(Key::Quit);
                }
                return;
            }
            Ok(count) => {
                for key in read(&bytes[..count]) {
                    if keys.send(key).is_err() {
                        return;
                    }
                }
            }
        }
    }
}

/// The keys in what a terminal sends at once. An escape with something after it is the terminal's own word.
fn read(bytes: &[u8]) -> Vec<Key> {
    match bytes {
        [0x1b, b'[', b'O', rest @ ..] => [vec![Key::FocusLost], read(rest)].concat(),
        [0x1b, b'[', b'I', rest @ ..] => [vec![Key::FocusFound], read(rest)].concat(),
        [0x1b, b'[' | b'O', ..] => Vec::new(),
        [0x1b | b's' | b'S', rest @ ..] => [vec![Key::Stop], read(rest)].concat(),
        [b'q' | b'Q' | 0x03 | 0x04, ..] => vec![Key::Quit],
        [_, rest @ ..] => read(rest),
        [] => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_escape_alone_stops_and_word_of_the_focus_does_not() {
        assert_eq!(read(b"\x1b"), [Key::Stop]);
        assert_eq!(read(b"\x1b\x1b"), [Key::Stop, Key::Stop]);
        assert_eq!(read(b"s"), [Key::Stop]);
        assert_eq!(read(b"\x1b[O"), [Key::FocusLost]);
        assert_eq!(read(b"\x1b[I\x1b"), [Key::FocusFound, Key::Stop]);
        // An arrow.
        assert_eq!(read(b"\x1b[A"), []);
        assert_eq!(read(b" x"), []);
        assert_eq!(read(b"q"), [Key::Quit]);
        assert_eq!(read(b"\x03"), [Key::Quit]);
    }
}
