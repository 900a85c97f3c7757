//! A survey by the keys of a terminal.
//!
//! Held keys drive. Where the terminal reports releases, a release ends the motion at once; where it does not, a key that stays
//! pressed is known by its repeats alone, and 150 ms after the last of them it counts as let go of: the axis then stops a little
//! later than the finger, and pauses once between a press and the first repeat.

use std::time::Duration;

use serde_json::{Value, json};
use tokio::signal::unix::{SignalKind, signal};
use tokio::time::{Instant, MissedTickBehavior, interval};

use super::live::{Held, LOOK_EVERY, Live, SAY_EVERY, told_text};
use super::screen;
use crate::cli::client::{Daemon, Failure, stop_everything};
use crate::cli::output;
use crate::cli::terminal::{self, Cap, Key, Terminal};

/// A key that has said nothing for so long is let go of.
const SILENT: Duration = Duration::from_millis(150);
/// The same where releases are told, should one be lost.
const SILENT_OF_RELEASES: Duration = Duration::from_millis(1000);
/// A key that comes again within this time was pressed all along.
const SAME_PRESS: Duration = Duration::from_millis(700);

pub struct Keys<'a> {
    pub live: Live,
    pub daemon: &'a Daemon,
    pub chosen: usize,
    /// Releases are told here.
    pub releases: bool,
    pub words: String,
    held: Option<(Cap, Held)>,
    pressed: Option<(Cap, Instant)>,
    /// A press that has to come twice.
    doubtful: Option<Cap>,
    drawn: usize,
}

impl Keys<'_> {
    pub fn new(live: Live, daemon: &Daemon) -> Keys<'_> {
        Keys {
            live,
            daemon,
            chosen: 0,
            releases: false,
            words: String::new(),
            held: None,
            pressed: None,
            doubtful: None,
            drawn: 0,
        }
    }

    pub fn axis(&self) -> String {
        self.live.axes().get(self.chosen).cloned().unwrap_or_default()
    }

    /// Until the operator has had enough; the rig is given back in any case.
    pub async fn run(mut self) -> Result<(), Failure> {
        let terminal = Terminal::open_with_releases();
        if !terminal.is_seen() {
            let _ = self.live.give_back().await;
            let why = "a survey by keys needs a terminal; say what to do with --do instead, or on the panel";
            return Err(Failure::Refused(vec![why.to_owned()]));
        }
        let ended = self.listen().await;
        drop(terminal);
        let _ = self.let_go().await;
        let given = self.live.give_back().await;
        ended.and(given)
    }

    async fn listen(&mut self) -> Result<(), Failure> {
        let unheard = |error: std::io::Error| Failure::Refused(vec![format!("signals cannot be heard: {error}")]);
        let mut terminate = signal(SignalKind::terminate()).map_err(unheard)?;
        let mut hangup = signal(SignalKind::hangup()).map_err(unheard)?;
        let mut keys = terminal::keys();
        let mut times = interval(SAY_EVERY);
        times.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut count = 0_u32;
        loop {
            tokio::select! {
                biased;
                _ = terminate.recv() => return Ok(()),
                _ = hangup.recv() => return Ok(()),
                Some(key) = keys.recv() => {
                    if key == Key::Quit {
                        return Ok(());
                    }
                    self.hear(key).await?;
                }
                _ = times.tick() => {
                    self.go_on().await?;
                    if count.is_multiple_of(LOOK_EVERY) {
                        self.live.look().await?;
                        self.draw();
                    }
                    count = count.wrapping_add(1);
                }
            }
        }
    }

    /// Says again what is held, or lets go of what has been silent too long.
    async fn go_on(&mut self) -> Result<(), Failure> {
        let silent = if self.releases { SILENT_OF_RELEASES } else { SILENT };
        let Some((cap, held)) = self.held.clone() else { return Ok(()) };
        match self.pressed {
            Some((of, at)) if of == cap && at.elapsed() <= silent => self.live.say(&held, true).await,
            Some(_) | None => self.let_go().await,
        }
    }

    async fn let_go(&mut self) -> Result<(), Failure> {
        match self.held.take() {
            Some((_, held)) => self.live.say(&held, false).await,
            None => Ok(()),
        }
    }

    async fn hear(&mut self, key: Key) -> Result<(), Failure> {
        match key {
            Key::Stop => {
                self.let_go().await?;
                "STOP asked for".clone_into(&mut self.words);
                if self.live.link.call("stop", json!({})).await.is_err() {
                    return stop_everything(self.daemon).await;
                }
                Ok(())
            }
            Key::FocusLost => self.let_go().await,
            Key::FocusFound | Key::Quit => Ok(()),
            Key::Releases => {
                self.releases = true;
                Ok(())
            }
            Key::Release(cap) if self.held.as_ref().is_some_and(|(held, _)| *held == cap) => self.let_go().await,
            Key::Release(_) => Ok(()),
            Key::Press(cap) => {
                let again = self.pressed.is_some_and(|(of, at)| of == cap && at.elapsed() < SAME_PRESS);
                let fresh = !again;
                self.pressed = Some((cap, Instant::now()));
                self.press(cap, fresh).await
            }
        }
    }

    async fn press(&mut self, cap: Cap, fresh: bool) -> Result<(), Failure> {
        if self.held.as_ref().is_some_and(|(held, _)| *held != cap) {
            self.let_go().await?;
        }
        let doubtful = self.doubtful.take();
        let count = self.live.axes().len().max(1);
        match cap {
            Cap::Up => self.chosen = (self.chosen + count - 1) % count,
            Cap::Down => self.chosen = (self.chosen + 1) % count,
            Cap::Left => return self.jog(cap, -1.0).await,
            Cap::Right => return self.jog(cap, 1.0).await,
            Cap::Letter('h') => return self.try_out(cap, fresh, json!({ "trial": "home" })).await,
            Cap::Letter('d') => return self.try_out(cap, fresh, json!({ "trial": "sign" })).await,
            Cap::Letter('r') => return self.try_out(cap, fresh, json!({ "trial": "repeat" })).await,
            // What acts once acts on the press, not on its repeats.
            Cap::Letter(_) if !fresh && doubtful.is_none() => {}
            Cap::Letter('1') => return self.ask("teach", json!({ "axis": self.axis(), "point": "low" })).await,
            Cap::Letter('2') => return self.ask("teach", json!({ "axis": self.axis(), "point": "high" })).await,
            Cap::Letter('0') => return self.ask("teach", json!({ "axis": self.axis(), "point": "home" })).await,
            Cap::Letter('f') => return self.ask("forget", json!({ "axis": self.axis() })).await,
            Cap::Letter('p') => return self.ask("propose", json!({})).await,
            Cap::Letter('w') => return self.ask("write_survey", json!({})).await,
            Cap::Letter('c') => {
                self.doubtful = Some(cap);
                self.words = format!(
                    "clear the survey of {}? y: its file is written, nothing moves it but a jog",
                    self.axis()
                );
            }
            Cap::Letter('y') if doubtful == Some(Cap::Letter('c')) => {
                return self.ask("clear_survey", json!({ "axis": self.axis() })).await;
            }
            Cap::Letter(_) => self.words.clear(),
        }
        Ok(())
    }

    async fn jog(&mut self, cap: Cap, value: f64) -> Result<(), Failure> {
        if self.held.is_none() {
            let axis = self.axis();
            // From one side to the other it has been at zero.
            self.live.say(&Held::Stick { axis: axis.clone(), value }, false).await?;
            self.held = Some((cap, Held::Stick { axis, value }));
        }
        // With the next of the regular times: said in the same tick it would hide that it was at zero.
        Ok(())
    }

    /// Goes on with a trial of this axis that is under way, or begins it.
    async fn try_out(&mut self, cap: Cap, fresh: bool, mut params: Value) -> Result<(), Failure> {
        if self.held.is_none() {
            let (axis, trial) = (self.axis(), self.live.trial());
            let same = trial["axis"] == *axis && trial["trial"] == params["trial"];
            if !same || trial["done"] == trial["of"] {
                if !fresh {
                    return Ok(());
                }
                params["axis"] = axis.as_str().into();
                match self.live.ask("trial", params).await {
                    Ok(_) => self.live.look().await?,
                    Err(failure) => return self.refused("trial", failure),
                }
                self.words.clear();
            }
            self.live.say(&Held::Run { axis: axis.clone() }, false).await?;
            self.held = Some((cap, Held::Run { axis }));
        }
        Ok(())
    }

    async fn ask(&mut self, method: &'static str, params: Value) -> Result<(), Failure> {
        self.let_go().await?;
        match self.live.ask(method, params).await {
            Ok(told) => {
                let text = told_text(method, &told);
                if text.lines().count() > 2 {
                    // Kept above what is drawn again and again.
                    self.clear();
                    output::result(&text);
                    self.words.clear();
                } else {
                    text.trim_end().clone_into(&mut self.words);
                }
                self.live.look().await
            }
            Err(failure) => self.refused(method, failure),
        }
    }

    fn refused(&mut self, method: &str, failure: Failure) -> Result<(), Failure> {
        match failure {
            Failure::Refused(reasons) => {
                self.words = format!("{method} refused: {}", reasons.join("; "));
                Ok(())
            }
            Failure::NotReached(_) => Err(failure),
        }
    }

    fn clear(&mut self) {
        if self.drawn > 0 {
            output::result(&format!("\x1b[{}A\r\x1b[J", self.drawn));
        }
        self.drawn = 0;
    }

    fn draw(&mut self) {
        let text = screen::screen(self, terminal::columns());
        self.clear();
        output::result(&text);
        self.drawn = text.matches('\n').count();
    }
}
