//! Moves that play a take.

use std::sync::Arc;

use super::Resolver;
use crate::show::decode::{At, Text};
use crate::show::finding::{Code, Finding};
use crate::show::id::{AxisId, RigId};
use crate::show::list::{Move, Playing};
use crate::show::source::Place;
use crate::show::takes::Take;
use crate::show::written;

/// s of a take that must be left where it is entered.
const LEFT_LEAST: f64 = 0.5;

impl Resolver<'_> {
    /// The move of a rig that plays a take.
    pub fn played(&mut self, step: &written::Move, name: &At<Text>, rig: RigId, cue: &str) -> Option<Move> {
        self.refuse_keys_of_ways(step, cue);
        let take = self.take(name)?;
        let columns = self.columns_of(&take, rig, name.place, cue);
        let enter = step.enter.as_ref().map_or(0.0, |enter| enter.value.0);
        let most = take.length() - LEFT_LEAST;
        if let Some(written) = step.enter.as_ref().filter(|_| enter > 0.0 && enter > most) {
            let (name, length) = (&take.name, take.length());
            let message = format!(
                "`enter`: expected at least {LEFT_LEAST} s of take `{name}` to be left, which lasts {length:.3} s, found \
                 {enter} s"
            );
            let finding = Finding::new(Code::BadValue, message).at(written.place).cue(cue).against(enter, most);
            self.found.push(finding.fix("enter it earlier"));
        }
        if columns.is_empty() {
            return None;
        }
        let last =
            |&(axis, column): &(AxisId, usize)| (axis, take.columns[column].values.last().copied().unwrap_or(0.0));
        Some(Move {
            rig,
            to: columns.iter().map(last).collect(),
            mark: None,
            by: false,
            round: Vec::new(),
            via: Vec::new(),
            softness: 0.0,
            time: None,
            time_place: None,
            delay: step.delay.map_or(0.0, |delay| delay.0),
            place: step.rig.place,
            playing: Some(Playing {
                columns,
                enter,
                stretch: step.stretch.as_ref().map_or(1.0, |stretch| stretch.value.0),
                place: step.stretch.as_ref().map_or(name.place, |stretch| stretch.place),
                take,
            }),
            aim: None,
        })
    }

    /// What belongs to a take alone, in a move that plays none.
    pub fn refuse_keys_of_takes(&mut self, step: &written::Move, cue: &str) {
        let keys = [
            ("stretch", step.stretch.as_ref().map(|key| key.place)),
            ("enter", step.enter.as_ref().map(|key| key.place)),
        ];
        for (key, place) in keys {
            if let Some(place) = place {
                let message = format!("`{key}`: expected a move with `take`, found one without");
                let finding = Finding::new(Code::BadValue, message).at(place).cue(cue);
                self.found.push(finding.fix(format!("remove `{key}`; a move with `to` has its `time`")));
            }
        }
    }

    /// What a take has by itself: its way and its time.
    fn refuse_keys_of_ways(&mut self, step: &written::Move, cue: &str) {
        let keys = [
            ("time", step.time.as_ref().map(|key| key.place), "write `stretch`, a factor on the time of the take"),
            ("round", step.round.as_ref().map(|key| key.place), "remove it; a take counts its turns"),
            ("shape", step.shape.as_ref().map(|_| step.rig.place), "remove it; a take has the hand's own shape"),
            ("via", step.via.as_ref().map(|key| key.place), "remove it; a take has its way"),
            (
                "aim",
                step.aim.as_ref().map(|key| key.place),
                "remove it; a take has pan and tilt, or the others go with `to`",
            ),
            (
                "by",
                step.by.filter(|&by| by).map(|_| step.rig.place),
                "remove it; a take starts where it was recorded",
            ),
        ];
        for (key, place, fix) in keys {
            if let Some(place) = place {
                let message = format!("`{key}`: expected none in a move that plays a take");
                self.found.push(Finding::new(Code::BadValue, message).at(place).cue(cue).fix(fix));
            }
        }
    }

    /// The take of that name; what is wrong with it is told when it is first played.
    fn take(&mut self, name: &At<Text>) -> Option<Arc<Take>> {
        let wanted = &name.value.0;
        let Some(index) = self.takes.iter().position(|take| take.name == *wanted) else {
            if !self.found.spoilt(name.place) {
                let known = self.takes.iter().map(|take| take.name.as_str());
                self.found.unknown("there is no take", wanted, name.place, known);
            }
            return None;
        };
        let written = &self.takes[index];
        if !std::mem::replace(&mut self.takes_told[index], true) {
            written.findings.iter().for_each(|finding| self.found.push(finding.clone()));
        }
        (!written.torn && written.findings.is_empty()).then(|| written.take.clone())
    }

    /// The columns that are of the rig: named by the axis alone, or by `rig.axis`, where those of other rigs are theirs.
    fn columns_of(&mut self, take: &Take, rig: RigId, place: Place, cue: &str) -> Vec<(AxisId, usize)> {
        let mut columns: Vec<(AxisId, usize)> = Vec::new();
        let mut lost = false;
        for (index, column) in take.columns.iter().enumerate() {
            let (owner, axis) = match column.name.split_once('.') {
                Some((owner, axis)) => (self.names.rig_named(owner, column.place, self.found), axis),
                None => (Some(rig), column.name.as_str()),
            };
            let written = At { value: axis.to_owned(), place: column.place };
            let axis = owner.and_then(|owner| self.names.axis_of(owner, &written, self.found));
            lost |= axis.is_none();
            let Some(axis) = axis.filter(|_| owner == Some(rig)) else { continue };
            if let Some(&(_, first)) = columns.iter().find(|&&(known, _)| known == axis) {
                self.found.duplicate(
                    "columns of",
                    &self.names.axis_name(axis),
                    column.place,
                    take.columns[first].place,
                );
            } else {
                columns.push((axis, index));
            }
        }
        if columns.is_empty() && !lost {
            let rig = self.names.rig_name(rig);
            let message = format!("take `{}`: expected a column of an axis of {rig}, found none", take.name);
            let finding = Finding::new(Code::BadValue, message).at(place).also(take.place, "the take is here");
            self.found.push(finding.cue(cue).rig(rig).fix("play it on the rig that it was recorded with"));
        }
        columns
    }
}
