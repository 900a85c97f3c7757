//! A change of the show that may settle a finding: what it makes of the show, and how it is told.

use crate::show::{After, Atom, AtomId, Condition, CueId, CueState, Pair, RigId, Show};

#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// A cue waits until another is past a time, or done.
    Needs { cue: CueId, other: CueId, past: Option<f64> },
    /// A follow waits longer after the start of its leader.
    Wait { cue: CueId, wait: f64 },
    /// A cue follows the end of another.
    FollowEnd { cue: CueId, of: CueId },
    /// One move of a cue begins later.
    Delay { cue: CueId, step: usize, delay: f64 },
    /// One move of a cue takes longer.
    Time { cue: CueId, step: usize, time: f64 },
    /// The take of one move is played slower.
    Stretch { cue: CueId, step: usize, stretch: f64 },
    /// Two rigs may come nearer to each other.
    PairMargin { rigs: [RigId; 2], margin: f64 },
    /// What keeps to a zone may come nearer to its edge.
    ZoneMargin { zone: usize, margin: f64 },
}

impl Edit {
    /// The show as it would be.
    pub fn applied(&self, show: &Show) -> Show {
        let mut show = show.clone();
        match *self {
            Edit::Needs { cue, other, past } => {
                let atom = match past {
                    Some(time) => Atom::CuePast { cue: other, time },
                    None => Atom::CueState { cue: other, state: CueState::Done },
                };
                let new = Condition::Atom(AtomId::new(show.atoms.len()));
                show.atoms.push(atom);
                let cue = &mut show.cues[cue.index()];
                cue.needs = Some(match cue.needs.take() {
                    None => new,
                    Some(old) => Condition::All(vec![old, new]),
                });
            }
            Edit::Wait { cue, wait: longer } => {
                if let Some(After::Start { wait, .. }) = &mut show.cues[cue.index()].after {
                    *wait = longer;
                }
            }
            Edit::FollowEnd { cue, of } => {
                show.cues[cue.index()].after = Some(After::End { cue: of, wait: 0.0 });
            }
            Edit::Delay { cue, step, delay } => show.cues[cue.index()].moves[step].delay = delay,
            Edit::Time { cue, step, time } => show.cues[cue.index()].moves[step].time = Some(time),
            Edit::Stretch { cue, step, stretch } => {
                if let Some(playing) = &mut show.cues[cue.index()].moves[step].playing {
                    playing.stretch = stretch;
                }
            }
            Edit::PairMargin { rigs, margin } => {
                let place = show.rig(rigs[0]).place;
                let known = show.pairs.iter_mut().find(|pair| pair.rigs == rigs || pair.rigs == [rigs[1], rigs[0]]);
                match known {
                    Some(pair) => pair.margin = margin,
                    None => show.pairs.push(Pair { rigs, margin, because: None, place }),
                }
            }
            Edit::ZoneMargin { zone, margin } => show.zones[zone].margin = margin,
        }
        show
    }

    /// What to write, and where.
    pub fn words(&self, show: &Show) -> String {
        let number = |cue: CueId| &show.cue(cue).number;
        let of_move = |cue: CueId, step: usize| &show.rig(show.cue(cue).moves[step].rig).name;
        match *self {
            Edit::Needs { cue, other, past } => {
                let other = number(other);
                let condition = match past {
                    Some(past) => format!("{{ cue = \"{other}\", past = {past:?} }}"),
                    None => format!("{{ cue = \"{other}\", state = \"done\" }}"),
                };
                match show.cue(cue).needs {
                    None => format!("write in cue {}: needs = {condition}", number(cue)),
                    Some(_) => format!("add to the needs of cue {}, in an `all`: {condition}", number(cue)),
                }
            }
            Edit::Wait { cue, wait } => format!("write wait = {wait:?} in cue {}", number(cue)),
            Edit::FollowEnd { cue, of } => format!("let cue {} follow the end of cue {}", number(cue), number(of)),
            Edit::Delay { cue, step, delay } => {
                format!("write delay = {delay:?} in the move of {}", of_move(cue, step))
            }
            Edit::Time { cue, step, time } => {
                format!("write time = {time:?} in the move of {}", of_move(cue, step))
            }
            Edit::Stretch { cue, step, stretch } => {
                format!("write stretch = {stretch:?} in the move of {}", of_move(cue, step))
            }
            Edit::PairMargin { rigs, margin } => {
                let [one, other] = rigs.map(|rig| &show.rig(rig).name);
                format!(
                    "if {one} and {other} may pass so near, write a [[pair]] of the two with margin = {margin:?}"
                )
            }
            Edit::ZoneMargin { zone, margin } => {
                format!("if it may pass so near, write margin = {margin:?} in the zone '{}'", show.zones[zone].name)
            }
        }
    }
}
