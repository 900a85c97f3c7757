//! Who has a rig in hand: taken, offered, accepted, given back, lost.

use super::{Grip, HandEvent, Offer, StickShape};
use crate::engine::event::EventKind;
use crate::engine::reason::{Owner, Reason};
use crate::engine::refusal::Refusal;
use crate::engine::request::{Accepted, ClientId, Request};
use crate::engine::status::HandStatus;
use crate::engine::tick::Engine;
use crate::proof::meet;
use crate::show::{AxisId, CueId, Nanos, RigId};

/// An offer that nobody accepts lapses.
const OFFER_LASTS: Nanos = Nanos(30_000_000_000);

type Outcome = Result<Accepted, Refusal>;

impl Engine {
    pub(in crate::engine) fn grip(&self, rig: RigId) -> Option<&Grip> {
        self.in_hand.grips[rig.index()].as_ref()
    }

    /// Whether a client has the rig of this axis in hand, if only to bring it to rest.
    pub(in crate::engine) fn is_in_hand(&self, axis: AxisId) -> bool {
        self.grip(self.show.axis(axis).rig).is_some()
    }

    /// Rigs in hand, in the order of the show.
    pub(in crate::engine) fn grips(&self) -> impl Iterator<Item = (RigId, &Grip)> + '_ {
        self.show.rig_ids().filter_map(|rig| Some((rig, self.grip(rig)?)))
    }

    /// Rigs in hand of which a cue moves axes, or whose carriage it moves.
    pub(in crate::engine) fn grip_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        for (rig, grip) in self.grips() {
            let meets = |axis: AxisId| self.show.rig(rig).axis_ids().any(|own| meet(&self.show, own, axis));
            if self.axes_of(cue).any(meets) {
                refusal.push(Reason::RigInHand { rig, client: grip.client });
            }
        }
    }

    /// Takes a rig in hand, perhaps for a survey; one that the client has already, with these sticks from now on.
    pub(in crate::engine) fn take_in_hand(
        &mut self,
        request: &Request,
        rig: RigId,
        sticks: Option<ClientId>,
        shape: StickShape,
        survey: bool,
    ) -> Outcome {
        let mut refusal = Refusal::default();
        if let Some(grip) = self.grip(rig).filter(|grip| grip.client != request.client) {
            refusal.push(Reason::RigInHand { rig, client: grip.client });
        }
        self.cue_owner_reasons(rig, &mut refusal);
        shape_reasons(shape, &mut refusal);
        if !refusal.is_empty() {
            return Err(refusal);
        }
        self.grasp(rig, request.client, sticks, (shape, survey));
        Ok(Accepted::Done)
    }

    /// Cues that run and move axes of the rig, or joints of its carriage.
    fn cue_owner_reasons(&self, rig: RigId, refusal: &mut Refusal) {
        for member in &self.groups.members {
            let mut own = self.axes_of(member.cue).filter(|&axis| self.show.axis(axis).rig == rig);
            let shares = |axis: AxisId| self.show.rig(rig).axis_ids().any(|own| meet(&self.show, own, axis));
            if let Some(axis) = own.next() {
                refusal.push(Reason::AxisOwned { axis, owner: Owner::Cue(member.cue) });
            } else if self.axes_of(member.cue).any(shares) {
                refusal.push(Reason::RigShared { rig, cue: member.cue });
            }
        }
    }

    fn grasp(
        &mut self,
        rig: RigId,
        client: ClientId,
        sticks: Option<ClientId>,
        (shape, survey): (StickShape, bool),
    ) {
        let sticks = sticks.unwrap_or(client);
        let held = self.grip(rig).is_some();
        let grip = Grip { client, sticks, shape, survey, offer: None, let_go: false, lost: false, proved: false };
        self.in_hand.trials[rig.index()] = None;
        // Handed over in motion it keeps its berth, until it has drawn that in.
        self.in_hand.grips[rig.index()] = Some(grip);
        for axis in self.show.rig(rig).axis_ids() {
            self.in_hand.levers[axis.index()].renew();
            self.in_hand.set_off(axis, 0.0);
            if !held {
                self.stand_in_hand(rig, axis);
            }
        }
        self.in_hand.berths.forget(rig);
        self.in_hand.focuses.forget(rig);
        self.outbox.event(EventKind::Hand(HandEvent::Taken { rig, client, sticks }));
    }

    /// Offers a rig to another client; to nobody, it takes the offer back.
    pub(in crate::engine) fn offer_hand(&mut self, request: &Request, rig: RigId, to: Option<ClientId>) -> Outcome {
        let from = request.client;
        let until = self.tick + (OFFER_LASTS.0 / self.period.0.max(1)) as u64;
        let grip = self.own_grip(from, rig)?;
        let offer = to.map(|to| Offer { to, until });
        let told = grip.offer.map(|offer| offer.to) != to;
        grip.offer = offer;
        if told {
            self.outbox.event(EventKind::Hand(HandEvent::Offered { rig, from, to }));
        }
        Ok(Accepted::Done)
    }

    pub(in crate::engine) fn accept_hand(
        &mut self,
        request: &Request,
        rig: RigId,
        sticks: Option<ClientId>,
        shape: StickShape,
    ) -> Outcome {
        let mut refusal = Refusal::default();
        let offered = self.grip(rig).and_then(|grip| grip.offer);
        if offered.is_none_or(|offer| offer.to != request.client) {
            refusal.push(Reason::NotOffered { rig });
        }
        shape_reasons(shape, &mut refusal);
        if !refusal.is_empty() {
            return Err(refusal);
        }
        let survey = self.grip(rig).is_some_and(|grip| grip.survey);
        self.grasp(rig, request.client, sticks, (shape, survey));
        Ok(Accepted::Done)
    }

    pub(in crate::engine) fn give_back(&mut self, request: &Request, rig: RigId) -> Outcome {
        let grip = self.own_grip(request.client, rig)?;
        grip.let_go();
        Ok(Accepted::Done)
    }

    pub(super) fn own_grip(&mut self, client: ClientId, rig: RigId) -> Result<&mut Grip, Refusal> {
        let Some(grip) = self.in_hand.grips[rig.index()].as_mut().filter(|grip| !grip.let_go) else {
            return Err(Refusal::one(Reason::NotInHand { rig }));
        };
        if grip.client == client {
            Ok(grip)
        } else {
            Err(Refusal::one(Reason::RigInHand { rig, client: grip.client }))
        }
    }

    /// Of who has a rig in hand, or whose sticks drive it.
    pub(super) fn driven_grip(&mut self, client: ClientId, rig: RigId) -> Result<&mut Grip, Refusal> {
        let drives = self.grip(rig).filter(|grip| grip.sticks == client).map(|grip| grip.client);
        self.own_grip(drives.unwrap_or(client), rig)
    }

    /// A client that is gone has nothing in hand, whoever's sticks drive it: nobody else could ever give it back.
    pub(in crate::engine) fn lose_grips(&mut self, client: ClientId) {
        for index in 0..self.in_hand.grips.len() {
            let Some(grip) = &mut self.in_hand.grips[index] else { continue };
            if grip.client == client && !grip.let_go {
                grip.let_go();
                grip.lost = true;
            }
            if grip.offer.take_if(|offer| offer.to == client).is_some() {
                let (rig, from) = (RigId::new(index), grip.client);
                self.outbox.event(EventKind::Hand(HandEvent::Offered { rig, from, to: None }));
            }
        }
    }

    /// Everything in hand comes to rest, and is nobody's then.
    pub(in crate::engine) fn drop_grips(&mut self) {
        self.in_hand.grips.iter_mut().flatten().for_each(Grip::let_go);
    }

    /// Offers that lapse.
    pub(in crate::engine) fn miss_offers(&mut self) {
        for index in 0..self.in_hand.grips.len() {
            let Some(grip) = &mut self.in_hand.grips[index] else { continue };
            if grip.offer.take_if(|offer| self.tick >= offer.until).is_some() {
                let (rig, from) = (RigId::new(index), grip.client);
                self.outbox.event(EventKind::Hand(HandEvent::Offered { rig, from, to: None }));
            }
        }
    }

    /// What was let go of and stands is nobody's from now on.
    pub(in crate::engine) fn free_grips(&mut self) {
        for index in 0..self.in_hand.grips.len() {
            let rig = RigId::new(index);
            let Some(&Grip { let_go: true, client, lost, .. }) = self.grip(rig) else { continue };
            if self.rests_in_hand(rig) {
                self.in_hand.grips[index] = None;
                self.in_hand.trials[index] = None;
                self.in_hand.focuses.forget(rig);
                for axis in self.show.rig(rig).axis_ids() {
                    self.in_hand.set_off(axis, self.show.axis(axis).tolerance);
                }
                self.outbox.event(EventKind::Hand(HandEvent::GivenBack { rig, client, lost }));
            }
        }
    }

    pub(in crate::engine) fn hand_status(&self, rig: RigId) -> Option<HandStatus> {
        let &Grip { client, sticks, survey, offer, let_go, .. } = self.grip(rig)?;
        let levers = || self.show.rig(rig).axis_ids().map(|axis| &self.in_hand.levers[axis.index()]);
        Some(HandStatus {
            client,
            sticks,
            offered: offer.map(|offer| offer.to),
            let_go,
            near: levers().find_map(|lever| lever.near),
            barred: levers().find_map(|lever| lever.barred),
            survey,
            trial: self.trial_status(rig),
            focus: self.focus_status(rig),
        })
    }

    /// Whether the setpoints of a rig in hand stand.
    pub(in crate::engine) fn rests_in_hand(&self, rig: RigId) -> bool {
        !self.axes_in_hand_that_move().any(|axis| self.show.axis(axis).rig == rig)
    }

    /// Whether the bodies of a rig in hand stand.
    pub(in crate::engine) fn bodies_rest_in_hand(&self, rig: RigId) -> bool {
        let moves = |axis: AxisId| self.show.axis(axis).rig == rig && self.in_hand.berths.lever(axis) > 0.0;
        !self.axes_in_hand_that_move().any(moves)
    }

    /// Whether every setpoint that a hand drives stands.
    pub(in crate::engine) fn hands_rest(&self) -> bool {
        self.axes_in_hand_that_move().next().is_none()
    }

    pub(in crate::engine) fn axes_in_hand_that_move(&self) -> impl Iterator<Item = AxisId> + '_ {
        let moves = |axis: &AxisId| {
            let setpoint = &self.setpoints[axis.index()];
            setpoint.speed != 0.0 || setpoint.acceleration != 0.0
        };
        self.show.axis_ids().filter(|&axis| self.is_in_hand(axis)).filter(moves)
    }
}

impl Grip {
    fn let_go(&mut self) {
        (self.let_go, self.offer) = (true, None);
    }
}

fn shape_reasons(shape: StickShape, refusal: &mut Refusal) {
    let StickShape { dead_band, taper } = shape;
    if !(0.0..1.0).contains(&dead_band) || !(0.0..=1.0).contains(&taper) {
        refusal.push(Reason::StickShape);
    }
}
