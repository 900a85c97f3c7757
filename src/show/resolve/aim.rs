//! Moves that keep a lens on a point.

use super::lens::cannot_aim;
use super::rigs::vector;
use super::{Resolver, written};
use crate::show::decode::At;
use crate::show::finding::{Code, Finding};
use crate::show::id::{AxisId, RigId};
use crate::show::list::{Aim, AimedAt};
use crate::show::model::{Axis, Rig, middle_of};
use crate::show::source::Place;
use crate::show::written::{Seconds, Target};

/// Positions that a move names, by axis.
type Positions = Vec<(AxisId, f64)>;

impl Resolver<'_> {
    /// What a move is aimed at: nothing, where it has no `aim`; `None` where what it has cannot be used, which is told.
    pub fn aim(
        &mut self,
        rig: RigId,
        step: &written::Move,
        rigs: &[Rig],
        axes: &[Axis],
        cue: &str,
    ) -> Option<Option<Aim>> {
        let Some(At { value: aim, place }) = &step.aim else { return Some(None) };
        let (at, focus, ease) = match aim {
            written::Aim::Point(aim) => (AimedAt::Point(vector(&aim.at)), aim.focus, &aim.ease),
            written::Aim::Body(aim) => {
                let target = self.names.rig(&aim.rig, self.found)?;
                let axis = match &aim.axis {
                    Some(name) => Some(self.own_axis(target, name)?),
                    None => carrier_of_bodies(&rigs[target.index()], axes),
                };
                self.refuse_aim_at_itself(rig, (target, aim.rig.place), (rigs, axes), cue)?;
                let bodies = axis.map_or(&rigs[target.index()].bodies, |axis| &axes[axis.index()].bodies);
                let point = aim.point.as_ref().map_or_else(|| middle_of(bodies), vector);
                (AimedAt::Body { rig: target, axis, point }, aim.focus, &aim.ease)
            }
            written::Aim::Unread => return None,
        };
        let pan_and_tilt = self.aiming_axes(&rigs[rig.index()], axes, *place, cue)?;
        let focus = match focus {
            Some(true) => Some(self.focus_of(&rigs[rig.index()], *place, cue)?),
            Some(false) | None => None,
        };
        self.refuse_long_ease(ease.as_ref(), step, cue);
        let ease = ease.as_ref().map(|ease| ease.value.0);
        Some(Some(Aim { at, axes: pan_and_tilt, focus, ease, place: *place }))
    }

    /// Those that its file names, else the last two that turn.
    fn aiming_axes(&mut self, rig: &Rig, axes: &[Axis], place: Place, cue: &str) -> Option<[AxisId; 2]> {
        if let Some(named) = rig.lens.as_ref().and_then(|lens| lens.aim) {
            return Some(named);
        }
        let turning: Vec<AxisId> =
            rig.axis_ids().filter(|axis| cannot_aim(&axes[axis.index()]).is_none()).collect();
        if let [.., pan, tilt] = turning[..] {
            return Some([pan, tilt]);
        }
        if !self.found.spoilt_file(rig.place.file) {
            let message = format!(
                "`aim`: expected a rig with two axes that turn and are not level, to aim by, found {} of {}",
                turning.len(),
                rig.name
            );
            let finding = Finding::new(Code::BadValue, message).at(place).cue(cue).rig(&rig.name);
            self.found.push(finding.fix("aim a rig that has pan and tilt, or give this one their joints"));
        }
        None
    }

    fn focus_of(&mut self, rig: &Rig, place: Place, cue: &str) -> Option<AxisId> {
        let focus = rig.lens.as_ref().and_then(|lens| lens.focus.as_ref());
        if focus.is_none() && !self.found.spoilt_file(rig.place.file) {
            let message = format!("`focus`: expected a table of focus in rigs/{}.toml, found none", rig.name);
            let finding = Finding::new(Code::BadValue, message).at(place).cue(cue).rig(&rig.name);
            self.found.push(finding.fix(
                "write in that file: [lens] with focus = { axis = \"focus\", table = [[0.0, 0.6], [100.0, 30.0]] }, \
                 positions to metres as the lens was measured",
            ));
        }
        focus.map(|ring| ring.axis)
    }

    /// What goes where the lens goes is never before it.
    fn refuse_aim_at_itself(
        &mut self,
        rig: RigId,
        (target, place): (RigId, Place),
        (rigs, axes): (&[Rig], &[Axis]),
        cue: &str,
    ) -> Option<()> {
        let below = |rig: RigId| rigs[rig.index()].mount.map(|axis| axes[axis.index()].rig);
        // A ring of carriers is told elsewhere.
        let mut carriers = std::iter::successors(Some(target), |&rig| below(rig)).take(rigs.len() + 1);
        if !carriers.any(|carrier| carrier == rig) {
            return Some(());
        }
        let (name, other) = (&rigs[rig.index()].name, &rigs[target.index()].name);
        let found = if rig == target { "itself".to_owned() } else { format!("{other}, which rides on it") };
        let message = format!("`aim` of {name}: expected another rig that does not move with it, found {found}");
        let finding = Finding::new(Code::BadValue, message).at(place).cue(cue).rig(name);
        self.found.push(finding.fix("aim at a rig that stands by itself, or at a point: at = [x, y, z]"));
        None
    }

    fn refuse_long_ease(&mut self, ease: Option<&At<Seconds>>, step: &written::Move, cue: &str) {
        if let (Some(ease), Some(time)) = (ease, &step.time)
            && ease.value.0 > time.value.0
        {
            let (found, most) = (ease.value.0, time.value.0);
            let message = format!("`ease`: expected at most the {most} s that the move lasts, found {found} s");
            let finding = Finding::new(Code::BadValue, message).at(ease.place).cue(cue).against(found, most);
            self.found.push(finding.fix("shorten it, or leave it out"));
        }
    }

    /// What of a move's target is not the aim's. A mark is a whole pose, of which the aim keeps its own axes; what a move says of
    /// them by itself stands against it.
    pub fn left_to_aim(
        &mut self,
        mut to: Positions,
        aim: Option<&Aim>,
        step: &written::Move,
        cue: &str,
    ) -> Positions {
        let Some(aim) = aim else { return to };
        if let Some(At { value: Target::Pose(_), place }) = &step.to {
            for (axis, _) in to.iter().filter(|(axis, _)| aim.moved().any(|aimed| aimed == *axis)) {
                let name = self.names.axis_name(*axis);
                let message = format!("`to`: expected nothing of {name}, which `aim` moves, found a position");
                let finding = Finding::new(Code::BadValue, message).at(*place).cue(cue).axis(&*name);
                self.found.push(finding.fix(format!("leave {name} out of `to`, or remove `aim`")));
            }
        }
        to.retain(|(axis, _)| !aim.moved().any(|aimed| aimed == *axis));
        to
    }
}

/// The last axis of a rig that carries bodies.
fn carrier_of_bodies(rig: &Rig, axes: &[Axis]) -> Option<AxisId> {
    rig.axis_ids().filter(|axis| !axes[axis.index()].bodies.is_empty()).last()
}
