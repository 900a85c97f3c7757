//! Rigs: where they stand, what they ride on, their marks.

use glam::DVec3;

use super::{Resolver, WrittenRig};
use crate::show::decode::{At, Map};
use crate::show::finding::{Code, Finding};
use crate::show::id::{AxisId, RigId};
use crate::show::model::{Axis, Driver, Mark, Rig, Shape, SimSettings, StopCategory};
use crate::show::source::Place;
use crate::show::units::{Nanos, Unit};
use crate::show::written::{self, Coordinate};

impl Resolver<'_> {
    /// All rigs, and the axes of all of them.
    pub fn rigs(&mut self, written: &[WrittenRig]) -> (Vec<Rig>, Vec<Axis>) {
        let mut rigs = Vec::new();
        let mut axes = Vec::new();
        for (index, file) in written.iter().enumerate() {
            let id = RigId::new(index);
            let first = axes.len();
            for axis in &file.file.axes.0 {
                axes.push(self.axis(id, &file.name, axis));
            }
            let range = first as u16..axes.len() as u16;
            let marks = self.marks(id, file, &axes);
            let lens = file.file.lens.as_ref().map(|lens| self.lens(id, lens, &axes));
            rigs.push(Rig { lens, ..self.rig(file, range, marks) });
        }
        self.refuse_mount_cycles(written, &rigs, &axes);
        (rigs, axes)
    }

    fn rig(&mut self, written: &WrittenRig, axes: std::ops::Range<u16>, marks: Vec<Mark>) -> Rig {
        let file = &written.file;
        self.require_stop_category(written);
        let sim = file.driver.as_ref().map(|driver| &driver.sim);
        let bodies = self.shapes(&file.bodies);
        Rig {
            name: written.name.clone(),
            kind: file.kind.0.clone(),
            at: vector(&file.at),
            facing: file.facing.map_or(0.0, |facing| facing.0),
            mount: file.on.as_ref().and_then(|on| self.names.axis(on, self.found)),
            driver: Driver::Sim(SimSettings {
                lag: sim.and_then(|sim| sim.lag).map_or(0.03, |lag| lag.0),
                noise: sim.and_then(|sim| sim.noise).map_or(0.0, |noise| noise.0),
                backlash: sim.and_then(|sim| sim.backlash).map_or(0.0, |backlash| backlash.0),
            }),
            absent: file.absent.unwrap_or(false),
            bodies,
            axes,
            marks,
            lens: None,
            stop_category: file.stop_category.map_or(StopCategory::Two, |category| category.0),
            link_timeout: Nanos::from_seconds(file.link_timeout.map_or(0.2, |timeout| timeout.0)),
            place: written.place,
        }
    }

    /// What holds a load must say what becomes of its power after a stop.
    fn require_stop_category(&mut self, written: &WrittenRig) {
        let heavy = written.file.axes.0.iter().find(|axis| axis.value.gravity == Some(true));
        if let (Some(axis), None, false) = (heavy, written.file.stop_category, written.torn) {
            let name = format!("{}.{}", written.name, axis.value.name.value.0);
            let message = format!(
                "`stop_category` is missing: expected 1 or 2, since {name} has gravity = true, found nothing"
            );
            let finding = Finding::new(Code::BadValue, message).at(axis.place).rig(&*written.name).axis(name);
            let fix = "write `stop_category = 1` above the axes if brakes hold the load without power, else 2";
            self.found.push(finding.fix(fix));
        }
    }

    fn marks(&mut self, id: RigId, written: &WrittenRig, axes: &[Axis]) -> Vec<Mark> {
        let mut marks = Vec::new();
        for (name, pose) in written.file.marks.iter().flat_map(|marks| &marks.0) {
            if pose.value.0.is_empty() && !self.found.spoilt(pose.place) {
                let message = format!("mark `{}` is empty: expected at least one axis, found none", name.value);
                self.found.push(Finding::new(Code::BadValue, message).at(pose.place).rig(&*written.name));
            }
            let pose = self.pose(id, &pose.value);
            for &(axis, At { value, place }) in &pose {
                let what = format!("mark `{}`", name.value);
                self.require_in_travel(&what, value, place, &axes[axis.index()], None);
            }
            let pose = pose.into_iter().map(|(axis, position)| (axis, position.value)).collect();
            marks.push(Mark { name: name.value.clone(), pose, place: name.place });
        }
        self.names.set_marks(id, marks.iter().map(|mark| (mark.name.clone(), mark.pose.clone())).collect());
        marks
    }

    /// The axes and positions of a written pose; unknown axes are reported and left out.
    pub fn pose(&mut self, rig: RigId, pose: &Map<At<written::Position>>) -> Vec<(AxisId, At<f64>)> {
        let mut resolved = Vec::new();
        for (axis, position) in &pose.0 {
            if let Some(axis) = self.names.axis_of(rig, axis, self.found) {
                resolved.push((axis, At { value: position.value.0, place: position.place }));
            }
        }
        resolved
    }

    /// Reports a position outside the travel. An unreadable one is NaN and passes.
    pub fn require_in_travel(&mut self, what: &str, position: f64, place: Place, axis: &Axis, cue: Option<&str>) {
        let [low, high] = axis.travel;
        let limit = match (position < low, position > high) {
            (true, _) => low,
            (_, true) => high,
            (false, false) => return,
        };
        let rig = self.names.rig_name(axis.rig);
        let name = format!("{rig}.{}", axis.name);
        let sign = axis.unit.sign();
        let message = format!(
            "{what} is outside the travel of {name}: expected {low}{sign} to {high}{sign}, found {position}{sign}"
        );
        let metres = position / 1000.0;
        let fix = if axis.unit == Unit::Metre && metres.abs() > 0.01 && (low..=high).contains(&metres) {
            format!(
                "if it is in millimetres write {metres:?}; else bring it to {limit}{sign}, or survey the axis again"
            )
        } else {
            format!("bring it to {limit}{sign}, or survey the axis again")
        };
        let mut finding = Finding::new(Code::Travel, message).at(place).fix(fix).against(position, limit);
        finding = finding.rig(rig).axis(name);
        finding.cues.extend(cue.map(str::to_owned));
        self.found.push(finding);
    }

    /// Tells each circle once, at its first rig, from which the chain comes back to itself.
    fn refuse_mount_cycles(&mut self, written: &[WrittenRig], rigs: &[Rig], axes: &[Axis]) {
        let below = |rig: usize| rigs[rig].mount.map(|axis| axes[axis.index()].rig.index());
        for (start, file) in written.iter().enumerate() {
            let mut chain = vec![start];
            let mut next = below(start);
            while let Some(rig) = next
                && rig > start
                && !chain.contains(&rig)
            {
                chain.push(rig);
                next = below(rig);
            }
            if next != Some(start) {
                continue;
            }
            chain.push(start);
            let names: Vec<&str> = chain.iter().map(|&rig| rigs[rig].name.as_str()).collect();
            let message =
                format!("rigs ride on each other in a circle: expected none, found {}", names.join(" on "));
            let place = file.file.on.as_ref().map_or(file.place, |on| on.place);
            let finding = Finding::new(Code::BadValue, message).at(place).rig(names[0]);
            self.found.push(finding.fix("one of them must stand on the stage: remove its `on`"));
        }
    }

    pub fn shapes(&mut self, written: &Option<Vec<At<written::Shape>>>) -> Vec<Shape> {
        super::each(written).filter_map(|shape| self.shape(&shape.value)).collect()
    }

    fn shape(&mut self, written: &written::Shape) -> Option<Shape> {
        Some(match written {
            written::Shape::Capsule(body) => {
                let capsule = &body.capsule;
                Shape::Capsule { from: vector(&capsule.from), to: vector(&capsule.to), radius: capsule.radius.0 }
            }
            written::Shape::Sphere(body) => {
                Shape::Sphere { at: vector(&body.sphere.at), radius: body.sphere.radius.0 }
            }
            written::Shape::Box(body) => {
                let (min, max) = self.block(&body.block);
                Shape::Box { min, max }
            }
            written::Shape::Unread => return None,
        })
    }

    /// The corners of a box; reports one that is inside out or flat.
    pub fn block(&mut self, written: &At<written::Block>) -> (DVec3, DVec3) {
        let (min, max) = (vector(&written.value.min), vector(&written.value.max));
        for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
            if min[axis] >= max[axis] {
                let message = format!(
                    "`box`: expected `min` below `max` along {name}, found {} and {}",
                    min[axis], max[axis]
                );
                let finding = Finding::new(Code::BadValue, message).at(written.place);
                self.found.push(finding.fix("`min` is the corner of least x, y and z"));
            }
        }
        (min, max)
    }
}

pub fn vector(written: &[Coordinate; 3]) -> DVec3 {
    DVec3::new(written[0].0, written[1].0, written[2].0)
}
