//! A survey of a running daemon's rig: taken in hand, jogged and tried while something is held, written, given back.
//!
//! All is one conversation on one link. While something is held it is said again and again; whatever keeps us from saying it (a
//! lost link, a stopped process) ends the motion within 150 ms, since the daemon takes silence for zero.

use std::time::Duration;

use serde_json::{Value, json};
use tokio::time::{Instant, MissedTickBehavior, interval, timeout};

use super::verb::Verb;
use crate::cli::client::{Daemon, Failure, Link};
use crate::cli::output;

/// What is held is said so often.
pub const SAY_EVERY: Duration = Duration::from_millis(40);
/// In those times: the status is asked for.
pub const LOOK_EVERY: u32 = 5;
/// A survey is proved before it is written.
const PROVED_WITHIN: Duration = Duration::from_secs(300);
/// A trial that is no further after so long is kept from going on.
const NO_FURTHER: Duration = Duration::from_secs(20);
/// Until what was let go of stands.
const RESTS_WITHIN: Duration = Duration::from_secs(10);
const GIVEN_BACK_WITHIN: Duration = Duration::from_secs(2);

pub struct Live {
    pub link: Link,
    pub rig: String,
    pub status: Value,
}

/// What is held.
#[derive(Clone, Debug, PartialEq)]
pub enum Held {
    Stick { axis: String, value: f64 },
    Run { axis: String },
}

impl Live {
    /// Takes a rig in hand for a survey.
    pub async fn take(daemon: &Daemon, rig: &str, hash: Option<&str>) -> Result<Live, Failure> {
        let mut link = Link::open_as(daemon, "survey").await?;
        let status = link.call("status", json!({})).await?;
        if hash.is_some_and(|hash| status["hash"] != hash) {
            output::message("note: the daemon runs another version of this show than the folder holds\n");
        }
        link.call("survey", json!({ "rig": rig, "dead_band": 0.0, "taper": 0.0 })).await?;
        let mut live = Live { link, rig: rig.to_owned(), status };
        for axis in live.axes() {
            live.say(&Held::Stick { axis: axis.clone(), value: 0.0 }, false).await?;
            live.say(&Held::Run { axis }, false).await?;
        }
        live.look().await?;
        Ok(live)
    }

    pub async fn look(&mut self) -> Result<(), Failure> {
        self.status = self.link.call("status", json!({})).await?;
        Ok(())
    }

    pub fn of_rig(&self) -> &Value {
        &self.status["rigs"][&self.rig]
    }

    pub fn axes(&self) -> Vec<String> {
        self.of_rig()["axes"].as_object().map_or_else(Vec::new, |axes| axes.keys().cloned().collect())
    }

    /// The trial that is, or was, under way.
    pub fn trial(&self) -> &Value {
        &self.of_rig()["hand"]["trial"]
    }

    /// Says that something is held, or let go of. Nobody answers.
    pub async fn say(&mut self, held: &Held, on: bool) -> Result<(), Failure> {
        let (method, params) = match held {
            Held::Stick { axis, value } => {
                let value = if on { *value } else { 0.0 };
                ("stick", json!({ "rig": self.rig, "axis": axis, "value": value }))
            }
            Held::Run { axis } => ("run", json!({ "rig": self.rig, "axis": axis, "on": on })),
        };
        self.link.tell(method, params).await
    }

    pub async fn ask(&mut self, method: &str, mut params: Value) -> Result<Value, Failure> {
        params["rig"] = self.rig.as_str().into();
        self.link.call_within(method, params, PROVED_WITHIN).await
    }

    /// Carries a verb out, whole; what it tells.
    pub async fn carry_out(&mut self, verb: &Verb) -> Result<String, Failure> {
        match verb {
            Verb::Jog { axis, share, seconds } => {
                let (held, until) = (
                    Held::Stick { axis: axis.clone(), value: *share },
                    Instant::now() + Duration::from_secs_f64(*seconds),
                );
                self.known(axis)?;
                self.hold(&held, |_| Ok(Instant::now() >= until)).await?;
                self.look().await?;
                let position = &self.of_rig()["axes"][axis]["position"];
                Ok(format!("{}.{axis} stands at {position}\n", self.rig))
            }
            Verb::Try { axis, params } => {
                self.ask("trial", params.clone()).await?;
                self.look().await?;
                let mut further = (Instant::now(), Value::Null);
                let is_over = |live: &Live| {
                    let trial = live.trial();
                    if further.1 != trial["done"] {
                        further = (Instant::now(), trial["done"].clone());
                    }
                    if trial["done"] == trial["of"] && !trial.is_null() {
                        return Ok(true);
                    }
                    if further.0.elapsed() < NO_FURTHER {
                        return Ok(false);
                    }
                    Err(Failure::Refused(vec![live.kept()]))
                };
                self.hold(&Held::Run { axis: axis.clone() }, is_over).await?;
                Ok(format!("{}\n", self.trial()["found"]["text"].as_str().unwrap_or("nothing was found")))
            }
            Verb::Ask { method, params } => {
                let told = self.ask(method, params.clone()).await?;
                Ok(told_text(method, &told))
            }
        }
    }

    fn known(&self, axis: &str) -> Result<(), Failure> {
        let axes = self.axes();
        let known = axes.iter().any(|known| known == axis);
        let unknown = || format!("{} has no axis {axis}; it has {}", self.rig, axes.join(", "));
        if known { Ok(()) } else { Err(Failure::Refused(vec![unknown()])) }
    }

    /// Why nothing goes on.
    fn kept(&self) -> String {
        let hand = &self.of_rig()["hand"];
        let bodies = hand["near"]["bodies"]
            .as_array()
            .map(|bodies| bodies.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(" and "));
        let why = match (bodies, hand["interlock"].as_str()) {
            (Some(bodies), _) => format!("in the way: {bodies}"),
            (None, Some(interlock)) => format!("kept by the interlock '{interlock}'"),
            (None, None) if self.status["armed"] != true => "the show is not armed".to_owned(),
            (None, None) if !self.status["stopped"].is_null() => "everything is stopped".to_owned(),
            (None, None) => "look at `bellwire status`".to_owned(),
        };
        format!("{} goes no further: {why}", self.rig)
    }

    /// Holds something until it is enough, then lets it go and waits until it stands.
    async fn hold(
        &mut self,
        held: &Held,
        mut enough: impl FnMut(&Live) -> Result<bool, Failure>,
    ) -> Result<(), Failure> {
        self.say(held, false).await?;
        // The newest alone counts: said in the same tick, the next would hide that it was at zero.
        tokio::time::sleep(SAY_EVERY).await;
        let mut times = interval(SAY_EVERY);
        times.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut count = 0_u32;
        let outcome = loop {
            times.tick().await;
            self.say(held, true).await?;
            count += 1;
            if count.is_multiple_of(LOOK_EVERY) {
                self.look().await?;
            }
            match enough(self) {
                Ok(false) => {}
                Ok(true) => break Ok(()),
                Err(failure) => break Err(failure),
            }
        };
        self.say(held, false).await?;
        self.rest().await?;
        outcome
    }

    async fn rest(&mut self) -> Result<(), Failure> {
        let until = Instant::now() + RESTS_WITHIN;
        loop {
            self.look().await?;
            let states =
                self.of_rig()["axes"].as_object().map(|axes| axes.values().any(|axis| axis["state"] == "moving"));
            if states != Some(true) || Instant::now() >= until {
                return Ok(());
            }
            tokio::time::sleep(SAY_EVERY).await;
        }
    }

    pub async fn give_back(&mut self) -> Result<(), Failure> {
        let given = self.link.call("give_back", json!({ "rig": self.rig }));
        timeout(GIVEN_BACK_WITHIN, given)
            .await
            .map_or_else(|_| Err(Failure::lost("it did not take the rig back")), |given| given.map(|_| ()))
    }
}

/// What is told of an answer.
pub fn told_text(method: &str, told: &Value) -> String {
    if method == "teach" {
        let note = told["note"].as_str().map_or_else(String::new, |note| format!("\n  = note: {note}"));
        return format!("it is set at {}{note}\n", told["position"]);
    }
    let Some(text) = told["text"].as_str() else { return String::new() };
    let mut text = text.to_owned();
    if told["written"] == true {
        let hash = told["edit"]["hash"].as_str().map(|hash| hash.chars().take(12).collect::<String>());
        text.push_str(&match hash {
            Some(hash) => format!(
                "\nit is written; give the rig back, then take the edit in with `bellwire reload --accept {hash}` or on the \
                 panel\n"
            ),
            None => "\nit is written, and the show does not read any more: the survey from before stays in force until what no \
                     longer fits is settled\n"
                .to_owned(),
        });
    }
    text
}
