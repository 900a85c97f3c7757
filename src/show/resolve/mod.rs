//! From written files to the show: every name resolved, every value seen beside the others that it must fit.

mod aim;
mod axes;
mod conditions;
mod cues;
mod lens;
mod names;
mod rigs;
mod room;
mod slips;
mod takes;
mod turns;

use std::sync::Arc;

use super::changes::{Subject, used_in};
use super::decode::{At, Found};
use super::finding::{Code, Finding};
use super::model::{Atom, Settings, Show};
use super::source::Place;
use super::takes::Take;
use super::units::Nanos;
use super::written::{self, CueFile, RigFile, ShowFile};
pub use axes::limits_of;
use names::Names;

/// The files of a show, decoded.
#[derive(Debug)]
pub struct Written {
    pub show: ShowFile,
    /// show.toml could not be read whole: names it would give may be missing.
    pub show_torn: bool,
    pub rigs: Vec<WrittenRig>,
    pub cues: Vec<CueFile>,
    pub cues_torn: bool,
    pub takes: Vec<WrittenTake>,
    pub hash: String,
}

#[derive(Debug)]
pub struct WrittenRig {
    pub name: String,
    /// The start of its file.
    pub place: Place,
    pub file: RigFile,
    pub torn: bool,
}

#[derive(Debug)]
pub struct WrittenTake {
    pub name: String,
    pub take: Arc<Take>,
    /// The file could not be read at all.
    pub torn: bool,
    /// What is wrong with it; told if a cue plays it.
    pub findings: Vec<Finding>,
}

/// What resolving one part of the files needs of the others.
#[derive(Debug)]
struct Resolver<'a> {
    names: Names<'a>,
    takes: &'a [WrittenTake],
    /// Beside the takes: whether what is wrong with it has been told.
    takes_told: Vec<bool>,
    atoms: Vec<Atom>,
    found: &'a mut Found,
}

/// A show has fewer of anything than an index can count, and few enough to be drawn, proved and fired.
const RIGS_MAX: usize = 500;
const AXES_MAX: usize = 5_000;
const CUES_MAX: usize = 10_000;
const PARTS_MAX: usize = 1_000;
const ATOMS_MAX: usize = 50_000;

/// Resolves the show. What it gives means something only if no error was found; `None` if the show is too large.
pub fn resolve(written: &Written, found: &mut Found) -> Option<Show> {
    if !sizes_in_bounds(written, found) {
        return None;
    }
    let names = Names::gather(written, found);
    let (takes, takes_told) = (&written.takes[..], vec![false; written.takes.len()]);
    let mut resolver = Resolver { names, takes, takes_told, atoms: Vec::new(), found };
    let (rigs, axes) = resolver.rigs(&written.rigs);
    let settings = settings(&written.show.show);
    let zones = resolver.zones(&written.show, settings.margin);
    let pairs = resolver.pairs(&written.show);
    let inputs = resolver.inputs(&written.show);
    let interlocks = resolver.interlocks(&written.show);
    let cues = resolver.cues(&written.cues, (&rigs, &axes));
    let Resolver { atoms, .. } = resolver;
    if atoms.len() > ATOMS_MAX {
        let message = format!("the conditions have {} leaves: expected at most {ATOMS_MAX}", atoms.len());
        found.push(Finding::new(Code::BadValue, message).fix("remove conditions"));
        return None;
    }
    let name = written.show.show.name.0.clone();
    let hash = written.hash.clone();
    let show = Show { name, hash, settings, rigs, axes, zones, pairs, inputs, interlocks, atoms, cues };
    tell_where_marks_are_used(&show, found);
    Some(show)
}

/// Whoever surveys an axis again, and finds a mark out of reach, needs to know which cues go there.
fn tell_where_marks_are_used(show: &Show, found: &mut Found) {
    for finding in found.findings.iter_mut().filter(|finding| finding.code == Code::Travel) {
        let named = finding.message.strip_prefix("mark `").and_then(|rest| rest.split_once('`'));
        let (Some(rig), Some((mark, _))) = (finding.rigs.first(), named) else { continue };
        let subject = Subject::Mark { rig: rig.clone(), mark: mark.to_owned() };
        let used = used_in(show, &subject);
        if let (Some(fix), [_, ..]) = (&mut finding.fix, &used[..]) {
            fix.push_str(&format!("; the mark is used in {}", show.called(&used)));
        }
        finding.cues = used.iter().map(|&id| show.number_of(id)).collect();
    }
}

fn settings(written: &written::Settings) -> Settings {
    let nanos = |seconds: f64| Nanos::from_seconds(seconds);
    Settings {
        tick: nanos(written.tick.map_or(0.002, |tick| tick.0)),
        margin: written.margin.0,
        react: nanos(written.react.0),
        guard: nanos(written.guard.map_or(0.5, |guard| guard.0)),
        trigger_age: nanos(written.trigger_age.map_or(0.3, |age| age.0)),
        return_rate: written.return_rate.map_or(0.5, |rate| rate.0),
        glide: written.glide.map_or(1.0, |factor| factor.0),
        named_go: written.named_go.unwrap_or(false),
    }
}

fn sizes_in_bounds(written: &Written, found: &mut Found) -> bool {
    let axes = written.rigs.iter().map(|rig| rig.file.axes.0.len()).sum();
    let cues = written.cues.iter().flat_map(|file| &file.cues).map(Vec::len).sum();
    let parts = |count: Option<usize>| count.unwrap_or(0);
    let show = &written.show;
    let sizes = [
        ("rigs", written.rigs.len(), RIGS_MAX),
        ("axes", axes, AXES_MAX),
        ("cues", cues, CUES_MAX),
        ("zones", parts(show.zones.as_ref().map(Vec::len)), PARTS_MAX),
        ("pairs", parts(show.pairs.as_ref().map(Vec::len)), PARTS_MAX),
        ("inputs", parts(show.inputs.as_ref().map(Vec::len)), PARTS_MAX),
        ("interlocks", parts(show.interlocks.as_ref().map(Vec::len)), PARTS_MAX),
    ];
    let mut fits = true;
    for (what, count, most) in sizes {
        if count > most {
            let message = format!("the show has {count} {what}: expected at most {most}");
            found.push(Finding::new(Code::BadValue, message).fix("make it several shows"));
            fits = false;
        }
    }
    if written.rigs.is_empty() {
        let message = "the show has no rig: expected at least one file rigs/NAME.toml, found none";
        found.push(Finding::new(Code::BadValue, message).fix("write rigs/NAME.toml"));
    }
    fits
}

/// The written items, none if the key is not there.
fn each<T>(list: &Option<Vec<At<T>>>) -> impl Iterator<Item = &At<T>> {
    list.iter().flatten()
}
