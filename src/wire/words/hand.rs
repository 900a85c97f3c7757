//! What happens with rigs in hand.

use super::Words;
use crate::engine::{HandEvent, NoStick, WayOut};
use crate::proof::Near;
use crate::show::{AimedAt, InterlockId, RigId};

impl Words<'_> {
    /// What is in the way of a rig in hand.
    pub(super) fn near(&self, Near { parties, distance, margin }: &Near) -> String {
        let [one, other] = parties.map(|party| party.name(self.show));
        match distance {
            0.0 => format!("{one} would touch {other}; at least {margin} m must remain"),
            _ => format!("{one} would come within {distance:.2} m of {other}; at least {margin} m must remain"),
        }
    }

    /// How a hand leads out of where an interlock does not permit, if one can; for whoever has seen the status.
    pub fn way_out(&self, interlock: InterlockId) -> Option<String> {
        let status = self.status?;
        let out = |way: &&WayOut| way.interlock == interlock;
        let hand = |&WayOut { axis, to, .. }: &WayOut| {
            let (rig, stands) = (self.show.axis(axis).rig, status.axes[axis.index()].setpoint);
            let way = if to < stands { "down" } else { "up" };
            let (rig, axis, to) = (&self.show.rig(rig).name, self.axis(axis), self.position(axis, to));
            format!("take {rig} in hand and push {axis} {way} to {to}")
        };
        let ways: Vec<String> = status.ways_out.iter().filter(out).map(hand).collect();
        let first = if status.stopped.is_some() { "reset, then " } else { "" };
        let ways = (!ways.is_empty()).then(|| ways.join(", or "))?;
        Some(format!(
            "the way out of {}: {first}{ways}; where it is not true, a stick goes slowly",
            self.interlock(interlock)
        ))
    }

    /// What a focus follows.
    pub(in crate::wire) fn aimed_at(&self, on: &AimedAt) -> String {
        match on {
            AimedAt::Point(at) => format!("the point {:.2}, {:.2}, {:.2}", at.x, at.y, at.z),
            AimedAt::Body { rig, .. } => self.show.rig(*rig).name.clone(),
        }
    }

    pub(super) fn hand_event(&self, event: &HandEvent) -> String {
        let name = |rig: &RigId| &self.show.rig(*rig).name;
        match event {
            HandEvent::Taken { rig, client, sticks } if client == sticks => {
                format!("{} is in the hands of {}", name(rig), self.client(*client))
            }
            HandEvent::Taken { rig, client, sticks } => format!(
                "{} is in the hands of {}, driven by the sticks of {}",
                name(rig),
                self.client(*client),
                self.client(*sticks)
            ),
            HandEvent::Offered { rig, from, to: Some(to) } => {
                format!("{} offers {} to {}, who may accept it", self.client(*from), name(rig), self.client(*to))
            }
            HandEvent::Offered { rig, from, to: None } => {
                format!("{} is offered to nobody any longer; {} has it in hand", name(rig), self.client(*from))
            }
            HandEvent::GivenBack { rig, client, lost: false } => {
                format!("{} is in nobody's hands: {} has given it back", name(rig), self.client(*client))
            }
            HandEvent::GivenBack { rig, client, lost: true } => {
                format!("{} is in nobody's hands: the link to {} is lost", name(rig), self.client(*client))
            }
            HandEvent::Stopped { rig, near } => format!("{} goes no further: {}", name(rig), self.near(near)),
            HandEvent::Barred { rig, interlock } => {
                let needs = self.condition(&self.show.interlocks[interlock.index()].needs);
                format!("{} goes no further: {} needs {needs}", name(rig), self.interlock(*interlock))
            }
            HandEvent::Focus { rig, on: Some(on) } => {
                format!("the focus of {} follows {}", name(rig), self.aimed_at(on))
            }
            HandEvent::Focus { rig, on: None } => format!("the focus of {} follows nothing any more", name(rig)),
            HandEvent::FocusLost { rig } => format!(
                "the focus of {} has come to rest: where its lens is, or what it follows, is not known; ask for it again",
                name(rig)
            ),
            HandEvent::Ignored { axis, client, why: NoStick::NotInHand } => format!(
                "a stick of {} for {} is not heeded: it does not drive that rig",
                self.client(*client),
                self.axis(*axis)
            ),
            HandEvent::Tried { axis, found } => self.survey_found(*axis, found),
            HandEvent::Ignored { axis, client, why: NoStick::Unsurveyed } => format!(
                "a stick of {} for {} is not heeded: that axis is not surveyed, and nothing moves it but a jog in a survey",
                self.client(*client),
                self.axis(*axis)
            ),
            HandEvent::Ignored { axis, client, why: NoStick::NotNow } => format!(
                "a control of {} for {} is not heeded: dials drive no rig that is in hand for a survey, and trials none other",
                self.client(*client),
                self.axis(*axis)
            ),
            HandEvent::Ignored { axis, client, why: NoStick::NoSuchValue } => format!(
                "{} sends what no stick can say for {}: expected -1 to 1, of a dial 0 to 1",
                self.client(*client),
                self.axis(*axis)
            ),
        }
    }
}
