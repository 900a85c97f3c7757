//! So many lines in the log at a time: what a stranger can cause without end must not fill it.

use crate::show::Nanos;

const LINES_MAX: u32 = 5;
const WINDOW: Nanos = Nanos(10_000_000_000);

/// Lets [`LINES_MAX`] lines through in each [`WINDOW`], and counts the others. Time is handed in.
#[derive(Debug, Default)]
pub struct Limiter {
    window: Nanos,
    lines: u32,
    silenced: u64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    Write,
    /// So many were silenced before this one.
    WriteAfter(u64),
    Silence,
}

impl Limiter {
    pub fn line(&mut self, now: Nanos) -> Line {
        if now.0 - self.window.0 > WINDOW.0 {
            self.window = now;
            self.lines = 0;
        }
        if self.lines == LINES_MAX {
            self.silenced += 1;
            return Line::Silence;
        }
        self.lines += 1;
        match std::mem::take(&mut self.silenced) {
            0 => Line::Write,
            silenced => Line::WriteAfter(silenced),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_writes_a_few_lines_and_says_how_many_it_did_not() {
        let mut limiter = Limiter::default();
        let start = Nanos(WINDOW.0 * 2);
        let written = (0..1000).filter(|_| limiter.line(start) != Line::Silence).count();
        assert_eq!(written, LINES_MAX as usize);
        assert_eq!(limiter.line(Nanos(start.0 + WINDOW.0 + 1)), Line::WriteAfter(995));
        assert_eq!(limiter.line(Nanos(start.0 + WINDOW.0 + 1)), Line::Write);
    }
}
