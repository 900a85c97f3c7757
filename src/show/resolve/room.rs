//! What show.toml says of the room: zones, pairs, inputs, interlocks.

use std::net::IpAddr;

use super::{Resolver, each};
use crate::show::decode::{At, Text};
use crate::show::finding::{Code, Finding};
use crate::show::id::RigId;
use crate::show::model::{Guard, Input, Interlock, Pair, Zone};
use crate::show::units::Nanos;
use crate::show::written::{self, ShowFile};

impl Resolver<'_> {
    pub fn zones(&mut self, show: &ShowFile, margin: f64) -> Vec<Zone> {
        let mut zones = Vec::new();
        for At { value: zone, place } in each(&show.zones) {
            let (min, max) = self.block(&zone.block);
            let rigs = match &zone.rigs {
                Some(names) => names.iter().filter_map(|name| self.names.rig(name, self.found)).collect(),
                None => self.names.rig_ids().collect(),
            };
            zones.push(Zone {
                name: zone.name.value.0.clone(),
                keep: zone.keep,
                min,
                max,
                rigs,
                margin: zone.margin.map_or(margin, |margin| margin.0),
                place: *place,
            });
        }
        zones
    }

    pub fn pairs(&mut self, show: &ShowFile) -> Vec<Pair> {
        let mut pairs: Vec<Pair> = Vec::new();
        for At { value: pair, place } in each(&show.pairs) {
            let [a, b] = &pair.rigs;
            let (first, second) = (self.names.rig(a, self.found), self.names.rig(b, self.found));
            let (Some(first), Some(second)) = (first, second) else { continue };
            if first == second {
                let message = format!("`rigs`: expected two rigs, found `{}` twice", a.value.0);
                self.found.push(Finding::new(Code::BadValue, message).at(b.place).fix("name the other rig"));
            }
            let same = |other: &&Pair| other.rigs == [first, second] || other.rigs == [second, first];
            if let Some(other) = pairs.iter().find(same) {
                self.found.duplicate("pairs of", &format!("{}, {}", a.value.0, b.value.0), *place, other.place);
            }
            let because = pair.because.as_ref().map(|text| text.0.clone());
            pairs.push(Pair { rigs: [first, second], margin: pair.margin.0, because, place: *place });
        }
        pairs
    }

    pub fn inputs(&mut self, show: &ShowFile) -> Vec<Input> {
        let mut inputs = Vec::new();
        for At { value: input, place } in each(&show.inputs) {
            if let Some(source) = &input.source
                && source.value.0.parse::<IpAddr>().is_err()
                && !self.found.spoilt(source.place)
            {
                let message = format!("`source`: expected an IP address, found `{}`", source.value.0);
                let finding = Finding::new(Code::BadValue, message).at(source.place);
                self.found.push(finding.fix("write the sender's address without a port, such as \"10.0.0.7\""));
            }
            inputs.push(Input {
                name: input.name.value.0.clone(),
                max_age: Nanos::from_seconds(input.max_age.0),
                trips: input.trips.unwrap_or(false),
                source: input.source.as_ref().map(|source| source.value.0.clone()),
                place: *place,
            });
        }
        inputs
    }

    pub fn interlocks(&mut self, show: &ShowFile) -> Vec<Interlock> {
        let mut interlocks = Vec::new();
        for At { value: interlock, .. } in each(&show.interlocks) {
            let guards = self.guards(interlock);
            if let Some(needs) = self.condition(&interlock.needs) {
                let name = interlock.name.value.0.clone();
                interlocks.push(Interlock {
                    name,
                    guards,
                    needs,
                    otherwise: interlock.otherwise,
                    place: interlock.name.place,
                });
            }
        }
        interlocks
    }

    fn guards(&mut self, interlock: &written::Interlock) -> Vec<Guard> {
        let mut guards = Vec::new();
        for name in &interlock.guards.0 {
            if name.value.0.contains('.') {
                let direction = interlock.direction.as_ref().map(|direction| direction.value);
                let axis = self.names.axis(name, self.found);
                guards.extend(axis.map(|axis| Guard { axis, direction }));
            } else if let Some(rig) = self.guarded_rig(name, interlock) {
                guards.extend(self.names.axes_of(rig).map(|axis| Guard { axis, direction: None }));
            }
        }
        guards
    }

    fn guarded_rig(&mut self, name: &At<Text>, interlock: &written::Interlock) -> Option<RigId> {
        let rig = self.names.rig(name, self.found)?;
        if let Some(direction) = &interlock.direction {
            let message =
                format!("`direction`: expected only rig.axis in `guards`, found the rig `{}`", name.value.0);
            let finding = Finding::new(Code::BadValue, message).at(direction.place);
            let axes: Vec<String> =
                self.names.axes_of(rig).map(|axis| format!("\"{}\"", self.names.axis_name(axis))).collect();
            let fix = format!("guard {} instead, or remove `direction`", axes.join(" or "));
            self.found.push(finding.also(name.place, "a whole rig").fix(fix));
        }
        Some(rig)
    }
}
