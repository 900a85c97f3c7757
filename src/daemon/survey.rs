//! The survey of rigs in hand: what their axes were taught, and how that comes into the files of the show.
//!
//! ```text
//!   jog to an end ── teach ──> kept here ── propose ──> told
//!                                  └────── write ────> rigs/NAME.toml ──> offered as every edit, accepted at rest
//! ```
//!
//! What was taught outlives hands and editions, and is forgotten once it is written. The file is written before anything is
//! offered: with a survey that no cue fits any more the old show stays in force, and what is wrong is told.

use std::fs;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use serde_json::{Map, Value, json};

use super::book::Book;
use super::house::House;
use super::hub::Client;
use super::whole_file;
use crate::engine::{AxisState, Reason, Refusal};
use crate::proof::{Alone, AxisSurvey, Surveying, effect, of_axis, survey};
use crate::report::{self, SurveyTold};
use crate::show::{self, Axis, AxisId, AxisWritten, Place, RigId};
use crate::wire::{Point, SurveyAsk};

/// An axis that rests so near to an end of its travel, as a part of that, is at it.
const AT_END: f64 = 1e-6;

#[derive(Default)]
pub struct Surveys {
    taught: Mutex<Vec<Taught>>,
}

/// What is known of an axis and stands in no file yet, in its own unit. Numbers of an edition are no names of an axis.
struct Taught {
    rig: String,
    axis: String,
    ends: [Option<f64>; 2],
    home: Option<f64>,
}

/// What came of a request, and whether the files of the show have changed.
pub struct Done {
    pub told: Value,
    pub wrote: bool,
}

impl Done {
    fn only(told: Value) -> Done {
        Done { told, wrote: false }
    }
}

impl Surveys {
    /// Does what a client asks. May wait for the disk, and for a proof.
    ///
    /// # Errors
    /// Why it was not done, for people.
    pub fn ask(&self, house: &House, client: &Client, book: &Book, asked: SurveyAsk) -> Result<Done, Vec<String>> {
        match asked {
            SurveyAsk::Teach { axis, point } => self.teach(house, client, book, axis, point).map(Done::only),
            SurveyAsk::Forget { rig, axis } => {
                let rig = &book.show.rig(rig).name;
                let axis = axis.map(|axis| &book.show.axis(axis).name);
                self.lock().retain(|one| one.rig != *rig || axis.is_some_and(|axis| one.axis != *axis));
                Ok(Done::only(json!({ "accepted": true })))
            }
            SurveyAsk::Write { rig, write } => {
                let asked = self.asked(&book.show.rig(rig).name);
                if asked.is_empty() {
                    let rig = &book.show.rig(rig).name;
                    return Err(vec![format!(
                        "nothing of {rig} was taught: jog an axis to an end, and set that first"
                    )]);
                }
                self.write(house, book, rig, &asked, write)
            }
            SurveyAsk::Clear { rig, axis, travel } => {
                let axes = book.show.rig(rig).axis_ids().filter(|&id| axis.is_none_or(|axis| axis == id));
                let clear = |id: AxisId| (book.show.axis(id).name.clone(), Surveying::Clear(travel));
                self.write(house, book, rig, &axes.map(clear).collect::<Vec<_>>(), true)
            }
        }
    }

    fn teach(
        &self,
        house: &House,
        client: &Client,
        book: &Book,
        id: AxisId,
        point: Point,
    ) -> Result<Value, Vec<String>> {
        let status = house.board.status();
        let (axis, rig) = (book.show.axis(id), book.show.axis(id).rig);
        let mut refusal = Refusal::default();
        if status.edition != book.edition {
            return Err(house.reasons(&Refusal::one(Reason::ShowReplaced)));
        }
        let (hand, found) = (status.rigs[rig.index()].hand, &status.axes[id.index()]);
        match hand.filter(|hand| !hand.let_go) {
            None => refusal.push(Reason::NotInHand { rig }),
            Some(hand) if hand.client != client.id => refusal.push(Reason::RigInHand { rig, client: hand.client }),
            Some(hand) if !hand.survey => refusal.push(Reason::NotSurveyed { rig }),
            Some(_) => {}
        }
        if matches!(found.state, AxisState::Moving | AxisState::Stopping | AxisState::Fault) {
            refusal.push(Reason::NotStandingStill { axis: id });
        }
        let Some(position) = found.position else {
            return Err(house.reasons(&Refusal::one(Reason::PoseUnknown { axis: id })));
        };
        if !refusal.is_empty() {
            return Err(house.reasons(&refusal));
        }
        self.keep(&book.show.rig(rig).name, axis, point, position);
        Ok(json!({ "accepted": true, "position": position, "note": at_end(axis, point, found.setpoint) }))
    }

    fn keep(&self, rig: &str, axis: &Axis, point: Point, position: f64) {
        let mut taught = self.lock();
        let known = taught.iter().position(|one| one.rig == rig && one.axis == axis.name);
        let index = known.unwrap_or_else(|| {
            let (rig, axis) = (rig.to_owned(), axis.name.clone());
            taught.push(Taught { rig, axis, ends: [None; 2], home: None });
            taught.len() - 1
        });
        match point {
            Point::Low => taught[index].ends[0] = Some(position),
            Point::High => taught[index].ends[1] = Some(position),
            Point::Home => taught[index].home = Some(position),
        }
    }

    fn asked(&self, rig: &str) -> Vec<(String, Surveying)> {
        let of_rig = |one: &&Taught| one.rig == rig;
        let asked = |one: &Taught| (one.axis.clone(), Surveying::Ends { ends: one.ends, home: one.home });
        self.lock().iter().filter(of_rig).map(asked).collect()
    }

    /// Tells what a survey makes of the files as they are now, and writes it.
    fn write(
        &self,
        house: &House,
        book: &Book,
        rig: RigId,
        asked: &[(String, Surveying)],
        write: bool,
    ) -> Result<Done, Vec<String>> {
        let folder =
            house.reload.folder().ok_or_else(|| vec!["this daemon was not started from a show folder".into()])?;
        let name = &book.show.rig(rig).name;
        let old = show::read(&folder);
        let path = format!("rigs/{name}.toml");
        let no_file = || vec![format!("there is no {path} in {} any more", folder.display())];
        let index = old.sources.files.iter().position(|file| file.path == path).ok_or_else(no_file)?;
        let source = &old.sources.files[index];
        let axes = show::axes_written(&source.text, Place { file: index as u16, start: 0, end: 0 });
        let axes = axes.map_err(|findings| {
            findings.iter().map(|finding| report::line(finding, &old.sources)).collect::<Vec<_>>()
        })?;
        let (surveys, text) = survey(name, &axes, &source.text, asked).map_err(|why| vec![why])?;
        let mut files = old.sources.files.clone();
        files[index].text.clone_from(&text);
        let new = show::read_files(&files);
        let (findings, unproved) = effect((name, &surveys), (&old, &new), &Alone, &house.reload.memory());
        if write {
            replace(&folder.join(&path), &source.text, &text).map_err(|why| vec![why])?;
            self.forget_written(name, &surveys);
            tracing::info!(rig = &**name, "a survey of {name} is written into {path}");
        }
        let told = SurveyTold {
            rig: name,
            axes: &surveys,
            reading: &new,
            findings: &findings,
            unproved: &unproved,
            called_by: new.show.as_ref().or(old.show.as_ref()),
            written: write,
        };
        let mut json = report::survey_json(told);
        json["text"] = report::survey_text(told, false).into();
        Ok(Done { told: json, wrote: write })
    }

    fn forget_written(&self, rig: &str, surveys: &[AxisSurvey]) {
        let written = |one: &Taught| one.rig == rig && surveys.iter().any(|survey| survey.axis.name == one.axis);
        self.lock().retain(|one| !written(one));
    }

    /// What the axes of a rig were taught, and the travel that would be written; null if nothing was.
    pub fn json(&self, book: &Book, rig: RigId) -> Value {
        let (show, taught) = (&book.show, self.lock());
        let name = &show.rig(rig).name;
        let of_axis = |id: AxisId| {
            let axis = show.axis(id);
            let one = taught.iter().find(|one| one.rig == *name && one.axis == axis.name)?;
            Some((axis.name.clone(), taught_json(axis, one)))
        };
        let told: Map<String, Value> = show.rig(rig).axis_ids().filter_map(of_axis).collect();
        if told.is_empty() { Value::Null } else { Value::Object(told) }
    }

    fn lock(&self) -> MutexGuard<'_, Vec<Taught>> {
        self.taught.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn taught_json(axis: &Axis, one: &Taught) -> Value {
    let Taught { ends, home, .. } = *one;
    let proposed = of_axis(&written(axis), Surveying::Ends { ends, home });
    let travel = proposed.as_ref().ok().filter(|_| ends != [None, None]).map(|proposed| proposed.travel);
    json!({ "low": ends[0], "high": ends[1], "home": home, "travel": travel, "why": proposed.err() })
}

/// As the show in force has it.
fn written(axis: &Axis) -> AxisWritten {
    let Axis { ref name, unit, travel, surveyed, start, stop, .. } = *axis;
    AxisWritten { name: name.clone(), unit, travel, surveyed, start, stop }
}

/// An end that is where the travel ends is not known to be one of the machine.
fn at_end(axis: &Axis, point: Point, setpoint: f64) -> Option<String> {
    let [low, high] = axis.reach();
    let end = match point {
        Point::Low => low,
        Point::High => high,
        Point::Home => return None,
    };
    let near = (setpoint - end).abs() <= AT_END * (high - low);
    near.then(|| {
        format!(
            "{} stands at the end of the travel that is in force, beyond which it does not go: if the room allows more, widen \
             the travel first",
            axis.name
        )
    })
}

fn replace(path: &Path, was: &str, text: &str) -> Result<(), String> {
    let now = fs::read_to_string(path).map_err(|error| format!("{} cannot be read: {error}", path.display()))?;
    if now != was {
        return Err(format!("{} was changed meanwhile: nothing was written, try again", path.display()));
    }
    whole_file::replace(path, text)
        .map_err(|error| format!("{} could not be written: {error}; nothing was changed", path.display()))
}

/// Does what a client asks; what is written is offered to everyone as any edit is. `edit` is what may be accepted, `errors`
/// why nothing may.
///
/// # Errors
/// Why it was not done.
pub async fn ask(
    house: Arc<House>,
    client: Client,
    book: Arc<Book>,
    asked: SurveyAsk,
) -> Result<Value, Vec<String>> {
    let (of_house, of_client) = (house.clone(), client.clone());
    let done = tokio::task::spawn_blocking(move || of_house.surveys.ask(&of_house, &of_client, &book, asked)).await;
    let Done { mut told, wrote } =
        done.unwrap_or_else(|_| Err(vec!["the survey could not be worked out".into()]))?;
    if wrote {
        match super::reload::offer(house, client).await {
            Ok(looked) => (told["edit"], told["errors"]) = (looked.json()["edit"].clone(), json!([])),
            Err(errors) => (told["edit"], told["errors"]) = (Value::Null, json!(errors)),
        }
    }
    Ok(told)
}
