//! Lenses: which axes aim them, and tables that can be read both ways.

use glam::DVec3;

use super::Resolver;
use super::rigs::vector;
use crate::show::decode::{At, Name};
use crate::show::finding::{Code, Finding};
use crate::show::id::{AxisId, RigId};
use crate::show::lens::{Lens, Ring, Scale, Table};
use crate::show::model::{Axis, JointKind};
use crate::show::source::Place;
use crate::show::written::{self, LensRing};

impl Resolver<'_> {
    /// What a rig says of its lens. `axes` hold those of this rig and of the rigs before it.
    pub fn lens(&mut self, rig: RigId, written: &At<written::Lens>, axes: &[Axis]) -> Lens {
        let lens = &written.value;
        let aim = lens.aim.as_ref().and_then(|aim| self.named_aim(rig, aim, axes));
        lens.forward.iter().for_each(|forward| self.require_length(forward));
        let forward = lens.forward.as_ref().and_then(|forward| forward.value.unit_vector());
        let mut ring = |key: &str, ring: &Option<At<LensRing>>, scale: Scale| {
            ring.as_ref().and_then(|ring| self.ring(rig, key, ring, scale))
        };
        Lens {
            at: lens.at.as_ref().map_or(DVec3::ZERO, vector),
            forward: forward.unwrap_or(Lens::PLAIN.forward),
            aim,
            sensor: lens.sensor.map_or(Lens::PLAIN.sensor, |width| width.0),
            confusion: lens.circle_of_confusion.map_or(Lens::PLAIN.confusion, |spot| spot.0),
            focus: ring("focus", &lens.focus, Scale::Reciprocal),
            zoom: ring("zoom", &lens.zoom, Scale::Logarithm),
            iris: ring("iris", &lens.iris, Scale::Logarithm),
            place: written.place,
        }
    }

    fn named_aim(&mut self, rig: RigId, aim: &At<[At<Name>; 2]>, axes: &[Axis]) -> Option<[AxisId; 2]> {
        let [one, other] = &aim.value;
        let named = [one, other].map(|name| self.own_axis(rig, name));
        let [Some(pan), Some(tilt)] = named else { return None };
        for (axis, place) in [(pan, one.place), (tilt, other.place)] {
            if let Some(found) = cannot_aim(&axes[axis.index()]) {
                self.refuse_aim(rig, &format!("a joint that turns and is not level, found {found}"), place);
                return None;
            }
        }
        if pan >= tilt {
            self.refuse_aim(rig, "the axis nearer the base first", aim.place);
            return None;
        }
        Some([pan, tilt])
    }

    fn refuse_aim(&mut self, rig: RigId, expected: &str, place: Place) {
        let message = format!("`aim`: expected {expected}");
        let finding = Finding::new(Code::BadValue, message).at(place).rig(self.names.rig_name(rig));
        self.found.push(finding.fix("name the two axes that point the lens, such as [\"pan\", \"tilt\"]"));
    }

    /// The axis of a rig by its name alone.
    pub fn own_axis(&mut self, rig: RigId, name: &At<Name>) -> Option<AxisId> {
        let name = At { value: name.value.0.clone(), place: name.place };
        self.names.axis_of(rig, &name, self.found)
    }

    fn ring(&mut self, rig: RigId, key: &str, written: &At<LensRing>, scale: Scale) -> Option<Ring> {
        let axis = self.own_axis(rig, &written.value.axis);
        let rows: Vec<[f64; 2]> = written.value.table.value.iter().map(|row| [row[0].0, row[1].0]).collect();
        let place = written.value.table.place;
        let table = Table::new(scale, &rows);
        if table.is_none() && !rows.iter().flatten().any(|entry| entry.is_nan()) && !self.found.spoilt(place) {
            let what = match key {
                "focus" => "metres",
                "zoom" => "mm of focal length",
                _ => "f-numbers",
            };
            let message = format!(
                "`{key}`: expected at least two rows [position, {what}], positions rising, {what} above zero and going one \
                 way, found {}",
                told(&rows)
            );
            let finding = Finding::new(Code::BadValue, message).at(place).rig(self.names.rig_name(rig));
            self.found
                .push(finding.fix("write the rows in the order of their positions, as the lens was measured"));
        }
        Some(Ring { axis: axis?, table: table? })
    }
}

/// The first rows that do not follow on each other, or what there is.
fn told(rows: &[[f64; 2]]) -> String {
    let falls = rows.len() > 1 && rows[1][1] < rows[0][1];
    let fits = |one: &[f64; 2], next: &[f64; 2]| {
        one[0] < next[0] && if falls { one[1] > next[1] } else { one[1] < next[1] } && next[1] > 0.0
    };
    let pair = rows.windows(2).find(|pair| !fits(&pair[0], &pair[1]));
    match (pair, rows) {
        (Some([one, next]), _) => format!("{one:?} and then {next:?}"),
        (_, [only]) => format!("{only:?} alone"),
        (_, []) => "none".into(),
        (_, [first, ..]) => format!("{first:?}"),
    }
}

/// Why an axis cannot aim a lens, if it cannot.
pub fn cannot_aim(axis: &Axis) -> Option<&'static str> {
    match &axis.joint {
        Some(joint) if joint.kind == JointKind::Turn && !joint.level => None,
        Some(joint) if joint.kind == JointKind::Turn => Some("one that is level"),
        Some(_) => Some("one that slides"),
        None => Some("an axis without a joint"),
    }
}
