//! What changed of the rigs: where they stand, their survey, their marks.

use super::{AxisPart, Change, Subject};
use crate::show::id::AxisId;
use crate::show::lens::{Lens, Ring};
use crate::show::model::{Axis, Limits, Mark, Rig, Show};

pub fn tell(old: &Show, new: &Show, told: &mut Vec<Change>) {
    for rig in &old.rigs {
        if !new.rigs.iter().any(|other| other.name == rig.name) {
            told.push(Change::new(Subject::Rig(rig.name.clone()), format!("rig {} is gone", rig.name)));
        }
    }
    for rig in &new.rigs {
        let Some(before) = old.rigs.iter().find(|other| other.name == rig.name) else {
            told.push(Change::new(Subject::Rig(rig.name.clone()), format!("rig {} is new", rig.name)));
            continue;
        };
        let sides = Sides { old, before, new, rig };
        sides.tell_rig(told);
        sides.tell_axes(told);
        sides.tell_marks(told);
    }
}

/// All that a rig says of its lens, by names, since an edit elsewhere may shift the numbers of axes.
fn spelt(show: &Show, lens: Option<&Lens>) -> Option<String> {
    let ring = |ring: &Option<Ring>| ring.as_ref().map(|ring| (show.axis_name(ring.axis), ring.table.clone()));
    lens.map(|lens| {
        let aim = lens.aim.map(|aim| aim.map(|axis| show.axis_name(axis)));
        let rings = [&lens.focus, &lens.zoom, &lens.iris].map(ring);
        format!("{:?}", (lens.at, lens.forward, aim, lens.sensor, lens.confusion, rings))
    })
}

/// One rig before and after.
struct Sides<'a> {
    old: &'a Show,
    before: &'a Rig,
    new: &'a Show,
    rig: &'a Rig,
}

impl Sides<'_> {
    fn tell_rig(&self, told: &mut Vec<Change>) {
        let Sides { old, before, new, rig } = *self;
        let mut what = Vec::new();
        let mut compare = |text: &str, same: bool| {
            if !same {
                what.push(text.to_owned());
            }
        };
        let mount = |show: &Show, rig: &Rig| rig.mount.map(|axis| show.axis_name(axis));
        compare("where it stands", before.at == rig.at && before.facing == rig.facing);
        compare("what it rides on", mount(old, before) == mount(new, rig));
        compare("its bodies", before.bodies == rig.bodies);
        compare("its lens", spelt(old, before.lens.as_ref()) == spelt(new, rig.lens.as_ref()));
        compare("whether it is absent", before.absent == rig.absent);
        compare("its stop category", before.stop_category == rig.stop_category);
        compare("its driver", before.driver == rig.driver);
        compare("its link time-out", before.link_timeout == rig.link_timeout);
        if !what.is_empty() {
            let text = format!("rig {}: {} changed", rig.name, what.join(", "));
            told.push(Change::new(Subject::Rig(rig.name.clone()), text));
        }
    }

    fn tell_axes(&self, told: &mut Vec<Change>) {
        let Sides { old, before, new, rig } = *self;
        let mut tell = |axis: &Axis, part: AxisPart, text: String| {
            let subject = Subject::Axis { rig: rig.name.clone(), axis: axis.name.clone(), part };
            told.push(Change::new(subject, format!("axis {}.{}{text}", rig.name, axis.name)));
        };
        let find = |show: &'_ Show, rig: &Rig, name: &str| {
            rig.axis_ids().find(|&id| show.axis(id).name == name).map(|id| show.axis(id).clone())
        };
        for axis in before.axis_ids().map(|id| old.axis(id)) {
            if find(new, rig, &axis.name).is_none() {
                tell(axis, AxisPart::Gone, " is gone".into());
            }
        }
        for id in rig.axis_ids() {
            let axis = new.axis(id);
            let Some(was) = find(old, before, &axis.name) else {
                tell(axis, AxisPart::New, " is new".into());
                continue;
            };
            for (part, text) in axis_changes(&was, axis) {
                tell(axis, part, format!(": {text}"));
            }
        }
    }

    fn tell_marks(&self, told: &mut Vec<Change>) {
        let Sides { before, rig, .. } = *self;
        let mut tell = |mark: &Mark, what: String| {
            let subject = Subject::Mark { rig: rig.name.clone(), mark: mark.name.clone() };
            told.push(Change::new(subject, format!("mark {} of {} {what}", mark.name, rig.name)));
        };
        for mark in &before.marks {
            match rig.mark(&mark.name) {
                None => tell(mark, "is gone".into()),
                Some(now) => {
                    let differing = self.moved(mark, now);
                    if !differing.is_empty() {
                        tell(mark, format!("moved: {}", differing.join(", ")));
                    }
                }
            }
        }
        for mark in &rig.marks {
            if before.mark(&mark.name).is_none() {
                tell(mark, "is new".into());
            }
        }
    }

    /// Each axis of a mark that is elsewhere, before and after.
    fn moved(&self, was: &Mark, now: &Mark) -> Vec<String> {
        fn named<'a>(show: &'a Show, mark: &'a Mark) -> Vec<(&'a Axis, f64)> {
            mark.pose.iter().map(|&(axis, value): &(AxisId, f64)| (show.axis(axis), value)).collect()
        }
        let (was, now) = (named(self.old, was), named(self.new, now));
        let at = |pose: &[(&Axis, f64)], name: &str| {
            pose.iter()
                .find(|(axis, _)| axis.name == name)
                .map(|(axis, value)| format!("{value}{}", axis.unit.sign()))
        };
        let mut told = Vec::new();
        for (axis, _) in &was {
            match (at(&was, &axis.name), at(&now, &axis.name)) {
                (Some(was), Some(now)) if was != now => told.push(format!("{} {was} becomes {now}", axis.name)),
                (Some(was), None) => told.push(format!("{} was {was} and is left out now", axis.name)),
                (Some(_) | None, _) => {}
            }
        }
        for (axis, value) in &now {
            if at(&was, &axis.name).is_none() {
                told.push(format!("{} {value}{} is new in it", axis.name, axis.unit.sign()));
            }
        }
        told
    }
}

fn axis_changes(was: &Axis, axis: &Axis) -> Vec<(AxisPart, String)> {
    let mut told = Vec::new();
    if was.travel != axis.travel {
        let ([a, b], [c, d]) = (was.travel, axis.travel);
        told.push((AxisPart::Travel, format!("travel {a} to {b} becomes {c} to {d}")));
    }
    if was.surveyed != axis.surveyed {
        let what = if axis.surveyed {
            "it is surveyed"
        } else {
            "it is no longer surveyed: nothing moves it but a slow jog by hand"
        };
        told.push((AxisPart::Travel, what.to_owned()));
    }
    if was.winding != axis.winding {
        let cable = |axis: &Axis| match axis.winding {
            Some([least, most]) => format!("{least}{0} to {most}{0}", axis.unit.sign()),
            None => "no limit".into(),
        };
        told.push((AxisPart::Travel, format!("what its cable allows, {}, becomes {}", cable(was), cable(axis))));
    }
    let mut limits = limits("", was.run, axis.run);
    limits
        .extend(self::limits("stop_", was.stop, axis.stop).into_iter().filter(|text| !text.contains("stop_speed")));
    if !limits.is_empty() {
        told.push((AxisPart::Limits, format!("its limits changed: {}", limits.join(", "))));
    }
    if was.start != axis.start {
        told.push((AxisPart::Start, format!("start {} becomes {}", was.start, axis.start)));
    }
    let mut rest = Vec::new();
    let mut compare = |text: &str, same: bool| {
        if !same {
            rest.push(text.to_owned());
        }
    };
    compare("its unit", was.unit == axis.unit);
    compare("its tolerance", was.tolerance == axis.tolerance);
    compare("its lag limit", was.lag_limit == axis.lag_limit);
    compare("its glide", was.glide == axis.glide);
    compare("whether it is held against gravity", was.gravity == axis.gravity);
    compare("its joint", was.joint == axis.joint);
    compare("its bodies", was.bodies == axis.bodies);
    if !rest.is_empty() {
        told.push((AxisPart::Build, format!("{} changed", rest.join(", "))));
    }
    told
}

fn limits(kind: &str, was: Limits, now: Limits) -> Vec<String> {
    let each = [
        ("speed", was.speed, now.speed),
        ("acceleration", was.acceleration, now.acceleration),
        ("jerk", was.jerk, now.jerk),
    ];
    let differing = each.into_iter().filter(|(_, was, now)| was != now);
    differing.map(|(name, was, now)| format!("{kind}{name} {was} becomes {now}")).collect()
}
