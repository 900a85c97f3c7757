//! Cues: numbers, follows, moves.

use super::{Resolver, each};
use crate::show::decode::{At, Text};
use crate::show::finding::{Code, Finding};
use crate::show::id::{AxisId, RigId};
use crate::show::list::{After, Aim, Cue, Move, OnLinkLoss, Round, Via};
use crate::show::model::{Axis, Rig};
use crate::show::source::Place;
use crate::show::written::{self, CueFile, Start, Target};

/// The positions that a move names, and the mark they came from.
type Goal = (Vec<(AxisId, f64)>, Option<String>);

impl Resolver<'_> {
    /// All cues, in the order of their numbers.
    pub fn cues(&mut self, files: &[CueFile], (rigs, axes): (&[Rig], &[Axis])) -> Vec<Cue> {
        let mut cues: Vec<Cue> = Vec::new();
        for cue in files.iter().flat_map(|file| each(&file.cues)) {
            cues.extend(self.cue(cue, (rigs, axes)));
        }
        cues.sort_by(|a, b| a.number.cmp(&b.number));
        cues
    }

    fn cue(&mut self, written: &At<written::Cue>, machines: (&[Rig], &[Axis])) -> Option<Cue> {
        let cue = &written.value;
        let number = cue.number.value.0.clone();
        let called = number.as_ref().map(ToString::to_string).unwrap_or_default();
        let after = cue.after.as_ref().and_then(|after| self.after(&after.value, &called));
        let needs = cue.needs.as_ref().and_then(|needs| self.condition(needs));
        let steps = cue.moves.0.iter();
        let moves: Vec<Move> = steps.filter_map(|step| self.step(step, &called, machines)).collect();
        let text = |text: &Option<Text>| text.as_ref().map(|text| text.0.clone());
        Some(Cue {
            number: number?,
            name: cue.name.0.clone(),
            page: cue.page.as_ref().map(|page| page.0.clone()),
            call: text(&cue.call),
            watch: text(&cue.watch),
            notes: text(&cue.notes),
            gap: cue.gap.map(|gap| gap.0),
            after,
            needs,
            on_link_loss: cue.on_link_loss.unwrap_or(OnLinkLoss::Hold),
            moves,
            place: cue.number.place,
        })
    }

    fn after(&mut self, written: &written::After, follower: &str) -> Option<After> {
        match written {
            written::After::Cue(after) => {
                let cue = self.names.leading_cue(&after.cue, follower, self.found)?;
                let wait = after.wait.0;
                Some(match after.from {
                    Start::Start => After::Start { cue, wait },
                    Start::End => After::End { cue, wait },
                })
            }
            written::After::When(after) => self.condition(&after.when).map(After::When),
            written::After::Unread => None,
        }
    }

    fn step(&mut self, written: &At<written::Move>, cue: &str, (rigs, axes): (&[Rig], &[Axis])) -> Option<Move> {
        let step = &written.value;
        self.require_one_way(written, cue);
        let rig = self.names.rig(&step.rig, self.found)?;
        if let (None, Some(take)) = (&step.to, &step.take) {
            return self.played(step, take, rig, cue);
        }
        self.refuse_keys_of_takes(step, cue);
        let by = step.by.unwrap_or(false);
        let aim = self.aim(rig, step, rigs, axes, cue)?;
        let round = self.round(rig, step, axes, cue);
        let (to, mark) = match &step.to {
            Some(to) => self.target(rig, to, (by, &round), axes, cue)?,
            None => (Vec::new(), None),
        };
        let to = self.left_to_aim(to, aim.as_ref(), step, cue);
        let round = self.only_moved(round, &to, axes, cue);
        let via = self.via(rig, step, (&to, aim.as_ref()), axes, cue);
        let time = step.time.as_ref().map(|time| time.value.0);
        let time_place = step.time.as_ref().map(|time| time.place);
        let delay = step.delay.map_or(0.0, |delay| delay.0);
        let softness = step.shape.map_or(0.0, |shape| shape.0);
        let place = step.rig.place;
        Some(Move { rig, to, mark, by, round, softness, via, time, time_place, delay, playing: None, aim, place })
    }

    /// Which positions come once a turn is already known.
    fn target(
        &mut self,
        rig: RigId,
        to: &At<Target>,
        (by, round): (bool, &[(AxisId, At<Round>)]),
        axes: &[Axis],
        cue: &str,
    ) -> Option<Goal> {
        match &to.value {
            Target::Mark(mark) => {
                let pose = self.names.mark(rig, &mark.0, to.place, self.found)?;
                if by {
                    self.refuse_by_mark(&mark.0, to.place, cue);
                }
                Some((pose, Some(mark.0.clone())))
            }
            Target::Pose(pose) => {
                if pose.0.is_empty() && !self.found.spoilt(to.place) {
                    let message = "`to`: expected at least one axis, found none";
                    self.found.push(Finding::new(Code::BadValue, message).at(to.place).cue(cue));
                }
                let pose = self.pose(rig, pose);
                let what = format!("the target of cue {cue}");
                let a_place = |axis: AxisId| !by && !round.iter().any(|&(turned, _)| turned == axis);
                for &(axis, At { value, place }) in pose.iter().filter(|&&(axis, _)| a_place(axis)) {
                    self.require_in_travel(&what, value, place, &axes[axis.index()], Some(cue));
                }
                Some((pose.into_iter().map(|(axis, position)| (axis, position.value)).collect(), None))
            }
        }
    }

    /// The marks that a move passes. They may leave axes out, but name none that the move does not bring to an end.
    fn via(
        &mut self,
        rig: RigId,
        step: &written::Move,
        (to, aim): (&[(AxisId, f64)], Option<&Aim>),
        axes: &[Axis],
        cue: &str,
    ) -> Vec<Via> {
        if let (Some(via), Some(_)) = (&step.via, &step.shape) {
            let message = "a move: expected either `via` or `shape`, found both: what is softened goes straight";
            self.found
                .push(Finding::new(Code::BadValue, message).at(via.place).cue(cue).fix("remove one of the two"));
        }
        let marks = step.via.iter().flat_map(|via| &via.value);
        let mut passed = Vec::new();
        for At { value: mark, place } in marks {
            let Some(mut pose) = self.names.mark(rig, &mark.0, *place, self.found) else { continue };
            pose.retain(|&(axis, _)| !aim.is_some_and(|aim| aim.moved().any(|aimed| aimed == axis)));
            let loose = pose.iter().find(|(axis, _)| !to.iter().any(|(moved, _)| moved == axis));
            // Of what a mistake has taken out of `to`, or out of the mark that it is, that mistake alone is told.
            let named = match &step.to {
                Some(At { value: Target::Pose(pose), .. }) => pose.0.len() == to.len(),
                Some(At { value: Target::Mark(_), .. }) | None => true,
            };
            if let Some(&(axis, _)) = loose
                && named
                && !self.found.spoilt_file(axes[axis.index()].place.file)
            {
                self.tell_loose(&mark.0, axis, *place, cue);
            }
            passed.push(Via { mark: mark.0.clone(), pose });
        }
        passed
    }

    fn tell_loose(&mut self, mark: &str, axis: AxisId, place: Place, cue: &str) {
        let name = self.names.axis_name(axis);
        let message = format!(
            "`via`: the move passes `{mark}`, which says where {name} is: expected `to` to say where that ends"
        );
        let finding = Finding::new(Code::BadValue, message).at(place).cue(cue);
        self.found.push(finding.fix(format!("name {name} in `to`, or pass a mark that leaves it out")));
    }

    fn require_one_way(&mut self, written: &At<written::Move>, cue: &str) {
        let step = &written.value;
        let found = match (&step.to, &step.take) {
            (Some(_), None) | (None, Some(_)) => return,
            (None, None) if step.aim.is_some() => return,
            (Some(_), Some(_)) => "both",
            (None, None) => "neither",
        };
        let message = format!("a move: expected either `to` or `take`, found {found}");
        let finding = Finding::new(Code::BadValue, message).at(written.place).cue(cue);
        self.found.push(
            finding.fix("write where the rig goes: `to` a mark, or { axis = position }; or the take that it plays"),
        );
    }

    fn refuse_by_mark(&mut self, mark: &str, place: Place, cue: &str) {
        let message = format!("`by`: expected changes of axes in `to`, found the mark `{mark}`");
        let finding = Finding::new(Code::BadValue, message).at(place).cue(cue);
        self.found.push(finding.fix("a mark is a pose, no change: write { axis = change }, or remove `by`"));
    }
}
