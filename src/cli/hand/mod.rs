//! `bellwire hand`: rigs driven live from a gamepad or joystick on the operator's machine.
//!
//! ```text
//!   device thread ──┐
//!   keyboard thread ┼──> one loop ──> the desk: what is asked for ──> the daemon
//!   20 ms ──────────┘
//! ```

mod desk;
mod device;
mod heard;
mod screen;
mod talk;
mod tape;
#[cfg(test)]
mod tests;
mod whose;

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args as ClapArgs;
use serde_json::{Value, json};
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};
use tokio::time::MissedTickBehavior;

use super::client::{Daemon, Failure, Link, ask_of_daemon, stop_everything};
use super::exit::Exit;
use super::output;
use super::terminal::{self, Cap, Key, Terminal};
use crate::report;
use crate::show::hand::{FocusTo, HandMap, MAP_FILE, read_map};
use desk::{Desk, Wish};
use heard::Heard;
use talk::{Answer, Talk};
use tape::Recorder;

/// Sticks are said at least so often while they count; the daemon takes silence for zero after 150 ms.
const SAY_EVERY: Duration = Duration::from_millis(20);
/// In those times: the status is asked for, and the screen drawn.
const LOOK_EVERY: u32 = 10;
/// What else helps where a rig is not to be had.
const NOT_SEEN: &str = "at a terminal it goes on with the other rigs, and takes this one over once it is offered";
/// How long the last words may take.
const END_WITHIN: Duration = Duration::from_secs(1);

/// Drive rigs from a gamepad or joystick on this machine; nothing moves unless the button to hold is held
#[derive(Debug, ClapArgs)]
pub struct Args {
    #[command(flatten)]
    daemon: Daemon,
    /// What drives what; see `bellwire schema --hand`
    #[arg(long, value_name = "FILE", default_value = MAP_FILE)]
    map: PathBuf,
    /// Write down what the device says
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    /// Play what was written down, in place of a device
    #[arg(long, value_name = "FILE", conflicts_with = "record")]
    play: Option<PathBuf>,
}

pub fn run(args: &Args) -> Exit {
    let Some(map) = map(&args.map) else { return Exit::Refused };
    let recorder = match args.record.as_deref().map(Recorder::create).transpose() {
        Ok(recorder) => recorder,
        Err(why) => {
            output::message(&format!("error: {why}\n"));
            return Exit::Refused;
        }
    };
    let (sender, heard) = unbounded_channel();
    match &args.play {
        Some(tape) => {
            if let Err(why) = tape::play(tape, sender) {
                output::message(&format!("error: {why}\n"));
                return Exit::Refused;
            }
        }
        None => device::listen(map.device.clone(), sender),
    }
    ask_of_daemon(async {
        let (talk, own) = open(&args.daemon, &map).await?;
        Hand {
            talk,
            own,
            desk: Desk::new(map),
            heard,
            recorder,
            daemon: &args.daemon,
            status: Value::Null,
            words: String::new(),
        }
        .drive()
        .await
    })
}

/// The map, or what is wrong with it on standard error.
fn map(path: &Path) -> Option<HandMap> {
    let reading = read_map(path);
    let text = report::render_findings(&reading.findings, &reading.sources, output::message_colour());
    output::message(&text);
    if reading.map.is_none() {
        output::message(
            "error: the map cannot be used, so nothing is taken in hand\n  = help: --map FILE says which; the demo show has one \
             to begin with, demo-show/hand.toml\n",
        );
    }
    reading.map
}

/// Connects, and holds the map against the show; gives what the daemon calls this client, too.
async fn open(daemon: &Daemon, map: &HandMap) -> Result<(Talk, String), Failure> {
    let mut link = Link::open_as(daemon, "hand").await?;
    let own = link.call("subscribe", json!({ "hz": 0 })).await?["client"].as_str().unwrap_or_default().to_owned();
    let status = link.call("status", json!({})).await?;
    let drives = map.drives.iter().filter_map(|drive| unknown(&status, &drive.rig, &drive.axis));
    let focused = map.focuses.iter().filter(|focus| status["rigs"].get(&focus.rig).is_none());
    let focused =
        focused.map(|focus| format!("the map has a focus of {}, and the show has no such rig", focus.rig));
    let unknown: Vec<String> = drives.chain(focused).collect();
    if unknown.is_empty() { Ok((Talk::new(link), own)) } else { Err(Failure::Refused(unknown)) }
}

/// What the show does not have of `rig.axis`, with what it has.
fn unknown(status: &Value, rig: &str, axis: &str) -> Option<String> {
    let names =
        |of: &Value| of.as_object().map_or_else(String::new, |o| o.keys().cloned().collect::<Vec<_>>().join(", "));
    let Some(found) = status["rigs"].get(rig) else {
        return Some(format!(
            "the map drives {rig}.{axis}, and the show has no rig `{rig}`; it has {}",
            names(&status["rigs"])
        ));
    };
    let missing = found["axes"].get(axis).is_none();
    missing.then(|| {
        format!("the map drives {rig}.{axis}, and {rig} has no axis `{axis}`; it has {}", names(&found["axes"]))
    })
}

/// What is asked for a focus.
fn focus(rig: &str, on: Option<FocusTo>) -> Value {
    match on {
        None => json!({ "rig": rig }),
        Some(FocusTo::Rig(other)) => json!({ "rig": rig, "on": other }),
        Some(FocusTo::Point(at)) => json!({ "rig": rig, "at": at }),
    }
}

struct Hand<'a> {
    talk: Talk,
    /// What the status calls this client.
    own: String,
    desk: Desk,
    heard: UnboundedReceiver<Heard>,
    recorder: Option<Recorder>,
    daemon: &'a Daemon,
    status: Value,
    /// What is to be known, until something else is.
    words: String,
}

/// What happened first.
enum Woken {
    Heard(Option<Heard>),
    Key(Key),
    Answer(Result<Answer, Failure>),
    Time,
    End,
}

impl Hand<'_> {
    async fn drive(mut self) -> Result<(), Failure> {
        for rig in self.rigs() {
            self.take("hand", &rig).await?;
        }
        let terminal = Terminal::open();
        if !terminal.is_seen() {
            output::result(&screen::mapping(self.desk.map()));
        }
        let ended = self.listen(&terminal).await;
        drop(terminal);
        let left = tokio::time::timeout(END_WITHIN, self.leave()).await;
        ended?;
        left.unwrap_or_else(|_| Err(Failure::lost("it did not take the rigs back in time")))
    }

    /// By `hand` or `accept`. The sticks are shaped here.
    async fn take(&mut self, method: &'static str, rig: &str) -> Result<(), Failure> {
        self.talk.ask(method, json!({ "rig": rig, "dead_band": 0.0, "taper": 0.0 })).await
    }

    /// Takes over what is offered, and takes what is nobody's.
    async fn take_more(&mut self) -> Result<(), Failure> {
        self.words.clear();
        for rig in self.rigs() {
            if let Some(method) = whose::way(&self.status, &rig, &self.own) {
                self.take(method, &rig).await?;
            }
        }
        Ok(())
    }

    fn rigs(&self) -> Vec<String> {
        self.desk.map().rigs().into_iter().map(str::to_owned).collect()
    }

    async fn listen(&mut self, terminal: &Terminal) -> Result<(), Failure> {
        let unheard = |error: std::io::Error| Failure::Refused(vec![format!("signals cannot be heard: {error}")]);
        let mut terminate = signal(SignalKind::terminate()).map_err(unheard)?;
        let mut interrupt = signal(SignalKind::interrupt()).map_err(unheard)?;
        let mut hangup = signal(SignalKind::hangup()).map_err(unheard)?;
        let mut keys = terminal::keys();
        let mut times = tokio::time::interval(SAY_EVERY);
        times.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut count = 0_u32;
        let mut drawn = 0;
        loop {
            let woken = tokio::select! {
                biased;
                _ = terminate.recv() => Woken::End,
                _ = interrupt.recv() => Woken::End,
                _ = hangup.recv() => Woken::End,
                Some(key) = keys.recv() => Woken::Key(key),
                heard = self.heard.recv() => Woken::Heard(heard),
                answer = self.talk.answer() => Woken::Answer(answer),
                _ = times.tick() => Woken::Time,
            };
            match woken {
                Woken::End | Woken::Key(Key::Quit) | Woken::Heard(None | Some(Heard::End)) => return Ok(()),
                Woken::Key(Key::Stop) => self.stop().await?,
                Woken::Key(Key::FocusLost) => {
                    self.desk.let_go();
                    "the window lost the focus: hold the button again to drive".clone_into(&mut self.words);
                    self.say().await?;
                }
                Woken::Key(Key::FocusFound) => self.words.clear(),
                Woken::Key(Key::Press(Cap::Letter(whose::TAKE))) => self.take_more().await?,
                // The pad drives, no key.
                Woken::Key(Key::Press(_) | Key::Release(_) | Key::Releases) => {}
                Woken::Heard(Some(heard)) => self.hear(heard, terminal).await?,
                Woken::Answer(answer) => self.answered(answer?, terminal.is_seen())?,
                Woken::Time => {
                    self.say().await?;
                    if count.is_multiple_of(LOOK_EVERY) {
                        self.talk.ask("status", json!({})).await?;
                        if terminal.is_seen() {
                            drawn = self.draw(drawn);
                        }
                    }
                    count = count.wrapping_add(1);
                }
            }
        }
    }

    async fn hear(&mut self, heard: Heard, terminal: &Terminal) -> Result<(), Failure> {
        if let Some(recorder) = &mut self.recorder
            && let Err(why) = recorder.write(&heard)
        {
            self.words = why;
            self.recorder = None;
        }
        let told = match &heard {
            Heard::Found(name) => Some(format!("found {name}")),
            Heard::Lost(why) => Some(format!("the device is gone ({why}): everything is at zero")),
            Heard::Trouble(why) => Some(why.clone()),
            Heard::Lever(..) | Heard::Button(..) | Heard::End => None,
        };
        if let Some(told) = told {
            if !terminal.is_seen() {
                output::result(&format!("{told}\n"));
            }
            self.words = told;
        }
        match self.desk.hear(&heard) {
            Wish::Nothing => Ok(()),
            Wish::Now => self.say().await,
            Wish::Stop => self.stop().await,
        }
    }

    async fn say(&mut self) -> Result<(), Failure> {
        for (index, say) in self.desk.due() {
            self.talk.say(&self.desk.map().drives[index], say).await?;
        }
        for (rig, on) in self.desk.focus_due() {
            self.talk.ask("focus", focus(&rig, on)).await?;
        }
        Ok(())
    }

    /// By the socket that is open, or else by any road that is left.
    async fn stop(&mut self) -> Result<(), Failure> {
        if self.talk.ask("stop", json!({})).await.is_err() {
            return stop_everything(self.daemon).await;
        }
        self.desk.let_go();
        "stop asked for".clone_into(&mut self.words);
        self.say().await
    }

    /// A rig that is not to be had ends it, as half of the sticks would be dead, unless the screen says whose it is and somebody
    /// there can take it over.
    fn answered(&mut self, Answer { method, result }: Answer, seen: bool) -> Result<(), Failure> {
        match (method, result) {
            ("status", Ok(status)) => self.status = status,
            ("hand", Err(Failure::Refused(mut reasons))) if !seen => {
                reasons.push(NOT_SEEN.to_owned());
                return Err(Failure::Refused(reasons));
            }
            ("stop", Ok(_)) => "stop taken".clone_into(&mut self.words),
            (_, Err(Failure::Refused(reasons))) => self.words = format!("{method} refused: {}", reasons.join("; ")),
            (_, Err(failure @ Failure::NotReached(_))) => return Err(failure),
            (_, Ok(_)) => {}
        }
        Ok(())
    }

    /// Draws over what was drawn before, so many lines of it; gives how many there are now.
    fn draw(&self, before: usize) -> usize {
        let text = screen::screen(&self.desk, &self.daemon.address, (&self.status, &self.own), &self.words);
        let columns = terminal::columns();
        let text: String = text.lines().map(|line| terminal::wrapped(line, columns)).collect();
        let back = if before > 0 { format!("\x1b[{before}A") } else { String::new() };
        output::result(&format!("{back}\r\x1b[J{text}"));
        text.matches('\n').count()
    }

    /// Zero everywhere, and the rigs are given back.
    async fn leave(&mut self) -> Result<(), Failure> {
        self.desk.let_go();
        self.say().await?;
        let rigs = self.rigs();
        for rig in &rigs {
            self.talk.ask("give_back", json!({ "rig": rig })).await?;
        }
        let mut left = rigs.len();
        while left > 0 {
            left -= usize::from(self.talk.answer().await?.method == "give_back");
        }
        Ok(())
    }
}
