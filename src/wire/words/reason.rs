//! Why a request was not carried out.

use super::Words;
use super::numbers::{finely, seconds, span};
use crate::engine::{Aside, Reason, Refusal, Role, Truth};
use crate::proof::{Approach, Bar, Forbids, Near, Party};
use crate::show::{AxisId, CueId, CueState};

impl Words<'_> {
    /// Each reason, how many found no room, and how to get out of where an interlock keeps everything.
    pub fn refusal(&self, refusal: &Refusal) -> Vec<String> {
        let mut sentences: Vec<String> = refusal.reasons.iter().map(|reason| self.reason(reason)).collect();
        let ways = refusal.reasons.iter().filter_map(|reason| self.way_out(reason.interlock()?));
        for way in ways {
            if !sentences.contains(&way) {
                sentences.push(way);
            }
        }
        match refusal.more {
            0 => {}
            1 => sentences.push("and one reason more".into()),
            more => sentences.push(format!("and {more} reasons more")),
        }
        sentences
    }

    pub fn reason(&self, reason: &Reason) -> String {
        match *reason {
            Reason::NotArmed => "the show is not armed: arm it first".into(),
            Reason::Stopped => "the stop is latched: reset it first".into(),
            Reason::NotOnStandby { asked, standby } => self.not_on_standby(asked, standby),
            Reason::NothingOnStandby => "nothing is on standby: put a cue on standby first".into(),
            Reason::NameTheCue { standby } => {
                let number = &self.show.number_of(standby);
                format!("a GO from outside must name its cue in this show: expected \"{number}\", found no name")
            }
            Reason::Bounce { since, guard } => format!(
                "the last GO was {} ago, and one within {} is taken for a bounce: GO again if it is meant",
                span(since),
                span(guard)
            ),
            Reason::TooOld { age, limit } => {
                format!("sent {} ago, the limit is {}: send it again if it is still meant", span(age), span(limit))
            }
            Reason::FromTheFuture { ahead, limit } => format!(
                "sent {} in the future, clocks may differ by {}: set the sender's clock",
                span(ahead),
                span(limit)
            ),
            Reason::Role { needs, has } => {
                format!("this takes {}, the sender is {}", role(needs), role(has))
            }
            Reason::CueRunning { cue, state } => self.busy(cue, state),
            Reason::CueWaiting { cue } => format!("{} waits for its own follow: let it come", self.cue(cue)),
            Reason::StartPose { axis, expected, measured, tolerance } => {
                self.pose(axis, "the cue starts at", expected, measured, tolerance)
            }
            Reason::OtherPose { axis, expected, measured, tolerance } => {
                self.pose(axis, "the cue list leaves it at", expected, measured, tolerance)
            }
            Reason::NearElsewhere { axis, expected, measured, approach } => {
                self.near_elsewhere(axis, [expected, measured], &approach)
            }
            Reason::OffPath { axis, expected, measured, tolerance } => {
                self.pose(axis, "the path goes on from", expected, measured, tolerance)
            }
            Reason::LeavesTravel { axis, expected, stands, end } => self.leaves_travel(axis, expected, stands, end),
            Reason::PoseUnknown { axis } => {
                format!("{} has no fresh measured position: check the rig's link and power", self.axis(axis))
            }
            Reason::AxisOwned { axis, owner } => match self.owner(owner) {
                Some(owner) => format!("{} is moved by {owner}: wait until it is free", self.axis(axis)),
                None => format!("{} is not free: try again", self.axis(axis)),
            },
            Reason::RigShared { rig, cue } => format!(
                "{} moves joints of {}, or of what it rides on: wait until it is done",
                self.cue(cue),
                self.show.rig(rig).name
            ),
            Reason::InTheWay { cue, time, bodies, distance, margin, clears } => {
                self.in_the_way(cue, time, bodies, [distance, margin], clears)
            }
            Reason::NotProvedTogether { cue } => {
                format!("nothing is proved of this cue beside {}: wait until that is done", self.cue(cue))
            }
            Reason::Needs { cue, atom, truth } => {
                format!("{} needs more: {}", self.cue(cue), self.found(atom, truth))
            }
            Reason::Interlock { interlock, atom, truth } => {
                format!("{}: {}", self.interlock(interlock), self.found(atom, truth))
            }
            Reason::InterlockAlong { interlock, atom, truth, time } => format!(
                "{}: at {} along the path, {}",
                self.interlock(interlock),
                seconds(time),
                self.stands(atom, truth)
            ),
            Reason::Skips { first, count } => {
                let passed = match count {
                    1 => format!("{} would be passed over", self.cue(first)),
                    _ => format!("{count} cues would be passed over, from {} on", self.cue(first)),
                };
                format!("{passed}: fire what comes first, or acknowledge the skip")
            }
            Reason::Cause(cause) => format!("a cause remains: {}", self.cause(&cause)),
            Reason::HeldBy { client } => format!("{} holds and has not released", self.client(client)),
            Reason::Held => "the running cues are held: resume them first".into(),
            Reason::HeldBeside { cue } => format!(
                "{} is held or goes back, and this one would share its rate: resume it first, or wait until it is done",
                self.cue(cue)
            ),
            Reason::NothingRunning => "nothing is running".into(),
            Reason::NotRunning { cue } => format!("{} is not running", self.cue(cue)),
            Reason::NotHolding => "nothing is held".into(),
            Reason::NotAtRest { cue } => {
                format!("{} is not at rest on its path: hold it, and wait until it stands", self.cue(cue))
            }
            Reason::NotStandingStill { axis } => format!("{} is not standing still: wait for it", self.axis(axis)),
            Reason::StandstillPending => "standstill is not measured yet: try again in a moment".into(),
            Reason::OutsideTravel { axis, measured, low, high } => {
                let [measured, low, high] = [measured, low, high].map(|position| self.position(axis, position));
                format!(
                    "{} stands at {measured}, outside its travel of {low} to {high}: bring it inside by hand first",
                    self.axis(axis)
                )
            }
            Reason::LinkLost { client } => {
                format!("the link to {}, which fired the cue, is lost", self.client(client))
            }
            Reason::Late { late } => {
                format!("the tick loop came {:.0} ms late: look what else this machine does", late.seconds() * 1e3)
            }
            Reason::MasterRange => "the master takes a number from 0 to 1".into(),
            Reason::AlreadyArmed => "the show is armed already".into(),
            Reason::Unrecorded => {
                "the journal of this run cannot be written: see the log for why, make room on its disk, and it goes on"
                    .into()
            }
            Reason::TooMany { limit } => format!("no more than {limit} at once: wait until one is done"),
            Reason::HoldToRun { rig } => format!(
                "{} is real, and people may stand on its way: an operator runs the preset by holding its button",
                self.show.rig(rig).name
            ),
            Reason::WayInWork { cue } => {
                format!("the way of the preset to where {} starts is being worked out: wait a moment", self.cue(cue))
            }
            Reason::NoWay { bar, .. } => format!("no preset: {}", self.bar(&bar)),
            Reason::NoWayFound { cue } => format!(
                "no preset to where {} starts was found, and not all orders could be tried: preset a cue in between",
                self.cue(cue)
            ),
            Reason::NoTake => "no take is ready to be played back from here: ask for it by its name".into(),
            Reason::AlreadyThere { cue } => {
                format!("every rig stands where {} starts: no preset is needed", self.cue(cue))
            }
            Reason::ShowReplaced => {
                "an edited show came into force in the meantime: look at it, and ask again".into()
            }
            Reason::OtherMachines => {
                "the edit changes the rigs' drivers, axes or the tick: end the daemon and start it again".into()
            }
            Reason::Simulated { rig, real } => format!(
                "{} is simulated: its position does not count for {}, which is real",
                self.show.rig(rig).name,
                self.show.rig(real).name
            ),
            Reason::Unplaced { rig, real } => {
                let [rig, real] = [rig, real].map(|rig| &self.show.rig(rig).name);
                format!(
                    "{rig} is simulated, so nobody knows where its machine stands, and {real} is real: drive {rig} as well, or \
                     write `absent = true` in rigs/{rig}.toml if it is not in the room"
                )
            }
            Reason::LetGo => "let go of the button, wait a moment, and hold it again".into(),
            Reason::RealRig { rig } => {
                format!("{} is real: only a simulated rig is made to fail", self.show.rig(rig).name)
            }
            Reason::RigInHand { rig, client } => format!(
                "{} is in the hands of {}: ask them to give it back, or to hand it over; it is free too once their link ends, or \
                 after a disarm",
                self.show.rig(rig).name,
                self.client(client)
            ),
            Reason::NotInHand { rig } => {
                format!("{} is not in your hands: take it in hand first", self.show.rig(rig).name)
            }
            Reason::NotOffered { rig } => {
                format!("{} is not offered to you: ask whoever has it to hand it over", self.show.rig(rig).name)
            }
            Reason::HandMoves { rig, client } => format!(
                "{} moves in the hands of {}: wait until it stands",
                self.show.rig(rig).name,
                self.client(client)
            ),
            Reason::NearHand { client, near } => {
                format!(
                    "{}; it is in the hands of {}: wait until it is out of the way",
                    self.near(&near),
                    self.client(client)
                )
            }
            Reason::StickShape => {
                "a stick's dead-band is a number from 0 to below 1, its taper one from 0 to 1".into()
            }
            Reason::Unsurveyed { axis } => {
                format!("{} is not surveyed, and nothing moves it but a slow jog: survey it first", self.axis(axis))
            }
            Reason::NotSurveyed { rig } => {
                format!("{} is not in hand for a survey: take it so first", self.show.rig(rig).name)
            }
            Reason::NoRunUp { axis, at, needs } => {
                let [low, high] = self.show.axis(axis).reach();
                format!(
                    "{} cannot be approached at {} from both sides: an approach is {} long, and the travel is {} to {}; choose \
                     a place further inside",
                    self.axis(axis),
                    self.position(axis, at),
                    self.position(axis, needs),
                    self.position(axis, low),
                    self.position(axis, high)
                )
            }
            Reason::InSurvey { rig } => format!(
                "{} is in hand for a survey, in which only sticks and trials move it: give it back and take it in hand as usual",
                self.show.rig(rig).name
            ),
            Reason::NoFocus { rig } => {
                let name = &self.show.rig(rig).name;
                format!("{name} has no table of focus: write [lens] with focus into rigs/{name}.toml, as it was measured")
            }
            Reason::FocusOnItself { rig, other } => format!(
                "the focus of {} cannot follow {}, which moves with it: name another rig, or a point",
                self.show.rig(rig).name,
                self.show.rig(other).name
            ),
            Reason::NotSupported => "this is not supported yet".into(),
        }
    }

    fn not_on_standby(&self, asked: CueId, standby: Option<CueId>) -> String {
        let asked = self.cue(asked);
        let standby = standby.map_or("nothing".into(), |cue| self.cue(cue));
        format!("{asked} was asked for, {standby} is on standby: put {asked} on standby first")
    }

    /// What forbids a rig of a preset to go.
    pub fn bar(&self, bar: &Bar) -> String {
        let rig = &self.show.rig(bar.rig).name;
        let why = match bar.by {
            Forbids::Near(Near { parties, distance, margin }) => {
                let [one, other] = parties.map(|party| party.name(self.show));
                let near = match distance {
                    0.0 => format!("{one} would touch {other}"),
                    distance => format!("{one} would come within {distance:.2} m of {other}"),
                };
                format!("{near}; expected at least {margin} m")
            }
            Forbids::Interlock { interlock, atom, stands } => {
                let at = stands.zip(self.axis_of(atom));
                let at = at.map_or_else(String::new, |(at, axis)| format!(" ({})", self.position(axis, at)));
                format!("{} forbids it: then {}{at}", self.interlock(interlock), self.stands(atom, Truth::False))
            }
            Forbids::Unfollowed { interlock } => {
                format!("{} changes too often on its way to be followed", self.interlock(interlock))
            }
        };
        format!("{rig} cannot go, since {why}")
    }

    fn near_elsewhere(&self, axis: AxisId, [expected, measured]: [f64; 2], approach: &Approach) -> String {
        let Approach { parties, time, distance, margin } = *approach;
        let [expected, measured] = [expected, measured].map(|position| self.position(axis, position));
        let [one, other] = parties.map(|party| party.name(self.show));
        let near = match distance {
            0.0 => format!("touch {other}"),
            _ => format!("come within {distance:.2} m of {other}"),
        };
        format!(
            "{} stands at {measured}, the cue list leaves it at {expected}: as it stands, {one} would {near}, {} along; \
             expected at least {margin} m: bring it there first",
            self.axis(axis),
            seconds(time)
        )
    }

    /// That a cue may go though a rig stands elsewhere than the list leaves it.
    pub fn aside(&self, cue: CueId, aside: &Aside) -> String {
        let Aside { axis, expected, measured, by } = *aside;
        let [expected, measured] = [expected, measured].map(|position| self.position(axis, position));
        let name = self.axis(axis);
        // Never more than is proved.
        let way = match (by * 100.0).floor() / 100.0 {
            by if by.is_finite() => format!("the way is clear by {by:.2} m"),
            _ => "nothing of it comes near".to_owned(),
        };
        format!(
            "{} may go: {name} is not where the list leaves it ({measured} instead of {expected}), but {way}",
            self.cue(cue)
        )
    }

    fn in_the_way(
        &self,
        cue: CueId,
        time: f64,
        bodies: [Party; 2],
        [distance, margin]: [f64; 2],
        clears: Option<f64>,
    ) -> String {
        let [one, other] = bodies.map(|body| body.name(self.show));
        let cue = self.cue(cue);
        let near = match distance {
            0.0 => format!("{one} would touch {other} of {cue}"),
            _ => format!("{one} would come within {distance:.2} m of {other} of {cue}"),
        };
        let way_out = match clears {
            Some(clears) => format!("it is clear from {} on", seconds(clears)),
            None => "wait until that is done".into(),
        };
        format!("{near}, which is {} along; expected at least {margin} m: {way_out}", seconds(time))
    }

    fn pose(&self, axis: AxisId, where_to: &str, expected: f64, measured: f64, tolerance: f64) -> String {
        let name = self.axis(axis);
        let [expected, measured, tolerance] =
            [expected, measured, tolerance].map(|position| self.position(axis, position));
        format!("{name} stands at {measured}, {where_to} {expected} (tolerance {tolerance}): bring it there first")
    }

    fn leaves_travel(&self, axis: AxisId, expected: f64, stands: f64, end: f64) -> String {
        let (name, off) = (self.axis(axis), finely((stands - expected).abs(), self.show.axis(axis).unit));
        let [expected, stands, end] = [expected, stands, end].map(|position| self.position(axis, position));
        format!(
            "{name} stands at {stands}, {off} beside its path, which is at {expected}: that is within tolerance, but the path comes so \
             near the end of the travel ({end}) that {name} would pass that before it is on it: preset it, which brings it \
             there exactly"
        )
    }

    fn busy(&self, cue: CueId, state: CueState) -> String {
        let cue = self.cue(cue);
        match state {
            CueState::Running => format!("{cue} is running: wait until it is done"),
            CueState::Holding => format!("{cue} is holding: resume or return it first"),
            CueState::Returning => format!("{cue} is returning: wait until it is back"),
            CueState::Waiting => format!("{cue} waits for its own follow: let it come"),
            CueState::Stopped => {
                format!("{cue} was stopped: reset, then put it on standby where it stopped, or return it")
            }
            CueState::Standby => format!("{cue} is on standby"),
            CueState::Idle => format!("{cue} is idle"),
            CueState::Done => format!("{cue} is done"),
        }
    }
}

fn role(role: Role) -> &'static str {
    match role {
        Role::Observer => "an observer",
        Role::Caller => "a caller",
        Role::Operator => "an operator",
    }
}
