//! Reading a file of faults against the show that it is for.

use std::path::Path;

use serde_json::Value;

use super::written::{Fault, FaultFile};
use super::{FaultScript, Injection, When};
use crate::rig::{NoSuchFault, SimFault, SimFaultKind};
use crate::show::decode::{At, Found, Text};
use crate::show::{
    AxisId, Code, CueId, Driver, Finding, Nanos, OneFile, Place, RigId, Severity, Show, Sources, read_one,
    schema_of,
};

/// What reading a file of faults gave: all findings of one run, and the script if none of them is an error.
#[derive(Clone, Debug)]
pub struct ScriptReading {
    pub script: Option<FaultScript>,
    pub findings: Vec<Finding>,
    /// The file, for showing findings in it.
    pub sources: Sources,
}

/// The JSON Schema (draft 2020-12) of a file of faults.
pub fn faults_schema() -> Value {
    schema_of::<FaultFile>()
}

/// Reads a file of faults, strictly, with the names of `show`. Never panics, whatever the file holds.
pub fn read_faults(path: &Path, show: &Show) -> ScriptReading {
    let mut file: OneFile<FaultFile> = read_one(path);
    let written: Vec<At<Fault>> = file.written.faults.take().unwrap_or_default();
    let mut reader = Reader { show, found: &mut file.found };
    let injections = written.iter().filter_map(|fault| reader.injection(fault)).collect();
    let (findings, sources) = file.findings();
    let sound = findings.iter().all(|finding| finding.severity != Severity::Error);
    let script = sound.then(|| FaultScript::new(injections, show.settings.tick));
    ScriptReading { script, findings, sources }
}

struct Reader<'a> {
    show: &'a Show,
    found: &'a mut Found,
}

impl Reader<'_> {
    /// `None` if anything about it was reported, now or before.
    fn injection(&mut self, written: &At<Fault>) -> Option<Injection> {
        let fault = self.fault(written);
        let when = self.when(written);
        let lasts = self.lasts(&written.value);
        Some(Injection { fault: fault?, when: when?, lasts, began: None, ended: None })
    }

    fn fault(&mut self, written: &At<Fault>) -> Option<SimFault> {
        let Fault { rig: name, axis, kind, size, .. } = &written.value;
        let rig = self.rig(name)?;
        let axis_id = match axis {
            Some(axis) => Some(self.axis(rig, axis)?),
            None => None,
        };
        if size.as_ref().is_some_and(|size| size.value.0.is_nan()) {
            return None;
        }
        let made = kind.of(rig, &self.show.rig(rig).axes, axis_id, size.as_ref().map(|size| size.value.0));
        made.map_err(|why| {
            let at = match why {
                NoSuchFault::WhichAxis | NoSuchFault::HowMuch(_) => written.place,
                NoSuchFault::WholeRig => axis.as_ref().map_or(written.place, |axis| axis.place),
                NoSuchFault::NoSize | NoSuchFault::BadSize(_) => {
                    size.as_ref().map_or(written.place, |size| size.place)
                }
            };
            self.refuse(why, *kind, rig, at);
        })
        .ok()
    }

    fn rig(&mut self, name: &At<Text>) -> Option<RigId> {
        let id = self.show.rig_ids().find(|&rig| self.show.rig(rig).name == name.value.0);
        match id {
            Some(id) => match self.show.rig(id).driver {
                Driver::Sim(_) => Some(id),
            },
            None => {
                if !self.found.spoilt(name.place) {
                    let known = self.show.rigs.iter().map(|rig| rig.name.as_str());
                    self.found.unknown("there is no rig", &name.value.0, name.place, known);
                }
                None
            }
        }
    }

    fn axis(&mut self, rig: RigId, name: &At<Text>) -> Option<AxisId> {
        let rig = self.show.rig(rig);
        let id = rig.axis_ids().find(|&axis| self.show.axis(axis).name == name.value.0);
        if id.is_none() && !self.found.spoilt(name.place) {
            let known = rig.axis_ids().map(|axis| self.show.axis(axis).name.as_str());
            self.found.unknown(&format!("{} has no axis", rig.name), &name.value.0, name.place, known);
        }
        id
    }

    fn when(&mut self, written: &At<Fault>) -> Option<When> {
        let Fault { at, cue, past, .. } = &written.value;
        match (at, cue) {
            (Some(at), None) => {
                if let Some(past) = past {
                    let message = "`past`: expected it beside `cue` only, found it beside `at`";
                    self.bad(message, "remove `past`, or write `cue` instead of `at`", past.place);
                    return None;
                }
                (!at.value.0.is_nan()).then(|| When::At(Nanos::from_seconds(at.value.0)))
            }
            (None, Some(cue)) => {
                let time = past.as_ref().map_or(0.0, |past| past.value.0);
                let cue = self.cue(cue.value.0.as_ref()?, cue.place)?;
                (!time.is_nan()).then_some(When::Past { cue, time })
            }
            (Some(_), Some(cue)) => {
                let message = "a fault begins once: expected `at` or `cue`, found both";
                self.bad(message, "keep one of them", cue.place);
                None
            }
            (None, None) => {
                let message = "a fault needs to know when: expected `at` or `cue`, found neither";
                self.bad(
                    message,
                    "add `at = ...` (s from the start), or `cue = \"...\"` and `past`",
                    written.place,
                );
                None
            }
        }
    }

    fn cue(&mut self, number: &crate::show::CueNumber, place: Place) -> Option<CueId> {
        let id = self.show.find_cue(number);
        if id.is_none() {
            let cues: Vec<String> = self.show.cues.iter().map(|cue| cue.number.to_string()).collect();
            let known = cues.iter().map(String::as_str);
            self.found.unknown("there is no cue", &number.to_string(), place, known);
        }
        id
    }

    fn lasts(&mut self, written: &Fault) -> Option<Nanos> {
        let lasts = written.lasts.as_ref()?;
        if !written.kind.lasts() {
            let message = format!("`for`: a {} is over at once: expected none, found one", written.kind.word());
            self.bad(&message, "remove `for`", lasts.place);
        }
        Some(Nanos::from_seconds(lasts.value.0))
    }

    fn refuse(&mut self, why: NoSuchFault, kind: SimFaultKind, rig: RigId, place: Place) {
        let (kind, rig) = (kind.word(), self.show.rig(rig));
        let (message, fix) = match why {
            NoSuchFault::WhichAxis => {
                let axes: Vec<&str> = rig.axis_ids().map(|axis| self.show.axis(axis).name.as_str()).collect();
                let message = format!("{kind} is a fault of one axis: expected `axis`, found none");
                (message, format!("add `axis`, one of: {}", axes.join(", ")))
            }
            NoSuchFault::WholeRig => {
                let message = format!("`axis`: {kind} is a fault of the whole rig: expected none, found one");
                (message, "remove `axis`".into())
            }
            NoSuchFault::HowMuch(size) => {
                let message =
                    format!("{kind} needs to know how much: expected `size`, {}, found none", size.meaning());
                (message, "add `size = ...`".into())
            }
            NoSuchFault::NoSize => {
                (format!("`size`: {kind} has no size: expected none, found one"), "remove `size`".into())
            }
            NoSuchFault::BadSize(size) => {
                (format!("`size`: expected {}, found another", size.meaning()), "bring it into the range".into())
            }
        };
        self.bad(&message, &fix, place);
    }

    fn bad(&mut self, message: &str, fix: &str, place: Place) {
        self.found.push(Finding::new(Code::BadValue, message).at(place).fix(fix));
    }
}
