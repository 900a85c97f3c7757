//! What turns: cables that wind up, and targets that come once a turn.

use super::Resolver;
use crate::show::decode::At;
use crate::show::finding::{Code, Finding};
use crate::show::id::{AxisId, RigId};
use crate::show::list::Round;
use crate::show::model::Axis;
use crate::show::source::Place;
use crate::show::winding::beyond_winding;
use crate::show::written;

impl Resolver<'_> {
    /// How far the cables let the axis turn, in its own unit.
    pub fn winding(&mut self, written: &written::Axis) -> Option<[f64; 2]> {
        let turns = written.winding.as_ref()?;
        let [least, most] = turns.value.map(|end| end.0);
        if least >= most {
            let message = format!("`winding`: expected the least turns below the most, found {least} and {most}");
            let finding = Finding::new(Code::BadValue, message).at(turns.place);
            self.found.push(finding.fix("write the lower end first, in whole turns from the axis's zero"));
            return None;
        }
        let Some(whole) = written.unit.value.whole_turn() else {
            if !self.found.spoilt(written.unit.place) {
                let message =
                    format!("`winding`: expected an axis in deg or turn, found {}", written.unit.value.word());
                let finding = Finding::new(Code::BadValue, message).at(turns.place);
                self.found.push(finding.fix("remove it: only what turns winds up a cable"));
            }
            return None;
        };
        Some([least * whole, most * whole])
    }

    /// Where the show opens must be within what the cables allow. An unreadable start is NaN and passes.
    pub fn require_start_in_winding(&mut self, name: &str, written: &written::Axis, axis: &Axis) {
        let (Some(finding), start) = (beyond_winding(name, "`start` of", axis, axis.start), &written.start) else {
            return;
        };
        self.found.push(finding.at(start.place));
    }

    /// The axes of a move whose targets come once a turn, each where it is written.
    pub fn round(
        &mut self,
        rig: RigId,
        step: &written::Move,
        axes: &[Axis],
        cue: &str,
    ) -> Vec<(AxisId, At<Round>)> {
        let Some(round) = &step.round else { return Vec::new() };
        let mut resolved = Vec::new();
        for (name, way) in &round.value.0 {
            let (value, place) = (way.value, way.place);
            let Some(axis) = self.names.axis_of(rig, name, self.found) else { continue };
            let unit = axes[axis.index()].unit;
            let wrong = if step.by == Some(true) {
                Some((
                    "`to` to name a place, found `by`".into(),
                    "a change already says which way round: remove `round`",
                ))
            } else if unit.whole_turn().is_none() {
                let expected = format!("an axis in deg or turn, found one in {}", unit.word());
                Some((expected, "remove it: only what turns comes round again"))
            } else {
                None
            };
            match wrong {
                Some((expected, fix)) => self.wrong_round(&axes[axis.index()], &expected, fix, place, cue),
                None => resolved.push((axis, At { value, place })),
            }
        }
        resolved
    }

    /// Refuses a way round for what the move leaves alone.
    pub fn only_moved(
        &mut self,
        round: Vec<(AxisId, At<Round>)>,
        to: &[(AxisId, f64)],
        axes: &[Axis],
        cue: &str,
    ) -> Vec<(AxisId, Round)> {
        let (moved, left): (Vec<_>, Vec<_>) =
            round.into_iter().partition(|(axis, _)| to.iter().any(|(moved, _)| moved == axis));
        for (axis, At { place, .. }) in left {
            let expected = "an axis that `to` names, found one that it does not";
            self.wrong_round(&axes[axis.index()], expected, "name it in `to`, or remove it here", place, cue);
        }
        moved.into_iter().map(|(axis, way)| (axis, way.value)).collect()
    }

    fn wrong_round(&mut self, axis: &Axis, expected: &str, fix: &str, place: Place, cue: &str) {
        let rig = self.names.rig_name(axis.rig);
        let name = format!("{rig}.{}", axis.name);
        let message = format!("cue {cue}, `round` of {name}: expected {expected}");
        let finding = Finding::new(Code::BadValue, message).at(place).cue(cue).rig(rig).axis(name);
        self.found.push(finding.fix(fix));
    }
}
