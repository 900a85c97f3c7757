//! Every name of the show, and what it stands for.

use std::collections::BTreeMap;

use super::{Written, each};
use crate::show::CueNumber;
use crate::show::decode::{At, Found, Text, nearest};
use crate::show::finding::{Code, Finding};
use crate::show::id::{AxisId, CueId, InputId, RigId};
use crate::show::source::Place;
use crate::show::written::Number;

/// Names by kind. Where one could not be read, or part of a file could not (`torn`), any other name of that kind may
/// be the one, and an unknown name is not reported.
#[derive(Debug)]
pub struct Names<'w> {
    rigs: Vec<RigNames<'w>>,
    inputs: Vec<&'w str>,
    show_torn: bool,
    /// Sorted, each once.
    cues: Vec<CueNumber>,
    cues_torn: bool,
}

#[derive(Debug)]
struct RigNames<'w> {
    name: &'w str,
    axes: Vec<&'w str>,
    first_axis: usize,
    marks: Vec<Mark>,
    torn: bool,
}

type Mark = (String, Vec<(AxisId, f64)>);

impl<'w> Names<'w> {
    /// Names of rigs, axes, inputs and cues; marks follow with [`Names::set_marks`]. Reports names given twice.
    pub fn gather(written: &'w Written, found: &mut Found) -> Names<'w> {
        let mut first_axis = 0;
        let mut rigs = Vec::new();
        for rig in &written.rigs {
            let axes: Vec<&At<_>> = rig.file.axes.0.iter().map(|axis| &axis.value.name).collect();
            once("axes", axes.iter().map(|name| (name.value.0.as_str(), name.place)), found);
            let axes: Vec<&str> = axes.iter().map(|name| name.value.0.as_str()).collect();
            let count = axes.len();
            // Of two axes of one name the other may be any that is missed elsewhere.
            let twice = axes.iter().enumerate().any(|(index, name)| axes[..index].contains(name));
            let torn = rig.torn || twice || axes.contains(&"");
            rigs.push(RigNames { name: &rig.name, axes, first_axis, marks: Vec::new(), torn });
            first_axis += count;
        }
        let inputs = || each(&written.show.inputs).map(|input| &input.value.name);
        once("inputs", inputs().map(|name| (name.value.0.as_str(), name.place)), found);
        let zones = each(&written.show.zones).map(|zone| &zone.value.name);
        once("zones", zones.map(|name| (name.value.0.as_str(), name.place)), found);
        let interlocks = each(&written.show.interlocks).map(|interlock| &interlock.value.name);
        once("interlocks", interlocks.map(|name| (name.value.0.as_str(), name.place)), found);

        let mut cues = Vec::new();
        for cue in written.cues.iter().flat_map(|file| each(&file.cues)) {
            let number = &cue.value.number;
            cues.extend(number.value.0.as_ref().map(|value| (value.to_string(), value, number.place)));
        }
        once("cues", cues.iter().map(|(text, _, place)| (text.as_str(), *place)), found);
        let numbered = cues.len();
        let mut cues: Vec<CueNumber> = cues.into_iter().map(|(_, number, _)| number.clone()).collect();
        cues.sort();
        cues.dedup();
        let inputs: Vec<&str> = inputs().map(|name| name.value.0.as_str()).collect();
        let all_cues: usize = written.cues.iter().map(|file| each(&file.cues).count()).sum();
        Names {
            show_torn: written.show_torn || inputs.contains(&""),
            cues_torn: written.cues_torn || numbered < all_cues,
            rigs,
            inputs,
            cues,
        }
    }

    pub fn set_marks(&mut self, rig: RigId, marks: Vec<Mark>) {
        self.rigs[rig.index()].marks = marks;
    }

    pub fn rig(&self, name: &At<Text>, found: &mut Found) -> Option<RigId> {
        self.rig_named(&name.value.0, name.place, found)
    }

    pub fn rig_named(&self, name: &str, place: Place, found: &mut Found) -> Option<RigId> {
        let id = self.find_rig(name);
        if id.is_none() && !found.spoilt(place) {
            found.unknown("there is no rig", name, place, self.rigs.iter().map(|rig| rig.name));
        }
        id
    }

    fn find_rig(&self, name: &str) -> Option<RigId> {
        self.rigs.iter().position(|rig| rig.name == name).map(RigId::new)
    }

    pub fn rig_ids(&self) -> impl Iterator<Item = RigId> + use<> {
        (0..self.rigs.len()).map(RigId::new)
    }

    pub fn rig_name(&self, id: RigId) -> &'w str {
        self.rigs[id.index()].name
    }

    /// All axes of a rig, base to tip.
    pub fn axes_of(&self, rig: RigId) -> impl Iterator<Item = AxisId> + use<> {
        let rig = &self.rigs[rig.index()];
        (rig.first_axis..rig.first_axis + rig.axes.len()).map(AxisId::new)
    }

    /// The axis called `axis` of a rig.
    pub fn axis_of(&self, rig: RigId, axis: &At<String>, found: &mut Found) -> Option<AxisId> {
        self.axis_named(rig, &axis.value, axis.place, found)
    }

    fn axis_named(&self, id: RigId, axis: &str, place: Place, found: &mut Found) -> Option<AxisId> {
        let rig = &self.rigs[id.index()];
        if let Some(index) = rig.axes.iter().position(|name| *name == axis) {
            return Some(AxisId::new(rig.first_axis + index));
        }
        if !rig.torn && !found.spoilt(place) {
            found.unknown(&format!("{} has no axis", rig.name), axis, place, rig.axes.iter().copied());
        }
        None
    }

    /// `rig.axis`.
    pub fn axis(&self, name: &At<Text>, found: &mut Found) -> Option<AxisId> {
        if let Some((rig, axis)) = name.value.0.split_once('.') {
            let rig = self.rig_named(rig, name.place, found)?;
            return self.axis_named(rig, axis, name.place, found);
        }
        if !found.spoilt(name.place) {
            let axes: Vec<String> = self.axis_names().collect();
            found.unknown("expected `rig.axis`, found", &name.value.0, name.place, axes.iter().map(String::as_str));
        }
        None
    }

    /// `rig.axis`.
    pub fn axis_name(&self, id: AxisId) -> String {
        self.axis_names().nth(id.index()).unwrap_or_default()
    }

    fn axis_names(&self) -> impl Iterator<Item = String> + '_ {
        self.rigs.iter().flat_map(|rig| rig.axes.iter().map(|axis| format!("{}.{axis}", rig.name)))
    }

    /// Where a mark of a rig is.
    pub fn mark(&self, id: RigId, name: &str, place: Place, found: &mut Found) -> Option<Vec<(AxisId, f64)>> {
        let rig = &self.rigs[id.index()];
        if let Some((_, pose)) = rig.marks.iter().find(|(mark, _)| mark == name) {
            return Some(pose.clone());
        }
        if !rig.torn && !found.spoilt(place) {
            let marks = rig.marks.iter().map(|(mark, _)| mark.as_str());
            found.unknown(&format!("{} has no mark", rig.name), name, place, marks);
        }
        None
    }

    pub fn input(&self, name: &str, place: Place, found: &mut Found) -> Option<InputId> {
        let id = self.inputs.iter().position(|input| *input == name).map(InputId::new);
        if id.is_none() && !self.show_torn && !found.spoilt(place) {
            found.unknown("there is no input", name, place, self.inputs.iter().copied());
        }
        id
    }

    pub fn cue(&self, number: &At<Number>, found: &mut Found) -> Option<CueId> {
        let wanted = number.value.0.as_ref()?;
        if let Ok(index) = self.cues.binary_search(wanted) {
            return Some(CueId::new(index));
        }
        if !self.cues_torn {
            let cues: Vec<String> = self.cues.iter().map(ToString::to_string).collect();
            found.unknown("there is no cue", &wanted.to_string(), number.place, cues.iter().map(String::as_str));
        }
        None
    }

    /// The leading cue of a follow, which has a code of its own when it is missing.
    pub fn leading_cue(&self, number: &At<Number>, follower: &str, found: &mut Found) -> Option<CueId> {
        let wanted = number.value.0.as_ref()?;
        if let Ok(index) = self.cues.binary_search(wanted) {
            return Some(CueId::new(index));
        }
        if !self.cues_torn {
            let message = format!("cue {follower} follows cue {wanted}: expected a cue of the show, found none");
            let finding = Finding::new(Code::Follow, message).at(number.place).cue(follower);
            let cues: Vec<String> = self.cues.iter().map(ToString::to_string).collect();
            let nearest = nearest(&wanted.to_string(), cues.iter().map(String::as_str)).unwrap_or_default();
            found.push(finding.fix(format!("the nearest known number is {nearest}; or remove `after`")));
        }
        None
    }
}

/// Reports each name that was given before. Unreadable names are empty and were reported.
fn once<'n>(what: &str, names: impl Iterator<Item = (&'n str, Place)>, found: &mut Found) {
    let mut seen: BTreeMap<&str, Place> = BTreeMap::new();
    for (name, place) in names.filter(|(name, _)| !name.is_empty()) {
        match seen.get(name) {
            Some(&first) => found.duplicate(what, name, place, first),
            None => {
                seen.insert(name, place);
            }
        }
    }
}
