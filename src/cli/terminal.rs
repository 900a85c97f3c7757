//! The operator's terminal: single keys, and whether its window has the focus.

use std::io::{self, IsTerminal, Read, Write};
use std::thread;

use rustix::termios::{OptionalActions, Termios, tcgetattr, tcgetwinsize, tcsetattr};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// Asks for word of the focus, and hides the cursor; the other way round.
const ENTER: &str = "\x1b[?1004h\x1b[?25l";
const LEAVE: &str = "\x1b[?1004l\x1b[?25h";
/// Asks for every key as a sequence with its presses, repeats and releases, and whether that is done; the other way round.
/// Terminals that do not know it leave it alone.
const ENTER_RELEASES: &str = "\x1b[>11u\x1b[?u";
const LEAVE_RELEASES: &str = "\x1b[<u";

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    Stop,
    Quit,
    FocusLost,
    FocusFound,
    /// A key that was pressed, or repeats since it stays pressed.
    Press(Cap),
    /// Told only by terminals that report it.
    Release(Cap),
    /// This terminal reports releases.
    Releases,
}

/// What stands on a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cap {
    Up,
    Down,
    Left,
    Right,
    Letter(char),
}

/// Keys one by one, until this is dropped. On what is no terminal everything stays as it is.
pub struct Terminal {
    before: Option<Termios>,
    releases: bool,
}

impl Terminal {
    pub fn open() -> Terminal {
        Terminal::opened(false)
    }

    /// With releases of keys, from terminals that report them.
    pub fn open_with_releases() -> Terminal {
        Terminal::opened(true)
    }

    fn opened(releases: bool) -> Terminal {
        let input = io::stdin();
        let before = if input.is_terminal() && io::stdout().is_terminal() { tcgetattr(&input).ok() } else { None };
        if let Some(before) = &before {
            let mut raw = before.clone();
            raw.make_raw();
            // What is written still ends its lines as it did.
            raw.output_modes = before.output_modes;
            let _ = tcsetattr(&input, OptionalActions::Now, &raw);
            write(ENTER);
            if releases {
                write(ENTER_RELEASES);
            }
        }
        Terminal { before, releases }
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
            if self.releases {
                write(LEAVE_RELEASES);
            }
            write(LEAVE);
        }
    }
}

/// Columns of the operator's terminal; as many as anybody's, where that is not known.
pub fn columns() -> usize {
    let told = tcgetwinsize(io::stdout()).map_or(0, |size| usize::from(size.ws_col));
    if told == 0 { 80 } else { told.max(20) }
}

/// In as many lines as it needs, each ended: a line that the terminal breaks by itself could not be drawn over.
pub fn wrapped(line: &str, columns: usize) -> String {
    let mut text = String::new();
    let letters: Vec<char> = line.chars().collect();
    let mut left: &[char] = &letters;
    while left.len() > columns {
        let blank = left[..=columns].iter().rposition(|letter| *letter == ' ').filter(|at| *at > columns / 2);
        let (part, rest) = left.split_at(blank.unwrap_or(columns));
        text.extend(part);
        text.push('\n');
        left = if blank.is_some() { &rest[1..] } else { rest };
    }
    text.extend(left);
    text.push('\n');
    text
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

/// The keys in what a terminal sends at once. An escape with something after it that is no sequence is an escape.
fn read(bytes: &[u8]) -> Vec<Key> {
    let mut keys = Vec::new();
    let mut rest = bytes;
    while let Some((&first, after)) = rest.split_first() {
        rest = after;
        match (first, after) {
            (0x1b, [b'[', sequence @ ..]) => {
                let end = sequence.iter().position(|byte| (0x40..=0x7e).contains(byte));
                let (body, left) = end.map_or((sequence, &[][..]), |end| sequence.split_at(end + 1));
                rest = left;
                keys.extend(std::str::from_utf8(body).ok().and_then(sequence_key));
            }
            (0x1b, [b'O', letter, left @ ..]) => {
                rest = left;
                keys.extend(arrow(char::from(*letter)).map(Key::Press));
            }
            (0x1b, _) => keys.push(Key::Stop),
            (byte, _) => keys.extend(letter_key(char::from(byte), Key::Press)),
        }
    }
    keys
}

/// What a letter says: some have a meaning of their own, whatever the screen.
fn letter_key(letter: char, says: fn(Cap) -> Key) -> Option<Key> {
    match letter {
        's' | 'S' => Some(Key::Stop),
        'q' | 'Q' | '\x03' | '\x04' => Some(Key::Quit),
        ' '..='~' => Some(says(Cap::Letter(letter.to_ascii_lowercase()))),
        _ => None,
    }
}

fn arrow(letter: char) -> Option<Cap> {
    match letter {
        'A' => Some(Cap::Up),
        'B' => Some(Cap::Down),
        'C' => Some(Cap::Right),
        'D' => Some(Cap::Left),
        _ => None,
    }
}

/// A control sequence without its beginning: `O`, `A`, `1;1:3C`, `27u`, `104;1:2u`, `?11u`. The part after a `:` in the
/// second number says what happened: 1 a press, 2 a repeat, 3 a release.
fn sequence_key(body: &str) -> Option<Key> {
    let last = body.chars().last()?;
    let numbers = body.strip_suffix(last)?;
    if last == 'u' && numbers.starts_with('?') {
        return Some(Key::Releases);
    }
    let mut parts = numbers.split(';');
    let code = parts.next().and_then(|code| code.split(':').next()).and_then(|code| code.parse::<u32>().ok());
    let mut of_second = parts.next().unwrap_or("").split(':');
    let control = of_second
        .next()
        .and_then(|held| held.parse::<u32>().ok())
        .is_some_and(|held| held.saturating_sub(1) & 4 != 0);
    let released = of_second.next() == Some("3");
    let says: fn(Cap) -> Key = if released { Key::Release } else { Key::Press };
    match (last, code.and_then(char::from_u32)) {
        ('O', _) => Some(Key::FocusLost),
        ('I', _) => Some(Key::FocusFound),
        ('u', Some('\x1b')) => (!released).then_some(Key::Stop),
        ('u', Some('c' | 'd')) if control => (!released).then_some(Key::Quit),
        ('u', Some(letter)) => match letter_key(letter, says) {
            Some(Key::Stop | Key::Quit) if released => None,
            key => key,
        },
        (letter, _) => arrow(letter).map(says),
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
        assert_eq!(read(b"\x1b[A\x1bOB"), [Key::Press(Cap::Up), Key::Press(Cap::Down)]);
        assert_eq!(read(b"x7"), [Key::Press(Cap::Letter('x')), Key::Press(Cap::Letter('7'))]);
        // A sequence that is none of ours, one that is cut off.
        assert_eq!(read(b"\x1b[3~\x1b[1;"), []);
        assert_eq!(read(b"q"), [Key::Quit]);
        assert_eq!(read(b"\x03"), [Key::Quit]);
    }

    /// The sequences of terminals that report releases: arrows and letters pressed, repeated, released; escape and
    /// Control-C as such.
    #[test]
    fn releases_are_told_where_a_terminal_reports_them() {
        assert_eq!(read(b"\x1b[?11u"), [Key::Releases]);
        let all = b"\x1b[1;1:1C\x1b[1;1:2C\x1b[1;1:3C\x1b[C";
        let [press, release] = [Key::Press(Cap::Right), Key::Release(Cap::Right)];
        assert_eq!(read(all), [press, press, release, press]);
        let letter = Cap::Letter('h');
        assert_eq!(read(b"\x1b[104u\x1b[104;1:3u"), [Key::Press(letter), Key::Release(letter)]);
        assert_eq!(read(b"\x1b[27u\x1b[27;1:3u\x1b[115;1:3u\x1b[115u"), [Key::Stop, Key::Stop]);
        assert_eq!(read(b"\x1b[99;5u\x1b[113;1:3u\x1b[113u"), [Key::Quit, Key::Quit]);
    }

    #[test]
    fn a_line_that_is_too_wide_is_broken_where_a_word_ends() {
        assert_eq!(wrapped("abcdef", 4), "abcd\nef\n");
        assert_eq!(wrapped("abc def ghi", 8), "abc def\nghi\n");
        assert_eq!(wrapped("", 8), "\n");
    }
}
