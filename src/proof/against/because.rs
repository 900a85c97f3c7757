//! From which edits a difference comes, where that is plain.

use super::Pairing;
use super::cue::{CueDiffers, Moved, WindowDiffers};
use crate::proof::{Party, Rests};
use crate::show::{Aim, AxisId, AxisPart, Change, CueId, CueNumber, CuePart, RigId, Show, Subject};

/// What a cue's differences can come from, by the names of both versions.
#[derive(Default)]
struct Ties {
    /// Cues that were written otherwise, are new or gone.
    cues: Vec<CueNumber>,
    /// Cues of which it counts what starts them.
    starts: Vec<CueNumber>,
    marks: Vec<(String, String)>,
    /// Axes that stand where they opened.
    opened: Vec<String>,
    /// Axes whose limits count.
    paced: Vec<String>,
    /// Rigs of which it counts where they stand and how they are built.
    built: Vec<String>,
    zones: Vec<String>,
    /// Rigs of which all that a rehearsal proves counts.
    surveyed: Vec<String>,
    /// Margins count.
    margins: bool,
    /// The interlocks of this cue of the new show count.
    guarded: Option<CueId>,
}

/// Indices of the changes that its differences come from, in their order.
pub fn because(found: &Pairing<'_>, changes: &[Change], differs: &CueDiffers) -> Vec<usize> {
    Ties::of(found, differs).holding(changes)
}

/// The same of what has to be rehearsed again.
pub fn unproven_because(found: &Pairing<'_>, changes: &[Change], differs: &CueDiffers) -> Vec<usize> {
    if differs.unproven.is_empty() {
        return Vec::new();
    }
    let mut ties = Ties { guarded: Some(differs.now), ..Ties::default() };
    let sides = [(found.old.show, differs.was), (found.new.show, differs.now)];
    for (show, cue) in sides {
        ties.own(show, cue);
        ties.starts.push(show.cue(cue).number.clone());
        let carriers = show.cue(cue).moves.iter().flat_map(|step| show.carriers(step.rig));
        ties.surveyed.extend(carriers.map(|rig| show.rig(rig).name.clone()));
    }
    let moved = |axis: AxisId| ties.surveyed.contains(&found.new.show.rig(found.new.show.axis(axis).rig).name);
    let starts: Vec<Moved> = differs.start.iter().filter(|one| moved(one.axis)).copied().collect();
    starts.iter().for_each(|one| ties.trace(found, differs, one, false));
    ties.holding(changes)
}

/// Whether an axis that is elsewhere is of a rig that the cue moves, or of one that it passes nearest to.
fn counting_rigs<'a>(found: &'a Pairing<'_>, differs: &'a CueDiffers) -> Box<dyn Fn(&Moved) -> bool + 'a> {
    let show = found.new.show;
    let moved = show.cue(differs.now).moves.iter().map(|step| step.rig);
    let [_, closest] = differs.closest.unwrap_or_default();
    let passed = closest.into_iter().flat_map(|closest| closest.parties).filter_map(|party| party.rig());
    let rigs: Vec<RigId> = moved.chain(passed).flat_map(|rig| show.carriers(rig)).collect();
    Box::new(move |one| rigs.contains(&show.axis(one.axis).rig))
}

impl Ties {
    fn of(found: &Pairing<'_>, differs: &CueDiffers) -> Ties {
        let mut ties = Ties::default();
        // What stands elsewhere meanwhile led to nothing, unless the cue passes it, or nothing else differs.
        let mut counts = counting_rigs(found, differs);
        if differs.is_only_elsewhere() && !differs.start.iter().any(&counts) {
            counts = Box::new(|_| true);
        }
        differs.end.iter().filter(|one| counts(one)).for_each(|one| ties.trace(found, differs, one, true));
        differs.start.iter().filter(|one| counts(one)).for_each(|one| ties.trace(found, differs, one, false));
        let sides = [(found.old.show, differs.was), (found.new.show, differs.now)];
        if differs.duration.is_some() || differs.stop_time.is_some() || differs.closest.is_some() {
            sides.iter().for_each(|(show, cue)| ties.own(show, *cue));
        }
        if let Some([was, now]) = differs.closest {
            let each = [(found.old.show, was), (found.new.show, now)];
            each.iter().for_each(|(show, closest)| {
                closest.iter().flat_map(|closest| closest.parties).for_each(|party| ties.party(show, &party));
            });
        }
        for window in &differs.windows {
            ties.window(sides, window);
        }
        let rested = [(found.new.show, &differs.rests_on), (found.old.show, &differs.rests_no_more_on)];
        for (show, rested) in rested {
            rested.iter().for_each(|rested| ties.rests(show, &rested.on, &rested.why));
        }
        ties
    }

    fn holding(&self, changes: &[Change]) -> Vec<usize> {
        (0..changes.len()).filter(|&index| self.hold(&changes[index])).collect()
    }

    fn window(&mut self, sides: [(&Show, CueId); 2], window: &WindowDiffers) {
        for (show, cue) in sides {
            let Some(other) = show.cue_ids().find(|&id| show.number_of(id) == window.after) else { continue };
            if window.was.is_some() && window.now.is_some() {
                // Where the two meet: their ways, their bodies, and how near they may come.
                self.margins = true;
                for each in [cue, other] {
                    self.own(show, each);
                    let rigs = show.cue(each).moves.iter().flat_map(|step| show.carriers(step.rig));
                    self.built.extend(rigs.map(|rig| show.rig(rig).name.clone()));
                }
            }
            // Whether and when the two can run together: what is written about them and between them.
            for between in cue.min(other).index()..=cue.max(other).index() {
                let number = &show.cues[between].number;
                self.starts.push(number.clone());
                self.cues.push(number.clone());
            }
        }
        // One of the two is new, or gone.
        self.cues.extend(window.after.parse::<CueNumber>().ok());
    }

    /// Where an axis stands before the cue, or after it, comes from whoever moved it last, in either version.
    fn trace(&mut self, found: &Pairing<'_>, differs: &CueDiffers, moved: &Moved, after: bool) {
        self.trace_in(found.new.show, differs.now, moved.axis, after);
        if let Some(axis) = found.axes[moved.axis.index()] {
            self.trace_in(found.old.show, differs.was, axis, after);
        }
    }

    fn trace_in(&mut self, show: &Show, cue: CueId, axis: AxisId, after: bool) {
        let before = show.cues[..cue.index() + usize::from(after)].iter().rev();
        for cue in before {
            let Some(step) = cue.moves.iter().find(|step| step.axes().any(|moved| moved == axis)) else {
                continue;
            };
            self.cues.push(cue.number.clone());
            if let Some(mark) = &step.mark {
                self.marks.push((show.rig(step.rig).name.clone(), mark.clone()));
            }
            // A relative move starts from where the one before it ended.
            if !step.by {
                return;
            }
        }
        self.opened.push(show.axis_name(axis));
    }

    /// The cue itself: as it is written, where it goes, the limits of what it moves.
    fn own(&mut self, show: &Show, cue: CueId) {
        let cue = show.cue(cue);
        self.cues.push(cue.number.clone());
        for step in &cue.moves {
            let rig = &show.rig(step.rig).name;
            self.marks.extend(step.mark.iter().map(|mark| (rig.clone(), mark.clone())));
            // Where what it aims at is, is a matter of that rig.
            self.built.extend(step.aim.iter().filter_map(Aim::rig).map(|rig| show.rig(rig).name.clone()));
            self.paced.extend(step.axes().map(|axis| show.axis_name(axis)));
        }
    }

    fn party(&mut self, show: &Show, party: &Party) {
        let carriers = |rig: RigId| show.carriers(rig).map(|rig| show.rig(rig).name.clone());
        match party {
            Party::Body { rig, .. } => self.built.extend(carriers(*rig)),
            Party::Zone(zone) => self.zones.push(show.zones[*zone].name.clone()),
        }
    }

    fn rests(&mut self, show: &Show, on: &str, why: &Rests) {
        let other = show.cue_ids().find(|&id| show.number_of(id) == on);
        if let Some(other) = other {
            self.own(show, other);
        }
        match why {
            Rests::Follows | Rests::Needs | Rests::Interlock(_) => {
                self.starts.extend(other.map(|other| show.cue(other).number.clone()));
            }
            Rests::Start(_) | Rests::Stands(_) => {}
            Rests::Near(closest) => closest.parties.iter().for_each(|party| self.party(show, party)),
        }
    }

    fn hold(&self, change: &Change) -> bool {
        let rig_counts = |rig: &String| self.built.contains(rig) || self.surveyed.contains(rig);
        match &change.subject {
            Subject::Setting(key) => self.margins && *key == "margin",
            Subject::Zone(name) => self.zones.contains(name),
            Subject::Pair(rigs) => self.margins && rigs.iter().any(rig_counts),
            Subject::Input(_) => false,
            Subject::Interlock(_) => self.guarded.is_some_and(|cue| change.used_in.contains(&cue)),
            Subject::Rig(rig) => rig_counts(rig),
            Subject::Axis { rig, axis, part } => {
                let name = format!("{rig}.{axis}");
                match part {
                    AxisPart::New | AxisPart::Gone | AxisPart::Build => rig_counts(rig),
                    AxisPart::Travel => self.surveyed.contains(rig),
                    AxisPart::Limits => self.paced.contains(&name) || self.surveyed.contains(rig),
                    AxisPart::Start => self.opened.contains(&name),
                }
            }
            Subject::Mark { rig, mark } => {
                let named = |(of, name): &(String, String)| of == rig && name == mark;
                self.marks.iter().any(named) || self.guarded.is_some_and(|cue| change.used_in.contains(&cue))
            }
            Subject::Cue { number, part } => match part {
                CuePart::New | CuePart::Gone | CuePart::Moves => self.cues.contains(number),
                CuePart::Start => self.starts.contains(number),
                CuePart::Words => false,
            },
        }
    }
}
