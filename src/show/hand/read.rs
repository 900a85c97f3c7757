//! From a map file to what it says.

use std::path::Path;

use super::written::{Focus, MapFile};
use super::{Button, Drive, DriveKind, FocusButton, FocusTo, HandMap, Layer, Lever, MAP_FILE};
use crate::show::decode::{At, Found, Name, Text};
use crate::show::{Code, Finding, OneFile, Place, Severity, Show, Sources, read_one};

const DEAD_BAND: f64 = 0.1;
/// The bend that most hands like.
const TAPER: f64 = 0.3;

/// What reading a map gave: all findings of one run, and the map if none of them is an error.
#[derive(Clone, Debug)]
pub struct MapReading {
    pub map: Option<HandMap>,
    pub findings: Vec<Finding>,
    /// The file, for showing findings in it.
    pub sources: Sources,
}

/// Reads a map for hands, strictly. Never panics, whatever the file holds. What its names stand for, the running show knows.
pub fn read_map(path: &Path) -> MapReading {
    read_against(path, None)
}

/// Reads the map that lies in a show folder, if there is one, and holds its names against the show, where that was read.
pub fn read_map_beside(folder: &Path, show: Option<&Show>) -> Option<MapReading> {
    let path = folder.join(MAP_FILE);
    path.symlink_metadata().ok()?;
    let mut reading = read_against(&path, show);
    reading.sources.files.iter_mut().for_each(|source| source.path = MAP_FILE.into());
    Some(reading)
}

fn read_against(path: &Path, show: Option<&Show>) -> MapReading {
    let mut file: OneFile<MapFile> = read_one(path);
    let map = Reader { file: &file.written, found: &mut file.found, show }.map();
    let (findings, sources) = file.findings();
    let sound = findings.iter().all(|finding| finding.severity != Severity::Error);
    MapReading { map: map.filter(|_| sound), findings, sources }
}

struct Reader<'a> {
    file: &'a MapFile,
    found: &'a mut Found,
    /// What its names are held against.
    show: Option<&'a Show>,
}

/// What a stick and a dial have in common.
struct Line<'a> {
    from: &'a At<Text>,
    to: &'a At<Text>,
    layer: Option<&'a At<Name>>,
    reversed: bool,
    kind: DriveKind,
}

impl<'a> Reader<'a> {
    /// None without a button to hold, which has been reported.
    fn map(mut self) -> Option<HandMap> {
        let file = self.file;
        self.refuse_buttons_of_two_uses();
        self.refuse_layers_of_one_name();
        let lines: Vec<Line<'a>> = lines(file).collect();
        if lines.is_empty() {
            let fix = "add a [[stick]] or a [[dial]] with `from` and `to`";
            let finding =
                Finding::new(Code::BadValue, "the map drives nothing: expected a stick or a dial, found none");
            self.found.push(finding.at(file.hold.place).fix(fix));
        }
        let drives: Vec<Drive> = lines.iter().filter_map(|line| self.drive(line)).collect();
        self.refuse_axes_of_two_levers(&lines);
        Some(HandMap {
            device: file.device.as_ref().map(|name| name.0.to_lowercase()),
            hold: self.button(&file.hold)?,
            stop: file.stop.as_ref().and_then(|stop| self.button(stop)),
            next: file.next.as_ref().and_then(|next| self.button(next)),
            layers: self.layers(),
            drives,
            focuses: file.focuses.iter().flatten().filter_map(|At { value, .. }| self.focus(value)).collect(),
        })
    }

    fn focus(&mut self, written: &Focus) -> Option<FocusButton> {
        let button = self.button(&written.button);
        for rig in [Some(&written.rig), written.on.as_ref()].into_iter().flatten() {
            self.refuse_unknown_rig(&rig.value.0, rig.place);
        }
        let on = match (&written.on, &written.at) {
            (Some(rig), None) => FocusTo::Rig(rig.value.0.clone()),
            (None, Some(at)) => FocusTo::Point(at.each_ref().map(|coordinate| coordinate.0)),
            (Some(_), Some(_)) | (None, None) => {
                let found = if written.on.is_some() { "both" } else { "neither" };
                let message = format!("expected another rig, `on`, or a point, `at`, found {found}");
                let finding = Finding::new(Code::BadValue, message).at(written.button.place);
                self.found.push(finding.fix("write one of them, as in on = \"gull\" or at = [0.0, 2.0, 1.5]"));
                return None;
            }
        };
        Some(FocusButton { button: button?, rig: written.rig.value.0.clone(), on })
    }

    fn layers(&mut self) -> Vec<Layer> {
        let written = self.file.layers.iter().flatten();
        let layers: Vec<Layer> = written
            .map(|At { value, .. }| Layer {
                name: Some(value.name.value.0.clone()),
                button: value.button.as_ref().and_then(|button| self.button(button)),
            })
            .collect();
        if layers.is_empty() { vec![Layer { name: None, button: None }] } else { layers }
    }

    fn drive(&mut self, line: &Line<'_>) -> Option<Drive> {
        let lever = self.lever(line.from);
        let axis = self.axis(line.to);
        let layer = match line.layer {
            Some(name) => Some(self.layer(name)?),
            None => None,
        };
        let (rig, axis) = axis?;
        Some(Drive { lever: lever?, rig, axis, layer, reversed: line.reversed, kind: line.kind })
    }

    fn button(&mut self, written: &At<Text>) -> Option<Button> {
        let button = Button::named(&written.value.0);
        if button.is_none() && !self.found.spoilt(written.place) {
            self.found.unknown("there is no button", &written.value.0, written.place, Button::names());
        }
        button
    }

    fn lever(&mut self, written: &At<Text>) -> Option<Lever> {
        let lever = Lever::named(&written.value.0);
        if lever.is_none() && !self.found.spoilt(written.place) {
            self.found.unknown("there is no stick or dial", &written.value.0, written.place, Lever::names());
        }
        lever
    }

    fn axis(&mut self, written: &At<Text>) -> Option<(String, String)> {
        let text = &written.value.0;
        if let Some((rig, axis)) =
            text.split_once('.').filter(|(rig, axis)| !Name::refused(rig) && !Name::refused(axis))
        {
            self.refuse_unknown(rig, axis, written.place);
            return Some((rig.to_owned(), axis.to_owned()));
        }
        if !self.found.spoilt(written.place) {
            let message = format!("`to`: expected a rig and its axis, \"rig.axis\", found `{text}`");
            let fix = "write the rig's name, a dot and the axis's name, as in \"heron.swing\"";
            self.found.push(Finding::new(Code::BadValue, message).at(written.place).fix(fix));
        }
        None
    }

    fn refuse_unknown_rig(&mut self, rig: &str, place: Place) {
        let Some(show) = self.show.filter(|_| !self.found.spoilt(place)) else { return };
        if show.rigs.iter().all(|found| found.name != rig) {
            let known = show.rigs.iter().map(|rig| rig.name.as_str());
            self.found.unknown("there is no rig", rig, place, known);
        }
    }

    /// A rig or an axis that the show does not have.
    fn refuse_unknown(&mut self, rig: &str, axis: &str, place: Place) {
        let Some(show) = self.show.filter(|_| !self.found.spoilt(place)) else { return };
        match show.rigs.iter().find(|found| found.name == rig) {
            None => {
                let known = show.rigs.iter().map(|rig| rig.name.as_str());
                self.found.unknown("`to`: there is no rig", rig, place, known);
            }
            Some(found) => {
                let known: Vec<&str> = found.axis_ids().map(|axis| show.axis(axis).name.as_str()).collect();
                if !known.contains(&axis) {
                    self.found.unknown(&format!("`to`: {rig} has no axis"), axis, place, known);
                }
            }
        }
    }

    fn layer(&mut self, written: &At<Name>) -> Option<usize> {
        let name = written.value.0.as_str();
        let known: Vec<&str> =
            self.file.layers.iter().flatten().map(|layer| layer.value.name.value.0.as_str()).collect();
        let layer = known.iter().position(|known| *known == name);
        if layer.is_none() && !self.found.spoilt(written.place) {
            self.found.unknown("there is no layer", name, written.place, known);
        }
        layer
    }

    /// Hold-to-run, the stop and what changes layers must not come in one press.
    fn refuse_buttons_of_two_uses(&mut self) {
        let file = self.file;
        let own = [Some(&file.hold), file.stop.as_ref(), file.next.as_ref()];
        let of_layers = file.layers.iter().flatten().filter_map(|layer| layer.value.button.as_ref());
        let of_focuses = file.focuses.iter().flatten().map(|focus| &focus.value.button);
        let buttons: Vec<&At<Text>> = own.into_iter().flatten().chain(of_layers).chain(of_focuses).collect();
        self.refuse_twice(
            &buttons,
            "uses of the button",
            |a, b| a.value.0 == b.value.0,
            |a| (a.value.0.clone(), a.place),
        );
    }

    fn refuse_layers_of_one_name(&mut self) {
        let names: Vec<&At<Name>> = self.file.layers.iter().flatten().map(|layer| &layer.value.name).collect();
        self.refuse_twice(&names, "layers named", |a, b| a.value == b.value, |a| (a.value.0.clone(), a.place));
    }

    /// An axis follows one stick, and one dial beside it, in each layer.
    fn refuse_axes_of_two_levers(&mut self, lines: &[Line<'_>]) {
        let one_kind =
            |a: &Line<'_>, b: &Line<'_>| matches!(a.kind, DriveKind::Dial) == matches!(b.kind, DriveKind::Dial);
        let one_layer = |a: &Line<'_>, b: &Line<'_>| match (a.layer, b.layer) {
            (Some(a), Some(b)) => a.value == b.value,
            (None, _) | (_, None) => true,
        };
        self.refuse_twice(
            lines,
            "levers in one layer for",
            |a, b| a.to.value.0 == b.to.value.0 && one_kind(a, b) && one_layer(a, b),
            |line| (line.to.value.0.clone(), line.to.place),
        );
    }

    fn refuse_twice<T>(
        &mut self,
        items: &[T],
        what: &str,
        same: impl Fn(&T, &T) -> bool,
        told: impl Fn(&T) -> (String, Place),
    ) {
        for (index, item) in items.iter().enumerate() {
            let (name, place) = told(item);
            let first = items[..index].iter().find(|first| same(first, item));
            if let Some(first) = first.filter(|_| !name.is_empty() && !self.found.spoilt(place)) {
                self.found.duplicate(what, &name, place, told(first).1);
            }
        }
    }
}

fn lines(file: &MapFile) -> impl Iterator<Item = Line<'_>> {
    let sticks = file.sticks.iter().flatten().map(|At { value, .. }| Line {
        from: &value.from,
        to: &value.to,
        layer: value.layer.as_ref(),
        reversed: value.reversed.unwrap_or(false),
        kind: DriveKind::Stick {
            dead_band: value.dead_band.map_or(DEAD_BAND, |band| band.0),
            taper: value.taper.map_or(TAPER, |taper| taper.0),
        },
    });
    let dials = file.dials.iter().flatten().map(|At { value, .. }| Line {
        from: &value.from,
        to: &value.to,
        layer: value.layer.as_ref(),
        reversed: value.reversed.unwrap_or(false),
        kind: DriveKind::Dial,
    });
    sticks.chain(dials)
}
