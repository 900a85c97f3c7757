//! Recordings of a device: written as it is read, and played in its place.

use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

use tokio::sync::mpsc::UnboundedSender;

use super::heard::Heard;

/// Plays a recording, each line at its time; then there is no device any more.
///
/// # Errors
/// A file that cannot be read, or a line that says nothing that a device could.
pub fn play(path: &Path, heard: UnboundedSender<Heard>) -> Result<(), String> {
    let file = File::open(path).map_err(|error| format!("{}: {error}", path.display()))?;
    let mut lines = Vec::new();
    for (index, line) in BufReader::new(file).lines().enumerate() {
        let line = line.map_err(|error| format!("{}: {error}", path.display()))?;
        match Heard::read(&line) {
            Ok(said) => lines.extend(said),
            Err(expected) => return Err(format!("{}:{}: {expected}, found `{line}`", path.display(), index + 1)),
        }
    }
    thread::spawn(move || {
        let begin = Instant::now();
        for (seconds, said) in lines {
            thread::sleep(Duration::from_secs_f64(seconds).saturating_sub(begin.elapsed()));
            if heard.send(said).is_err() {
                return;
            }
        }
        let _ = heard.send(Heard::End);
    });
    Ok(())
}

/// Writes down what a device says.
pub struct Recorder {
    file: File,
    begin: Instant,
}

impl Recorder {
    pub fn create(path: &Path) -> Result<Recorder, String> {
        let file = File::create(path).map_err(|error| format!("{}: {error}", path.display()))?;
        Ok(Recorder { file, begin: Instant::now() })
    }

    pub fn write(&mut self, heard: &Heard) -> Result<(), String> {
        let line = heard.line(self.begin.elapsed().as_secs_f64()).unwrap_or_default();
        self.file.write_all(line.as_bytes()).map_err(|error| format!("the recording ends here: {error}"))
    }
}
